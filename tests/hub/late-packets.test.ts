// What a radio elsewhere kept while it was not reached: recorded at its time and marked, of no meaning for what is so now, and in
// its place in a review. And what a coach is told of radios, and says of sensors.

import { expect, test } from 'vitest';
import type { SensorListener, SensorSource, SensorStatus } from '../../hub/base/ports/sensor-source.ts';
import { initialSettings } from '../../hub/live/initial-settings.ts';
import type { LiveEvent } from '../../hub/live/live-event.ts';
import { openStoreInMemory } from '../../hub/recorder/sqlite-store.ts';
import { eventsOfPackets } from '../../hub/recordings/review/session-events.ts';
import { ReplaySource } from '../../hub/sensors/replay/replay-source.ts';
import { storedRecording } from '../../hub/sensors/replay/stored-recording.ts';
import { encodePlxContinuous } from '../../hub/sensors/simulated/encode-plx-continuous.ts';
import { processMs } from '../../shared/units.ts';
import { createPipeline, pipelineFactory } from '../../src/pipeline.ts';
import type { SensorProfile } from '../../src/profiles/sensor-profile.ts';
import { timeOfEvent } from '../../src/sessions/merge-events.ts';
import { createFakeClock } from '../support/fake-clock.ts';
import { hubInTest } from '../support/hub-in-test.ts';

/** Frames of three bytes: a kind, and a saturation or whether the finger is out; what the second says stands. */
const lamp: SensorProfile = {
  name: 'Lamp',
  measures: ['oximeter'],
  match: { services: [], namePrefix: 'Lamp' },
  link: { service: '180f', notify: 'ee01', start: [] },
  frame: { sync: Uint8Array.of(0xd1), length: { fixed: 3 }, checksum: null },
  fields: [field('spo2Percent', 1), field('noContact', 2)],
};
function field(gives: 'spo2Percent' | 'noContact', kind: number): SensorProfile['fields'][number] {
  const number = {
    type: 'u8',
    bits: null,
    scale: 1,
    offset: 0,
    invalid: [],
    count: 1,
    rateHz: null,
  } as const;
  return { gives, at: 2, ...number, when: { at: 1, is: kind } };
}

async function farHub() {
  const clock = createFakeClock();
  const store = openStoreInMemory();
  store.saveAthlete({ athleteId: 'mira', name: 'Mira', simulated: false, settings: initialSettings });
  store.saveAthlete({ athleteId: 'teo', name: 'Teo', simulated: false, settings: initialSettings });
  store.assignSensor('clip', 'mira');
  let listener: SensorListener | undefined;
  const same: [string, string | null][] = [];
  const status = (link: SensorStatus['link'], sensorId = 'clip'): SensorStatus => ({
    sensorId,
    name: sensorId,
    kinds: ['oximeter'],
    source: 'bluetooth',
    link,
    detail: null,
    batteryPercent: null,
    rssiDbm: null,
    via: 'Hall',
  });
  const source: SensorSource = {
    source: 'bluetooth',
    async start(to) {
      listener = to;
      to.sensorChanged(status('connected'));
      to.sensorChanged(status('off', 'other'));
    },
    async stop() {
      listener = undefined;
    },
    sameSensors: [{ sensorId: 'former', as: 'clip' }],
    setSameSensor: (sensorId, as) => void same.push([sensorId, as]),
  };
  const profiles = () => [lamp];
  const hub = hubInTest({
    clock,
    store,
    sources: [source],
    createPipeline: pipelineFactory([lamp]),
    profiles,
  });
  const heard: LiveEvent[] = [];
  hub.subscribe((event) => heard.push(event));
  await hub.start();
  const reading = (spo2Percent: number, agoMs = 0, isLate = false): void =>
    listener!.packet({
      sensorId: 'clip',
      characteristic: '2a5f',
      bytes: encodePlxContinuous({ spo2Percent, pulseRateBpm: 62 }),
      receivedAtMs: processMs(clock.nowMs() - agoMs),
      ...(isLate && { isLate }),
    });
  return {
    clock,
    store,
    hub,
    heard,
    same,
    reading,
    bytes: (agoMs: number, isLate: boolean, ...bytes: readonly number[]): void =>
      listener!.packet({
        sensorId: 'clip',
        characteristic: 'ee01',
        bytes: Uint8Array.from(bytes),
        receivedAtMs: processMs(clock.nowMs() - agoMs),
        ...(isLate && { isLate }),
      }),
    link: (link: SensorStatus['link']) => listener!.sensorChanged(status(link)),
  };
}

