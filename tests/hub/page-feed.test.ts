// What pages are told of a running hub, and in what order: alarms before the readings they rest on, readings as soon as they
// are there, sensors only when a person sees a difference; whoever joins at any moment knows what the others know.

import fc from 'fast-check';
import { afterEach, beforeEach, expect, test } from 'vitest';
import type { Hub } from '../../hub/live/hub.ts';
import { initialSettings } from '../../hub/live/initial-settings.ts';
import { openStoreInMemory } from '../../hub/recorder/sqlite-store.ts';
import { PageFeed } from '../../hub/server/page-feed.ts';
import { toLiveState } from '../../hub/server/to-view.ts';
import type { LiveState } from '../../shared/live-frame/live-frame.ts';
import { LiveFrameReader } from '../../shared/live-frame/live-frame-reader.ts';
import { liveFrame } from '../../shared/live-frame/write-live-frame.ts';
import type { DownMessage } from '../../shared/messages/down.ts';
import { monotonicMs } from '../../shared/units.ts';
import type { ShownSensor } from '../../shared/views.ts';
import { createFakeClock, type FakeClock } from '../support/fake-clock.ts';
import { hearFeed, readFill, readFrame } from '../support/hear-feed.ts';
import { hubInTest } from '../support/hub-in-test.ts';
import { createScriptedSource, type ScriptedSource } from '../support/scripted-source.ts';

const athleteIds = ['mira', 'jonas'];
const sensors = athleteIds.flatMap((athleteId) => [
  { sensorId: `clip-${athleteId}`, name: 'Clip', kind: 'oximeter' as const },
  { sensorId: `strap-${athleteId}`, name: 'Strap', kind: 'heartRate' as const },
]);

let clock: FakeClock;
let source: ScriptedSource;
let hub: Hub;
let feed: PageFeed;
let heard: DownMessage[];

async function begin(): Promise<void> {
  clock = createFakeClock();
  source = createScriptedSource(clock, 'bluetooth', sensors);
  const store = openStoreInMemory();
  for (const athleteId of athleteIds) {
    store.saveAthlete({ athleteId, name: athleteId, simulated: false, settings: initialSettings });
    store.assignSensor(`clip-${athleteId}`, athleteId);
    store.assignSensor(`strap-${athleteId}`, athleteId);
  }
  hub = hubInTest({ clock, store, sources: [source] });
  feed = new PageFeed(hub, 'test', 'run');
  feed.open();
  await hub.start();
  hub.startSession(athleteIds, 'course');
  heard = [];
  hearFeed(feed, (message) => heard.push(message));
}

async function end(): Promise<void> {
  await feed.close();
  await hub.stop();
}

beforeEach(begin);
afterEach(end);

const spo2 = (athleteId: string, spo2Percent: number, pulseRateBpm = 62): void =>
  source.bytes(`clip-${athleteId}`, '2a5f', Uint8Array.of(0, spo2Percent, 0, pulseRateBpm, 0));
const heartRate = (athleteId: string, heartRateBpm: number): void =>
  source.bytes(`strap-${athleteId}`, '2a37', Uint8Array.of(0x06, heartRateBpm));
const of = <Type extends DownMessage['type']>(type: Type) =>
  heard.filter((message): message is Extract<DownMessage, { type: Type }> => message.type === type);

test('a reading is told before any time has passed, once all that came with it is done', () => {
  clock.advance(1_000);
  heard.length = 0;
  spo2('mira', 96);
  expect(heard).toEqual([]);
  clock.advance(0);
  expect(of('latest').map(({ athleteId, spo2: read }) => [athleteId, read?.value])).toEqual([['mira', 96]]);
});

test('the alarm that follows from a reading comes before it', () => {
  for (let second = 0; second < 5; second += 1) {
    spo2('mira', 97);
    clock.advance(1_000);
  }
  heard.length = 0;
  for (let second = 0; second < 8; second += 1) {
    spo2('mira', 85);
    clock.advance(1_000);
  }
  const alarmAt = heard.findIndex(
    (message) => message.type === 'alarms' && message.alarms.some(({ kind }) => kind === 'floorBreached'),
  );
  expect(alarmAt).toBeGreaterThan(-1);
  const alarm = heard[alarmAt] as Extract<DownMessage, { type: 'alarms' }>;
  const readingAt = heard.findIndex(
    (message) => message.type === 'latest' && (message.spo2?.atMs ?? 0) >= alarm.atMs,
  );
  expect(readingAt).toBeGreaterThan(alarmAt);
});

test('what changes with every packet and nobody sees is no news of a sensor', () => {
  clock.advance(2_000);
  heard.length = 0;
  for (let second = 0; second < 5; second += 1) {
    heartRate('mira', 60);
    source.link('strap-mira', 'connected');
    clock.advance(1_000);
  }
  expect(of('sensors')).toEqual([]);
});

