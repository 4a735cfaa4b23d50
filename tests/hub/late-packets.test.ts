// What a radio elsewhere kept while it was not reached: recorded at its time and marked, of no meaning for what is so now, and in
// its place in a review. And what a coach is told of radios, and says of sensors.

import { expect, test } from 'vitest';
import type { SensorListener, SensorSource, SensorStatus } from '../../hub/base/ports/sensor-source.ts';
import { initialSettings } from '../../hub/live/initial-settings.ts';
import type { LiveEvent } from '../../hub/live/live-event.ts';
import { openStoreInMemory } from '../../hub/recorder/sqlite-store.ts';
import { eventsOfPackets } from '../../hub/recordings/review/session-events.ts';
import { encodePlxContinuous } from '../../hub/sensors/simulated/encode-plx-continuous.ts';
import { processMs } from '../../shared/units.ts';
import { timeOfEvent } from '../../src/sessions/merge-events.ts';
import { createFakeClock } from '../support/fake-clock.ts';
import { hubInTest } from '../support/hub-in-test.ts';

async function farHub() {
  const clock = createFakeClock();
  const store = openStoreInMemory();
  store.saveAthlete({ athleteId: 'mira', name: 'Mira', simulated: false, settings: initialSettings });
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
  const hub = hubInTest({ clock, store, sources: [source] });
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
