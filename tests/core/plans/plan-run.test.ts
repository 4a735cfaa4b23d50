// The runner in told stories: what is cued when, and what moves a start.

import { describe, expect, test } from 'vitest';
import type { Plan } from '../../../shared/plan.ts';
import type { PlanRunEvent, PlanRunOptions } from '../../../shared/plan-run.ts';
import { monotonicMs } from '../../../shared/units.ts';
import { sayInEnglish } from '../../../shared/words/say.ts';
import type { Cue } from '../../../src/plans/cue.ts';
import {
  makeFreeSession,
  makeIntervalSeries,
  makeMaximalAttempts,
  makePoolIntervals,
  makeTableFromRows,
  makeTwelveMinuteSwim,
} from '../../../src/plans/generate-plan.ts';
import { createPlanRun, replayPlanRun, stepPlanRun } from '../../../src/plans/plan-run.ts';
import type { PlanRunState } from '../../../src/plans/plan-run-state.ts';
import { comparePlannedWithActual } from '../../../src/plans/planned-beside-actual.ts';
import type { Suggestion } from '../../../src/plans/suggest-adjustments.ts';
import { carbonDioxideTableOf } from '../../support/usual-plans.ts';

const second = 1_000;
const minute = 60_000;
const at = (ms: number) => monotonicMs(ms);

const alone: PlanRunOptions = {
  athletes: [{ athleteId: 'mara', offsetMs: 0 }],
  oneAtATime: false,
  assumeFromCues: false,
  acceptedWarnings: [
    'recoveryTooShort',
    'intervalTooShort',
    'inWater',
    'walkHazard',
    'maximalHold',
    'previewCrossesFloor',
  ],
};

/** A run that keeps what it was told and what it said. */
function run(plan: Plan, options: PlanRunOptions = alone) {
  const created = createPlanRun(plan, 0, options);
  if (!created.ok) throw new Error(JSON.stringify(created.reason));
  let state: PlanRunState = created.value;
  const cues: Cue[] = [];
  const events: PlanRunEvent[] = [];
  const suggestions: Suggestion[] = [];
  const send = (event: PlanRunEvent) => {
    const step = stepPlanRun(state, event);
    state = step.state;
    cues.push(...step.cues);
    suggestions.push(...step.suggestions);
    if (event.type !== 'time') events.push(event);
  };
  return {
    initial: created.value,
    events,
    cues,
    suggestions,
    send,
    get state() {
      return state;
    },
    get athleteRun() {
      return state.athleteRuns[0]!;
    },
    to: (ms: number) => send({ type: 'time', atMs: at(ms) }),
    hold(
      id: string,
      fromMs: number,
      toMs: number,
      lowestSpo2Percent: number | null = null,
      athleteId = 'mara',
    ) {
      send({
        type: 'holdStarted',
        atMs: at(fromMs),
        athleteId,
        holdId: id,
        startedAtMs: at(fromMs),
        source: 'mark',
      });
      send({
        type: 'holdEnded',
        atMs: at(toMs),
        athleteId,
        holdId: id,
        endedAtMs: at(toMs),
        source: 'mark',
        lowestSpo2Percent,
        floorSpo2Percent: 88,
      });
    },
    startsAt: (athleteId = 'mara') =>
      cues
        .filter((cue) => cue.kind.startsWith('start') && cue.athleteId === athleteId)
        .map((cue) => cue.atMs / second),
  };
}

