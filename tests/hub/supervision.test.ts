// Monitoring that ends or breaks off is an alarm until a person has seen it; a page counts for what it presents.

import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import type { SensorListener, SensorSource } from '../../hub/base/ports/sensor-source.ts';
import type { Store } from '../../hub/base/ports/store.ts';
import type { Hub } from '../../hub/live/hub.ts';
import { initialSettings } from '../../hub/live/initial-settings.ts';
import type { LiveEvent } from '../../hub/live/live-event.ts';
import { supervisionFileIn } from '../../hub/live/supervision-file.ts';
import { openSqliteStore, openStoreInMemory } from '../../hub/recorder/sqlite-store.ts';
import type { AlarmPriority } from '../../shared/schema-parts.ts';
import { processMs, wallMs } from '../../shared/units.ts';
import { createFakeClock, type FakeClock } from '../support/fake-clock.ts';
import { hubInTest } from '../support/hub-in-test.ts';
import { createScriptedSource, scriptedSensorIds } from '../support/scripted-source.ts';

let folder = '';
let clock: FakeClock;
/** How far the wall clock has been moved against the monotonic one. */
let wallShiftMs = 0;
/** Goes on over hubs that follow each other on one disk. */
let nextId = 0;

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'slackwater-supervision-'));
  clock = createFakeClock();
  wallShiftMs = 0;
});
afterEach(() => rmSync(folder, { recursive: true, force: true, maxRetries: 5 }));

/** A source of the test's own beside the scripted one: for packets with times of their own. */
function openHub(options: { store?: Store; sources?: SensorSource[]; hubSoundCount?: () => number } = {}) {
  const store = options.store ?? openStoreInMemory();
  store.saveAthlete({ athleteId: 'mira', name: 'Mira', simulated: false, settings: initialSettings });
  for (const sensorId of Object.values(scriptedSensorIds)) store.assignSensor(sensorId, 'mira');
  const source = createScriptedSource(clock);
  const shifted = { ...clock, wallNowMs: () => wallMs(clock.wallNowMs() + wallShiftMs) };
  const hub = hubInTest({
    clock: shifted,
    store,
    sources: [source, ...(options.sources ?? [])],
    makeId: () => `id-${++nextId}`,
    supervisionMemory: supervisionFileIn(folder),
    ...(options.hubSoundCount && { hubSoundCount: options.hubSoundCount }),
  });
  const events: LiveEvent[] = [];
  hub.subscribe((event) => events.push(event));
  const second = (spo2Percent = 97): void => {
    source.oximetry(spo2Percent);
    source.heartRate(60);
    clock.advance(1_000);
  };
  const seconds = (count: number, spo2Percent = 97): void => {
    for (let i = 0; i < count; i += 1) second(spo2Percent);
  };
  return { hub, store, source, events, seconds };
}
const kindsOf = (hub: Hub) => hub.supervision.map(({ kind, cause, priority }) => ({ kind, cause, priority }));
const standing = (hub: Hub) => hub.snapshotOf('mira')?.alarms ?? [];

