// The alarm of a room that fell silent: raised after five seconds of a hub that said a session runs, ended when the hub is
// heard, whatever its room is called by then. A real message server; the school's clock is moved by the test.

import type { NatsConnection } from '@nats-io/transport-node';
import { headers } from '@nats-io/transport-node';
import { beforeEach, expect, test, vi } from 'vitest';
import type { Hub } from '../../../hub/live/hub.ts';
import { openStoreInMemory } from '../../../hub/recorder/sqlite-store.ts';
import { connectNats } from '../../../hub/school/nats/connect.ts';
import { Rooms } from '../../../hub/school/rooms/rooms.ts';
import { silenceTeller } from '../../../hub/school/rooms/silent-rooms.ts';
import type { DownMessage } from '../../../shared/messages/down.ts';
import { numberHeader } from '../../../shared/school/school-version.ts';
import { type HubIdentity, subjects } from '../../../shared/school/subjects.ts';
import { wallMs } from '../../../shared/units.ts';
import { createFakeClock, type FakeClock } from '../../support/fake-clock.ts';
import { hubInTest } from '../../support/hub-in-test.ts';
import { serversInTest } from '../../support/school/servers-in-test.ts';
import { testLog } from '../../support/serve-test-hub.ts';

// Servers are started: a loaded machine takes its time.
vi.setConfig({ testTimeout: 60_000, hookTimeout: 120_000 });

const servers = serversInTest('silent-room');
const quay: HubIdentity = { hub: 'quay', hubId: '0123456789abcdef01234567' };
const basin: HubIdentity = { hub: 'basin', hubId: 'fedcba987654321001234567' };

type SessionMessage = Extract<DownMessage, { type: 'session' }>;

let clock: FakeClock;
let school: Hub;
let rooms: Rooms;
let connection: NatsConnection;
let number = 0;

beforeEach(async () => {
  const { opened } = servers;
  clock = createFakeClock();
  school = hubInTest({ clock, store: opened(openStoreInMemory()), sources: [] });
  connection = opened(
    await connectNats(
      { url: servers.nats.url },
      { name: 'school', inboxPrefix: '_INBOX.school', keepTrying: true },
    ),
  );
  rooms = opened(
    new Rooms({
      connection,
      school: 'test',
      clock,
      log: testLog,
      audit: { append: () => undefined },
      personOf: (hub, athleteId) => `${hub}.${athleteId}`,
      silent: silenceTeller(school),
    }),
  );
  rooms.open();
});

const session = (status: 'recording' | 'ended'): SessionMessage => ({
  type: 'session',
  session: {
    sessionId: 's1',
    startedWallAtMs: wallMs(Date.UTC(2026, 10, 3, 18)),
    endedAtMs: null,
    status,
    simulated: true,
    source: 'simulated',
    title: 'SIMULATED',
    athleteIds: [],
    unwatched: [],
    leaders: [],
  },
  athletes: [],
});

/** The hub says this live, and the school has heard it. */
async function says(who: HubIdentity, message: SessionMessage): Promise<void> {
  number += 1;
  const numbered = headers();
  numbered.set(numberHeader, String(number));
  const isRecording = message.session?.status === 'recording';
  connection.publish(subjects.live('test', who, 'text'), JSON.stringify(message), { headers: numbered });
  await expect
    .poll(() => rooms.list().find(({ hub }) => hub === who.hub))
    .toMatchObject({ isSilent: false, isRecording });
}

const silentRooms = (): readonly unknown[] =>
  school.supervision
    .filter(({ kind }) => kind === 'roomSilent')
    .map(({ priority, subject }) => [priority, subject?.params['text']]);

test('an alarm after five seconds of silence, over when the hub is heard', async () => {
  rooms.know('quay', 'Quay hall', quay.hubId);
  await says(quay, session('recording'));
  clock.advance(4_900);
  expect(silentRooms()).toEqual([]);
  clock.advance(600);
  expect(silentRooms()).toEqual([['high', 'Quay hall']]);
  await says(quay, session('recording'));
  expect(silentRooms()).toEqual([]);
});

test('raised before the name of the room had come, it is over when the hub is heard under it', async () => {
  // As the school knows it before the archive has told the name: by the hub's own.
  rooms.know('quay', 'quay', quay.hubId);
  await says(quay, session('recording'));
  clock.advance(5_500);
  expect(silentRooms()).toEqual([['high', 'quay']]);
  rooms.know('quay', 'Quay hall', quay.hubId);
  await says(quay, session('recording'));
  expect(silentRooms()).toEqual([]);
  clock.advance(5_500);
  expect(silentRooms()).toEqual([['high', 'Quay hall']]);
});

test('renamed while it is silent: the same alarm under the new name, and who has seen it is not called again', async () => {
  rooms.know('quay', 'Quay hall', quay.hubId);
  await says(quay, session('recording'));
  clock.advance(5_500);
  const [raised] = school.supervision;
  school.acknowledgeSupervision([raised!.alarmId]);
  rooms.know('quay', 'Harbour hall', quay.hubId);
  expect(silentRooms()).toEqual([['high', 'Harbour hall']]);
  expect(school.supervision).toMatchObject([{ alarmId: raised!.alarmId, acknowledged: true }]);
  await says(quay, session('recording'));
  expect(silentRooms()).toEqual([]);
});

test('renamed while it is silent to what another silent room is called: one alarm, until both are heard', async () => {
  rooms.know('quay', 'Quay hall', quay.hubId);
  rooms.know('basin', 'Basin', basin.hubId);
  await says(quay, session('recording'));
  await says(basin, session('recording'));
  clock.advance(5_500);
  rooms.know('quay', 'Basin', quay.hubId);
  expect(silentRooms()).toEqual([['high', 'Basin']]);
  // And apart again: each is told by its own name.
  rooms.know('quay', 'Quay', quay.hubId);
  expect(silentRooms().toSorted()).toEqual([
    ['high', 'Basin'],
    ['high', 'Quay'],
  ]);
  await says(basin, session('recording'));
  expect(silentRooms()).toEqual([['high', 'Quay']]);
});

test('a name that comes before the first word of a hub raises nothing', () => {
  rooms.know('quay', 'quay', null);
  rooms.know('quay', 'Quay hall', quay.hubId);
  expect(silentRooms()).toEqual([]);
});

test('of two rooms called alike the alarm stands until both are heard', async () => {
  rooms.know('quay', 'Hall', quay.hubId);
  rooms.know('basin', 'Hall', basin.hubId);
  await says(quay, session('recording'));
  await says(basin, session('recording'));
  clock.advance(5_500);
  expect(silentRooms()).toEqual([['high', 'Hall']]);
  await says(quay, session('recording'));
  expect(silentRooms()).toEqual([['high', 'Hall']]);
  await says(basin, session('recording'));
  expect(silentRooms()).toEqual([]);
});

test('no alarm of a hub that fell silent after its session', async () => {
  rooms.know('quay', 'Quay hall', quay.hubId);
  await says(quay, session('recording'));
  await says(quay, session('ended'));
  clock.advance(60_000);
  expect(rooms.list()).toMatchObject([{ hub: 'quay', isSilent: true }]);
  expect(silentRooms()).toEqual([]);
});
