// Pure parts of the views: the weeks' points, how a plan starts, its title and preview, training entries, choices, notices.

import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { Plan } from '../../shared/plan.ts';
import type { Said } from '../../shared/said.ts';
import { trainingEntrySchema } from '../../shared/training-log.ts';
import { sayInEnglish } from '../../shared/words/say.ts';
import { makeIntervalSeries } from '../../src/plans/generate-plan.ts';
import { planSteps } from '../../src/plans/plan-steps.ts';
import { chosenOf } from '../../web/components/choice-field.tsx';
import { ProblemNotice } from '../../web/components/problem-notice.tsx';
import { de } from '../../web/i18n/de.ts';
import { en } from '../../web/i18n/en.ts';
import { roomCalls } from '../../web/shell/room-alarms.tsx';
import { keepRecord, readRecord } from '../../web/state/stored-record.ts';
import {
  firstWaveChoice,
  likelyAthleteIds,
  planRunOptions,
  type StartMode,
  toggledAthleteIds,
  type WaveChoice,
  waveOf,
  wavesOf,
} from '../../web/views/plans/plan-start.ts';
import { renamedAsChanged } from '../../web/views/plans/plan-title.ts';
import { co2Geometry, mmHgLines, saturationGeometry } from '../../web/views/plans/preview-geometry.ts';
import {
  buddyIsMissing,
  emptyEntry,
  entryKinds,
  timedKindOf,
  withoutEmptyBuddy,
} from '../../web/views/training/new-entry.ts';
import {
  comfortPoints,
  medianOf,
  type PastSession,
  trendPoints,
} from '../../web/views/weeks/past-sessions.ts';
import { carbonDioxideTableOf } from '../support/usual-plans.ts';

describe('past sessions', () => {
  const session = (sessionId: string, startedWallAtMs: number, durationS: (number | null)[]) =>
    ({
      sessionId,
      startedWallAtMs,
      comfort: null,
      summary: { holdIds: durationS.map((_, index) => `h${index}`), measures: { durationS } },
    }) as unknown as PastSession;
  const noon = Date.UTC(2026, 0, 2, 12);
  const known = session('a', noon, [30, null, 90, 60]);
  const unknown = session('b', noon, [null]);

  test('a point is the median of what is known with its range, at its time of day', () => {
    expect(trendPoints([known, unknown], 'durationS')).toEqual([
      { atDay: noon / 86_400_000, value: 60, least: 30, greatest: 90, sessionId: 'a' },
    ]);
    expect(medianOf(known, 'durationS')).toBe(60);
    expect(medianOf(unknown, 'durationS')).toBeNull();
    expect(medianOf(known, 'spo2FallPercent')).toBeNull();
  });

  test('comfort is in order of date whatever it is of, and left out where it was not said', () => {
    const felt = [
      { comfort: 4, startedWallAtMs: noon },
      { comfort: null, startedWallAtMs: 0 },
      { comfort: 2, startedWallAtMs: noon - 86_400_000 },
    ];
    expect(comfortPoints(felt).map(({ value }) => value)).toEqual([2, 4]);
  });
});