describe('a hub that dies in a session', () => {
  async function dieInSession(): Promise<Hub> {
    const dying = openHub({ store: openSqliteStore({ directory: folder }) });
    await dying.hub.start();
    dying.hub.startSession(['mira'], 'evening');
    dying.seconds(20);
    dying.store.commit();
    // Nothing more is done for it, as after a kill.
    dying.store.close();
    // Longer than a session goes on by itself after.
    clock = createFakeClock(5_000, Date.UTC(2031, 4, 17, 9, 15, 0));
    const { hub } = openHub({ store: openSqliteStore({ directory: folder }) });
    await hub.start();
    return hub;
  }

  test('alarms after the restart with the time of the last that is known, and how to go on', async () => {
    const hub = await dieInSession();
    expect(hub.supervision).toMatchObject([
      {
        kind: 'monitoringStopped',
        cause: 'hubDied',
        priority: 'high',
        acknowledged: false,
        session: { title: 'evening', athletes: [{ athleteId: 'mira', name: 'Mira' }] },
      },
    ]);
    const at = new Date(hub.supervision[0]!.atWallMs);
    expect(at.toISOString().slice(0, 18)).toBe('2031-05-17T09:00:2');
  });

  test('goes on alarming after another crash, until a person acknowledges', async () => {
    const first = await dieInSession();
    expect(first.supervision).toHaveLength(1);
    // The store of a third start knows of nothing interrupted any more.
    const again = openHub().hub;
    expect(kindsOf(again)).toEqual([{ kind: 'monitoringStopped', cause: 'hubDied', priority: 'high' }]);
    again.acknowledgeSupervision([again.supervision[0]!.alarmId]);
    expect(again.supervision).toEqual([]);
    expect(openHub().hub.supervision).toEqual([]);
  });

  test('is over for those who are watched again by a person’s will', async () => {
    const hub = await dieInSession();
    expect(hub.startSession(['mira'], '').ok).toBe(true);
    expect(hub.supervision).toEqual([]);
  });

  test('a damaged file of standing alarms is as none', () => {
    writeFileSync(join(folder, 'standing-alarms.json'), '{"version":1,"alarms":[{');
    expect(openHub().hub.supervision).toEqual([]);
  });
});

describe('a session that ends against anyone’s will', () => {
  test.each(['hubStopped', 'diskFault'] as const)(
    '%s: every page hears why before it hears that it is over',
    async (cause) => {
      const { hub, events, seconds } = openHub();
      await hub.start();
      hub.startSession(['mira'], '');
      seconds(5);
      if (cause === 'hubStopped') await hub.stop();
      else hub.endSession('diskFault');
      expect(kindsOf(hub)).toEqual([{ kind: 'monitoringStopped', cause, priority: 'high' }]);
      const types = events.map(({ type }) => type);
      expect(types.indexOf('supervisionChanged')).toBeGreaterThan(-1);
      expect(types.indexOf('supervisionChanged')).toBeLessThan(types.indexOf('sessionEnded'));
    },
  );

  test('by a person it is no alarm', async () => {
    const { hub, seconds } = openHub();
    await hub.start();
    hub.startSession(['mira'], '');
    seconds(5);
    hub.endSession();
    await hub.stop();
    expect(hub.supervision).toEqual([]);
  });
});

describe('a lapse in a session', () => {
  test('the hub stood still', async () => {
    const { hub, seconds } = openHub();
    await hub.start();
    hub.startSession(['mira'], '');
    seconds(5);
    clock.jump(30_000);
    expect(hub.supervision).toMatchObject([
      {
        kind: 'monitoringGap',
        cause: 'hubStalled',
        priority: 'high',
        session: { athletes: [{ name: 'Mira' }] },
      },
    ]);
    expect(hub.supervision[0]!.durationMs).toBeGreaterThanOrEqual(30_000);
    // It has happened, and stays until somebody has seen it.
    seconds(60);
    expect(kindsOf(hub)).toHaveLength(1);
  });

  test('the hub stood still for three days, on a machine whose clock went on: it is over in moments, and an alarm', async () => {
    const { hub, seconds } = openHub();
    await hub.start();
    hub.startSession(['mira'], '');
    seconds(5);
    clock.jump(72 * 3_600_000);
    expect(kindsOf(hub)).toEqual([{ kind: 'monitoringGap', cause: 'hubStalled', priority: 'high' }]);
    expect(hub.supervision[0]!.durationMs).toBeGreaterThanOrEqual(72 * 3_600_000);
    expect(hub.snapshotOf('mira')?.alarms.map(({ kind }) => kind)).toContain('sensorLost');
  });

  test('the computer slept: the monotonic clock stood, the wall clock did not', async () => {
    const { hub, seconds } = openHub();
    await hub.start();
    hub.startSession(['mira'], '');
    seconds(5);
    wallShiftMs = 600_000;
    seconds(1);
    expect(kindsOf(hub)).toEqual([{ kind: 'monitoringGap', cause: 'slept', priority: 'high' }]);
    expect(hub.supervision[0]!.durationMs).toBeGreaterThanOrEqual(600_000);
  });

  test('the clock was set back', async () => {
    const { hub, seconds } = openHub();
    await hub.start();
    hub.startSession(['mira'], '');
    seconds(5);
    wallShiftMs = -3_600_000;
    seconds(1);
    expect(kindsOf(hub)).toEqual([{ kind: 'clockChanged', cause: null, priority: 'medium' }]);
  });

  test('small corrections and any lapse between sessions are none', async () => {
    const { hub, seconds } = openHub();
    await hub.start();
    clock.jump(3_600_000);
    hub.startSession(['mira'], '');
    seconds(5);
    wallShiftMs = 2_000;
    seconds(1);
    clock.jump(3_000);
    seconds(1);
    expect(hub.supervision).toEqual([]);
  });
});

