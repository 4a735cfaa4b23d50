// Whatever the plan and whatever happens: starts keep clear of holds and recoveries, time goes forward, a run ends.

import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { Plan } from '../../../shared/plan.ts';
import { type PlanRunEvent, type PlanRunOptions, planRunEventSchema } from '../../../shared/plan-run.ts';
import { monotonicMs } from '../../../shared/units.ts';
import { sayInEnglish } from '../../../shared/words/say.ts';
import { type CueKind, cueDefinitions } from '../../../src/plans/cue.ts';
import {
  makeFreeSession,
  makeIntervalSeries,
  makeMaximalAttempts,
  makePoolIntervals,
  makeTableFromRows,
  makeTwelveMinuteSwim,
  makeWalkBySteps,
  makeWalkByTime,
} from '../../../src/plans/generate-plan.ts';
import { minimumRecoveryMs, minimumRecoveryOf } from '../../../src/plans/minimum-recovery.ts';
import { createPlanRun, replayPlanRun, stepPlanRun } from '../../../src/plans/plan-run.ts';
import type { PlanRunState } from '../../../src/plans/plan-run-state.ts';
import { sayInGerman } from '../../support/say-in-german.ts';
import { carbonDioxideTableOf, oxygenTableOf } from '../../support/usual-plans.ts';

const athletes = ['mara', 'ivo'];
const holdIds = ['a', 'b', 'c', 'd', 'e', 'f'];

const anyPlan: fc.Arbitrary<Plan> = fc
  .oneof(
    fc
      .tuple(fc.integer({ min: 1, max: 6 }), fc.integer({ min: 60, max: 400 }))
      .map(([starts, every]): Plan => makeIntervalSeries(starts, every)),
    fc.integer({ min: 20, max: 500 }).map((longest): Plan => carbonDioxideTableOf(longest)),
    fc.integer({ min: 20, max: 500 }).map((longest): Plan => oxygenTableOf(longest)),
    fc
      .array(
        fc.record({
          ceilingSeconds: fc.integer({ min: 5, max: 300 }),
          recoverySeconds: fc.integer({ min: 0, max: 300 }),
        }),
        { minLength: 1, maxLength: 6 },
      )
      .map((rows): Plan => makeTableFromRows('Any', rows)),
    fc.integer({ min: 30, max: 400 }).map((longest): Plan => makeMaximalAttempts(longest, 2)),
    fc.integer({ min: 5, max: 60 }).map((walk): Plan => makeWalkByTime(3, walk)),
    fc.integer({ min: 5, max: 60 }).map((steps): Plan => makeWalkBySteps(3, steps)),
    fc.integer({ min: 60, max: 3_600 }).map((length): Plan => makeFreeSession(length)),
    fc.integer({ min: 20, max: 200 }).map((every): Plan => makePoolIntervals(4, 50, 25, every, 'one')),
    fc.constant<Plan>(makeTwelveMinuteSwim(25)),
  )
  .chain((plan) =>
    fc
      .option(
        fc.record({
          timesPreviousEffort: fc.double({ min: 0.25, max: 3, noNaN: true }),
          leastSeconds: fc.integer({ min: 30, max: 120 }),
        }),
        { nil: undefined },
      )
      .map((minimumRecovery): Plan => (minimumRecovery === undefined ? plan : { ...plan, minimumRecovery })),
  );

const anyOptions: fc.Arbitrary<PlanRunOptions> = fc.record({
  athletes: fc.constantFrom(
    [{ athleteId: 'mara', offsetMs: 0 }],
    [
      { athleteId: 'mara', offsetMs: 0 },
      { athleteId: 'ivo', offsetMs: 60_000 },
    ],
  ),
  oneAtATime: fc.boolean(),
  assumeFromCues: fc.boolean(),
  acceptedWarnings: fc.constant([
    'recoveryTooShort',
    'intervalTooShort',
    'inWater',
    'walkHazard',
    'maximalHold',
  ]),
});

