// The hub as one object: recording before deriving, alarms at once, refusals, failures of the store, filling in.

import { beforeEach, describe, expect, test } from 'vitest';
import type { Store } from '../../hub/base/ports/store.ts';
import type { StoredPacket } from '../../hub/base/ports/stored-session.ts';
import { Hub } from '../../hub/live/hub.ts';
import { initialSettings } from '../../hub/live/initial-settings.ts';
import { openStoreInMemory } from '../../hub/recorder/sqlite-store.ts';
import { PageFeed } from '../../hub/server/page-feed.ts';
import type { DownMessage } from '../../shared/messages/down.ts';
import { said } from '../../shared/said.ts';
import { monotonicMs, percent } from '../../shared/units.ts';
import { populationPrior, readAthletePrior } from '../../src/oxygen/athlete-prior.ts';
import { createPipeline } from '../../src/pipeline.ts';
import { createFakeClock, type FakeClock } from '../support/fake-clock.ts';
import { hearFeed, readFill } from '../support/hear-feed.ts';
import { createScriptedSource, type ScriptedSource, scriptedSensorIds } from '../support/scripted-source.ts';

let clock: FakeClock;
let store: Store;
let source: ScriptedSource;
let hub: Hub;
let feed: PageFeed;
let sent: DownMessage[];
const calls: string[] = [];
const noLog = { info: () => undefined, warn: () => undefined, error: () => undefined };

beforeEach(async () => {
  clock = createFakeClock();
  store = openStoreInMemory();
  source = createScriptedSource(clock);
  store.saveAthlete({ athleteId: 'mira', name: 'Mira', simulated: false, settings: initialSettings });
  for (const sensorId of Object.values(scriptedSensorIds)) store.assignSensor(sensorId, 'mira');
  calls.length = 0;
  let nextId = 0;
  hub = new Hub({
    clock,
    pageClock: clock,
    store,
    sources: [source],
    createPipeline: (settings, options) => {
      const pipeline = createPipeline(settings, [], options);
      return {
        push: (event) => {
          if (event.type === 'packet') calls.push('derive');
          return pipeline.push(event);
        },
        openGaps: pipeline.openGaps,
        get prior() {
          return pipeline.prior;
        },
        get state() {
          return pipeline.state;
        },
      };
    },
    log: noLog,
    makeId: () => {
      nextId += 1;
      return `id-${nextId}`;
    },
    timeScale: 1,
    simulated: false,
  });
  sent = [];
  feed = new PageFeed(hub, 'test', 'run');
  feed.open();
  hearFeed(feed, (message) => sent.push(message));
  await hub.start();
});

/** One second of both sensors. */
function second(spo2Percent: number, heartRateBpm = 60): void {
  source.oximetry(spo2Percent);
  source.heartRate(heartRateBpm);
  clock.advance(1_000);
}
const start = () => {
  const started = hub.startSession(['mira'], 'evening');
  if (!started.ok) throw new Error(started.reason.said.code);
  return started.value.sessionId;
};
const lastAlarms = () => sent.filter((m) => m.type === 'alarms').at(-1);

