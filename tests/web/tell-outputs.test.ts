import { signal } from '@preact/signals';
import { expect, test } from 'vitest';
import { tellOutputs } from '../../web/connection/tell-outputs.ts';
import { FakeTimers } from '../support/fake-timers.ts';

test('what a page shows and sounds is told once it is drawn, and a sound taken away before its second is up', () => {
  const timers = new FakeTimers();
  const alarms = signal<readonly string[]>([]);
  const audioRunning = signal(true);
  const told: { atMs: number; sounds: boolean; shown: number }[] = [];
  const stop = tellOutputs([alarms, audioRunning], timers, () =>
    told.push({ atMs: timers.nowMs(), sounds: audioRunning.value, shown: alarms.value.length }),
  );
  timers.advance(400);
  expect(told).toEqual([{ atMs: 50, sounds: true, shown: 0 }]);

  audioRunning.value = false;
  timers.advance(100);
  expect(told.at(-1)).toEqual({ atMs: 450, sounds: false, shown: 0 });

  // However often it changes, nothing waits for the last change.
  for (let count = 1; count <= 10; count += 1) {
    alarms.value = Array.from({ length: count }, String);
    timers.advance(20);
  }
  expect(told.slice(2, 4)).toEqual([
    { atMs: 550, sounds: false, shown: 3 },
    { atMs: 570, sounds: false, shown: 4 },
  ]);

  timers.advance(100);
  const count = told.length;
  stop();
  alarms.value = [];
  timers.advance(1_000);
  expect(told).toHaveLength(count);
});