test('late packets are recorded at their time and marked, and raise no alarm of what has passed', async () => {
  const { clock, store, hub, heard, reading, link } = await farHub();
  const started = hub.startSession(['mira'], '');
  if (!started.ok) throw new Error(started.reason.said.code);
  const { sessionId } = started.value;
  for (let second = 0; second < 10; second += 1) {
    reading(97);
    clock.advance(1_000);
  }
  link('lost');
  clock.advance(20_000);
  expect(hub.snapshotOf('mira')!.alarms.map(({ kind }) => kind)).toContain('sensorLost');
  const before = heard.length;
  // A fall far below the floor, ten seconds long, that nobody saw; over by now.
  for (let agoMs = 20_000; agoMs > 3_000; agoMs -= 1_000) reading(agoMs > 10_000 ? 70 : 96, agoMs, true);
  const since = heard.slice(before);
  expect(since.filter(({ type }) => type === 'packet')).toHaveLength(17);
  expect(since.filter(({ type }) => type === 'sample')).toEqual([]);
  expect(hub.snapshotOf('mira')!.alarms.map(({ kind }) => kind)).toContain('sensorLost');
  link('connected');
  reading(96);
  for (let second = 0; second < 6; second += 1) {
    clock.advance(1_000);
    reading(96);
  }
  expect(hub.snapshotOf('mira')!.alarms.map(({ kind }) => kind)).not.toContain('floorBreached');
  expect(hub.snapshotOf('mira')!.latestSpo2?.value).toBe(96);
  hub.endSession();
  const stored = store.readSession(sessionId)!;
  const mark = stored.linkEvents.filter(({ detail }) => detail?.code === 'link.cameLate');
  expect(mark).toHaveLength(1);
  expect(mark[0]!.detail!.params).toEqual({ count: 17, forS: 20 });
  // As they came; and in a review where they belong.
  const packets = [...store.readPackets(sessionId)];
  expect(packets).toHaveLength(10 + 17 + 7);
  const events = [...eventsOfPackets(stored, 'mira', packets)];
  const times = events.map(timeOfEvent);
  expect(times).toEqual(times.toSorted((one, other) => one - other));
  expect(events.filter(({ type }) => type === 'packet')).toHaveLength(34);
  await hub.stop();
});

test('of a sensor that changed hands they go to whoever wore it then', async () => {
  const { clock, store, hub, heard, reading } = await farHub();
  const started = hub.startSession(['mira', 'teo'], '');
  if (!started.ok) throw new Error(started.reason.said.code);
  const { sessionId } = started.value;
  for (let second = 0; second < 5; second += 1) {
    reading(97);
    clock.advance(1_000);
  }
  clock.advance(5_000);
  hub.assignSensors([{ sensorId: 'clip', athleteId: 'teo' }]);
  clock.advance(10_000);
  // At 6, 8, 12 and 14 s of the session: two are Mira's, two Teo's.
  for (const agoMs of [14_000, 12_000, 8_000, 6_000]) reading(90, agoMs, true);
  reading(98);
  const packets = heard.flatMap((event) => (event.type === 'packet' ? [event] : []));
  expect(packets.slice(-5).map(({ athleteId, packet }) => [athleteId, packet.atMs])).toEqual([
    ['mira', 6_000],
    ['mira', 8_000],
    ['teo', 12_000],
    ['teo', 14_000],
    ['teo', 20_000],
  ]);
  hub.assignSensors([{ sensorId: 'clip', athleteId: null }]);
  clock.advance(10_000);
  // Nobody's since 20 s: of 22 s it is nobody's, of 19 s Teo's still.
  reading(90, 8_000, true);
  reading(91, 11_000, true);
  hub.endSession();
  const stored = store.readSession(sessionId)!;
  const theirs = (athleteId: string) =>
    [...eventsOfPackets(stored, athleteId, store.readPackets(sessionId))].flatMap((event) =>
      event.type === 'packet' ? [event.atMs] : [],
    );
  expect(theirs('mira')).toEqual([0, 1_000, 2_000, 3_000, 4_000, 6_000, 8_000]);
  expect(theirs('teo')).toEqual([12_000, 14_000, 19_000, 20_000]);
  expect(stored.linkEvents.filter(({ detail }) => detail?.code === 'link.cameForNobody')).toMatchObject([
    { detail: { params: { count: 1 } } },
  ]);
  await hub.stop();
});

