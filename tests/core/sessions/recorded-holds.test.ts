// What a recording answers first: one length a hold, its parts, shares of stress, the headline, alarms in groups, the end's
// carbon dioxide by the model, and a plan's run by the holds as they stand.

import { describe, expect, test } from 'vitest';
import type { AthleteRecording, MeasureView } from '../../../shared/http.ts';
import type { StoredPlanRun } from '../../../shared/plan-run.ts';
import { said } from '../../../shared/said.ts';
import { monotonicMs } from '../../../shared/units.ts';
import type { HoldView } from '../../../shared/views.ts';
import { populationOxygen } from '../../../src/oxygen/oxygen-parameters.ts';
import { previewPlan } from '../../../src/oxygen/plan-preview.ts';
import { endPco2OfHolds } from '../../../src/oxygen/session-gas.ts';
import { comparePlannedWithActual } from '../../../src/plans/planned-beside-actual.ts';
import { settleRun } from '../../../src/plans/settled-run.ts';
import { athleteRunsOf } from '../../../src/plans/stored-run.ts';
import { lengthOfHold } from '../../../src/sessions/hold-length.ts';
import { partsOfHold, type RecordedHold, sessionStress } from '../../../src/sessions/hold-parts.ts';
import { alarmsByGroup, headlineOf, holdAt } from '../../../src/sessions/session-headline.ts';

const boundary = (atS: number, uncertaintyS = 0, source: HoldView['start']['source'] = 'mark') => ({
  atMs: monotonicMs(atS * 1_000),
  uncertaintyMs: uncertaintyS * 1_000,
  declaredAtMs: monotonicMs(atS * 1_000),
  source,
  evidence: [],
});
const holdView = (
  holdId: string,
  startS: number,
  endS: number | null,
  more: Partial<HoldView> = {},
): HoldView => ({
  holdId,
  start: boundary(startS),
  end: endS === null ? null : boundary(endS),
  contractionCount: 0,
  firstContractionAtMs: null,
  lowestSpo2: null,
  ...more,
});
const measure = (key: string, value: number | null, whyNot?: 'notBackBeforeNext'): MeasureView => ({
  key,
  unit: 's',
  value,
  whyNot: whyNot === undefined ? null : said(`measure.why.${whyNot}`),
  source: said('source.commonPractice'),
});
const recorded = (hold: HoldView, values: Record<string, number | null> = {}): RecordedHold => ({
  hold,
  measures: Object.entries(values).map(([key, value]) => measure(key, value)),
});

test('the length of a hold has the uncertainty of both its ends; none without an end', () => {
  expect(lengthOfHold({ start: boundary(10, 3), end: boundary(70, 4) })).toEqual({
    durationMs: 60_000,
    uncertaintyMs: 5_000,
  });
  expect(lengthOfHold({ start: boundary(10), end: null })).toBeNull();
});

describe('parts of a hold', () => {
  test('a marked contraction goes before an estimate; with neither they are not known', () => {
    const hold = holdView('h', 100, 200);
    const estimate = { estimatedContractionOnsetS: 70, estimatedContractionOnsetUncertaintyS: 4 };
    expect(partsOfHold(recorded(hold, { ...estimate, timeToFirstContractionS: 60 }))).toEqual({
      easyMs: 60_000,
      afterMs: 40_000,
      uncertaintyMs: 0,
      onset: 'marked',
    });
    expect(partsOfHold(recorded(hold, { ...estimate, timeToFirstContractionS: null }))).toEqual({
      easyMs: 70_000,
      afterMs: 30_000,
      uncertaintyMs: 4_000,
      onset: 'estimated',
    });
    expect(partsOfHold(recorded(hold))).toBeNull();
    expect(partsOfHold(recorded(holdView('h', 100, null), { timeToFirstContractionS: 60 }))).toBeNull();
  });

  test('shares of stress are of the holds that tell, and proposals tell nothing', () => {
    const stress = sessionStress([
      recorded(holdView('a', 0, 100), { timeToFirstContractionS: 60, timeBelow90S: 10 }),
      recorded(holdView('b', 200, 300), {
        estimatedContractionOnsetS: 80,
        estimatedContractionOnsetUncertaintyS: 5,
        timeBelow90S: null,
      }),
      recorded(holdView('c', 400, 500), { timeBelow90S: 30 }),
      recorded(holdView('d', 600, 700, { isProposed: true }), {
        timeToFirstContractionS: 1,
        timeBelow90S: 90,
      }),
      recorded(holdView('e', 800, null), {}),
    ]);
    expect(stress.holdCount).toBe(3);
    expect(stress.totalMs).toBe(300_000);
    // (40 + 20) of 200 s, and 5 of 200 s.
    expect(stress.afterContraction).toEqual({
      percent: 30,
      uncertaintyPercent: 2.5,
      ofHolds: 2,
      estimatedHolds: 1,
    });
    // (10 + 30) of 200 s.
    expect(stress.below90).toMatchObject({ percent: 20, ofHolds: 2 });
    expect(sessionStress([recorded(holdView('a', 0, 100))])).toMatchObject({
      afterContraction: null,
      below90: null,
    });
  });
});