test('of sensors only those are told that have changed, at most once a second', () => {
  clock.advance(2_000);
  heard.length = 0;
  for (const link of ['lost', 'searching', 'connecting', 'lost'] as const) {
    source.link('strap-mira', link);
    clock.advance(100);
  }
  clock.advance(1_000);
  // The first at once; of the rest nothing is left to tell.
  expect(
    of('sensors').map(({ whole, sensors: told }) => [whole, told.map((one) => [one.sensorId, one.link])]),
  ).toEqual([[false, [['strap-mira', 'lost']]]]);
});

test('whoever joins, whenever, ends with the same state as who heard everything', async () => {
  const step = fc.oneof(
    fc.record({
      kind: fc.constant('spo2' as const),
      athlete: fc.constantFrom(...athleteIds),
      value: fc.integer({ min: 85, max: 88 }),
    }),
    fc.record({
      kind: fc.constant('heartRate' as const),
      athlete: fc.constantFrom(...athleteIds),
      value: fc.integer({ min: 60, max: 63 }),
    }),
    fc.record({ kind: fc.constant('pass' as const), ms: fc.integer({ min: 0, max: 1_500 }) }),
    fc.record({ kind: fc.constant('mark' as const), athlete: fc.constantFrom(...athleteIds) }),
    fc.record({
      kind: fc.constant('link' as const),
      to: fc.constantFrom('lost' as const, 'connected' as const),
    }),
  );
  await fc.assert(
    fc.asyncProperty(fc.array(step, { maxLength: 40 }), fc.nat(40), async (steps, joinsAt) => {
      await end();
      await begin();
      const late: DownMessage[] = [];
      const join = (): void => {
        const { welcome, fill, session } = feed.welcome(null);
        late.push({ ...welcome, role: 'coach', athleteIds: 'all', deviceId: null });
        late.push(...readFill(fill), session, feed.sensors());
        const reader = new LiveFrameReader();
        late.push(
          ...readFrame(
            reader,
            feed.whole(() => true),
          ),
        );
        feed.subscribe({
          message: (message) => late.push(message),
          live: (changes) => late.push(...readFrame(reader, liveFrame(changes.map(({ block }) => block)))),
        });
      };
      const early: DownMessage[] = [
        { ...feed.welcome(null).welcome, role: 'coach', athleteIds: 'all', deviceId: null },
        feed.sensors(),
      ];
      heard.unshift(...early);
      for (const [index, s] of steps.entries()) {
        if (index === joinsAt) join();
        if (s.kind === 'spo2') spo2(s.athlete, s.value);
        else if (s.kind === 'heartRate') heartRate(s.athlete, s.value);
        else if (s.kind === 'pass') clock.advance(s.ms);
        else if (s.kind === 'mark')
          hub.addMark({ athleteId: s.athlete, kind: 'holdStart', atMs: null, text: null });
        else source.link('strap-mira', s.to);
      }
      if (joinsAt >= steps.length) join();
      clock.advance(2_000);
      const drawn = [heard, late].map(drawnFrom);
      expect(drawn[1]).toEqual(drawn[0]);
      for (const athleteId of athleteIds)
        expect(drawn[0]!.athletes.get(athleteId)).toEqual(
          withoutRepeats(toLiveState(hub.snapshotOf(athleteId)!)),
        );
    }),
    { numRuns: 60 },
  );
});

/** A reading that was repeated within half a second may be told by the first: its time is left out. */
const withoutRepeats = ({ athleteId, phase, spo2: read, heartRate: rate, forecast }: LiveState) => ({
  athleteId,
  phase,
  forecast,
  readings: [read, rate].map((reading) => reading && { ...reading, atMs: null }),
});

/** What a page that was told these shows, without the times at which it was told. */
function drawnFrom(messages: readonly DownMessage[]) {
  const athletes = new Map<string, object>();
  const alarms = new Map<string, unknown>();
  const shown = new Map<string, ShownSensor>();
  const samples = new Map<string, number>();
  for (const message of messages) {
    if (message.type === 'welcome')
      for (const {
        athlete,
        phase,
        spo2: read,
        heartRate: rate,
        forecast,
        alarms: standing,
      } of message.athletes) {
        const { athleteId } = athlete;
        const state = { athleteId, atMs: monotonicMs(0), phase, spo2: read, heartRate: rate, forecast };
        athletes.set(athleteId, withoutRepeats(state));
        alarms.set(athleteId, standing);
      }
    else if (message.type === 'latest') {
      athletes.set(message.athleteId, withoutRepeats(message));
    } else if (message.type === 'alarms') alarms.set(message.athleteId, message.alarms);
    else if (message.type === 'sensors') {
      if (message.whole) shown.clear();
      for (const sensor of message.sensors) shown.set(sensor.sensorId, sensor);
      for (const sensorId of message.gone) shown.delete(sensorId);
    } else if (message.type === 'trace')
      for (const { channel, atMs } of message.traces)
        samples.set(`${message.athleteId} ${channel}`, atMs.at(-1) ?? 0);
  }
  return { athletes, alarms, shown, samples };
}
