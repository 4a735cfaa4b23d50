// What each event that is not time does to a run.

import type { PlanRunEvent } from '../../shared/plan-run.ts';
import { said } from '../../shared/said.ts';
import type { AlarmKind } from '../../shared/schema-parts.ts';
import { planSteps } from './plan-steps.ts';
import { type Draft, type DraftAthleteRun, patchRecord, planRunRules, say } from './run-draft.ts';
import { abort, holdStarted, holdWithdrawn, lap, takeBoundary } from './run-efforts.ts';
import {
  abortingAlarms,
  closeOpenStep,
  endAthleteRun,
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
      for (const athleteRun of run.athleteRuns)
        if (
          (event.athleteId === null || event.athleteId === athleteRun.athleteId) &&
          athleteRun.phase !== 'ended'
        ) {
          if (event.type === 'end') endAthleteRun(run, athleteRun, 'endedByPerson');
          else if (event.type === 'pause') pause(run, athleteRun);
          else resume(run, athleteRun);
        }
      return;
    default: {
      const athleteRun = run.athleteRuns.find((candidate) => candidate.athleteId === event.athleteId);
      if (athleteRun !== undefined) takeForAthleteRun(run, athleteRun, event);
    }
  }
}

function takeForAthleteRun(
  run: Draft,
  athleteRun: DraftAthleteRun,
  event: Exclude<PlanRunEvent, { type: 'away' | 'time' | 'pause' | 'resume' | 'end' }>,
): void {
  if (event.type === 'holdEnded' || event.type === 'holdRevised') {
    if (event.type === 'holdEnded')
      athleteRun.floorSpo2Percent = event.floorSpo2Percent ?? athleteRun.floorSpo2Percent;
    takeBoundary(run, athleteRun, event);
    return;
  }
  if (event.type === 'comfort') {
    const recordIndex = athleteRun.records.findLastIndex((record) => record.endedAtMs !== null);
    if (recordIndex >= 0) patchRecord(athleteRun, recordIndex, { comfort: event.comfort });
    return;
  }
  if (athleteRun.phase === 'ended') return;
  switch (event.type) {
    case 'holdStarted':
      holdStarted(run, athleteRun, event.holdId, Math.min(event.startedAtMs, run.nowMs), event.source);
      return;
    case 'holdWithdrawn':
      holdWithdrawn(run, athleteRun, event.holdId);
      return;
    case 'lap':
      lap(run, athleteRun);
      return;
    case 'alarms':
      alarmsChanged(run, athleteRun, event.present);
      return;
    case 'vitals':
      athleteRun.saturationBack = event.saturationBack;
      athleteRun.heartRateBack = event.heartRateBack;
      return;
    case 'notReady':
      athleteRun.notReady = true;
      if (
        athleteRun.phase === 'waiting' &&
        athleteRun.plannedStartAtMs !== null &&
        athleteRun.pausedAtMs === null
      )
        waitIfNotReady(run, athleteRun);
      else if (athleteRun.phase === 'open') closeOpenStep(run, athleteRun, 'notReady');
      return;
    case 'ready':
      athleteRun.notReady = false;
      return;
    case 'abort':
      abort(run, athleteRun, 'a person');
      return;
    case 'continueAfterAbort':
      continueAfterAbort(run, athleteRun);
      return;
    case 'skip':
      if (athleteRun.phase === 'open') closeOpenStep(run, athleteRun, 'skipped');
      else leaveOut(run, athleteRun, 'skipped');
      return;
    case 'add':
      addStep(run, athleteRun, event.ceilingMs, event.recoveryMs);
      return;
    case 'change':
      changeAthleteRun(run, athleteRun, event.change);
      return;
  }
}

function alarmsChanged(run: Draft, athleteRun: DraftAthleteRun, present: readonly AlarmKind[]): void {
  const fresh = present.filter((kind) => !athleteRun.presentAlarms.includes(kind));
  athleteRun.presentAlarms = [...present];
  const watched =
    athleteRun.current !== null ||
    (athleteRun.lastEndAtMs !== null && run.nowMs <= athleteRun.lastEndAtMs + planRunRules.watchMs);
  const aborting = fresh.filter((kind) => abortingAlarms.includes(kind));
  if (watched && aborting.length > 0) {
    abort(run, athleteRun, aborting.join(', '));
    return;
  }
  if (athleteRun.current !== null && fresh.some((kind) => breatheAlarms.includes(kind))) {
    athleteRun.current = { ...athleteRun.current, nearCued: true };
    say(run, athleteRun, 'breathe');
  }
}