describe('starting a plan', () => {
  const plan = makeIntervalSeries();
  const options = (athleteIds: readonly string[], mode: StartMode) =>
    planRunOptions(plan, {
      athleteIds,
      mode,
      waves: firstWaveChoice,
      assumeFromCues: false,
      acceptedWarnings: new Set(['x']),
      longestHoldMs: 90_000,
    });

  test('several start together, or share the interval out', () => {
    if (plan.kind !== 'intervalSeries') throw new Error('not a series');
    const offsets = (mode: StartMode) =>
      options(['a', 'b', 'c'], mode).athletes.map(({ offsetMs }) => offsetMs);
    const third = Math.round((plan.everySeconds * 1_000) / 3);
    expect(offsets('together')).toEqual([0, 0, 0]);
    expect(offsets('staggered')).toEqual([0, third, 2 * third]);
    expect(offsets('oneAtATime')).toEqual([0, third, 2 * third]);
  });

  test('one at a time is asked for of several only', () => {
    expect(options(['a', 'b'], 'oneAtATime').oneAtATime).toBe(true);
    expect(options(['a'], 'oneAtATime').oneAtATime).toBe(false);
    expect(options(['a', 'b'], 'staggered').oneAtATime).toBe(false);
    expect(options(['a'], 'together').acceptedWarnings).toEqual(['x']);
  });

  test('waves: in turn, a hold or seconds apart, whoever is moved; a run says which there are', () => {
    const ids = ['a', 'b', 'c', 'd', 'e'];
    const inWaves = (waves: WaveChoice, of: Plan = plan) =>
      planRunOptions(of, {
        athleteIds: ids,
        mode: 'waves',
        waves,
        assumeFromCues: false,
        acceptedWarnings: new Set(),
        longestHoldMs: 90_000,
      });
    const table = carbonDioxideTableOf(180);
    const holdMs = planSteps(table)[0]!.ceilingMs!;
    expect(wavesOf(inWaves(firstWaveChoice, table))).toEqual([
      { offsetMs: 0, athleteIds: ['a', 'b', 'c'] },
      { offsetMs: holdMs, athleteIds: ['d', 'e'] },
    ]);
    const moved = new Map([['a', 2]]);
    expect(wavesOf(inWaves({ count: 3, apart: { by: 'seconds', seconds: 40 }, moved }))).toEqual([
      { offsetMs: 0, athleteIds: ['b'] },
      { offsetMs: 40_000, athleteIds: ['c', 'd'] },
      { offsetMs: 80_000, athleteIds: ['a', 'e'] },
    ]);
    // A first hold without a longest length is as long as theirs.
    const open = { ...plan, ceilingSeconds: null } as typeof plan;
    expect(wavesOf(inWaves(firstWaveChoice, open)).at(-1)?.offsetMs).toBe(90_000);
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 32 }), fc.integer({ min: 1, max: 8 }), (people, count) => {
        const all = Array.from({ length: people }, (_, index) => `id-${index}`);
        const waves = waveOf(all, { count, apart: { by: 'hold' }, moved: new Map() });
        expect([...waves.keys()]).toEqual(all);
        for (const wave of waves.values()) expect(wave).toBeLessThan(Math.min(count, people));
      }),
    );
  });

  test('those of the session are meant, else the first; as many as there are', () => {
    const nine = ['1', '2', '3', '4', '5', '6', '7', '8', '9'];
    expect(likelyAthleteIds([], ['a', 'b'])).toEqual(['a']);
    expect(likelyAthleteIds(['b', 'c'], ['a', 'b'])).toEqual(['b', 'c']);
    expect(likelyAthleteIds(nine, [])).toEqual(nine);
    expect(toggledAthleteIds(['a'], 'b')).toEqual(['a', 'b']);
    expect(toggledAthleteIds(['a', 'b'], 'a')).toEqual(['b']);
    expect(toggledAthleteIds(nine.slice(0, 8), '9')).toEqual(nine);
  });
});

test("a plan's title follows its shape until a person gave one", () => {
  const say = (one: Said) => `gesagt ${sayInEnglish(one)}`;
  const before = makeIntervalSeries();
  if (before.kind !== 'intervalSeries') throw new Error('not a series');
  const next = { ...before, starts: before.starts + 1 };
  const renamed = renamedAsChanged(before, next, 'Own rows', say);
  expect(renamed.title).toMatch(/^gesagt /);
  expect(renamedAsChanged({ ...before, title: 'Own rows' }, next, 'Own rows', say).title).toBe(renamed.title);
  const named = { ...before, title: 'Tuesday' };
  expect(renamedAsChanged(named, { ...named, starts: 2 }, 'Own rows', say).title).toBe('Tuesday');
});

describe("a plan's preview", () => {
  const point = (atMs: number, middle: number) => ({
    atMs,
    readingPercent: { low: middle - 4, middle, high: middle + 1 },
  });
  const points = [point(0, 98), point(600_000, 80)];
  const geometry = (width: number, floorPercent = 85) =>
    saturationGeometry(
      { points } as unknown as Parameters<typeof saturationGeometry>[0],
      floorPercent,
      width,
    );

  test('reaches from the first moment to the last, and down to the ten below the lowest or the floor', () => {
    const { x, y, lines, plotTop, plotHeight } = geometry(634);
    expect([x(0), x(600_000)]).toEqual([34, 634]);
    expect(lines).toEqual([70, 80, 90, 100]);
    expect([y(100), y(70), y(10)]).toEqual([plotTop, plotTop + plotHeight, plotTop + plotHeight]);
    expect(geometry(634, 64).lines[0]).toBe(50);
  });

  test('minutes stand as close as there is room', () => {
    expect(geometry(634).minutes).toHaveLength(11);
    expect(geometry(280).minutes).toEqual([0, 2, 4, 6, 8, 10]);
  });

  test('the band goes out along its upper edge and back along its lower', () => {
    const { x, y, band } = geometry(634);
    const at = (ms: number, percent: number) => `${x(ms).toFixed(1)},${y(percent).toFixed(1)}`;
    expect(band.split(' ')).toEqual([at(0, 99), at(600_000, 81), at(600_000, 76), at(0, 94)]);
  });

  test('carbon dioxide is drawn in kPa, 40 mmHg as 5.33 (reference 2.09), with room on the right for mmHg', () => {
    const co2 = (atMs: number, middle: number) => ({
      atMs,
      pco2MmHg: { low: middle - 3, middle, high: middle + 15 },
    });
    const given = { points: [co2(0, 40), co2(600_000, 55)] } as unknown as Parameters<typeof co2Geometry>[0];
    const { x, y, lines, middle } = co2Geometry(given, 634);
    // 70 mmHg is 9.33 kPa, and 37 is 4.93.
    expect(lines).toEqual([4, 5, 6, 7, 8, 9, 10]);
    expect(mmHgLines({ lines })).toEqual([40, 50, 60, 70]);
    expect([x(0), x(600_000)]).toEqual([34, 604]);
    expect(middle.split(' ')[0]).toBe(`34.0,${y(5.3329).toFixed(1)}`);
  });
});