const eventKinds = [
  'time',
  'holdStarted',
  'holdStarted',
  'holdStarted',
  'holdEnded',
  'holdEnded',
  'holdEnded',
  'endAny',
  'holdRevised',
  'holdWithdrawn',
  'lap',
  'lap',
  'floor',
  'lost',
  'calm',
  'low',
  'back',
  'notReady',
  'ready',
  'abort',
  'go',
  'go',
  'pause',
  'resume',
  'resume',
  'end',
  'skip',
  'add',
  'interval',
  'recovery',
  'ceiling',
  'comfort',
  'away',
] as const;
type EventParts = readonly [number, number, string, string, (typeof eventKinds)[number]];

/** Any event; times go up by up to ten minutes, and sometimes lie in the past. */
const anyEvents: fc.Arbitrary<readonly PlanRunEvent[]> = fc
  .array(
    fc.tuple(
      fc.oneof(
        { weight: 6, arbitrary: fc.integer({ min: 0, max: 90_000 }) },
        { weight: 1, arbitrary: fc.integer({ min: -60_000, max: 600_000 }) },
      ),
      fc.integer({ min: -120_000, max: 30_000 }),
      fc.constantFrom(...athletes),
      fc.constantFrom(...holdIds),
      fc.constantFrom(...eventKinds),
    ),
    { maxLength: 60 },
  )
  .map((parts) => {
    let nowMs = 100_000;
    return parts.map((part) => {
      nowMs = Math.max(0, nowMs + part[0]);
      return eventOf(nowMs, part);
    });
  });

function eventOf(nowMs: number, [, boundaryMs, athleteId, holdId, what]: EventParts): PlanRunEvent {
  const atMs = monotonicMs(nowMs);
  const boundaryAtMs = monotonicMs(Math.max(0, nowMs + boundaryMs));
  const own = { atMs, athleteId };
  switch (what) {
    case 'holdStarted':
      return { type: 'holdStarted', ...own, holdId, startedAtMs: boundaryAtMs, source: 'detected' };
    case 'holdEnded':
    case 'endAny':
      return {
        type: 'holdEnded',
        ...own,
        holdId: what === 'endAny' ? null : holdId,
        endedAtMs: boundaryAtMs,
        source: 'mark',
        lowestSpo2Percent: 90,
        floorSpo2Percent: 88,
      };
    case 'holdRevised':
      return {
        type: 'holdRevised',
        ...own,
        holdId,
        startedAtMs: boundaryAtMs,
        endedAtMs: boundaryMs % 2 === 0 ? null : atMs,
      };
    case 'holdWithdrawn':
      return { type: 'holdWithdrawn', ...own, holdId };
    case 'floor':
      return { type: 'alarms', ...own, present: ['floorBreached'] };
    case 'lost':
      return { type: 'alarms', ...own, present: ['sensorLost'] };
    case 'calm':
      return { type: 'alarms', ...own, present: [] };
    case 'low':
      return { type: 'vitals', ...own, saturationBack: false, heartRateBack: null };
    case 'back':
      return { type: 'vitals', ...own, saturationBack: true, heartRateBack: true };
    case 'go':
      return { type: 'continueAfterAbort', ...own };
    case 'pause':
    case 'resume':
      return { type: what, atMs, athleteId: null };
    case 'end':
      return { type: 'end', ...own };
    case 'add':
      return { type: 'add', ...own, ceilingMs: null, recoveryMs: 0 };
    case 'interval':
      return { type: 'change', ...own, change: { change: 'interval', everyMs: 60_000 } };
    case 'recovery':
      return { type: 'change', ...own, change: { change: 'moreRecovery', extraMs: 30_000 } };
    case 'ceiling':
      return { type: 'change', ...own, change: { change: 'ceiling', ceilingMs: 40_000 } };
    case 'comfort':
      return { type: 'comfort', ...own, comfort: 2 };
    case 'away':
      return { type: 'away', atMs, fromMs: monotonicMs(Math.max(0, nowMs - 100_000)) };
    case 'time':
      return { type: 'time', atMs };
    case 'lap':
    case 'notReady':
    case 'ready':
    case 'abort':
    case 'skip':
      return { type: what, ...own };
  }
}

