// A session whose people and sensors change while it runs: who wears what from when on, in the recording, its review and
// its replay; alarms of those who come, go and change sensors.

import { beforeEach, describe, expect, test } from 'vitest';
import type { Store } from '../../hub/base/ports/store.ts';
import type { Hub } from '../../hub/live/hub.ts';
import { initialSettings } from '../../hub/live/initial-settings.ts';
import type { LiveEvent } from '../../hub/live/live-event.ts';
import { openStoreInMemory } from '../../hub/recorder/sqlite-store.ts';
import { RecordedSessions } from '../../hub/recordings/recorded-sessions.ts';
import { eventsOfPackets } from '../../hub/recordings/review/session-events.ts';
import { storedRecording } from '../../hub/sensors/replay/stored-recording.ts';
import { encodeHeartRateMeasurement } from '../../hub/sensors/simulated/encode-heart-rate-measurement.ts';
import { encodePlxContinuous } from '../../hub/sensors/simulated/encode-plx-continuous.ts';
import { createFakeClock, type FakeClock } from '../support/fake-clock.ts';
import { hubInTest } from '../support/hub-in-test.ts';
import { inlineReview } from '../support/inline-review.ts';
import { createScriptedSource, type ScriptedSource } from '../support/scripted-source.ts';

const people = ['mira', 'teo', 'sana'] as const;
type Who = (typeof people)[number];
const clip = (who: Who): string => `clip-${who}`;
const strap = (who: Who): string => `strap-${who}`;

let clock: FakeClock;
let store: Store;
let source: ScriptedSource;
let hub: Hub;
let heard: LiveEvent[];

beforeEach(async () => {
  clock = createFakeClock();
  store = openStoreInMemory();
  source = createScriptedSource(
    clock,
    'bluetooth',
    people.flatMap((who) => [
      { sensorId: clip(who), name: `Clip of ${who}`, kind: 'oximeter' as const },
      { sensorId: strap(who), name: `Strap of ${who}`, kind: 'heartRate' as const },
    ]),
  );
  for (const who of people) {
    store.saveAthlete({ athleteId: who, name: who, simulated: false, settings: initialSettings });
    store.assignSensor(clip(who), who);
    store.assignSensor(strap(who), who);
  }
  hub = hubInTest({ clock, store, sources: [source], hubSoundCount: () => 1 });
  heard = [];
  hub.subscribe((event) => heard.push(event));
  await hub.start();
});

/** Seconds in which each of these sensors sends what it sees; the clip named by whose it is in the list of sensors. */
function pass(seconds: number, spo2: Partial<Record<Who, number>>): void {
  for (let second = 0; second < seconds; second += 1) {
    for (const who of people) {
      const spo2Percent = spo2[who];
      if (spo2Percent === undefined) continue;
      source.bytes(clip(who), '2a5f', encodePlxContinuous({ spo2Percent, pulseRateBpm: 64 }));
      source.bytes(strap(who), '2a37', encodeHeartRateMeasurement({ heartRateBpm: 64, skinContact: true }));
    }
    clock.advance(1_000);
  }
}
function start(...who: readonly Who[]): string {
  const started = hub.startSession([...who], '');
  if (!started.ok) throw new Error(started.reason.said.code);
  return started.value.sessionId;
}
const highOf = (who: Who) => hub.snapshotOf(who)?.alarms.filter(({ priority }) => priority === 'high') ?? [];
const spo2In = (sessionId: string, who: Who): { atMs: number; value: number }[] => {
  const stored = store.readSession(sessionId)!;
  return [...eventsOfPackets(stored, who, store.readPackets(sessionId))].flatMap((event) =>
    event.type === 'packet' && event.characteristic === '2a5f'
      ? { atMs: event.atMs, value: event.bytes[1]! }
      : [],
  );
};