describe('interval series', () => {
  test('starts on the clock with a minute, ten seconds and three ticks of notice; silence during the hold', () => {
    const story = run(makeIntervalSeries(2, 240));
    story.hold('h1', 125 * second, 240 * second);
    story.to(359 * second);
    expect(story.cues.map((cue) => [cue.atMs / second, cue.kind])).toEqual([
      [60, 'prepare'],
      [110, 'countdown'],
      [117, 'tick'],
      [118, 'tick'],
      [119, 'tick'],
      [120, 'start'],
      [240, 'recover'],
      [300, 'prepare'],
      [350, 'countdown'],
      [357, 'tick'],
      [358, 'tick'],
      [359, 'tick'],
    ]);
  });

  test('a hold into the recovery moves the next start, and the interval goes on from there', () => {
    const story = run(makeIntervalSeries(3, 240));
    story.hold('h1', 120 * second, 345 * second); // 3:45, so 75 s of recovery
    story.hold('h2', 420 * second, 480 * second);
    story.to(20 * minute);
    expect(story.startsAt()).toEqual([120, 420, 660]);
  });

  test('most holds leaving about a minute suggests a minute more; accepting it moves the next start', () => {
    const story = run(makeIntervalSeries(8, 240));
    for (const [index, startMin] of [2, 6, 10].entries())
      story.hold(`h${index}`, startMin * minute, startMin * minute + 175 * second);
    const suggestion = story.suggestions.find((candidate) => candidate.kind === 'lengthenInterval');
    expect(suggestion?.change).toEqual({ change: 'interval', everyMs: 300_000 });
    story.send({ type: 'change', atMs: at(13 * minute), athleteId: 'mara', change: suggestion!.change! });
    story.to(15 * minute);
    expect(story.startsAt()).toEqual([120, 360, 600, 900]);
  });

  test('nobody begins: the start is left out and the clock goes on', () => {
    const story = run(makeIntervalSeries(2, 240));
    story.to(20 * minute);
    expect(story.startsAt()).toEqual([120, 360]);
    expect(story.athleteRun.records.map((record) => record.outcome)).toEqual(['notStarted', 'notStarted']);
    expect(story.state.ended).toBe(true);
  });

  test('a detector that tells of the start late still gets its hold into the plan', () => {
    const story = run(makeIntervalSeries(2, 240));
    story.to(215 * second);
    expect(story.athleteRun.records[0]?.outcome).toBe('notStarted');
    story.send({
      type: 'holdStarted',
      atMs: at(216 * second),
      athleteId: 'mara',
      holdId: 'late',
      startedAtMs: at(130 * second),
      source: 'detected',
    });
    expect(story.athleteRun.records[0]).toMatchObject({ outcome: 'pending', startedAtMs: 130_000 });
    expect(story.athleteRun.phase).toBe('holding');
  });
});

describe('tables', () => {
  test('a hold that stops early brings the recovery forward; ten seconds and the ceiling are cued', () => {
    const story = run(carbonDioxideTableOf(180));
    story.hold('h1', 120 * second, 180 * second); // 60 s of at most 90 s, then 2:00
    story.hold('h2', 300 * second, 392 * second); // two seconds over
    expect(story.startsAt()).toEqual([120, 300]);
    expect(story.cues.filter((cue) => cue.kind === 'ceilingNear').map((cue) => cue.atMs)).toEqual([380_000]);
    expect(story.cues.filter((cue) => cue.kind === 'breathe').map((cue) => cue.atMs)).toEqual([390_000]);
  });

  test('a recovery that was planned too short is lengthened whatever was chosen', () => {
    const story = run(
      makeTableFromRows('Short', [
        { ceilingSeconds: 180, recoverySeconds: 0 },
        { ceilingSeconds: 180, recoverySeconds: 0 },
      ]),
    );
    story.hold('h1', 120 * second, 300 * second);
    story.to(400 * second);
    expect(story.startsAt()).toEqual([120, 360]);
  });

  test('an end nobody marks is asked after, and no start follows', () => {
    const story = run(carbonDioxideTableOf(180));
    story.send({
      type: 'holdStarted',
      atMs: at(120_000),
      athleteId: 'mara',
      holdId: 'h',
      startedAtMs: at(120_000),
      source: 'detected',
    });
    story.to(300 * second);
    expect(story.cues.filter((cue) => cue.kind === 'check').map((cue) => cue.atMs / second)).toEqual([
      225, 255, 285,
    ]);
    story.to(120 * second + 20 * minute);
    expect(story.startsAt()).toEqual([120]);
    expect(story.athleteRun.endReason).toBe('noEndSeen');
  });

  test('without sensors or taps the clock alone carries a table, and says that it was assumed', () => {
    const story = run(carbonDioxideTableOf(180), { ...alone, assumeFromCues: true });
    story.to(60 * minute);
    // 2:00 lead-in; 1:30 holds with 2:00, 1:45, 1:30, 1:15, 1:00, 0:45, 0:45 between.
    expect(story.startsAt()).toEqual([120, 330, 525, 705, 870, 1020, 1155, 1290]);
    const rows = comparePlannedWithActual(story.athleteRun);
    expect(rows.every((row) => row.startSource === 'assumed' && row.endSource === 'assumed')).toBe(true);
    expect(story.athleteRun.endReason).toBe('complete');
  });
});