const begin = (plan: Plan, options: PlanRunOptions): PlanRunState => {
  const created = createPlanRun(plan, 0, options);
  if (!created.ok) throw new Error('needs a choice');
  return created.value;
};

interface Walk {
  readonly state: PlanRunState;
  /** What a hub would have stored. */
  readonly taken: readonly PlanRunEvent[];
  /** Each start cue with what was known of its athlete's run at that moment. */
  readonly problems: readonly string[];
}

/** Walks through events in small time steps, looking at every start cue from outside. */
function walk(initial: PlanRunState, events: readonly PlanRunEvent[], tickMs: number): Walk {
  let state = initial;
  const taken: PlanRunEvent[] = [];
  const problems: string[] = [];
  const rule = minimumRecoveryOf(initial.plan);
  const step = (event: PlanRunEvent) => {
    const before = state;
    const result = stepPlanRun(state, event);
    state = result.state;
    if (event.type !== 'time') taken.push(result.taken);
    if (state.nowMs < before.nowMs) problems.push('time went backwards');
    let last = before.nowMs;
    for (const cue of result.cues) {
      if (cue.atMs < last) problems.push('a cue before the last one');
      last = cue.atMs;
      if (cue.kind !== 'start' && cue.kind !== 'startSwim') continue;
      // What had been told by then: every effort that had begun and not ended, and the last end.
      const athleteRun = before.athleteRuns.find((candidate) => candidate.athleteId === cue.athleteId);
      const told = state.athleteRuns.find((candidate) => candidate.athleteId === cue.athleteId);
      if (
        athleteRun?.current !== null &&
        told?.records[athleteRun?.current?.recordIndex ?? -1]?.endedAtMs === null
      )
        problems.push('a start during a hold');
      for (const record of told?.records ?? []) {
        if (record.startedAtMs === null || record.endedAtMs === null || record.outcome === 'withdrawn')
          continue;
        if (record.cuedAtMs !== null && record.cuedAtMs >= cue.atMs) continue;
        if (record.startedAtMs >= cue.atMs) continue;
        const minimumMs = minimumRecoveryMs(rule, record.endedAtMs - record.startedAtMs);
        if (cue.atMs < record.endedAtMs + minimumMs)
          problems.push(`recovery of ${cue.atMs - record.endedAtMs} ms; at least ${minimumMs}`);
      }
    }
  };
  for (const event of events) {
    if (event.type !== 'away')
      for (let atMs = state.nowMs + tickMs; atMs < event.atMs; atMs += tickMs)
        step({ type: 'time', atMs: monotonicMs(atMs) });
    step(event);
  }
  return { state, taken, problems };
}

/** Longer than any run here can last: 5 days. */
const veryLate = monotonicMs(5 * 86_400_000);
const runs = { numRuns: 300 };

