// Planning, moving, leaving out and ending: everything between one effort and the next start of a lane.

import type { AlarmKind } from '../../shared/schema-parts.ts';
import type { LaneEndReason, StepOutcome, StepRecord, WaitReason } from './plan-run-state.ts';
import {
  type Draft,
  type DraftLane,
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

/** Why `lane` may not start now; empty when it may. */
function reasonsToWait(run: Draft, lane: DraftLane): readonly WaitReason[] {
  const reasons: WaitReason[] = [];
  if (run.away) reasons.push('away');
  if (lane.notReady) reasons.push('notReady');
  if (lane.saturationBack === false) reasons.push('saturation');
  if (lane.heartRateBack === false) reasons.push('heartRate');
  if (lane.presentAlarms.some((kind) => waitAlarms.includes(kind))) reasons.push('alarm');
  if (lane.presentAlarms.some((kind) => signalAlarms.includes(kind))) reasons.push('signal');
  if (
    run.options.oneAtATime &&
    run.lanes.some((other) => other !== lane && (other.current !== null || other.phase === 'open'))
  )
    reasons.push('otherAthleteHolding');
  return reasons;
}

/** Takes the planned start back while there is a reason to. Answers true if there was one. */
export function waitIfNotReady(run: Draft, lane: DraftLane): boolean {
  const reasons = reasonsToWait(run, lane);
  if (reasons.length === 0) return false;
  const waitingSinceMs = lane.waitingSinceMs ?? run.nowMs;
  lane.waitedFor = [...new Set([...lane.waitedFor, ...reasons])];
  if (!run.away && run.nowMs >= waitingSinceMs + planRunRules.waitLimitMs) {
    leaveOut(run, lane, 'notReady');
    return true;
  }
  lane.waitingSinceMs = waitingSinceMs;
  lane.plannedStartAtMs = null;
  say(run, lane, 'moved', { reason: reasons.join(', ') });
  return true;
}

/** Makes the record of the next step and moves on to the one after. */
export function openStep(lane: DraftLane, cuedAtMs: number | null): void {
  lane.records = [
    ...lane.records,
    { ...newRecord(lane, lane.nextIndex), cuedAtMs, nominalStartAtMs: lane.nominalStartAtMs },
  ];
  lane.nextIndex += 1;
  lane.plannedStartAtMs = null;
  lane.waitingSinceMs = null;
  lane.waitedFor = [];
}

export const newRecord = (lane: DraftLane, stepIndex: number | null): StepRecord => ({
  stepIndex,
  holdIds: [],
  nominalStartAtMs: null,
  cuedAtMs: null,
  startedAtMs: null,
  startSource: null,
  endedAtMs: null,
  endSource: null,
  recoveryBeforeMs: null,
  ceilingMs: null,
  outcome: 'pending',
  waitedFor: stepIndex === null ? [] : lane.waitedFor,
  lapsAtMs: [],
  lowestSpo2Percent: null,
  comfort: null,
});

/** Leaves the next step out and plans the one after. */
export function leaveOut(run: Draft, lane: DraftLane, outcome: StepOutcome): void {
  if (lane.nextIndex >= lane.steps.length) return;
  const plannedAtMs = lane.plannedStartAtMs;
  openStep(lane, null);
  patchRecord(lane, lane.records.length - 1, { outcome });
  if (outcome !== 'missed') say(run, lane, 'skipped', { reason: outcome });
  if (lane.current !== null || lane.phase === 'stopped') return;
  planAfterUnstarted(run, lane, outcome === 'skipped' ? plannedAtMs : null);
}

/** Closes the step whose start cue was given and which nobody began. */
export function closeOpenStep(run: Draft, lane: DraftLane, outcome: StepOutcome): void {
  patchRecord(lane, lane.records.length - 1, { outcome });
  lane.openedAtMs = null;
  say(run, lane, 'skipped', { reason: outcome });
  planAfterUnstarted(run, lane, null);
}

/** Plans the next start after one that did not happen: on the clock, or with a minute's notice. */
function planAfterUnstarted(run: Draft, lane: DraftLane, keepAtMs: number | null): void {
  const record = lane.records.at(-1);
  const step = record === undefined || record.stepIndex === null ? undefined : lane.steps[record.stepIndex];
  if (lane.nextIndex >= lane.steps.length || step === undefined || record === undefined) {
    windDown(run, lane);
    return;
  }
  const nominalAtMs =
    step.next.by === 'every'
      ? (record.cuedAtMs ?? record.nominalStartAtMs ?? run.nowMs) + everyMsOf(lane, step.next.everyMs)
      : (keepAtMs ?? run.nowMs + planRunRules.watchMs);
  planStart(run, lane, nominalAtMs, nominalAtMs);
}

/** Plans the next start after an effort that ended. */
export function planAfterEffort(run: Draft, lane: DraftLane, record: StepRecord): void {
  if (lane.nextIndex >= lane.steps.length) {
    windDown(run, lane);
    return;
  }
  const step = record.stepIndex === null ? undefined : lane.steps[record.stepIndex];
  const endedAtMs = record.endedAtMs ?? run.nowMs;
  if (step === undefined || record.stepIndex === null) {
    // A hold outside the plan: the coming start keeps its place if the recovery allows.
    const keepAtMs = lane.plannedStartAtMs ?? lane.nominalStartAtMs;
    planStart(run, lane, keepAtMs, lane.nominalStartAtMs);
    return;
  }
  if (step.next.by === 'every') {
    const fromMs = record.cuedAtMs ?? record.nominalStartAtMs ?? record.startedAtMs ?? endedAtMs;
    const nominalAtMs = fromMs + everyMsOf(lane, step.next.everyMs) * (lane.nextIndex - record.stepIndex);
    planStart(run, lane, nominalAtMs, nominalAtMs);
    return;
  }
  const nominalAtMs = endedAtMs + step.next.recoveryMs;
  planStart(run, lane, nominalAtMs + lane.extraRecoveryMs, nominalAtMs);
}

/** Sets the next start: as wished, but never before the minimum recovery is over nor without notice. */
export function planStart(run: Draft, lane: DraftLane, wishedAtMs: number, nominalAtMs: number): void {
  lane.phase = 'waiting';
  lane.openedAtMs = null;
  lane.nominalStartAtMs = nominalAtMs;
  lane.plannedSetAtMs = run.nowMs;
  lane.cuedBeforeMs = Number.MAX_SAFE_INTEGER;
  lane.plannedStartAtMs = Math.max(wishedAtMs, earliestStartMs(run, lane), run.nowMs + planRunRules.noticeMs);
}

/** Nothing more to start: watch for a minute after the last effort, then end. */
export function windDown(run: Draft, lane: DraftLane): void {
  lane.plannedStartAtMs = null;
  if (lane.lastEndAtMs === null || run.nowMs >= lane.lastEndAtMs + planRunRules.watchMs) {
    endLane(run, lane, 'complete');
    return;
  }
  lane.phase = 'watching';
}

export function endLane(run: Draft, lane: DraftLane, reason: LaneEndReason): void {
  if (lane.phase === 'ended') return;
  lane.phase = 'ended';
  lane.endReason = reason;
  lane.current = null;
  lane.plannedStartAtMs = null;
  lane.openedAtMs = null;
  lane.pausedAtMs = null;
  say(run, lane, 'finished', { reason });
}

/** Gives waiting lanes their start back as soon as nothing stands in its way. */
export function settle(run: Draft): void {
  for (const lane of run.lanes) {
    if (lane.phase !== 'waiting' || lane.plannedStartAtMs !== null || lane.pausedAtMs !== null) continue;
    if (reasonsToWait(run, lane).length > 0) continue;
    planStart(run, lane, run.nowMs, lane.nominalStartAtMs);
    say(run, lane, 'replanned');
  }
}
