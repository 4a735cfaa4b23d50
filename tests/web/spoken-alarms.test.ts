// Alarms said aloud: only when asked for, after the tone has begun, whom and what, and never in the tone's place.

import { beforeEach, describe, expect, test } from 'vitest';
import { monotonicMs } from '../../shared/units.ts';
import type { AlarmView } from '../../shared/views.ts';
import { burstDurationMs, signalPatterns } from '../../src/alarms/signal-patterns.ts';
import { SpokenAlarms } from '../../web/app/spoken-alarms.ts';
import type { SpokenAlarmChoice } from '../../web/state/preferences.ts';
import type { AlarmEntry, AthleteEntry } from '../../web/state/standing-alarms.ts';

const burstMs = burstDurationMs(signalPatterns.high.sound);

const entry = (name: string, part: Partial<AthleteEntry> = {}): AthleteEntry => ({
  type: 'athlete',
  key: name,
  athletes: [{ athleteId: name, name }],
  common: null,
  priority: 'high',
  first: {
    kind: 'spo2BelowFloor',
    conditionPresent: true,
    raisedAtMs: monotonicMs(0),
  } as unknown as AlarmView,
  more: [],
  presents: [],
  acknowledged: false,
  ...part,
});

let choice: SpokenAlarmChoice;
let entries: readonly AlarmEntry[];
let sounding: 'high' | 'medium' | null;
let said: string[];
let over: (() => void)[];
let hushed: number;
let spoken: SpokenAlarms;
beforeEach(() => {
  choice = 'names';
  entries = [];
  sounding = 'high';
  said = [];
  over = [];
  hushed = 0;
  spoken = new SpokenAlarms({
    choice: () => choice,
    entries: () => entries,
    sounding: () => sounding,
    sentence: ({ key }, how) => `${how} ${key}`,
    speak: (sentence, ended) => {
      said.push(sentence);
      over.push(ended);
    },
    hush: () => {
      hushed += 1;
    },
  });
});
/** Five times a second, as the page does; each sentence takes a second. */
function run(fromMs: number, toMs: number): void {
  let endsMs = Number.POSITIVE_INFINITY;
  for (let nowMs = fromMs; nowMs <= toMs; nowMs += 200) {
    if (nowMs >= endsMs) {
      over.pop()?.();
      endsMs = Number.POSITIVE_INFINITY;
    }
    const before = said.length;
    spoken.update(nowMs);
    if (said.length > before) endsMs = nowMs + 1_000;
  }
}

describe('an alarm that calls', () => {
  test('is said after the first burst of its tone, and again every 20 s', () => {
    entries = [entry('Marit')];
    run(0, burstMs - 200);
    expect(said).toEqual([]);
    run(burstMs, burstMs + 400);
    expect(said).toEqual(['names Marit']);
    run(burstMs + 400, burstMs + 19_000);
    expect(said).toHaveLength(1);
    run(burstMs + 19_000, burstMs + 21_000);
    expect(said).toHaveLength(2);
  });

  test('of two, each is said once before one is said again', () => {
    entries = [entry('Marit'), entry('Teo', { priority: 'medium' })];
    run(0, 15_000);
    expect(said).toEqual(['names Marit', 'names Teo']);
  });

  test('one that becomes more urgent is said anew, one of low priority never', () => {
    entries = [entry('Marit', { priority: 'medium' }), entry('Ida', { priority: 'low' })];
    run(0, 8_000);
    expect(said).toEqual(['names Marit']);
    entries = [entry('Marit')];
    run(8_200, 8_200 + burstMs + 400);
    expect(said).toEqual(['names Marit', 'names Marit']);
  });
});

test.each([
  ['nobody asked for it', () => (choice = 'off')],
  ['the sound is paused', () => (sounding = null)],
  ['somebody has seen it', () => (entries = [entry('Marit', { acknowledged: true })])],
])('nothing is said while %s', (_why, make) => {
  entries = [entry('Marit')];
  make();
  run(0, 60_000);
  expect(said).toEqual([]);
});

test('what is put aside while it is being said is hushed; what is said is not cut short by the next', () => {
  entries = [entry('Marit')];
  for (let nowMs = 0; said.length === 0; nowMs += 200) spoken.update(nowMs);
  expect(spoken.speaking).toBe(true);
  entries = [entry('Teo'), entry('Marit')];
  spoken.update(burstMs + 600);
  expect(hushed).toBe(0);
  expect(said).toEqual(['names Marit']);
  entries = [entry('Marit', { acknowledged: true })];
  spoken.update(burstMs + 800);
  expect(hushed).toBe(1);
  expect(spoken.speaking).toBe(false);
});

test('a browser that never says that it has ended keeps no other alarm from being said', () => {
  entries = [entry('Marit'), entry('Teo')];
  for (let nowMs = 0; nowMs < 20_000; nowMs += 200) spoken.update(nowMs);
  expect(said.slice(0, 2)).toEqual(['names Marit', 'names Teo']);
});

test('by place it says so', () => {
  choice = 'places';
  entries = [entry('Marit')];
  run(0, burstMs + 400);
  expect(said).toEqual(['places Marit']);
});