describe('for any plan and any sequence of events', () => {
  test('starts never overlap a hold, recovery never falls under its minimum, time never runs backwards', () => {
    fc.assert(
      fc.property(anyPlan, anyOptions, anyEvents, (plan, options, events) => {
        expect(walk(begin(plan, options), events, 5_000).problems).toEqual([]);
      }),
      runs,
    );
  });

  test('the same seen from outside: told holds, one after another, never meet a start', () => {
    const holds = fc.array(
      fc.record({
        gapMs: fc.integer({ min: 1_000, max: 400_000 }),
        heldMs: fc.integer({ min: 1_000, max: 400_000 }),
        startToldLateMs: fc.integer({ min: 0, max: 40_000 }),
        endToldLateMs: fc.integer({ min: 0, max: 40_000 }),
      }),
      { maxLength: 12 },
    );
    fc.assert(
      fc.property(anyPlan, holds, (plan, told) => {
        const rule = minimumRecoveryOf(plan);
        let state = begin(plan, {
          athletes: [{ athleteId: 'mara', offsetMs: 0 }],
          oneAtATime: false,
          assumeFromCues: false,
          acceptedWarnings: ['recoveryTooShort', 'intervalTooShort', 'inWater', 'walkHazard', 'maximalHold'],
        });
        let nowMs = 0;
        let holdingNow = false;
        let earliestMs = 0;
        const send = (
          event: PlanRunEvent,
          bySwimClock = plan.kind === 'poolIntervals' || plan.kind === 'timedSwim',
        ) => {
          const step = stepPlanRun(state, event);
          state = step.state;
          for (const cue of step.cues)
            if ((cue.kind === 'start' || cue.kind === 'startSwim') && !bySwimClock) {
              expect(holdingNow).toBe(false);
              expect(cue.atMs).toBeGreaterThanOrEqual(earliestMs);
            }
        };
        told.forEach((hold, index) => {
          const startedAtMs = nowMs + hold.gapMs;
          const endedAtMs = startedAtMs + hold.heldMs;
          const startToldMs = Math.min(endedAtMs, startedAtMs + hold.startToldLateMs);
          send({ type: 'time', atMs: monotonicMs(startToldMs) });
          const own = { athleteId: 'mara', holdId: `h${index}` };
          send({
            type: 'holdStarted',
            ...own,
            atMs: monotonicMs(startToldMs),
            startedAtMs: monotonicMs(startedAtMs),
            source: 'detected',
          });
          holdingNow = true;
          nowMs = endedAtMs + hold.endToldLateMs;
          send({ type: 'time', atMs: monotonicMs(nowMs) });
          holdingNow = false;
          earliestMs = endedAtMs + minimumRecoveryMs(rule, hold.heldMs);
          send({
            type: 'holdEnded',
            ...own,
            atMs: monotonicMs(nowMs),
            endedAtMs: monotonicMs(endedAtMs),
            source: 'detected',
            lowestSpo2Percent: null,
            floorSpo2Percent: null,
          });
        });
        send({ type: 'time', atMs: veryLate });
      }),
      runs,
    );
  });

  test('the run always ends, and nothing is cued afterwards', () => {
    fc.assert(
      fc.property(anyPlan, anyOptions, anyEvents, (plan, options, events) => {
        const late = stepPlanRun(replayPlanRun(begin(plan, options), events), {
          type: 'time',
          atMs: veryLate,
        });
        expect(late.state.ended).toBe(true);
        expect(stepPlanRun(late.state, { type: 'time', atMs: monotonicMs(veryLate + 1e9) }).cues).toEqual([]);
      }),
      runs,
    );
  });

  test('the same run is rebuilt from its events, however finely time was told', () => {
    fc.assert(
      fc.property(
        anyPlan,
        anyOptions,
        anyEvents,
        fc.integer({ min: 250, max: 20_000 }),
        (plan, options, events, tickMs) => {
          const initial = begin(plan, options);
          const { state: live, taken } = walk(initial, events, tickMs);
          const stored: readonly PlanRunEvent[] = JSON.parse(JSON.stringify(taken));
          const rebuilt = replayPlanRun(
            JSON.parse(JSON.stringify(initial)),
            stored.map((event) => planRunEventSchema.parse(event)),
          );
          const now = { type: 'time', atMs: monotonicMs(live.nowMs) } as const;
          expect(stepPlanRun(rebuilt, now).state).toEqual(stepPlanRun(live, now).state);
        },
      ),
      { numRuns: 150 },
    );
  });

  test('one at a time: never a start while another athlete is known to hold', () => {
    fc.assert(
      fc.property(anyPlan, anyEvents, (plan, events) => {
        const options: PlanRunOptions = {
          athletes: athletes.map((athleteId, index) => ({ athleteId, offsetMs: index * 30_000 })),
          oneAtATime: true,
          assumeFromCues: false,
          acceptedWarnings: ['recoveryTooShort', 'intervalTooShort', 'inWater', 'walkHazard', 'maximalHold'],
        };
        let state = begin(plan, options);
        for (const event of events) {
          for (let atMs = state.nowMs + 1_000; atMs < event.atMs && event.type !== 'away'; atMs += 1_000) {
            const step = stepPlanRun(state, { type: 'time', atMs: monotonicMs(atMs) });
            for (const cue of step.cues)
              if (cue.kind.startsWith('start'))
                for (const other of state.athleteRuns)
                  if (
                    other.athleteId !== cue.athleteId &&
                    other.phase !== 'ended' &&
                    other.current !== null
                  ) {
                    const after = step.state.athleteRuns.find(
                      (athleteRun) => athleteRun.athleteId === other.athleteId,
                    );
                    expect(after?.current?.recordIndex).not.toBe(other.current.recordIndex);
                  }
            state = step.state;
          }
          state = stepPlanRun(state, event).state;
        }
      }),
      { numRuns: 60 },
    );
  });
});