describe('the headline', () => {
  test('names the first of the longest and of the lowest, and leaves proposals out', () => {
    const headline = headlineOf([
      recorded(holdView('a', 0, 90), {
        spo2LowestPercent: 88,
        spo2LowestAfterEndS: 19,
        spo2BackToBaselineS: 30,
      }),
      recorded(holdView('b', 200, 300, { feeling: { comfort: 4, note: null } }), {
        spo2LowestPercent: 85,
        spo2LowestAfterEndS: null,
        spo2BackToBaselineS: 40,
      }),
      recorded(holdView('c', 400, 500), { spo2LowestPercent: 85, spo2LowestAfterEndS: 20 }),
      recorded(holdView('d', 600, 900, { isProposed: true }), { spo2LowestPercent: 70 }),
    ]);
    expect(headline).toMatchObject({
      holdCount: 3,
      proposedCount: 1,
      totalMs: 290_000,
      longest: { number: 2, durationMs: 100_000 },
      lowest: { number: 2, spo2Percent: 85, afterEndS: null },
      spo2BackS: { least: 30, middle: 35, greatest: 40, ofHolds: 2 },
      heartRateBackS: null,
      comfort: [null, 4, null],
    });
    expect(headlineOf([])).toMatchObject({ holdCount: 0, longest: null, lowest: null, comfort: [] });
  });

  test('counts the holds after which the next came too soon', () => {
    const one: RecordedHold = {
      hold: holdView('a', 0, 90),
      measures: [measure('spo2BackToBaselineS', null, 'notBackBeforeNext')],
    };
    expect(headlineOf([one, recorded(holdView('b', 100, 200))]).notBackBeforeNext).toBe(1);
  });
});

test('alarms below the floor are a group of their own, before all; others go by the highest they had', () => {
  const alarm = (alarmId: string, kind: string, highestPriority: string, atS: number) =>
    ({
      alarm: { alarmId, kind, highestPriority, priority: 'low', raisedAtMs: atS * 1_000 },
      clearedAtMs: null,
    }) as unknown as AthleteRecording['alarms'][number];
  const groups = alarmsByGroup([
    alarm('3', 'sensorLost', 'medium', 30),
    alarm('2', 'floorBreached', 'high', 20),
    alarm('4', 'noBreathingSign', 'high', 40),
    alarm('1', 'floorBreached', 'medium', 10),
    alarm('5', 'batteryLow', 'low', 50),
  ]);
  const ids = Object.fromEntries(
    Object.entries(groups).map(([group, own]) => [group, own.map(({ alarm: { alarmId } }) => alarmId)]),
  );
  expect(ids).toEqual({ floor: ['1', '2'], high: ['4'], medium: ['3'], low: ['5'] });
});

test('a time belongs to the last hold that had begun, until a minute after its end', () => {
  const holds = [holdView('a', 100, 200), holdView('b', 300, null)];
  expect([99, 100, 200, 260, 261, 300, 5_000].map((atS) => holdAt(holds, atS * 1_000))).toEqual([
    null,
    0,
    0,
    0,
    null,
    1,
    1,
  ]);
});

describe('modelled carbon dioxide', () => {
  const endPco2 = (...of: Parameters<typeof endPco2OfHolds>) => {
    const work = endPco2OfHolds(...of);
    for (;;) {
      const { done, value } = work.next();
      if (done === true) return value;
    }
  };

  test('is the end of the same holds in a plan’s preview', () => {
    const [rest, hold] = [
      { kind: 'recovery' as const, durationMs: 60_000 },
      { kind: 'hold' as const, durationMs: 150_000 },
    ];
    const { holds } = previewPlan([rest, hold], populationOxygen, 85);
    expect(endPco2([{ startMs: 500_000, endMs: 650_000 }], [], populationOxygen)).toEqual([
      holds[0]!.endPco2MmHg,
    ]);
  });

  const spans = [
    { startMs: 100_000, endMs: 160_000 },
    { startMs: 400_000, endMs: 640_000 },
  ];

  test('a band a hold, more after a longer one, near what anaesthetised people show', () => {
    const bands = endPco2(spans, [], populationOxygen);
    expect(bands).toHaveLength(2);
    for (const { low, middle, high } of bands) {
      expect(low).toBeLessThan(middle);
      expect(middle).toBeLessThan(high);
    }
    expect(bands[1]!.middle).toBeGreaterThan(bands[0]!.middle + 3);
    // 7.5 mmHg in the first minute from 40 (reference 2.19; full lungs dilute it): between rest and 50 mmHg.
    expect(bands[0]!.middle).toBeGreaterThan(38);
    expect(bands[0]!.middle).toBeLessThan(50);
    expect(endPco2([], [], populationOxygen)).toEqual([]);
  });

  test('less air in the lungs is said by a mark of that hold alone, and takes carbon dioxide higher', () => {
    const mark = { kind: 'lungsEmptied' as const, atMs: 390_000 };
    const full = endPco2(spans, [], populationOxygen);
    const emptied = endPco2(spans, [mark], populationOxygen);
    expect(emptied[0]).toEqual(full[0]);
    expect(emptied[1]!.middle).toBeGreaterThan(full[1]!.middle);
  });

  test('holds close together and of no length still have a band each', () => {
    const close = [
      { startMs: 10_000, endMs: 10_200 },
      { startMs: 10_300, endMs: 11_000 },
      { startMs: 11_000, endMs: 40_000 },
    ];
    expect(endPco2(close, [], populationOxygen)).toHaveLength(3);
  });
});