describe('a sensor that changes hands', () => {
  test('its readings before belong to the old wearer, after to the new, live, in the review and in a replay', async () => {
    const sessionId = start('mira', 'teo');
    pass(5, { mira: 98, teo: 95 });
    expect(
      hub.assignSensors(
        [
          { sensorId: clip('mira'), athleteId: 'teo' },
          { sensorId: clip('teo'), athleteId: 'mira' },
        ],
        'Coach phone',
      ).ok,
    ).toBe(true);
    pass(5, { mira: 98, teo: 95 });
    // The clip that shows 95 % is Mira's now.
    expect(hub.snapshotOf('mira')?.latestSpo2?.value).toBe(95);
    expect(hub.snapshotOf('teo')?.latestSpo2?.value).toBe(98);
    hub.endSession();

    expect(spo2In(sessionId, 'mira').map(({ value }) => value)).toEqual([
      98, 98, 98, 98, 98, 95, 95, 95, 95, 95,
    ]);
    expect(spo2In(sessionId, 'teo').map(({ value }) => value)).toEqual([
      95, 95, 95, 95, 95, 98, 98, 98, 98, 98,
    ]);
    const stored = store.readSession(sessionId)!;
    expect(
      stored.changes.map(({ athleteId, change, sensor, by }) => [athleteId, change, sensor?.sensorId, by]),
    ).toEqual([
      ['mira', 'sensorTaken', 'clip-mira', 'Coach phone'],
      ['teo', 'sensorGiven', 'clip-mira', 'Coach phone'],
      ['teo', 'sensorTaken', 'clip-teo', 'Coach phone'],
      ['mira', 'sensorGiven', 'clip-teo', 'Coach phone'],
    ]);
    const recordings = new RecordedSessions(store, inlineReview);
    const body = await recordings.read(sessionId, { urgency: 'page' });
    expect(body?.athletes.map(({ changes }) => changes.length)).toEqual([2, 2]);
    const file = await recordings.file(sessionId, 'mira', 'csv', { urgency: 'page' });
    const text = new TextDecoder().decode(file);
    expect(text).toContain('no longer wears Clip of mira (by Coach phone)');
    expect(text.match(/spo2_percent,98/g)).toHaveLength(5);
    expect(text.match(/spo2_percent,95/g)).toHaveLength(5);

    const worn = [...storedRecording(store, sessionId).events()].filter(({ type }) => type === 'worn');
    expect(worn.filter(({ atMs }) => atMs > 0)).toHaveLength(4);
  });

  test('between two packets of one moment, each has one wearer', () => {
    const sessionId = start('mira', 'teo');
    pass(2, { mira: 98 });
    source.bytes(clip('mira'), '2a5f', encodePlxContinuous({ spo2Percent: 97, pulseRateBpm: 60 }));
    hub.assignSensor(clip('mira'), 'teo');
    source.bytes(clip('mira'), '2a5f', encodePlxContinuous({ spo2Percent: 96, pulseRateBpm: 60 }));
    clock.advance(1_000);
    hub.endSession();
    expect(spo2In(sessionId, 'mira').map(({ value }) => value)).toEqual([98, 98, 97]);
    expect(spo2In(sessionId, 'teo').map(({ value }) => value)).toEqual([96]);
  });

  test('an alarm that stands goes on calling, and a fall that goes on calls for the new wearer within 3 s', () => {
    start('mira', 'teo');
    pass(5, { mira: 98, teo: 98 });
    pass(5, { mira: 80, teo: 98 });
    expect(highOf('mira').map(({ kind }) => kind)).toEqual(['floorBreached']);
    hub.assignSensors([
      { sensorId: clip('mira'), athleteId: 'teo' },
      { sensorId: clip('teo'), athleteId: 'mira' },
    ]);
    // At no moment does nobody call.
    for (let second = 0; second < 8; second += 1) {
      pass(1, { mira: 80, teo: 98 });
      const calls = [...highOf('mira'), ...highOf('teo')].filter(({ acknowledged }) => !acknowledged);
      expect(calls.length).toBeGreaterThan(0);
      if (second >= 3) expect(highOf('teo').map(({ kind }) => kind)).toContain('floorBreached');
    }
  });

  test('taken off and given to nobody, it is recorded for nobody', () => {
    const sessionId = start('mira', 'teo');
    pass(3, { mira: 98, teo: 95 });
    hub.assignSensor(clip('mira'), null);
    pass(3, { mira: 70, teo: 95 });
    hub.assignSensor(clip('mira'), 'mira');
    pass(3, { mira: 97, teo: 95 });
    hub.endSession();
    expect(spo2In(sessionId, 'mira').map(({ value }) => value)).toEqual([98, 98, 98, 97, 97, 97]);
    expect(highOf('mira')).toEqual([]);
  });

  test('whose strap was changed is not told of a heart that slowed at once', () => {
    start('mira', 'teo');
    hub.addMark({ athleteId: 'mira', kind: 'holdStart', atMs: null, text: null });
    const beat = (who: Who, heartRateBpm: number) =>
      source.bytes(strap(who), '2a37', encodeHeartRateMeasurement({ heartRateBpm, skinContact: true }));
    for (let second = 0; second < 20; second += 1) {
      pass(1, {});
      beat('mira', 84);
      beat('teo', 44);
    }
    hub.assignSensors([
      { sensorId: strap('mira'), athleteId: 'teo' },
      { sensorId: strap('teo'), athleteId: 'mira' },
    ]);
    for (let second = 0; second < 20; second += 1) {
      pass(1, {});
      beat('mira', 84);
      beat('teo', 44);
    }
    expect(hub.snapshotOf('mira')?.alarms.map(({ kind }) => kind)).not.toContain('heartRateSuddenFall');
  });
});