describe('recording', () => {
  test('bytes are stored before anything is derived from them', () => {
    const append = store.appendPacket.bind(store);
    store.appendPacket = (sessionId: string, packet: StoredPacket) => {
      calls.push('store');
      append(sessionId, packet);
    };
    start();
    second(97);
    expect(calls).toEqual(['store', 'derive', 'store', 'derive']);
  });

  test('a session holds every packet with its time, and nothing from before its start', () => {
    second(97);
    const sessionId = start();
    for (let i = 0; i < 5; i += 1) second(98);
    hub.endSession();
    const packets = [...store.readPackets(sessionId)];
    expect(packets.length).toBe(10);
    expect(packets.map((p) => p.atMs)).toEqual([0, 0, 1000, 1000, 2000, 2000, 3000, 3000, 4000, 4000]);
    expect(packets[0]?.wallAtMs).toBe(store.readSession(sessionId)?.session.startedWallAtMs);
    expect(store.readSession(sessionId)?.session).toMatchObject({
      status: 'ended',
      simulated: false,
      source: 'live',
    });
  });

  test('bytes that mean nothing are stored and counted', () => {
    const sessionId = start();
    source.bytes(scriptedSensorIds.oximeter, '2a5f', Uint8Array.of(1, 2));
    hub.endSession();
    expect([...store.readPackets(sessionId)]).toHaveLength(1);
    expect(hub.sensors.find((s) => s.sensorId === scriptedSensorIds.oximeter)).toMatchObject({
      discardedCount: 1,
      packetCount: 1,
    });
  });

  test('when the store fails, monitoring and alarms go on and every page is told', () => {
    start();
    store.commit = () => {
      throw new Error('disk full');
    };
    for (let i = 0; i < 5; i += 1) second(90);
    for (let i = 0; i < 5; i += 1) second(87);
    expect(lastAlarms()).toMatchObject({ sound: { priority: 'high' } });
    expect(hub.notices.list.map(({ code }) => code)).toEqual(['notice.recordingFails']);
    expect(sent.filter((m) => m.type === 'sensors').at(-1)?.notices).toEqual([
      said('notice.recordingFails', { reason: said('said.asTold', { text: 'disk full' }) }),
    ]);
  });

  test('what a hold teaches of an athlete is kept for the next session, and only of them', () => {
    start();
    for (let i = 0; i < 60; i += 1) second(98);
    hub.addMark({ athleteId: 'mira', kind: 'holdStart', atMs: null, text: null });
    for (let i = 0; i < 150; i += 1) second(98 - Math.max(0, Math.round((i - 100) / 6)), 54);
    hub.addMark({ athleteId: 'mira', kind: 'holdEnd', atMs: null, text: null });
    for (let i = 0; i < 20; i += 1) second(88 - Math.min(3, i));
    for (let i = 0; i < 120; i += 1) second(98);
    hub.endSession();
    const learnt = readAthletePrior(store.readDocument('oxygenPrior', 'mira')?.body);
    expect(learnt?.holdCount).toBeGreaterThanOrEqual(1);
    expect(learnt?.mean).not.toEqual(populationPrior.mean);
    expect(readAthletePrior({ ...learnt, mean: [1] })).toBeUndefined();
    expect(readAthletePrior('nonsense')).toBeUndefined();
  });

  test('stopping the hub ends the session', async () => {
    const sessionId = start();
    second(97);
    await hub.stop();
    await feed.close();
    expect(store.readSession(sessionId)?.session.status).toBe('ended');
    expect(source.started).toBe(false);
    expect(clock.timerCount).toBe(0);
  });
});