describe('a packet from the future', () => {
  test('does not carry the session’s time with it: silence after it alarms as ever', async () => {
    let listener: SensorListener | undefined;
    const ahead: SensorSource = {
      source: 'bluetooth',
      start: async (to) => {
        listener = to;
      },
      stop: async () => undefined,
    };
    const { hub, seconds, events } = openHub({ sources: [ahead] });
    await hub.start();
    hub.startSession(['mira'], '');
    seconds(10);
    hub.addMark({ athleteId: 'mira', kind: 'holdStart', atMs: null, text: null });
    seconds(10);
    listener?.packet({
      sensorId: scriptedSensorIds.oximeter,
      characteristic: '2a5f',
      bytes: Uint8Array.of(0, 97, 0, 60, 0),
      receivedAtMs: processMs(clock.nowMs() + 3_600_000),
    });
    clock.advance(15_000);
    expect(standing(hub).map(({ kind }) => kind)).toContain('sensorLost');
    const packets = events.flatMap((event) => (event.type === 'packet' ? event.packet.atMs : []));
    expect(Math.max(...packets)).toBeLessThanOrEqual(20_000);
  });
});

describe('a page counts as an output', () => {
  type Presented = { athleteId: string | null; alarmIds: string[] }[];
  const say = (
    hub: Hub,
    presented: Presented,
    sounding: AlarmPriority | null,
    more: { visible?: boolean; soundReady?: boolean } = {},
  ): void =>
    hub.pageState('page', {
      visible: true,
      soundReady: true,
      athleteIds: 'all',
      presented,
      sounding,
      ...more,
    });
  const unheard = (hub: Hub) => standing(hub).find(({ kind }) => kind === 'pageUnresponsive');
  const shownNow = (hub: Hub): Presented => [
    { athleteId: 'mira', alarmIds: standing(hub).map(({ alarmId }) => alarmId) },
  ];

  async function inAlarm(answer: (hub: Hub) => void) {
    const { hub, seconds } = openHub();
    await hub.start();
    hub.startSession(['mira'], '');
    for (let i = 0; i < 10; i += 1) {
      answer(hub);
      seconds(1);
    }
    expect(unheard(hub)).toBeUndefined();
    for (let i = 0; i < 15; i += 1) {
      answer(hub);
      seconds(1, 84);
    }
    expect(standing(hub).map(({ kind }) => kind)).toContain('floorBreached');
    return hub;
  }

  test('that shows and sounds what stands', async () => {
    const hub = await inAlarm((one) => say(one, shownNow(one), 'high'));
    expect(unheard(hub)).toBeUndefined();
  });

  test('not one that is told of the alarm and shows nothing', async () => {
    const hub = await inAlarm((one) => say(one, [], 'high'));
    expect(unheard(hub)).toMatchObject({ detail: 'noPage' });
  });

  test('not for its sound, if what it sounds is less than what stands', async () => {
    const hub = await inAlarm((one) => say(one, shownNow(one), 'low'));
    expect(unheard(hub)).toMatchObject({ detail: 'noSound' });
    const silent = await inAlarm((one) => say(one, shownNow(one), null));
    expect(unheard(silent)).toMatchObject({ detail: 'noSound' });
  });
});
