// Pipelines are told the time in the moment in which they step, and between two athletes what has arrived comes first.

import { expect, test } from 'vitest';
import { initialSettings } from '../../hub/live/initial-settings.ts';
import type { LiveSession } from '../../hub/live/live-session.ts';
import { StepTimer } from '../../hub/live/step-timer.ts';
import { openStoreInMemory } from '../../hub/recorder/sqlite-store.ts';
import { monotonicMs, processMs } from '../../shared/units.ts';
import { createFakeClock } from '../support/fake-clock.ts';
import { hubInTest } from '../support/hub-in-test.ts';
import { createScriptedSource } from '../support/scripted-source.ts';

test('an alarm that follows from silence is told in its moment', async () => {
  const clock = createFakeClock(1_000.3);
  const source = createScriptedSource(clock, 'bluetooth', [
    { sensorId: 'clip', name: 'Clip', kind: 'oximeter' },
  ]);
  const store = openStoreInMemory();
  store.saveAthlete({ athleteId: 'mira', name: 'Mira', simulated: false, settings: initialSettings });
  store.assignSensor('clip', 'mira');
  const hub = hubInTest({ clock, store, sources: [source] });
  const lateMs: number[] = [];
  hub.subscribe((event) => {
    if (event.type === 'alarms') lateMs.push((hub.sessionNowMs ?? 0) - event.atMs);
  });
  await hub.start();
  // Between two of the hub's rounds.
  clock.advance(37);
  hub.startSession(['mira'], 'course');
  for (let second = 0; second < 5; second += 1) {
    source.bytes('clip', '2a5f', Uint8Array.of(0, 97, 0, 60, 0));
    clock.advance(1_000);
  }
  lateMs.length = 0;
  clock.advance(60_000);
  await hub.stop();
  expect(lateMs.length).toBeGreaterThan(1);
  // A session that begins at a fraction of a millisecond: its times are not exact.
  expect(Math.max(...lateMs)).toBeLessThan(0.02);
});

test('a packet that arrives while twenty athletes step waits for no more than the one that takes long', () => {
  let nowMs = 0;
  const waiting: (() => void)[] = [];
  const timers: (() => void)[] = [];
  const clock = {
    nowMs: () => processMs(nowMs),
    wallNowMs: () => {
      throw new Error('not asked for');
    },
    every: () => () => undefined,
    after: (delayMs: number, callback: () => void) => {
      timers.push(() => {
        nowMs += delayMs;
        callback();
      });
      return () => undefined;
    },
    soon: (callback: () => void) => void waiting.push(callback),
  };
  const stepped: string[] = [];
  const athleteIds = Array.from({ length: 20 }, (_, index) => `athlete-${index}`);
  const live = {
    session: { athleteIds },
    toSessionMs: (atMs: number) => monotonicMs(atMs),
    advanceOne: (athleteId: string) => {
      stepped.push(athleteId);
      nowMs += 0.6;
    },
  } as unknown as LiveSession;
  new StepTimer({
    clock,
    pageClock: clock,
    timeScale: 1,
    live: () => live,
    present: () => clock.nowMs(),
  }).arm();
  timers.shift()?.();
  expect(stepped).toEqual(athleteIds.slice(0, 2));
  for (let turn = waiting.shift(); turn !== undefined; turn = waiting.shift()) {
    const before = stepped.length;
    turn();
    expect(stepped.length - before).toBeLessThanOrEqual(2);
  }
  expect(stepped).toEqual(athleteIds);
});