test('from before the session they are not of it, and it is said', async () => {
  const { clock, store, hub, heard, reading } = await farHub();
  clock.advance(60_000);
  const started = hub.startSession(['mira'], '');
  if (!started.ok) throw new Error(started.reason.said.code);
  clock.advance(5_000);
  for (const agoMs of [20_000, 10_000, 5_001, 5_000, 4_000]) reading(97, agoMs, true);
  reading(96);
  const packets = heard.flatMap((event) => (event.type === 'packet' ? [event.packet.atMs] : []));
  expect(packets).toEqual([0, 1_000, 5_000]);
  hub.endSession();
  const { linkEvents } = store.readSession(started.value.sessionId)!;
  const told = linkEvents.flatMap(({ detail }) => (detail?.code.startsWith('link.came') ? [detail] : []));
  expect(told).toEqual([
    { code: 'link.cameLate', params: { count: 2, forS: 5 } },
    { code: 'link.cameForNobody', params: { count: 3 } },
  ]);
  await hub.stop();
});

test('a finger that is out stays out over a delay, until the sensor says otherwise; also where that came late', async () => {
  const { clock, store, hub, heard, bytes } = await farHub();
  const started = hub.startSession(['mira'], '');
  if (!started.ok) throw new Error(started.reason.said.code);
  const { sessionId } = started.value;
  const reasons = () =>
    heard.flatMap((event) => (event.type === 'sample' ? [event.sample.reasons] : [])).at(-1);
  bytes(0, false, 0xd1, 2, 1);
  bytes(0, false, 0xd1, 1, 97);
  expect(reasons()).toContain('noContact');
  clock.advance(20_000);
  // Half a frame late, the other half in time.
  for (const agoMs of [15_000, 10_000]) bytes(agoMs, true, 0xd1, 1, 97);
  bytes(1_000, true, 0xd1);
  bytes(0, false, 1, 96);
  expect(reasons()).toContain('noContact');
  clock.advance(20_000);
  bytes(10_000, true, 0xd1, 2, 0);
  bytes(0, false, 0xd1, 1, 95);
  expect(reasons()).not.toContain('noContact');
  hub.endSession();
  // And so in a review.
  const stored = store.readSession(sessionId)!;
  const pipeline = createPipeline(initialSettings, [lamp]);
  const reviewed = [...eventsOfPackets(stored, 'mira', store.readPackets(sessionId))]
    .flatMap((event) => pipeline.push(event))
    .flatMap((output) => (output.type === 'sample' ? [output.sample] : []));
  expect(reviewed.map(({ value, reasons: why }) => [value, why.includes('noContact')])).toEqual([
    [97, true],
    [97, true],
    [97, true],
    [96, true],
    [95, false],
  ]);
  await hub.stop();
});

