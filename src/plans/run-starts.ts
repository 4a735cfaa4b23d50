// Planning, moving, leaving out and ending: everything between one effort and an athlete's next start.

import type { AlarmKind } from '../../shared/schema-parts.ts';
import {
  type AthleteRunEndReason,
  emptyRecord,
  type StepOutcome,
  type StepRecord,
  type WaitReason,
} from './plan-run-state.ts';
import {
  type Draft,
  type DraftAthleteRun,
  earliestStartMs,
  everyMsOf,
  patchRecord,
  planRunRules,
  say,
} from './run-draft.ts';

/** Conditions that call a hold off when they appear during it or in the minute after it. */
export const abortingAlarms: readonly AlarmKind[] = [
  'floorBreached',
  'heartRateSuddenFall',
  'heartRateLow',
  'noBreathingSign',
  'saturationNotRecovering',
];

/** Conditions in which no start is given. */
const waitAlarms: readonly AlarmKind[] = [...abortingAlarms, 'heartRateHigh'];

/**
 * Conditions in which the athlete could not be watched. A page that cannot sound is not among them: a session may
 * be started silent by an explicit choice, by deaf people too, and the alarm itself says so all the while.
 */
const signalAlarms: readonly AlarmKind[] = [
  'sensorLost',
  'readingsStale',
  'readingsImplausible',
  'signalPoor',
];

/** Why `athleteRun` may not start now; empty when it may. */
function reasonsToWait(run: Draft, athleteRun: DraftAthleteRun): readonly WaitReason[] {
  const reasons: WaitReason[] = [];
  if (run.away) reasons.push('away');
  if (athleteRun.notReady) reasons.push('notReady');
  if (athleteRun.saturationBack === false) reasons.push('saturation');
  if (athleteRun.heartRateBack === false) reasons.push('heartRate');
  if (athleteRun.presentAlarms.some((kind) => waitAlarms.includes(kind))) reasons.push('alarm');
  if (athleteRun.presentAlarms.some((kind) => signalAlarms.includes(kind))) reasons.push('signal');
  if (
    run.options.oneAtATime &&
    run.athleteRuns.some(
      (other) => other !== athleteRun && (other.current !== null || other.phase === 'open'),
    )
  )
    reasons.push('otherAthleteHolding');
  return reasons;
}

/** Takes the planned start back while there is a reason to. Answers true if there was one. */
export function waitIfNotReady(run: Draft, athleteRun: DraftAthleteRun): boolean {
  const reasons = reasonsToWait(run, athleteRun);
  if (reasons.length === 0) return false;
  const waitingSinceMs = athleteRun.waitingSinceMs ?? run.nowMs;
  athleteRun.waitedFor = [...new Set([...athleteRun.waitedFor, ...reasons])];
  if (!run.away && run.nowMs >= waitingSinceMs + planRunRules.waitLimitMs) {
    leaveOut(run, athleteRun, 'notReady');
    return true;
  }
  athleteRun.waitingSinceMs = waitingSinceMs;
  athleteRun.plannedStartAtMs = null;
  say(run, athleteRun, 'moved', { reason: reasons.join(', ') });
  return true;
}

/** Makes the record of the next step and moves on to the one after. */
export function openStep(athleteRun: DraftAthleteRun, cuedAtMs: number | null): void {
  athleteRun.records = [
    ...athleteRun.records,
    {
      ...newRecord(athleteRun, athleteRun.nextIndex),
      cuedAtMs,
      nominalStartAtMs: athleteRun.nominalStartAtMs,
    },
  ];
  athleteRun.nextIndex += 1;
  athleteRun.plannedStartAtMs = null;
  athleteRun.waitingSinceMs = null;
  athleteRun.waitedFor = [];
}

export const newRecord = (athleteRun: DraftAthleteRun, stepIndex: number | null): StepRecord => ({
  ...emptyRecord,
  stepIndex,
  waitedFor: stepIndex === null ? [] : athleteRun.waitedFor,
});

/** Leaves the next step out and plans the one after. */
export function leaveOut(run: Draft, athleteRun: DraftAthleteRun, outcome: StepOutcome): void {
  if (athleteRun.nextIndex >= athleteRun.steps.length) return;
  const plannedAtMs = athleteRun.plannedStartAtMs;
  openStep(athleteRun, null);
  patchRecord(athleteRun, athleteRun.records.length - 1, { outcome });
  if (outcome !== 'missed') say(run, athleteRun, 'skipped', { reason: outcome });
  if (athleteRun.current !== null || athleteRun.phase === 'stopped') return;
  planAfterUnstarted(run, athleteRun, outcome === 'skipped' ? plannedAtMs : null);
}