describe('alarms', () => {
  test('an assigned oximeter without a link that gives no saturation for a minute is told, and its end is kept', () => {
    source.link(scriptedSensorIds.oximeter, 'searching');
    const sessionId = start();
    const never = () => lastAlarms()?.alarms.find(({ kind }) => kind === 'saturationNeverRead');
    for (let i = 0; i < 59; i += 1) {
      source.heartRate(60);
      clock.advance(1_000);
    }
    expect(never()).toBeUndefined();
    clock.advance(1_500);
    expect(never()).toMatchObject({ priority: 'low', subject: 'oximeter' });
    source.link(scriptedSensorIds.oximeter, 'connected');
    second(97);
    expect(never()).toBeUndefined();
    const kept = store
      .readSession(sessionId)!
      .alarms.filter(({ alarm }) => alarm.kind === 'saturationNeverRead');
    expect(kept).toHaveLength(1);
    expect(kept[0]!.clearedAtMs).toBeGreaterThanOrEqual(60_500);
  });

  test('a breach of the floor is sent within the packet that makes it so, and stored', () => {
    const sessionId = start();
    for (let i = 0; i < 10; i += 1) second(89);
    let raisedAt: number | undefined;
    for (let i = 0; i < 6 && raisedAt === undefined; i += 1) {
      source.oximetry(87);
      if (lastAlarms()?.alarms.some((a) => a.kind === 'floorBreached')) raisedAt = i;
      clock.advance(1_000);
    }
    expect(raisedAt).toBeDefined();
    expect(raisedAt!).toBeLessThanOrEqual(3);
    const stored = store.readSession(sessionId)!.alarms.find((a) => a.alarm.kind === 'floorBreached');
    expect(stored).toMatchObject({
      athleteId: 'mira',
      clearedAtMs: null,
      alarm: { priority: 'high', value: 87 },
    });
    hub.acknowledge('mira');
    for (let i = 0; i < 30; i += 1) second(97);
    expect(
      store.readSession(sessionId)!.alarms.find((a) => a.alarm.kind === 'floorBreached')!.clearedAtMs,
    ).not.toBeNull();
  });

  test('the record keeps what it was raised with, how bad it got, who saw it, and when it was over', () => {
    const sessionId = start();
    for (let i = 0; i < 10; i += 1) second(89);
    for (let value = 89; value >= 74; value -= 1) second(value);
    for (let value = 76; value <= 96; value += 2) second(value);
    const floor = () =>
      store.readSession(sessionId)!.alarms.find(({ alarm }) => alarm.kind === 'floorBreached')!;
    const { value, passedAtMs } = floor().alarm;
    expect(value).toBeGreaterThan(84);
    expect(floor()).toMatchObject({ clearedAtMs: null, alarm: { worstValue: 74, acknowledgedAtMs: null } });
    expect(passedAtMs).not.toBeNull();
    hub.acknowledge('mira', undefined, 'Poolside tablet');
    const pressedAtMs = hub.session === null ? 0 : 37_000;
    expect(floor()).toMatchObject({
      clearedAtMs: pressedAtMs,
      alarm: { value, worstValue: 74, passedAtMs, acknowledgedBy: 'Poolside tablet' },
    });
    expect(floor().alarm.message).toMatch(/was below the floor of 88\u202f% from 0:1\d to 0:3\d.*lowest 74/);
  });

  test('an alarm that nobody acknowledged ends with the session', () => {
    const sessionId = start();
    for (let i = 0; i < 8; i += 1) second(80);
    hub.endSession();
    const { alarms } = store.readSession(sessionId)!;
    expect(alarms.map(({ alarm }) => alarm.kind)).toContain('floorBreached');
    for (const { clearedAtMs, alarm } of alarms) {
      expect(clearedAtMs).toBe(8_000);
      expect(alarm).toMatchObject({ acknowledgedAtMs: null, acknowledgedBy: null });
    }
    expect(lastAlarms()).toMatchObject({ alarms: [], sound: { priority: null } });
  });

  test('a page that breaks does not keep an alarm from the others', () => {
    const heard: string[] = [];
    hub.subscribe(() => {
      throw new Error('a broken page');
    });
    hub.subscribe((event) => heard.push(event.type));
    start();
    for (let i = 0; i < 6; i += 1) second(84);
    expect(heard).toContain('alarms');
  });

  test('the floor can be raised but not lowered during a hold', () => {
    start();
    for (let i = 0; i < 20; i += 1) second(98);
    const withFloor = (floor: number) =>
      hub.changeSettings('mira', { ...initialSettings, floorSpo2Percent: percent(floor) });
    expect(withFloor(80)).toMatchObject({ ok: true });
    hub.addMark({ athleteId: 'mira', kind: 'holdStart', atMs: null, text: null });
    second(98);
    expect(withFloor(75)).toMatchObject({ ok: false, reason: { code: 'floorLoweredDuringHold' } });
    expect(withFloor(85)).toMatchObject({ ok: true });
    expect(hub.athletes[0]?.settings.floorSpo2Percent).toBe(85);
  });
});

