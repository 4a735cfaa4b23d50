// What one real hub says to a school, written down for a while: so that many can be made of it. SIMULATED athletes.

import type { NatsConnection } from '@nats-io/transport-node';
import { unpackJson } from '../../../hub/school/kept-bytes.ts';
import { numberHeader } from '../../../shared/school/school-version.ts';

export interface RecordedMessage {
  /** Since recording began. */
  readonly atMs: number;
  /** Behind the hub's own name: "live.text", "kept.segment". */
  readonly kind: string;
  readonly headers: Readonly<Record<string, string>>;
  readonly base64: string;
}

export interface RecordedHub {
  readonly name: string;
  /** Its subjects end with who it is, beside its name. */
  readonly hasId: boolean;
  readonly durationMs: number;
  readonly hello: RecordedMessage;
  readonly messages: readonly RecordedMessage[];
  /** Its answer to a page that comes, when the recording began: the messages are news to that page. */
  readonly welcomeBase64: string;
}

/** Listens beside the school, from before the hub begins; recorded is `forMs` from when `warm` resolves. */
export async function recordHub(
  connection: NatsConnection,
  asked: {
    readonly school: string;
    readonly hub: string;
    readonly warm: Promise<void>;
    readonly forMs: number;
  },
): Promise<RecordedHub> {
  const { school, hub, warm, forMs } = asked;
  const prefix = `slackwater.${school}.from.${hub}.`;
  const heard: RecordedMessage[] = [];
  let id: string | undefined;
  const listening = connection.subscribe(`${prefix}>`, {
    callback: (error, message) => {
      if (error !== null) return;
      const [way, kind, who] = message.subject.slice(prefix.length).split('.');
      id = who;
      heard.push({
        atMs: performance.now(),
        kind: `${way}.${kind}`,
        headers: Object.fromEntries(
          (message.headers?.keys() ?? []).map((name) => [name, message.headers?.get(name) ?? '']),
        ),
        base64: Buffer.from(message.data).toString('base64'),
      });
    },
  });
  await warm;
  const beganAtMs = performance.now();
  const welcomeOf = `slackwater.${school}.to.${hub}.welcome${id === undefined ? '' : `.${id}`}`;
  const welcome = await connection.request(welcomeOf, '{}', { timeout: 10_000 });
  const { toldUpTo } = unpackJson(welcome.data) as { readonly toldUpTo: number };
  await new Promise((resolve) => setTimeout(resolve, forMs));
  listening.unsubscribe();
  const hello = heard.find(({ kind }) => kind === 'ask.hello');
  if (hello === undefined) throw new Error('the hub said no hello');
  return {
    name: hub,
    hasId: id !== undefined,
    durationMs: forMs,
    hello,
    messages: heard
      .filter((message) => (isLive(message) ? numberOf(message) > toldUpTo : isKeptSince(message, beganAtMs)))
      .map((message) => ({ ...message, atMs: Math.max(0, message.atMs - beganAtMs) })),
    welcomeBase64: Buffer.from(welcome.data).toString('base64'),
  };
}

const isLive = ({ kind }: RecordedMessage): boolean => kind.startsWith('live.');
const numberOf = ({ headers }: RecordedMessage): number => Number(headers[numberHeader]);
const isKeptSince = ({ kind, atMs }: RecordedMessage, beganAtMs: number): boolean =>
  kind.startsWith('kept.') && atMs >= beganAtMs;