test('a replay plays them late: its answers are those of the live session', async () => {
  const live = await farHub();
  const { clock, store, reading, link } = live;
  const started = live.hub.startSession(['mira', 'teo'], '');
  if (!started.ok) throw new Error(started.reason.said.code);
  const pass = (seconds: number, spo2Percent: number | null): void => {
    for (let second = 0; second < seconds; second += 1) {
      if (spo2Percent !== null) reading(spo2Percent);
      clock.advance(1_000);
    }
  };
  pass(20, 97);
  link('lost');
  pass(20, null);
  // A fall that nobody saw, and then one that everybody sees.
  for (let agoMs = 19_000; agoMs > 3_000; agoMs -= 1_000) reading(agoMs > 10_000 ? 70 : 96, agoMs, true);
  link('connected');
  pass(10, 96);
  live.hub.assignSensors([{ sensorId: 'clip', athleteId: 'teo' }]);
  pass(10, null);
  for (const agoMs of [13_000, 12_000, 8_000, 6_000]) reading(75, agoMs, true);
  pass(10, 70);
  live.hub.endSession();
  const { sessionId } = started.value;
  await live.hub.stop();

  const again = createFakeClock();
  const copy = openStoreInMemory();
  for (const [athleteId, name] of [
    ['mira', 'Mira'],
    ['teo', 'Teo'],
  ] as const)
    copy.saveAthlete({ athleteId, name, simulated: false, settings: initialSettings });
  copy.assignSensor('clip', 'mira');
  const replay = new ReplaySource({ clock: again, recording: storedRecording(store, sessionId) });
  const hub = hubInTest({
    clock: again,
    store: copy,
    sources: [replay],
    createPipeline: pipelineFactory([lamp]),
  });
  const heard: LiveEvent[] = [];
  hub.subscribe((event) => heard.push(event));
  await hub.start();
  const replayed = hub.startSession(['mira', 'teo'], '');
  if (!replayed.ok) throw new Error(replayed.reason.said.code);
  for (let tick = 0; tick < 70 * 50; tick += 1) again.advance(20);
  hub.endSession();
  await hub.stop();

  const packetsOf = (events: readonly LiveEvent[]) =>
    events.flatMap((event) =>
      event.type === 'packet' ? [[event.athleteId, event.packet.atMs, event.packet.bytes.join()]] : [],
    );
  const samplesOf = (events: readonly LiveEvent[]) =>
    events.flatMap((event) =>
      event.type === 'sample' ? [[event.athleteId, event.sample.atMs, event.sample.value]] : [],
    );
  const alarmsOf = (from: ReturnType<typeof openStoreInMemory>, id: string) =>
    from
      .readSession(id)!
      .alarms.map(({ athleteId, alarm }) => [
        athleteId,
        alarm.kind,
        alarm.priority,
        alarm.value,
        alarm.raisedAtMs,
      ])
      .toSorted();
  expect(packetsOf(heard)).toEqual(packetsOf(live.heard));
  expect(samplesOf(heard)).toEqual(samplesOf(live.heard));
  expect(alarmsOf(copy, replayed.value.sessionId)).toEqual(alarmsOf(store, sessionId));
  expect(alarmsOf(store, sessionId).map(([, kind]) => kind)).toContain('floorBreached');
  const late = (from: ReturnType<typeof openStoreInMemory>, id: string) =>
    from
      .readSession(id)!
      .linkEvents.flatMap(({ detail, atMs }) =>
        detail?.code === 'link.cameLate' ? [[atMs, detail.params]] : [],
      );
  expect(late(copy, replayed.value.sessionId)).toEqual(late(store, sessionId));
  expect(late(store, sessionId)).toHaveLength(2);
});

test('a session that ends before anything of now has come marks what came late all the same', async () => {
  const { clock, store, hub, reading } = await farHub();
  const started = hub.startSession(['mira'], '');
  if (!started.ok) throw new Error(started.reason.said.code);
  reading(97);
  clock.advance(20_000);
  reading(96, 8_000, true);
  hub.endSession();
  const stored = store.readSession(started.value.sessionId)!;
  expect(stored.linkEvents.map(({ detail }) => detail?.code)).toContain('link.cameLate');
  await hub.stop();
});

test('only a sensor that is heard and nobody’s is said to be one that somebody wears', async () => {
  const { hub, same } = await farHub();
  expect(hub.setSameSensor('other', 'nobodys').ok).toBe(false);
  expect(hub.setSameSensor('clip', 'clip').ok).toBe(false);
  expect(hub.setSameSensor('unheard', 'clip').ok).toBe(false);
  expect(hub.setSameSensor('other', null).ok).toBe(false);
  expect(hub.setSameSensor('other', 'clip').ok).toBe(true);
  expect(hub.setSameSensor('former', null).ok).toBe(true);
  expect(same).toEqual([
    ['other', 'clip'],
    ['former', null],
  ]);
  expect(hub.sensors.find(({ sensorId }) => sensorId === 'clip')?.via).toBe('Hall');
  await hub.stop();
});
