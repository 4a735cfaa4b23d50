// Many hubs in one process: each sends what one real hub sent (recorded-hub.ts), round and round and at its own time, its
// session's time going on, with a connection of its own. The first alarm of a message bears in its id when it was sent. SIMULATED.

import { createHash } from 'node:crypto';
import { readFileSync } from 'node:fs';
import { type JetStreamClient, jetstream } from '@nats-io/jetstream';
import { connect, headers, type NatsConnection } from '@nats-io/transport-node';
import { packJson, packKept, sha256Of, unpackJson, unpackKept } from '../../../hub/school/kept-bytes.ts';
import type { RecordedHub, RecordedMessage } from './recorded-hub.ts';
import { RecordedLive, ReplayedHub } from './replayed-hub.ts';

const [natsUrl = '', school = '', path = ''] = process.argv.slice(2);
const recorded = JSON.parse(readFileSync(path, 'utf8')) as RecordedHub;
const tickMs = 4;
/** Live messages are numbered by their hub in it, where they are. */
const numberHeader = 'Slackwater-Number';

const live = new RecordedLive(recorded);

/** Who began to call, and when by the wall: for whoever looks whether it was seen. */
let called: { readonly hub: string; readonly athleteId: string; readonly atWallMs: number }[] = [];
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
  readonly replayed: ReplayedHub;
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
      recorded.messages.findIndex(({ atMs }) => atMs >= phaseMs),
    ),
    round: 0,
    packets: 0,
    number: 0,
    replayed: new ReplayedHub(live),
  };
  connection.subscribe(subjectOf(hub, 'to', 'welcome'), {
    callback: (error, message) => {
      if (error !== null) return;
      message.respond(cursor.replayed.welcome(cursor.number));
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

function send(cursor: Cursor, message: RecordedMessage): void {
  const { hub, connection, replayed } = cursor;
  const { kind } = message;
  if (kind.startsWith('kept.')) {
    void keep(cursor, message);
    return;
  }
  const byMs = cursor.round * recorded.durationMs;
  const told = kind === 'live.frame' ? replayed.frame(message, byMs) : textOf(cursor, message, byMs);
  if (told === undefined) return;
  cursor.number += 1;
  connection.publish(subjectOf(hub, 'from', kind), told, { headers: headersOf(message, cursor.number) });
  counts.live += 1;
  counts.liveBytes += told.length;
}

function textOf({ hub, replayed }: Cursor, message: RecordedMessage, byMs: number): Buffer {
  const { text, called: athleteId } = replayed.text(message, byMs);
  if (athleteId !== undefined)
    called.push({ hub, athleteId, atWallMs: performance.timeOrigin + performance.now() });
  const alarm = /^(\{"type":"alarms".*?"alarmId":")[^"]+(".*)$/.exec(text);
  if (alarm === null) return Buffer.from(text);
  counts.alarms += 1;
  return Buffer.from(`${alarm[1]}at${Number(process.hrtime.bigint()) / 1e6}${alarm[2]}`);
}

/** As it was, but for its place: packets go on being numbered, what was told is newer each time. */
async function keep(cursor: Cursor, message: RecordedMessage): Promise<void> {
  const unpacked = unpackKept(Buffer.from(message.base64, 'base64'));
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
      const message = recorded.messages[cursor.next]!;
      if (cursor.beganAtMs + cursor.round * recorded.durationMs + message.atMs > nowMs) break;
      send(cursor, message);
      cursor.next += 1;
      if (cursor.next === recorded.messages.length) {
        cursor.next = 0;
        cursor.round += 1;
      }
    }
}, tickMs);

process.on('message', async (asked: { readonly hubs: number } | 'counts' | 'called') => {
  if (asked === 'called') {
    process.send?.(called);
    called = [];
    return;
  }
  if (asked === 'counts') {
    process.send?.(counts);
    return;
  }
  for (let number = cursors.length; number < asked.hubs; number++)
    await add(`hub-${String(number).padStart(2, '0')}`, (number * 7_919) % recorded.durationMs);
  process.send?.('sending');
});
process.send?.('ready');
