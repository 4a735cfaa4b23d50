// Many hubs in one process: each sends what one real hub sent (recorded-hub.ts), round and round and at its own time, with a
// connection of its own. The first alarm of a message bears in its id when it was sent. SIMULATED.

import { readFileSync } from 'node:fs';
import { type JetStreamClient, jetstream } from '@nats-io/jetstream';
import { connect, headers, type NatsConnection } from '@nats-io/transport-node';
import { packJson, packKept, sha256Of, unpackJson, unpackKept } from '../../../hub/school/kept-bytes.ts';
import { schoolVersion, versionHeader } from '../../../shared/school/school-version.ts';
import { subjects } from '../../../shared/school/subjects.ts';
import type { RecordedHub, RecordedMessage } from './recorded-hub.ts';

const [natsUrl = '', school = '', path = ''] = process.argv.slice(2);
const recorded = JSON.parse(readFileSync(path, 'utf8')) as RecordedHub;
const tickMs = 4;

interface Ready {
  readonly atMs: number;
  readonly kind: string;
  readonly bytes: Uint8Array;
  /** Around the place of an alarm's id, where it is a message of alarms. */
  readonly alarm: readonly [string, string] | null;
}

const ready: readonly Ready[] = recorded.messages.map((message) => ({
  atMs: message.atMs,
  kind: message.kind,
  bytes: Buffer.from(message.base64, 'base64'),
  alarm: aroundAlarm(message),
}));
const welcome = Buffer.from(recorded.welcomeBase64, 'base64');

function aroundAlarm({ kind, base64 }: RecordedMessage): readonly [string, string] | null {
  if (kind !== 'live.text') return null;
  const text = Buffer.from(base64, 'base64').toString('utf8');
  const found = /^(\{"type":"alarms".*?"alarmId":")[^"]+(".*)$/.exec(text);
  return found === null ? null : [found[1]!, found[2]!];
}

const versioned = headers();
versioned.set(versionHeader, String(schoolVersion));
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
}

async function add(hub: string, phaseMs: number): Promise<void> {
  const connection = await connect({
    servers: natsUrl.replace('nats://', ''),
    name: hub,
    inboxPrefix: subjects.inbox(hub),
  });
  connection.subscribe(subjects.to(school, hub, 'welcome'), {
    callback: (error, message) => void (error === null && message.respond(welcome)),
  });
  const hello = { version: schoolVersion, name: `Room ${hub}`, hubVersion: 'bench', wallNowMs: Date.now() };
  await connection.request(subjects.ask(school, hub, 'hello'), JSON.stringify(hello), {
    timeout: 10_000,
    headers: versioned,
  });
  cursors.push({
    hub,
    connection,
    stream: jetstream(connection),
    beganAtMs: performance.now() - phaseMs,
    next: 0,
    round: 0,
    packets: 0,
  });
  const cursor = cursors.at(-1)!;
  // It begins where it would be by now, not with all that lies before.
  cursor.next = ready.findIndex(({ atMs }) => atMs >= phaseMs);
  if (cursor.next === -1) cursor.next = 0;
}

function send(cursor: Cursor, { kind, bytes, alarm }: Ready): void {
  const { hub, connection } = cursor;
  if (kind.startsWith('kept.')) {
    void keep(cursor, kind.slice(5) as 'segment' | 'told' | 'list', bytes);
    return;
  }
  let told = bytes;
  if (alarm !== null) {
    told = Buffer.from(`${alarm[0]}at${Number(process.hrtime.bigint()) / 1e6}${alarm[1]}`);
    counts.alarms += 1;
  }
  connection.publish(subjects.live(school, hub, kind.slice(5) as 'text' | 'frame'), told);
  counts.live += 1;
  counts.liveBytes += told.length;
}

/** As it was, but for its place: packets go on being numbered, what was told is newer each time. */
async function keep(cursor: Cursor, kind: 'segment' | 'told' | 'list', bytes: Uint8Array): Promise<void> {
  const unpacked = unpackKept(bytes);
  if (unpacked === undefined) return;
  let head = unpacked.head as Record<string, unknown>;
  let { body } = unpacked;
  if (kind === 'segment') {
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
    await cursor.stream.publish(subjects.kept(school, cursor.hub, kind), packed, {
      msgID: `${cursor.hub}.${kind}.${cursor.round}.${cursor.packets}.${counts.kept}`,
      headers: versioned,
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
