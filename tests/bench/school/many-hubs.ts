// Many hubs in one process: each sends what one real hub sent (recorded-hub.ts), round and round and at its own time, with a
// connection of its own. The first alarm of a message bears in its id when it was sent. SIMULATED.

import { createHash } from 'node:crypto';
import { readFileSync } from 'node:fs';
import { type JetStreamClient, jetstream } from '@nats-io/jetstream';
import { connect, headers, type NatsConnection } from '@nats-io/transport-node';
import { packJson, packKept, sha256Of, unpackJson, unpackKept } from '../../../hub/school/kept-bytes.ts';
import type { RecordedHub, RecordedMessage } from './recorded-hub.ts';

const [natsUrl = '', school = '', path = ''] = process.argv.slice(2);
const recorded = JSON.parse(readFileSync(path, 'utf8')) as RecordedHub;
const tickMs = 4;
/** Live messages are numbered by their hub in it, where they are. */
const numberHeader = 'Slackwater-Number';

interface Ready {
  readonly atMs: number;
  readonly kind: string;
  readonly headers: RecordedMessage['headers'];
  readonly bytes: Uint8Array;
  /** Around the place of an alarm's id, where it is a message of alarms. */
  readonly alarm: readonly [string, string] | null;
}

const ready: readonly Ready[] = recorded.messages.map((message) => ({
  ...message,
  bytes: Buffer.from(message.base64, 'base64'),
  alarm: aroundAlarm(message),
}));
const welcome = unpackJson(Buffer.from(recorded.welcomeBase64, 'base64')) as object;

function aroundAlarm({ kind, base64 }: RecordedMessage): readonly [string, string] | null {
  if (kind !== 'live.text') return null;
  const text = Buffer.from(base64, 'base64').toString('utf8');
  const found = /^(\{"type":"alarms".*?"alarmId":")[^"]+(".*)$/.exec(text);
  return found === null ? null : [found[1]!, found[2]!];
}

const counts = { live: 0, liveBytes: 0, kept: 0, keptBytes: 0, alarms: 0, unacknowledged: 0 };
const cursors: Cursor[] = [];

interface Cursor {
  readonly hub: string;
  readonly connection: NatsConnection;
  readonly stream: JetStreamClient;
  readonly beganAtMs: number;
  next: number;
  round: number;
  packets: number;
  /** Of the live message sent last. */
  number: number;
}

const idOf = (hub: string): string => createHash('sha256').update(hub).digest('hex').slice(0, 24);

const subjectOf = (hub: string, way: string, kind: string): string =>
  `slackwater.${school}.${way}.${hub}.${kind}${recorded.hasId ? `.${idOf(hub)}` : ''}`;

function headersOf(message: Pick<RecordedMessage, 'headers'>, number?: number): ReturnType<typeof headers> {
  const all = headers();
  // What JetStream was told of the message is told anew.
  for (const [name, value] of Object.entries(message.headers))
    if (!name.startsWith('Nats-'))
      all.set(name, name === numberHeader && number !== undefined ? String(number) : value);
  return all;
}

async function add(hub: string, phaseMs: number): Promise<void> {
  const connection = await connect({
    servers: natsUrl.replace('nats://', ''),
    name: hub,
    inboxPrefix: `_INBOX.${hub}`,
  });
  const cursor: Cursor = {
    hub,
    connection,
    stream: jetstream(connection),
    beganAtMs: performance.now() - phaseMs,
    // It begins where it would be by now, not with all that lies before.
    next: Math.max(
      0,
      ready.findIndex(({ atMs }) => atMs >= phaseMs),
    ),
    round: 0,
    packets: 0,
    number: 0,
  };
  connection.subscribe(subjectOf(hub, 'to', 'welcome'), {
    callback: (error, message) => {
      if (error !== null) return;
      const isNumbered = 'toldUpTo' in welcome;
      message.respond(packJson(isNumbered ? { ...welcome, toldUpTo: cursor.number } : welcome));
    },
  });
  const { base64 } = recorded.hello;
  const hello = JSON.parse(Buffer.from(base64, 'base64').toString('utf8')) as object;
  await connection.request(
    subjectOf(hub, 'from', 'ask.hello'),
    JSON.stringify({ ...hello, name: `Room ${hub}`, wallNowMs: Date.now() }),
    { timeout: 30_000, headers: headersOf(recorded.hello) },
  );
  cursors.push(cursor);
}

function send(cursor: Cursor, message: Ready): void {
  const { hub, connection } = cursor;
  const { kind, bytes, alarm } = message;
  if (kind.startsWith('kept.')) {
    void keep(cursor, message);
    return;
  }
  let told = bytes;
  if (alarm !== null) {
    told = Buffer.from(`${alarm[0]}at${Number(process.hrtime.bigint()) / 1e6}${alarm[1]}`);
    counts.alarms += 1;
  }
  cursor.number += 1;
  connection.publish(subjectOf(hub, 'from', kind), told, { headers: headersOf(message, cursor.number) });
  counts.live += 1;
  counts.liveBytes += told.length;
}

/** As it was, but for its place: packets go on being numbered, what was told is newer each time. */
async function keep(cursor: Cursor, message: Ready): Promise<void> {
  const unpacked = unpackKept(message.bytes);
  if (unpacked === undefined) return;
  let head = unpacked.head as Record<string, unknown>;
  let { body } = unpacked;
  if (message.kind === 'kept.segment') {
    head = { ...head, first: cursor.packets };
    cursor.packets += Number(head['packetCount']);
  } else {
    const revision = Date.now();
    body = packJson({ ...(unpackJson(body) as object), revision });
    head = { ...head, revision, sha256: sha256Of(body) };
  }
  const packed = packKept(head, body);
  counts.kept += 1;
  counts.keptBytes += packed.length;
  try {
    await cursor.stream.publish(subjectOf(cursor.hub, 'from', message.kind), packed, {
      msgID: `${cursor.hub}.${counts.kept}`,
      headers: headersOf(message),
      timeout: 20_000,
    });
  } catch {
    counts.unacknowledged += 1;
  }
}

setInterval(() => {
  const nowMs = performance.now();
  for (const cursor of cursors)
    for (;;) {
      const message = ready[cursor.next]!;
      if (cursor.beganAtMs + cursor.round * recorded.durationMs + message.atMs > nowMs) break;
      send(cursor, message);
      cursor.next += 1;
      if (cursor.next === ready.length) {
        cursor.next = 0;
        cursor.round += 1;
      }
    }
}, tickMs);

process.on('message', async (asked: { readonly hubs: number } | 'counts') => {
  if (asked === 'counts') {
    process.send?.(counts);
    return;
  }
  for (let number = cursors.length; number < asked.hubs; number++)
    await add(`hub-${String(number).padStart(2, '0')}`, (number * 7_919) % recorded.durationMs);
  process.send?.('sending');
});
process.send?.('ready');