describe('readiness', () => {
  const vitals = (ms: number, saturationBack: boolean): PlanRunEvent => ({
    type: 'vitals',
    atMs: at(ms),
    athleteId: 'mara',
    saturationBack,
    heartRateBack: true,
  });

  test('saturation that is not back moves the start; it comes with notice once it is', () => {
    const story = run(makeIntervalSeries(2, 240));
    story.hold('h1', 120 * second, 240 * second);
    story.send(vitals(250 * second, false));
    story.send(vitals(400 * second, true));
    story.to(430 * second);
    expect(story.startsAt()).toEqual([120, 420]);
    expect(story.cues.find((cue) => cue.kind === 'moved')).toMatchObject({
      atMs: 350_000,
      reason: 'saturation',
    });
    expect(story.suggestions.map((suggestion) => suggestion.kind)).toContain('moreRecovery');
  });

  test('when it does not come back in five minutes the start is left out', () => {
    const story = run(makeIntervalSeries(2, 240));
    story.hold('h1', 120 * second, 240 * second);
    story.send(vitals(250 * second, false));
    story.to(20 * minute);
    expect(story.startsAt()).toEqual([120]);
    expect(story.athleteRun.records[1]).toMatchObject({ outcome: 'notReady', waitedFor: ['saturation'] });
    expect(story.state.ended).toBe(true);
  });

  test('the athlete who says "not ready" is waited for', () => {
    const story = run(makeIntervalSeries(1, 240));
    story.send({ type: 'notReady', atMs: at(115 * second), athleteId: 'mara' });
    story.send({ type: 'ready', atMs: at(150 * second), athleteId: 'mara' });
    story.to(200 * second);
    expect(story.startsAt()).toEqual([170]);
  });

  test('a lost sensor holds the start back', () => {
    const story = run(makeIntervalSeries(1, 240));
    story.send({ type: 'alarms', atMs: at(60 * second), athleteId: 'mara', present: ['sensorLost'] });
    story.to(200 * second);
    expect(story.startsAt()).toEqual([]);
    story.send({ type: 'alarms', atMs: at(200 * second), athleteId: 'mara', present: [] });
    story.to(230 * second);
    expect(story.startsAt()).toEqual([220]);
  });
});

describe('abort', () => {
  test('the floor alarm during a hold stops all starts, suggests stopping, and ends the run if nobody chooses', () => {
    const story = run(makeIntervalSeries(8, 240));
    story.send({
      type: 'holdStarted',
      atMs: at(120_000),
      athleteId: 'mara',
      holdId: 'h',
      startedAtMs: at(120_000),
      source: 'mark',
    });
    story.send({ type: 'alarms', atMs: at(200_000), athleteId: 'mara', present: ['floorBreached'] });
    expect(story.cues.at(-1)?.kind).toBe('aborted');
    story.send({
      type: 'holdEnded',
      atMs: at(206_000),
      athleteId: 'mara',
      holdId: 'h',
      endedAtMs: at(205_000),
      source: 'detected',
      lowestSpo2Percent: 84,
      floorSpo2Percent: 88,
    });
    story.to(20 * minute);
    expect(story.startsAt()).toEqual([120]);
    expect(story.suggestions.map((suggestion) => suggestion.kind)).toEqual(['stop']);
    expect(story.athleteRun.endReason).toBe('stoppedAfterAbort');
    expect(comparePlannedWithActual(story.athleteRun).map((row) => row.outcome)).toEqual([
      'aborted',
      ...Array.from({ length: 7 }, () => 'notReached'),
    ]);
  });

  test('the finger shows the floor only after the hold: it still counts', () => {
    const story = run(makeIntervalSeries(3, 240));
    story.hold('h1', 120 * second, 300 * second);
    story.send({ type: 'alarms', atMs: at(325_000), athleteId: 'mara', present: ['floorBreached'] });
    expect(story.athleteRun.phase).toBe('stopped');
    expect(story.athleteRun.records[0]?.outcome).toBe('aborted');
  });

  test('going on needs a choice and comes with a minute of notice', () => {
    const story = run(makeIntervalSeries(3, 240));
    story.send({
      type: 'holdStarted',
      atMs: at(120_000),
      athleteId: 'mara',
      holdId: 'h',
      startedAtMs: at(120_000),
      source: 'mark',
    });
    story.send({ type: 'abort', atMs: at(150_000), athleteId: 'mara' });
    story.send({
      type: 'holdEnded',
      atMs: at(152_000),
      athleteId: 'mara',
      holdId: 'h',
      endedAtMs: at(152_000),
      source: 'mark',
      lowestSpo2Percent: null,
      floorSpo2Percent: 88,
    });
    story.send({ type: 'continueAfterAbort', atMs: at(400_000), athleteId: 'mara' });
    story.to(470 * second);
    expect(story.startsAt()).toEqual([120, 460]);
  });
});