/** Closes the step whose start cue was given and which nobody began. */
export function closeOpenStep(run: Draft, athleteRun: DraftAthleteRun, outcome: StepOutcome): void {
  patchRecord(athleteRun, athleteRun.records.length - 1, { outcome });
  athleteRun.openedAtMs = null;
  say(run, athleteRun, 'skipped', { reason: outcome });
  planAfterUnstarted(run, athleteRun, null);
}

/** Plans the next start after one that did not happen: on the clock, or with a minute's notice. */
function planAfterUnstarted(run: Draft, athleteRun: DraftAthleteRun, keepAtMs: number | null): void {
  const record = athleteRun.records.at(-1);
  const step =
    record === undefined || record.stepIndex === null ? undefined : athleteRun.steps[record.stepIndex];
  if (athleteRun.nextIndex >= athleteRun.steps.length || step === undefined || record === undefined) {
    windDown(run, athleteRun);
    return;
  }
  const nominalAtMs =
    step.next.by === 'every'
      ? (record.cuedAtMs ?? record.nominalStartAtMs ?? run.nowMs) + everyMsOf(athleteRun, step.next.everyMs)
      : (keepAtMs ?? run.nowMs + planRunRules.watchMs);
  planStart(run, athleteRun, nominalAtMs, nominalAtMs);
}

/** Plans the next start after an effort that ended. */
export function planAfterEffort(run: Draft, athleteRun: DraftAthleteRun, record: StepRecord): void {
  if (athleteRun.nextIndex >= athleteRun.steps.length) {
    windDown(run, athleteRun);
    return;
  }
  const step = record.stepIndex === null ? undefined : athleteRun.steps[record.stepIndex];
  const endedAtMs = record.endedAtMs ?? run.nowMs;
  if (step === undefined || record.stepIndex === null) {
    // A hold outside the plan: the coming start keeps its place if the recovery allows.
    const keepAtMs = athleteRun.plannedStartAtMs ?? athleteRun.nominalStartAtMs;
    planStart(run, athleteRun, keepAtMs, athleteRun.nominalStartAtMs);
    return;
  }
  if (step.next.by === 'every') {
    const fromMs = record.cuedAtMs ?? record.nominalStartAtMs ?? record.startedAtMs ?? endedAtMs;
    const nominalAtMs =
      fromMs + everyMsOf(athleteRun, step.next.everyMs) * (athleteRun.nextIndex - record.stepIndex);
    planStart(run, athleteRun, nominalAtMs, nominalAtMs);
    return;
  }
  const nominalAtMs = endedAtMs + step.next.recoveryMs;
  planStart(run, athleteRun, nominalAtMs + athleteRun.extraRecoveryMs, nominalAtMs);
}

/** Sets the next start: as wished, but never before the minimum recovery is over nor without notice. */
export function planStart(
  run: Draft,
  athleteRun: DraftAthleteRun,
  wishedAtMs: number,
  nominalAtMs: number,
): void {
  athleteRun.phase = 'waiting';
  athleteRun.openedAtMs = null;
  athleteRun.nominalStartAtMs = nominalAtMs;
  athleteRun.plannedSetAtMs = run.nowMs;
  athleteRun.cuedBeforeMs = Number.MAX_SAFE_INTEGER;
  athleteRun.plannedStartAtMs = Math.max(
    wishedAtMs,
    earliestStartMs(run, athleteRun),
    run.nowMs + planRunRules.noticeMs,
  );
}

/** Nothing more to start: watch for a minute after the last effort, then end. */
export function windDown(run: Draft, athleteRun: DraftAthleteRun): void {
  athleteRun.plannedStartAtMs = null;
  if (athleteRun.lastEndAtMs === null || run.nowMs >= athleteRun.lastEndAtMs + planRunRules.watchMs) {
    endAthleteRun(run, athleteRun, 'complete');
    return;
  }
  athleteRun.phase = 'watching';
}

export function endAthleteRun(run: Draft, athleteRun: DraftAthleteRun, reason: AthleteRunEndReason): void {
  if (athleteRun.phase === 'ended') return;
  athleteRun.phase = 'ended';
  athleteRun.endReason = reason;
  athleteRun.current = null;
  athleteRun.plannedStartAtMs = null;
  athleteRun.openedAtMs = null;
  athleteRun.pausedAtMs = null;
  say(run, athleteRun, 'finished', { reason });
}

/** Gives waiting athletes their start back as soon as nothing stands in its way. */
export function settle(run: Draft): void {
  for (const athleteRun of run.athleteRuns) {
    if (
      athleteRun.phase !== 'waiting' ||
      athleteRun.plannedStartAtMs !== null ||
      athleteRun.pausedAtMs !== null
    )
      continue;
    if (reasonsToWait(run, athleteRun).length > 0) continue;
    planStart(run, athleteRun, run.nowMs, athleteRun.nominalStartAtMs);
    say(run, athleteRun, 'replanned');
  }
}