describe('training entries', () => {
  const begun = (kind: (typeof entryKinds)[number]) => emptyEntry(kind, 'athlete-1', 'e-1', 1_000);

  test('of every kind, once a buddy is named, can be saved', () => {
    for (const kind of entryKinds) {
      const entry = withoutEmptyBuddy({ ...begun(kind), buddyName: ' Iva ' });
      expect(trainingEntrySchema.safeParse(entry).success, kind).toBe(true);
      expect(entry.buddyName).toBe('Iva');
    }
  });

  test('in water nobody trains alone; on land an empty name is nobody', () => {
    const missing = entryKinds.filter((kind) => buddyIsMissing({ ...begun(kind), buddyName: ' ' }));
    expect(missing).toEqual(['poolSet', 'timedSwim', 'maximalInWater']);
    for (const kind of ['apneaWalk', 'maximalDryHold'] as const)
      expect(withoutEmptyBuddy({ ...begun(kind), buddyName: ' ' }).buddyName).toBeNull();
  });

  test('sets, swims and walks can be timed', () => {
    expect(entryKinds.map((kind) => timedKindOf(begun(kind)))).toEqual([
      'poolSet',
      'timedSwim',
      'apneaWalk',
      undefined,
      undefined,
    ]);
  });
});

test('keys are called what stands on them', () => {
  for (const { live, course } of [en, de]) expect(live.keys[0]![0]).toBe(course.hands.button.Space);
});

test('a choice is one of those offered', () => {
  const choices = [
    ['one', 'One'],
    ['', 'None'],
  ] as const;
  expect(chosenOf(choices, 'one')).toBe('one');
  expect(chosenOf(choices, '')).toBe('');
  expect(chosenOf(choices, 'two')).toBeUndefined();
});

test('a problem is read out as it appears', () => {
  expect(ProblemNotice({ problem: null })).toBeNull();
  expect(ProblemNotice({ problem: 'Nothing was saved.' })?.props).toMatchObject({ role: 'alert' });
});

test('what a browser kept is read by name; what it kept in any other form is nothing', () => {
  const kept = new Map<string, string>();
  const storage = {
    getItem: (key: string) => kept.get(key) ?? null,
    setItem: (key: string, value: string) => void kept.set(key, value),
  };
  expect(readRecord(storage, 'a')).toEqual({});
  keepRecord(storage, 'a', { on: true });
  expect(readRecord(storage, 'a')).toEqual({ on: true });
  for (const text of ['null', '3', '[1]', '"x"', '{']) {
    kept.set('a', text);
    expect(readRecord(storage, 'a'), text).toEqual({});
  }
  const forbidden = {
    getItem: () => {
      throw new Error('forbidden');
    },
    setItem: () => {
      throw new Error('full');
    },
  };
  expect(readRecord(forbidden, 'a')).toEqual({});
  expect(() => keepRecord(forbidden, 'a', {})).not.toThrow();
});

test('a room that calls is never said to have called for no time', () => {
  for (const ms of [0, 1, 999]) {
    expect(roomCalls('Basin', ms, en)).toBe('Basin: alarm, just now');
    expect(roomCalls('Basin', ms, de)).toBe('Basin: Alarm, gerade eben');
  }
  expect(roomCalls('Basin', 1_000, en)).toBe('Basin: alarm for 1\u202fs');
  expect(roomCalls('Basin', 125_000, de)).toBe('Basin: Alarm seit 2\u202fmin');
});