function continueAfterAbort(run: Draft, athleteRun: DraftAthleteRun): void {
  if (athleteRun.phase !== 'stopped') return;
  athleteRun.abortedAtMs = null;
  athleteRun.waitingSinceMs = null;
  athleteRun.waitedFor = [];
  if (run.plan.kind === 'freeSession') {
    athleteRun.phase = 'free';
    return;
  }
  if (athleteRun.nextIndex >= athleteRun.steps.length) {
    windDown(run, athleteRun);
    return;
  }
  const atMs = run.nowMs + planRunRules.watchMs;
  planStart(run, athleteRun, atMs, atMs);
  say(run, athleteRun, 'replanned');
}

function pause(run: Draft, athleteRun: DraftAthleteRun): void {
  if (athleteRun.pausedAtMs !== null) return;
  athleteRun.pausedAtMs = run.nowMs;
  say(run, athleteRun, 'paused');
}

/** Everything still to come is later by the length of the pause. */
function resume(run: Draft, athleteRun: DraftAthleteRun): void {
  if (athleteRun.pausedAtMs === null) return;
  const pausedMs = run.nowMs - athleteRun.pausedAtMs;
  athleteRun.pausedAtMs = null;
  say(run, athleteRun, 'resumed');
  if (athleteRun.waitingSinceMs !== null) athleteRun.waitingSinceMs += pausedMs;
  if (athleteRun.phase === 'waiting' && athleteRun.plannedStartAtMs !== null)
    planStart(run, athleteRun, athleteRun.plannedStartAtMs + pausedMs, athleteRun.nominalStartAtMs);
}

function addStep(
  run: Draft,
  athleteRun: DraftAthleteRun,
  ceilingMs: number | null,
  recoveryMs: number,
): void {
  if (run.plan.kind === 'freeSession' || athleteRun.steps.length >= planRunRules.mostSteps) return;
  const added = athleteRun.steps.length - planSteps(run.plan).length + 1;
  athleteRun.steps = [
    ...athleteRun.steps,
    {
      effort: 'hold',
      label: said('plan.step.added', { number: added }),
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
  if (athleteRun.phase !== 'watching') return;
  const record = athleteRun.records.findLast((candidate) => candidate.endedAtMs !== null);
  if (record !== undefined) planAfterEffort(run, athleteRun, record);
}

function changeAthleteRun(
  run: Draft,
  athleteRun: DraftAthleteRun,
  change: Extract<PlanRunEvent, { type: 'change' }>['change'],
): void {
  const shift = (byMs: number) => {
    if (athleteRun.phase === 'waiting' && athleteRun.plannedStartAtMs !== null)
      planStart(run, athleteRun, athleteRun.plannedStartAtMs + byMs, athleteRun.nominalStartAtMs);
  };
  switch (change.change) {
    case 'ceiling':
      athleteRun.ceilingMs = change.ceilingMs;
      return;
    case 'moreRecovery':
      athleteRun.extraRecoveryMs = Math.min(1_800_000, athleteRun.extraRecoveryMs + change.extraMs);
      shift(change.extraMs);
      return;
    case 'interval': {
      const next = athleteRun.steps[athleteRun.nextIndex]?.next;
      const beforeMs = athleteRun.everyMs ?? (next?.by === 'every' ? next.everyMs : null);
      athleteRun.everyMs = change.everyMs;
      if (beforeMs !== null && next?.by === 'every' && athleteRun.records.length > 0)
        shift(change.everyMs - beforeMs);
    }
  }
}

/** After an absence: waits begin anew, and people are told. */
export function comeBack(run: Draft): void {
  for (const athleteRun of run.athleteRuns) {
    if (athleteRun.phase === 'ended') continue;
    if (athleteRun.waitingSinceMs !== null) athleteRun.waitingSinceMs = run.nowMs;
    // A start that is close gets its notice again: nobody heard the first.
    if (athleteRun.phase === 'waiting' && athleteRun.plannedStartAtMs !== null)
      planStart(run, athleteRun, athleteRun.plannedStartAtMs, athleteRun.nominalStartAtMs);
    say(run, athleteRun, 'back');
  }
}
