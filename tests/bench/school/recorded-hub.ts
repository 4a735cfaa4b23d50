// What one real hub says to a school, written down for a while: so that many can be made of it. SIMULATED athletes.

import type { NatsConnection } from '@nats-io/transport-node';

export interface RecordedMessage {
  /** Since recording began. */
  readonly atMs: number;
  /** Behind the hub's own name: "live.text", "kept.segment". */
  readonly kind: string;
  readonly version: string;
  readonly base64: string;
}

export interface RecordedHub {
  readonly name: string;
  readonly durationMs: number;
  readonly messages: readonly RecordedMessage[];
  /** Its answer to a page that comes, as it was. */
  readonly welcomeBase64: string;
}

/** Listens beside the school, `forMs` from now on. */
export async function recordHub(
  connection: NatsConnection,
  {
    school,
    hub,
    forMs,
    versionHeader,
  }: {
    readonly school: string;
    readonly hub: string;
    readonly forMs: number;
    readonly versionHeader: string;
  },
): Promise<RecordedHub> {
  const messages: RecordedMessage[] = [];
  const beganAtMs = performance.now();
  const prefix = `slackwater.${school}.from.${hub}.`;
  const listening = connection.subscribe(`${prefix}>`, {
    callback: (error, message) => {
      if (error !== null) return;
      const kind = message.subject.slice(prefix.length);
      if (kind.startsWith('ask.')) return;
      messages.push({
        atMs: performance.now() - beganAtMs,
        kind,
        version: message.headers?.get(versionHeader) ?? '',
        base64: Buffer.from(message.data).toString('base64'),
      });
    },
  });
  await new Promise((resolve) => setTimeout(resolve, forMs));
  listening.unsubscribe();
  const welcome = await connection.request(`slackwater.${school}.to.${hub}.welcome`, '{}', {
    timeout: 10_000,
  });
  return {
    name: hub,
    durationMs: forMs,
    messages,
    welcomeBase64: Buffer.from(welcome.data).toString('base64'),
  };
}