describe('cues', () => {
  const duringHold: readonly CueKind[] = ['ceilingNear', 'breathe', 'check', 'aborted', 'timeUp'];

  test('no cue asks to hold on, praises, or counts a hold', () => {
    for (const [kind, definition] of Object.entries(cueDefinitions)) {
      expect(sayInEnglish(definition.said), kind).not.toMatch(
        /hold on|keep going|keep holding|longer|push|almost|nearly there|come on|don't breathe|do not breathe|record|well done|great|good job|best|more seconds/i,
      );
      expect(sayInGerman(definition.said), kind).not.toMatch(
        /durchhalten|weiterhalten|halt(e)? (aus|durch|noch)|länger|gleich geschafft|fast|komm schon|nicht atmen|rekord|gut gemacht|prima|super|bestzeit/i,
      );
    }
    for (const kind of duringHold.filter((each) => each !== 'timeUp')) {
      expect(sayInEnglish(cueDefinitions[kind].said)).toMatch(/breathe/i);
      expect(sayInGerman(cueDefinitions[kind].said)).toMatch(/atme/i);
    }
  });

  test('during an effort only breathing, checking and time-up are cued', () => {
    fc.assert(
      fc.property(anyPlan, anyOptions, anyEvents, (plan, options, events) => {
        let state = begin(plan, { ...options, athletes: options.athletes.slice(0, 1) });
        for (const event of events) {
          const holding = state.athleteRuns[0]?.current;
          const step = stepPlanRun(state, event);
          const still = step.state.athleteRuns[0]?.current;
          if (event.type === 'time' && holding && still && holding.recordIndex === still.recordIndex)
            for (const cue of step.cues) expect(duringHold).toContain(cue.kind);
          state = step.state;
        }
      }),
      runs,
    );
  });

  test('one event that makes no sense changes nothing', () => {
    const state = begin(makeIntervalSeries(2, 240), {
      athletes: [{ athleteId: 'mara', offsetMs: 0 }],
      oneAtATime: false,
      assumeFromCues: false,
      acceptedWarnings: [],
    });
    const atMs = monotonicMs(0);
    for (const event of [
      {
        type: 'holdEnded',
        atMs,
        athleteId: 'mara',
        holdId: 'none',
        endedAtMs: atMs,
        source: 'mark',
        lowestSpo2Percent: null,
        floorSpo2Percent: null,
      },
      { type: 'skip', atMs, athleteId: 'nobody' },
      { type: 'resume', atMs, athleteId: null },
      { type: 'continueAfterAbort', atMs, athleteId: 'mara' },
      { type: 'lap', atMs, athleteId: 'mara' },
    ] satisfies PlanRunEvent[])
      expect(stepPlanRun(state, event).state, event.type).toEqual(state);
  });
});
