// Runs a plan: a state machine driven only by events that carry their time. It plans and cues starts; the athlete
// decides when a hold ends. The same events in any grouping give the same run, so a run is rebuilt from its events.

import type { Plan } from '../../shared/plan.ts';
import type { PlanRunEvent, PlanRunOptions } from '../../shared/plan-run.ts';
import { monotonicMs } from '../../shared/units.ts';
import { failed, ok, type Result } from '../result.ts';
import { checkPlan, type PlanWarning, type PreviewedLowest } from './check-plan.ts';
import type { Cue } from './cue.ts';
import type { AthleteRun, PlanRunState } from './plan-run-state.ts';
import { planSteps } from './plan-steps.ts';
import type { Draft } from './run-draft.ts';
import { comeBack, take } from './run-events.ts';
import { settle } from './run-starts.ts';
import { advance } from './run-time.ts';
import { type Suggestion, suggestAdjustments } from './suggest-adjustments.ts';

const onePerson = (athleteId = 'athlete'): PlanRunOptions => ({
  athletes: [{ athleteId, offsetMs: 0 }],
  oneAtATime: false,
  assumeFromCues: false,
  acceptedWarnings: [],
});

/**
 * Begins a run of `plan` at session time `startAtMs`. Answers with the warnings that still need an explicit
 * choice (`options.acceptedWarnings` names the ones chosen) instead of a run while there are any.
 */
export function createPlanRun(
  plan: Plan,
  startAtMs: number,
  options: PlanRunOptions = onePerson(),
  preview?: PreviewedLowest,
): Result<PlanRunState, readonly PlanWarning[]> {
  const open = checkPlan(plan, preview).filter(
    (warning) => warning.needsChoice && !options.acceptedWarnings.includes(warning.code),
  );
  if (open.length > 0) return failed(open);
  const steps = planSteps(plan);
  const athleteRuns = options.athletes.map(({ athleteId, offsetMs }): AthleteRun => {
    const firstAtMs = startAtMs + plan.leadInSeconds * 1_000 + offsetMs;
    return {
      athleteId,
      steps,
      records: [],
      nextIndex: 0,
      phase: plan.kind === 'freeSession' ? 'free' : 'waiting',
      endReason: null,
      plannedStartAtMs: plan.kind === 'freeSession' ? null : firstAtMs,
      nominalStartAtMs: firstAtMs,
      plannedSetAtMs: startAtMs,
      cuedBeforeMs: Number.MAX_SAFE_INTEGER,
      waitingSinceMs: null,
      waitedFor: [],
      openedAtMs: null,
      pausedAtMs: null,
      current: null,
      lastEndAtMs: null,
      lastEffortMs: 0,
      minimumOverCued: true,
      saturationBack: null,
      heartRateBack: null,
      notReady: false,
      presentAlarms: [],
      abortedAtMs: null,
      everyMs: null,
      extraRecoveryMs: 0,
      floorSpo2Percent: null,
      ceilingMs: null,
    };
  });
  return ok({ plan, options, startAtMs, nowMs: startAtMs, athleteRuns, ended: false });
}

/** What follows from one event. */
export interface PlanRunStep {
  readonly state: PlanRunState;
  /** The event with its times as they were taken in: what to store, so that the run can be rebuilt. */
  readonly taken: PlanRunEvent;
  /** Cues that became due, in time order. A page gives only those of the last moment. */
  readonly cues: readonly Cue[];
  /** Suggestions that were not there before. */
  readonly suggestions: readonly Suggestion[];
}

/**
 * Takes in one event. An event whose time lies before the last one's counts as happening then: time never runs
 * backwards. Events for athletes who are not in the run, and events that make no sense now, change nothing.
 */
export function stepPlanRun(state: PlanRunState, event: PlanRunEvent): PlanRunStep {
  const run: Draft = {
    plan: state.plan,
    options: state.options,
    startAtMs: state.startAtMs,
    nowMs: state.nowMs,
    away: false,
    athleteRuns: state.athleteRuns.map((athleteRun) => ({ ...athleteRun })),
    cues: [],
  };
  const atMs = monotonicMs(Math.max(state.nowMs, event.atMs));
  const taken: PlanRunEvent =
    event.type === 'away'
      ? { ...event, atMs, fromMs: monotonicMs(Math.min(atMs, Math.max(state.nowMs, event.fromMs))) }
      : { ...event, atMs };
  if (taken.type === 'away') {
    advance(run, taken.fromMs);
    run.away = true;
    advance(run, taken.atMs);
    run.away = false;
    comeBack(run);
  } else {
    advance(run, taken.atMs);
    take(run, taken);
  }
  settle(run);
  const next: PlanRunState = {
    plan: run.plan,
    options: run.options,
    startAtMs: run.startAtMs,
    nowMs: run.nowMs,
    athleteRuns: run.athleteRuns,
    ended: run.athleteRuns.every((athleteRun) => athleteRun.phase === 'ended'),
  };
  const before = new Set(suggestAdjustments(state).map((suggestion) => suggestion.suggestionId));
  return {
    state: next,
    taken,
    cues: run.cues,
    suggestions: suggestAdjustments(next).filter((suggestion) => !before.has(suggestion.suggestionId)),
  };
}

/** Rebuilds a run from its stored events, as after a restart. */
export const replayPlanRun = (state: PlanRunState, events: Iterable<PlanRunEvent>): PlanRunState => {
  let current = state;
  for (const event of events) current = stepPlanRun(current, event).state;
  return current;
};