describe('pausing, skipping, adding, ending', () => {
  test('a pause makes everything later; a hold in progress is left alone', () => {
    const story = run(makeIntervalSeries(2, 240));
    story.send({ type: 'pause', atMs: at(60_000), athleteId: null });
    story.send({ type: 'resume', atMs: at(160_000), athleteId: null });
    story.to(230 * second);
    expect(story.startsAt()).toEqual([220]);
  });

  test('skip leaves one out and keeps the clock; add puts one at the end', () => {
    const story = run(makeIntervalSeries(2, 240));
    story.send({ type: 'skip', atMs: at(30_000), athleteId: 'mara' });
    story.send({ type: 'add', atMs: at(31_000), athleteId: 'mara', ceilingMs: 60_000, recoveryMs: 60_000 });
    story.hold('h2', 360 * second, 400 * second);
    story.hold('h3', 600 * second, 640 * second);
    story.to(20 * minute);
    expect(story.startsAt()).toEqual([360, 600]);
    expect(
      comparePlannedWithActual(story.athleteRun).map((row) => [sayInEnglish(row.label), row.outcome]),
    ).toEqual([
      ['Hold 1', 'skipped'],
      ['Hold 2', 'done'],
      ['Added 1', 'done'],
    ]);
  });

  test('end ends at any time, in a hold too; an end that is heard later is still kept', () => {
    const story = run(makeIntervalSeries(4, 240));
    story.send({
      type: 'holdStarted',
      atMs: at(120_000),
      athleteId: 'mara',
      holdId: 'h',
      startedAtMs: at(120_000),
      source: 'mark',
    });
    story.send({ type: 'end', atMs: at(130_000), athleteId: null });
    expect(story.state.ended).toBe(true);
    story.send({
      type: 'holdEnded',
      atMs: at(150_000),
      athleteId: 'mara',
      holdId: 'h',
      endedAtMs: at(149_000),
      source: 'detected',
      lowestSpo2Percent: 95,
      floorSpo2Percent: 88,
    });
    expect(story.athleteRun.records[0]).toMatchObject({ endedAtMs: 149_000, outcome: 'done' });
  });
});

describe('several athletes', () => {
  const two: PlanRunOptions = {
    ...alone,
    athletes: [
      { athleteId: 'mara', offsetMs: 0 },
      { athleteId: 'ivo', offsetMs: 120_000 },
    ],
    oneAtATime: true,
  };

  test('staggered: each has their own starts', () => {
    const story = run(makeIntervalSeries(2, 240), two);
    story.hold('m1', 120 * second, 200 * second);
    story.hold('i1', 240 * second, 300 * second, null, 'ivo');
    story.hold('m2', 360 * second, 400 * second);
    story.to(500 * second);
    expect(story.startsAt('mara')).toEqual([120, 360]);
    expect(story.startsAt('ivo')).toEqual([240, 480]);
  });

  test('one at a time: a start waits while the other holds', () => {
    const story = run(makeIntervalSeries(1, 240), two);
    story.hold('m1', 120 * second, 280 * second);
    story.to(330 * second);
    expect(story.startsAt('ivo')).toEqual([300]);
    expect(story.cues.find((cue) => cue.kind === 'moved')).toMatchObject({
      athleteId: 'ivo',
      reason: 'otherAthleteHolding',
    });
  });
});