describe('latecomers and leavers', () => {
  test('who comes later is monitored at once, and recorded from then on', () => {
    const sessionId = start('mira');
    pass(90, { mira: 98, sana: 97 });
    expect(hub.snapshotOf('sana')).toBeUndefined();
    expect(hub.joinSession('sana', 'Coach phone').ok).toBe(true);
    expect(hub.session?.athleteIds).toEqual(['mira', 'sana']);
    pass(4, { mira: 98, sana: 80 });
    expect(highOf('sana').map(({ kind }) => kind)).toEqual(['floorBreached']);
    hub.endSession();
    const stored = store.readSession(sessionId)!;
    expect(stored.session.athleteIds).toEqual(['mira', 'sana']);
    expect(stored.changes).toMatchObject([{ athleteId: 'sana', change: 'joined', by: 'Coach phone' }]);
    expect(spo2In(sessionId, 'sana').map(({ value }) => value)).toEqual([80, 80, 80, 80]);
    expect(spo2In(sessionId, 'sana')[0]!.atMs).toBeGreaterThanOrEqual(90_000);
  });

  test('nothing is held against them for the time before they came', () => {
    start('mira');
    pass(120, { mira: 98 });
    hub.joinSession('sana');
    pass(50, { mira: 98 });
    // In the first minute of theirs a saturation that was never read is no alarm of its own yet.
    expect(hub.snapshotOf('sana')?.alarms.map(({ kind }) => kind)).not.toContain('saturationNeverRead');
  });

  test('the alarms of who leaves end with a record, and no sound of theirs is left', () => {
    const sessionId = start('mira', 'teo');
    pass(5, { mira: 98, teo: 98 });
    pass(5, { mira: 98, teo: 80 });
    expect(highOf('teo')).toHaveLength(1);
    expect(hub.leaveSession('teo', 'Coach phone').ok).toBe(true);
    const last = heard.findLast((event) => event.type === 'alarms' && event.athleteId === 'teo');
    expect(last).toMatchObject({ alarms: [], sound: { priority: null } });
    pass(20, { mira: 98, teo: 60 });
    expect(hub.snapshotOf('teo')).toBeUndefined();
    hub.endSession();
    const stored = store.readSession(sessionId)!;
    const ofTeo = stored.alarms.filter(({ athleteId }) => athleteId === 'teo');
    expect(ofTeo.map(({ alarm }) => alarm.kind)).toEqual(['floorBreached']);
    expect(ofTeo[0]!.clearedAtMs).toBeLessThan(11_000);
    expect(stored.changes).toMatchObject([{ athleteId: 'teo', change: 'left' }]);
    expect(spo2In(sessionId, 'teo')).toHaveLength(10);
    // In the recording still, with what was of them.
    expect(stored.session.athleteIds).toEqual(['mira', 'teo']);
  });

  test('who comes back is another stay: no alarm or hold of the first is written over', () => {
    const sessionId = start('mira', 'teo');
    pass(5, { mira: 98, teo: 98 });
    hub.addMark({ athleteId: 'teo', kind: 'holdStart', atMs: null, text: null });
    pass(5, { mira: 98, teo: 80 });
    hub.leaveSession('teo');
    pass(30, { mira: 98, teo: 80 });
    hub.joinSession('teo');
    pass(5, { mira: 98, teo: 98 });
    hub.addMark({ athleteId: 'teo', kind: 'holdStart', atMs: null, text: null });
    pass(5, { mira: 98, teo: 80 });
    hub.endSession();
    const stored = store.readSession(sessionId)!;
    const floors = stored.alarms.filter(
      ({ athleteId, alarm }) => athleteId === 'teo' && alarm.kind === 'floorBreached',
    );
    expect(new Set(floors.map(({ alarm }) => alarm.alarmId)).size).toBe(2);
    expect(
      new Set(stored.holds.filter(({ athleteId }) => athleteId === 'teo').map(({ hold }) => hold.holdId))
        .size,
    ).toBe(2);
    expect(spo2In(sessionId, 'teo')).toHaveLength(20);
    expect(stored.changes.map(({ change }) => change)).toEqual(['left', 'joined']);
  });

  test('the last one does not leave, nobody comes twice, and nobody comes to no session', () => {
    expect(hub.joinSession('mira')).toMatchObject({ ok: false, reason: { code: 'noSession' } });
    start('mira');
    expect(hub.joinSession('mira')).toMatchObject({ ok: false });
    expect(hub.leaveSession('mira')).toMatchObject({ ok: false });
    expect(hub.leaveSession('teo')).toMatchObject({ ok: false, reason: { code: 'unknownAthlete' } });
    expect(hub.session?.athleteIds).toEqual(['mira']);
  });

  test('erasing one takes what they wore, not what another wore after them', () => {
    const sessionId = start('mira', 'teo');
    pass(3, { mira: 98, teo: 95 });
    hub.assignSensors([
      { sensorId: clip('mira'), athleteId: 'teo' },
      { sensorId: clip('teo'), athleteId: null },
    ]);
    pass(3, { mira: 97, teo: 95 });
    hub.endSession();
    store.eraseAthlete('mira');
    expect(spo2In(sessionId, 'teo').map(({ value }) => value)).toEqual([95, 95, 95, 97, 97, 97]);
    expect(store.readSession(sessionId)!.changes.every(({ athleteId }) => athleteId === 'teo')).toBe(true);
    expect(
      [...store.readPackets(sessionId)].some(
        ({ sensorId, bytes }) => sensorId === 'clip-mira' && bytes[1] === 98,
      ),
    ).toBe(false);
  });
});
