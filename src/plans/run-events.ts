// What each event that is not time does to a run.

import type { PlanRunEvent } from '../../shared/plan-run.ts';
import type { AlarmKind } from '../../shared/schema-parts.ts';
import { planSteps } from './plan-steps.ts';
import { type Draft, type DraftLane, patchRecord, planRunRules, say } from './run-draft.ts';
import { abort, holdStarted, holdWithdrawn, lap, takeBoundary } from './run-efforts.ts';
import {
  abortingAlarms,
  closeOpenStep,
  endLane,
  leaveOut,
  planAfterEffort,
  planStart,
  waitIfNotReady,
  windDown,
} from './run-starts.ts';

/** Conditions of a hold in which breathing is cued without calling the session off. */
const breatheAlarms: readonly AlarmKind[] = ['floorForecast', 'maxDuration'];

export function take(run: Draft, event: Exclude<PlanRunEvent, { type: 'away' }>): void {
  switch (event.type) {
    case 'time':
      return;
    case 'pause':
    case 'resume':
    case 'end':
      for (const lane of run.lanes)
        if ((event.athleteId === null || event.athleteId === lane.athleteId) && lane.phase !== 'ended') {
          if (event.type === 'end') endLane(run, lane, 'endedByPerson');
          else if (event.type === 'pause') pause(run, lane);
          else resume(run, lane);
        }
      return;
    default: {
      const lane = run.lanes.find((candidate) => candidate.athleteId === event.athleteId);
      if (lane !== undefined) takeForLane(run, lane, event);
    }
  }
}

function takeForLane(
  run: Draft,
  lane: DraftLane,
  event: Exclude<PlanRunEvent, { type: 'away' | 'time' | 'pause' | 'resume' | 'end' }>,
): void {
  if (event.type === 'holdEnded' || event.type === 'holdRevised') {
    if (event.type === 'holdEnded') lane.floorSpo2Percent = event.floorSpo2Percent ?? lane.floorSpo2Percent;
    takeBoundary(run, lane, event);
    return;
  }
  if (event.type === 'comfort') {
    const recordIndex = lane.records.findLastIndex((record) => record.endedAtMs !== null);
    if (recordIndex >= 0) patchRecord(lane, recordIndex, { comfort: event.comfort });
    return;
  }
  if (lane.phase === 'ended') return;
  switch (event.type) {
    case 'holdStarted':
      holdStarted(run, lane, event.holdId, Math.min(event.startedAtMs, run.nowMs), event.source);
      return;
    case 'holdWithdrawn':
      holdWithdrawn(run, lane, event.holdId);
      return;
    case 'lap':
      lap(run, lane);
      return;
    case 'alarms':
      alarmsChanged(run, lane, event.present);
      return;
    case 'vitals':
      lane.saturationBack = event.saturationBack;
      lane.heartRateBack = event.heartRateBack;
      return;
    case 'notReady':
      lane.notReady = true;
      if (lane.phase === 'waiting' && lane.plannedStartAtMs !== null && lane.pausedAtMs === null)
        waitIfNotReady(run, lane);
      else if (lane.phase === 'open') closeOpenStep(run, lane, 'notReady');
      return;
    case 'ready':
      lane.notReady = false;
      return;
    case 'abort':
      abort(run, lane, 'a person');
      return;
    case 'continueAfterAbort':
      continueAfterAbort(run, lane);
      return;
    case 'skip':
      if (lane.phase === 'open') closeOpenStep(run, lane, 'skipped');
      else leaveOut(run, lane, 'skipped');
      return;
    case 'add':
      addStep(run, lane, event.ceilingMs, event.recoveryMs);
      return;
    case 'change':
      changeLane(run, lane, event.change);
      return;
  }
}

function alarmsChanged(run: Draft, lane: DraftLane, present: readonly AlarmKind[]): void {
  const fresh = present.filter((kind) => !lane.presentAlarms.includes(kind));
  lane.presentAlarms = [...present];
  const watched =
    lane.current !== null ||
    (lane.lastEndAtMs !== null && run.nowMs <= lane.lastEndAtMs + planRunRules.watchMs);
  const aborting = fresh.filter((kind) => abortingAlarms.includes(kind));
  if (watched && aborting.length > 0) {
    abort(run, lane, aborting.join(', '));
    return;
  }
  if (lane.current !== null && fresh.some((kind) => breatheAlarms.includes(kind))) {
    lane.current = { ...lane.current, nearCued: true };
    say(run, lane, 'breathe');
  }
}