describe('restart', () => {
  test('rebuilt from its events, with the absence: starts missed in between keep the clock', () => {
    const story = run(makeIntervalSeries(5, 240));
    story.hold('h1', 120 * second, 200 * second);
    const rebuilt = replayPlanRun(story.initial, story.events);
    expect(rebuilt).toEqual(story.state);
    story.send({ type: 'away', atMs: at(700 * second), fromMs: at(210 * second) });
    story.to(841 * second);
    expect(story.startsAt()).toEqual([120, 840]);
    expect(story.athleteRun.records.map((record) => record.outcome)).toEqual([
      'done',
      'missed',
      'missed',
      'pending',
    ]);
    expect(story.cues.filter((cue) => cue.kind === 'back').map((cue) => cue.atMs)).toEqual([700_000]);
  });

  test('a table waits for the return instead', () => {
    const story = run(carbonDioxideTableOf(180));
    story.hold('h1', 120 * second, 200 * second);
    story.send({ type: 'away', atMs: at(900 * second), fromMs: at(210 * second) });
    story.to(930 * second);
    expect(story.startsAt()).toEqual([120, 920]);
  });
});

describe('other kinds', () => {
  test('a free session plans nothing, tells when the minimum recovery is over, and ends by its length', () => {
    const story = run(makeFreeSession(600));
    story.hold('h1', 60 * second, 150 * second);
    story.to(20 * minute);
    expect(story.startsAt()).toEqual([]);
    expect(story.cues.find((cue) => cue.kind === 'minimumOver')?.atMs).toBe(195_000);
    expect(story.state).toMatchObject({ ended: true });
    expect(story.athleteRun.records.map((record) => [record.stepIndex, record.outcome])).toEqual([
      [null, 'done'],
    ]);
  });

  test('a maximal hold has no cue about its length', () => {
    const story = run(makeMaximalAttempts(180), alone);
    for (let skipped = 0; skipped < 3; skipped += 1)
      story.send({ type: 'skip', atMs: at(skipped + 1), athleteId: 'mara' });
    const startAt = 180 * second;
    story.to(startAt);
    expect(story.startsAt()).toEqual([180]);
    const before = story.cues.length;
    story.hold('max', startAt + 1_000, startAt + 300 * second);
    expect(story.cues.slice(before).map((cue) => cue.kind)).toEqual(['lastDone']);
  });

  test('laps end a pool repetition; what is left of the interval is rest', () => {
    const story = run(makePoolIntervals(2, 50, 25, 120));
    story.send({ type: 'lap', atMs: at(55 * second), athleteId: 'mara' });
    story.send({ type: 'lap', atMs: at(85 * second), athleteId: 'mara' });
    story.to(151 * second);
    expect(story.startsAt()).toEqual([30, 150]);
    expect(comparePlannedWithActual(story.athleteRun)[0]).toMatchObject({
      actualMs: 55_000,
      distanceMeters: 50,
      endSource: 'lap',
    });
  });

  test('12-minute swim: laps only count, time ends it', () => {
    const story = run(makeTwelveMinuteSwim(25));
    for (let lap = 1; lap <= 23; lap += 1)
      story.send({ type: 'lap', atMs: at(30 * second + lap * 31 * second), athleteId: 'mara' });
    story.to(30 * second + 12 * minute);
    expect(story.cues.find((cue) => cue.kind === 'timeUp')?.atMs).toBe(750_000);
    expect(comparePlannedWithActual(story.athleteRun)[0]).toMatchObject({
      actualMs: 720_000,
      distanceMeters: 575,
    });
  });

  test('a reading near the floor suggests a shorter ceiling, which later holds then have', () => {
    const story = run(makeIntervalSeries(3, 240));
    story.hold('h1', 120 * second, 270 * second, 89);
    const suggestion = story.suggestions.find((candidate) => candidate.kind === 'lowerCeiling');
    expect(suggestion?.change).toEqual({ change: 'ceiling', ceilingMs: 120_000 });
    story.send({ type: 'change', atMs: at(280_000), athleteId: 'mara', change: suggestion!.change! });
    story.hold('h2', 360 * second, 485 * second, 95);
    expect(story.cues.find((cue) => cue.kind === 'breathe')?.atMs).toBe(480_000);
  });

  test('warnings that need a choice keep a plan from starting until chosen', () => {
    const created = createPlanRun(makeTwelveMinuteSwim(25), 0, { ...alone, acceptedWarnings: [] });
    expect(created.ok ? [] : created.reason.map((warning) => warning.code)).toEqual(['inWater']);
  });
});