describe('a plan’s run by the holds of its recording', () => {
  const startS = 1_000;
  const athleteId = 'mira';
  const run: StoredPlanRun = {
    runId: 'r',
    sessionId: 's',
    startedWallAtMs: startS * 1_000,
    endedAtMs: 900_000,
    plan: {
      format: 'slackwater-plan',
      version: 1,
      title: 'Table',
      note: '',
      leadInSeconds: 60,
      kind: 'holdTable',
      shape: 'own',
      rows: [
        { ceilingSeconds: 90, recoverySeconds: 120 },
        { ceilingSeconds: 100, recoverySeconds: 120 },
      ],
    },
    options: {
      athletes: [{ athleteId, offsetMs: 0 }],
      oneAtATime: false,
      assumeFromCues: false,
      acceptedWarnings: [],
    },
    events: [
      {
        type: 'holdStarted',
        atMs: monotonicMs(64_000),
        athleteId,
        holdId: 'h1',
        startedAtMs: monotonicMs(62_000),
        source: 'detected',
      },
      {
        type: 'holdEnded',
        atMs: monotonicMs(140_000),
        athleteId,
        holdId: 'h1',
        endedAtMs: monotonicMs(137_000),
        source: 'detected',
        lowestSpo2Percent: 91,
        floorSpo2Percent: 88,
      },
      {
        type: 'holdStarted',
        atMs: monotonicMs(262_000),
        athleteId,
        holdId: 'h2',
        startedAtMs: monotonicMs(261_000),
        source: 'detected',
      },
      {
        type: 'holdEnded',
        atMs: monotonicMs(352_000),
        athleteId,
        holdId: 'h2',
        endedAtMs: monotonicMs(350_000),
        source: 'detected',
        lowestSpo2Percent: 88,
        floorSpo2Percent: 88,
      },
    ],
  };
  const live = athleteRunsOf(run)[0]!;
  const settled = (holds: readonly HoldView[], lowestSpo2Percent: number | null = 90) =>
    comparePlannedWithActual(
      settleRun(
        live,
        holds.map((hold) => ({ hold, lowestSpo2Percent })),
        // The run began 10 s into the session.
        10_000,
      ),
    );

  test('has their start, length, recovery, lowest reading and comfort, whatever was told live', () => {
    expect(comparePlannedWithActual(live).map(({ actualMs }) => actualMs)).toEqual([75_000, 89_000]);
    const rows = settled([
      holdView('h1', 74, 149, { feeling: { comfort: 2, note: null } }),
      { ...holdView('h2', 271, 362), end: boundary(362, 0, 'corrected') },
    ]);
    expect(rows.map(({ actualStartAtMs }) => actualStartAtMs)).toEqual([64_000, 261_000]);
    expect(rows.map(({ actualMs }) => actualMs)).toEqual([75_000, 91_000]);
    expect(rows.map(({ actualRecoveryBeforeMs }) => actualRecoveryBeforeMs)).toEqual([null, 122_000]);
    expect(rows.map(({ plannedRecoveryBeforeMs }) => plannedRecoveryBeforeMs)).toEqual([null, 120_000]);
    expect(rows.map(({ comfort }) => comfort)).toEqual([2, null]);
    expect(rows.map(({ lowestSpo2Percent }) => lowestSpo2Percent)).toEqual([90, 90]);
    expect(rows[1]!.endSource).toBe('corrected');
    expect(rows[0]!.startMovedMs).toBe(64_000 - rows[0]!.plannedStartAtMs!);
  });

  test('a hold with another id is found by the time it shares; one taken away is no hold; one more is outside the plan', () => {
    const moved = settled([
      holdView('found-1', 80, 150),
      holdView('extra', 180, 200),
      holdView('h2', 271, 360),
    ]);
    expect(moved.map(({ stepIndex, actualMs }) => [stepIndex, actualMs])).toEqual([
      [0, 70_000],
      [null, 20_000],
      [1, 89_000],
    ]);
    const removed = settled([holdView('h2', 271, 360)]);
    expect(removed[0]).toMatchObject({ stepIndex: 0, outcome: 'withdrawn', actualMs: null });
    expect(removed).toHaveLength(2);
  });

  test('holds before and after the run are not of it, and a lowest reading that is not known stays as told', () => {
    const rows = settled(
      [
        holdView('before', 1, 9),
        holdView('h1', 72, 147),
        holdView('h2', 271, 360),
        holdView('after', 1_400, 1_450),
      ],
      null,
    );
    expect(rows.map(({ stepIndex }) => stepIndex)).toEqual([0, 1]);
    expect(rows[0]!.lowestSpo2Percent).toBe(91);
  });
});