function continueAfterAbort(run: Draft, lane: DraftLane): void {
  if (lane.phase !== 'stopped') return;
  lane.abortedAtMs = null;
  lane.waitingSinceMs = null;
  lane.waitedFor = [];
  if (run.plan.kind === 'freeSession') {
    lane.phase = 'free';
    return;
  }
  if (lane.nextIndex >= lane.steps.length) {
    windDown(run, lane);
    return;
  }
  const atMs = run.nowMs + planRunRules.watchMs;
  planStart(run, lane, atMs, atMs);
  say(run, lane, 'replanned');
}

function pause(run: Draft, lane: DraftLane): void {
  if (lane.pausedAtMs !== null) return;
  lane.pausedAtMs = run.nowMs;
  say(run, lane, 'paused');
}

/** Everything still to come is later by the length of the pause. */
function resume(run: Draft, lane: DraftLane): void {
  if (lane.pausedAtMs === null) return;
  const pausedMs = run.nowMs - lane.pausedAtMs;
  lane.pausedAtMs = null;
  say(run, lane, 'resumed');
  if (lane.waitingSinceMs !== null) lane.waitingSinceMs += pausedMs;
  if (lane.phase === 'waiting' && lane.plannedStartAtMs !== null)
    planStart(run, lane, lane.plannedStartAtMs + pausedMs, lane.nominalStartAtMs);
}

function addStep(run: Draft, lane: DraftLane, ceilingMs: number | null, recoveryMs: number): void {
  if (run.plan.kind === 'freeSession' || lane.steps.length >= planRunRules.mostSteps) return;
  const added = lane.steps.length - planSteps(run.plan).length + 1;
  lane.steps = [
    ...lane.steps,
    {
      effort: 'hold',
      label: `Added ${added}`,
      purpose: 'ordinary',
      ceilingMs,
      ceilingSteps: null,
      stillMs: 0,
      lapsToEnd: null,
      distanceMeters: null,
      poolLengthMeters: null,
      lungs: null,
      next: { by: 'recovery', recoveryMs },
    },
  ];
  if (lane.phase !== 'watching') return;
  const record = lane.records.findLast((candidate) => candidate.endedAtMs !== null);
  if (record !== undefined) planAfterEffort(run, lane, record);
}

function changeLane(
  run: Draft,
  lane: DraftLane,
  change: Extract<PlanRunEvent, { type: 'change' }>['change'],
): void {
  const shift = (byMs: number) => {
    if (lane.phase === 'waiting' && lane.plannedStartAtMs !== null)
      planStart(run, lane, lane.plannedStartAtMs + byMs, lane.nominalStartAtMs);
  };
  switch (change.change) {
    case 'ceiling':
      lane.ceilingMs = change.ceilingMs;
      return;
    case 'moreRecovery':
      lane.extraRecoveryMs = Math.min(1_800_000, lane.extraRecoveryMs + change.extraMs);
      shift(change.extraMs);
      return;
    case 'interval': {
      const next = lane.steps[lane.nextIndex]?.next;
      const beforeMs = lane.everyMs ?? (next?.by === 'every' ? next.everyMs : null);
      lane.everyMs = change.everyMs;
      if (beforeMs !== null && next?.by === 'every' && lane.records.length > 0)
        shift(change.everyMs - beforeMs);
    }
  }
}

/** After an absence: waits begin anew, and people are told. */
export function comeBack(run: Draft): void {
  for (const lane of run.lanes) {
    if (lane.phase === 'ended') continue;
    if (lane.waitingSinceMs !== null) lane.waitingSinceMs = run.nowMs;
    // A start that is close gets its notice again: nobody heard the first.
    if (lane.phase === 'waiting' && lane.plannedStartAtMs !== null)
      planStart(run, lane, lane.plannedStartAtMs, lane.nominalStartAtMs);
    say(run, lane, 'back');
  }
}