describe('marks and pages', () => {
  test('a mark can be taken back, and the recording keeps that it was', () => {
    const sessionId = start();
    second(98);
    const mark = hub.addMark({ athleteId: 'mira', kind: 'contraction', atMs: null, text: null });
    if (!mark.ok) throw new Error('refused');
    expect(hub.removeMark(mark.value.markId)).toMatchObject({ ok: true });
    expect(hub.removeMark(mark.value.markId)).toMatchObject({ ok: false, reason: { code: 'unknownMark' } });
    const { saidAtMs, ...kept } = mark.value;
    expect(store.readSession(sessionId)!.marks).toEqual([
      { mark: { ...kept, text: null }, removed: true, saidAtMs, removedAtMs: saidAtMs },
    ]);
  });

  test('the lowest reading of a hold goes on falling after its end, on the page and in the store', () => {
    const sessionId = start();
    for (let i = 0; i < 10; i += 1) second(98);
    hub.addMark({ athleteId: 'mira', kind: 'holdStart', atMs: null, text: null });
    for (let i = 0; i < 30; i += 1) second(97);
    hub.addMark({ athleteId: 'mira', kind: 'holdEnd', atMs: null, text: null });
    for (let i = 0; i < 10; i += 1) second(97 - i);
    expect(sent.filter((m) => m.type === 'hold').at(-1)?.hold?.lowestSpo2?.value).toBe(88);
    expect(store.readSession(sessionId)!.holds.find((h) => !h.withdrawn)?.hold.lowestSpo2?.value).toBe(88);
  });

  test('a mark from the future counts as now', () => {
    start();
    clock.advance(5_000);
    expect(
      hub.addMark({ athleteId: 'mira', kind: 'holdStart', atMs: monotonicMs(99_000), text: null }),
    ).toMatchObject({ value: { atMs: 5_000 } });
  });

  test('a page that comes back is filled in with exactly the part it missed', () => {
    const sessionId = start();
    for (let i = 0; i < 10; i += 1) second(97);
    const { welcome, fill } = feed.welcome({ sessionId, haveToMs: monotonicMs(6_000) });
    expect(welcome.session?.sessionId).toBe(sessionId);
    expect(welcome.athletes[0]?.spo2?.value).toBe(97);
    const trace = readFill(fill).find((m) => m.type === 'trace');
    const spo2 = trace?.traces.find((t) => t.channel === 'spo2Percent');
    expect(spo2?.atMs).toEqual([7_000, 8_000, 9_000]);
  });

  test('a page from another session is filled in from the beginning', () => {
    start();
    for (let i = 0; i < 3; i += 1) second(97);
    const { fill } = feed.welcome({ sessionId: 'an-older-one', haveToMs: monotonicMs(6_000) });
    const trace = readFill(fill).find((m) => m.type === 'trace');
    expect(trace?.traces.find((t) => t.channel === 'spo2Percent')?.atMs).toEqual([0, 1_000, 2_000]);
  });

  test('newest values and traces arrive, and batches join without a hole', () => {
    start();
    for (let i = 0; i < 20; i += 1) second(97 - (i % 3));
    const traces = sent.filter((m) => m.type === 'trace');
    let reached = 0;
    for (const trace of traces) {
      expect(trace.fromMs).toBe(reached);
      reached = trace.toMs;
    }
    const values = traces.flatMap((m) =>
      m.traces.filter((t) => t.channel === 'spo2Percent').flatMap((t) => t.value),
    );
    expect(values).toEqual(Array.from({ length: 20 }, (_, i) => 97 - (i % 3)));
    expect(sent.filter((m) => m.type === 'latest').at(-1)?.spo2?.value).toBe(97 - (19 % 3));
  });

  test('the heartbeat goes on between sessions and says the session time within one', () => {
    clock.advance(1_000);
    expect(sent.filter((m) => m.type === 'heartbeat')).toHaveLength(2);
    start();
    clock.advance(1_000);
    expect(sent.filter((m) => m.type === 'heartbeat').at(-1)).toMatchObject({ atMs: 1_000 });
  });
});

describe('refusals', () => {
  test.each([
    ['ending without a session', () => hub.endSession(), 'noSession'],
    [
      'marking without a session',
      () => hub.addMark({ athleteId: 'mira', kind: 'contraction', atMs: null, text: null }),
      'noSession',
    ],
    ['starting with nobody', () => hub.startSession([], ''), 'noAthletes'],
    ['starting with a stranger', () => hub.startSession(['nobody'], ''), 'unknownAthlete'],
    ['changing a stranger', () => hub.changeSettings('nobody', initialSettings), 'unknownAthlete'],
  ] as const)('%s is refused', (_name, request, code) => {
    expect(request()).toMatchObject({ ok: false, reason: { code } });
  });

  test('a second session, or removing an athlete during one, is refused', () => {
    start();
    expect(hub.startSession(['mira'], '')).toMatchObject({ ok: false, reason: { code: 'sessionRunning' } });
    expect(hub.removeAthlete('mira')).toMatchObject({ ok: false, reason: { code: 'sessionRunning' } });
  });
});
