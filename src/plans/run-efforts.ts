// Efforts in an athlete's run: begun, ended, called off, revised or taken back, whoever or whatever said so.

import type { PlanRunEvent } from '../../shared/plan-run.ts';
import type { EffortBoundarySource, StepRecord } from './plan-run-state.ts';
import { latestUnmovedEndMs, type PlanStep } from './plan-steps.ts';
import {
  type Draft,
  type DraftAthleteRun,
  earliestStartMs,
  endsByClock,
  patchRecord,
  planRunRules,
  say,
  stepOfCurrent,
} from './run-draft.ts';
import { newRecord, openStep, planAfterEffort, planStart } from './run-starts.ts';

function ceilingOf(run: Draft, athleteRun: DraftAthleteRun, step: PlanStep | undefined): number | null {
  const planned =
    step === undefined
      ? run.plan.kind === 'freeSession' && run.plan.ceilingSeconds !== null
        ? run.plan.ceilingSeconds * 1_000
        : null
      : // Where nobody marks an end, an interval's hold is taken to end when its minimum recovery must begin.
        run.options.assumeFromCues && step.effort === 'hold'
        ? latestUnmovedEndMs(run.plan, withEvery(athleteRun, step))
        : step.ceilingMs;
  if (athleteRun.ceilingMs === null || step?.effort === 'swim') return planned;
  return planned === null ? athleteRun.ceilingMs : Math.min(planned, athleteRun.ceilingMs);
}

const withEvery = (athleteRun: DraftAthleteRun, step: PlanStep): PlanStep =>
  step.next.by === 'every' && athleteRun.everyMs !== null
    ? { ...step, next: { by: 'every', everyMs: athleteRun.everyMs } }
    : step;

export function beginEffort(
  run: Draft,
  athleteRun: DraftAthleteRun,
  recordIndex: number,
  startedAtMs: number,
  startSource: EffortBoundarySource,
  holdId: string | null,
): void {
  const record = athleteRun.records[recordIndex];
  const step =
    record === undefined || record.stepIndex === null ? undefined : athleteRun.steps[record.stepIndex];
  const ceilingMs = ceilingOf(run, athleteRun, step);
  patchRecord(athleteRun, recordIndex, {
    holdIds: holdId === null ? [] : [holdId],
    startedAtMs,
    startSource,
    ceilingMs,
    recoveryBeforeMs:
      athleteRun.lastEndAtMs === null ? null : Math.max(0, startedAtMs - athleteRun.lastEndAtMs),
    outcome: 'pending',
  });
  athleteRun.current = {
    recordIndex,
    startedAtMs,
    startSource,
    ceilingMs,
    nearCued: false,
    breatheCued: false,
    lastCheckAtMs: null,
  };
  athleteRun.openedAtMs = null;
  athleteRun.phase = 'holding';
}

export function endEffort(
  run: Draft,
  athleteRun: DraftAthleteRun,
  endedAtMs: number,
  endSource: EffortBoundarySource,
  lowestSpo2Percent: number | null,
): void {
  const current = athleteRun.current;
  if (current === null) return;
  const endMs = Math.min(run.nowMs, Math.max(endedAtMs, current.startedAtMs));
  const aborted = athleteRun.records[current.recordIndex]?.outcome === 'aborted';
  const effort = stepOfCurrent(athleteRun)?.effort ?? 'hold';
  patchRecord(athleteRun, current.recordIndex, {
    endedAtMs: endMs,
    endSource,
    lowestSpo2Percent,
    outcome: aborted ? 'aborted' : 'done',
  });
  athleteRun.current = null;
  athleteRun.lastEndAtMs = Math.max(athleteRun.lastEndAtMs ?? 0, endMs);
  athleteRun.lastEffortMs = endMs - current.startedAtMs;
  athleteRun.minimumOverCued = false;
  const more = run.plan.kind === 'freeSession' || athleteRun.nextIndex < athleteRun.steps.length;
  if (athleteRun.abortedAtMs === null)
    say(run, athleteRun, more ? (effort === 'swim' ? 'rest' : 'recover') : 'lastDone');
  afterEffort(run, athleteRun, current.recordIndex);
}

function afterEffort(run: Draft, athleteRun: DraftAthleteRun, recordIndex: number): void {
  const record = athleteRun.records[recordIndex];
  if (athleteRun.abortedAtMs !== null) {
    athleteRun.phase = 'stopped';
    athleteRun.plannedStartAtMs = null;
  } else if (run.plan.kind === 'freeSession') athleteRun.phase = 'free';
  else if (record !== undefined) planAfterEffort(run, athleteRun, record);
}

/** A hold was called off, by an alarm or a person. */
export function abort(run: Draft, athleteRun: DraftAthleteRun, reason: string): void {
  if (athleteRun.abortedAtMs !== null || athleteRun.phase === 'ended') return;
  const recordIndex = athleteRun.current?.recordIndex ?? athleteRun.records.length - 1;
  athleteRun.abortedAtMs = run.nowMs;
  const record = athleteRun.records[recordIndex];
  const recent =
    athleteRun.current !== null ||
    athleteRun.phase === 'open' ||
    (athleteRun.lastEndAtMs !== null && run.nowMs <= athleteRun.lastEndAtMs + planRunRules.watchMs);
  if (record !== undefined && recent) patchRecord(athleteRun, recordIndex, { outcome: 'aborted' });
  say(run, athleteRun, 'aborted', { reason });
  if (athleteRun.current !== null) {
    athleteRun.current = { ...athleteRun.current, nearCued: true, breatheCued: true };
    if (endsByClock(run, athleteRun, athleteRun.current))
      endEffort(run, athleteRun, run.nowMs, 'assumed', null);
    return;
  }
  athleteRun.phase = 'stopped';
  athleteRun.plannedStartAtMs = null;
  athleteRun.openedAtMs = null;
}

export function holdStarted(
  run: Draft,
  athleteRun: DraftAthleteRun,
  holdId: string,
  startedAtMs: number,
  source: EffortBoundarySource,
): void {
  if (
    athleteRun.records.some(
      (record, index) => index !== athleteRun.current?.recordIndex && record.holdIds.includes(holdId),
    )
  )
    return;
  const begunAtMs = Math.max(startedAtMs, athleteRun.lastEndAtMs ?? 0);
  if (athleteRun.current !== null) {
    const record = athleteRun.records[athleteRun.current.recordIndex];
    const replaces =
      athleteRun.current.startSource === 'assumed' || athleteRun.current.startSource === 'clock';
    const bestAtMs = replaces ? begunAtMs : Math.min(begunAtMs, athleteRun.current.startedAtMs);
    athleteRun.current = {
      ...athleteRun.current,
      startedAtMs: bestAtMs,
      startSource: replaces ? source : athleteRun.current.startSource,
    };
    patchRecord(athleteRun, athleteRun.current.recordIndex, {
      holdIds: [...new Set([...(record?.holdIds ?? []), holdId])],
      startedAtMs: bestAtMs,
      startSource: athleteRun.current.startSource,
    });
    return;
  }
  const lastIndex = athleteRun.records.length - 1;
  const last = athleteRun.records[lastIndex];
  if (athleteRun.phase === 'open') {
    beginEffort(run, athleteRun, lastIndex, begunAtMs, source, holdId);
    return;
  }
  if (
    last?.outcome === 'notStarted' &&
    last.cuedAtMs !== null &&
    begunAtMs >= last.cuedAtMs - planRunRules.earlyMs &&
    begunAtMs <= last.cuedAtMs + planRunRules.openLimitMs
  ) {
    beginEffort(run, athleteRun, lastIndex, begunAtMs, source, holdId);
    return;
  }
  // A start that waits and is begun all the same is still that start.
  const belongs =
    athleteRun.plannedStartAtMs === null
      ? athleteRun.waitingSinceMs !== null
      : begunAtMs >= athleteRun.plannedStartAtMs - planRunRules.earlyMs;
  if (athleteRun.phase === 'waiting' && athleteRun.nextIndex < athleteRun.steps.length && belongs) {
    openStep(athleteRun, null);
    beginEffort(run, athleteRun, athleteRun.records.length - 1, begunAtMs, source, holdId);
    return;
  }
  athleteRun.records = [...athleteRun.records, newRecord(athleteRun, null)];
  beginEffort(run, athleteRun, athleteRun.records.length - 1, begunAtMs, source, holdId);
}

export function takeBoundary(
  run: Draft,
  athleteRun: DraftAthleteRun,
  event: Extract<PlanRunEvent, { type: 'holdEnded' | 'holdRevised' }>,
): void {
  const current = athleteRun.current;
  const knownIndex = athleteRun.records.findIndex(
    (record) => event.holdId !== null && record.holdIds.includes(event.holdId),
  );
  const isCurrent =
    current !== null &&
    (knownIndex === current.recordIndex ||
      (event.type === 'holdEnded' &&
        knownIndex < 0 &&
        (event.holdId === null ||
          (current.startSource === 'assumed' && event.endedAtMs >= current.startedAtMs))));
  if (isCurrent && current !== null) {
    if (event.type === 'holdEnded') {
      endEffort(run, athleteRun, event.endedAtMs, event.source, event.lowestSpo2Percent);
      return;
    }
    const startedAtMs = Math.max(Math.min(event.startedAtMs, run.nowMs), athleteRun.lastEndAtMs ?? 0);
    athleteRun.current = { ...current, startedAtMs };
    patchRecord(athleteRun, current.recordIndex, { startedAtMs });
    if (event.endedAtMs !== null) endEffort(run, athleteRun, event.endedAtMs, 'corrected', null);
    return;
  }
  const record = athleteRun.records[knownIndex];
  if (record === undefined || record.startedAtMs === null || event.endedAtMs === null) return;
  reviseRecord(run, athleteRun, knownIndex, record, event);
}

/** A boundary of an effort that is already over: kept in its record; a later end can only move the next start later. */
function reviseRecord(
  run: Draft,
  athleteRun: DraftAthleteRun,
  recordIndex: number,
  record: StepRecord,
  event: Extract<PlanRunEvent, { type: 'holdEnded' | 'holdRevised' }>,
): void {
  const startedAtMs =
    event.type === 'holdRevised' ? Math.min(event.startedAtMs, run.nowMs) : (record.startedAtMs ?? run.nowMs);
  const endedAtMs = Math.max(startedAtMs, Math.min(event.endedAtMs ?? run.nowMs, run.nowMs));
  patchRecord(athleteRun, recordIndex, {
    startedAtMs,
    endedAtMs,
    endSource: event.type === 'holdEnded' ? event.source : 'corrected',
    outcome: record.outcome === 'pending' ? 'done' : record.outcome,
    ...(event.type === 'holdEnded' ? { lowestSpo2Percent: event.lowestSpo2Percent } : {}),
  });
  if (athleteRun.lastEndAtMs === null || endedAtMs <= athleteRun.lastEndAtMs) return;
  athleteRun.lastEndAtMs = endedAtMs;
  athleteRun.lastEffortMs = Math.max(athleteRun.lastEffortMs, endedAtMs - startedAtMs);
  if (athleteRun.phase === 'waiting' && athleteRun.plannedStartAtMs !== null) {
    const earliest = earliestStartMs(run, athleteRun);
    if (athleteRun.plannedStartAtMs < earliest)
      planStart(run, athleteRun, earliest, athleteRun.nominalStartAtMs);
  }
}

export function holdWithdrawn(run: Draft, athleteRun: DraftAthleteRun, holdId: string): void {
  const recordIndex = athleteRun.records.findIndex((record) => record.holdIds.includes(holdId));
  const record = athleteRun.records[recordIndex];
  if (record === undefined) return;
  if (athleteRun.current?.recordIndex !== recordIndex) {
    if (record.endedAtMs !== null) patchRecord(athleteRun, recordIndex, { outcome: 'withdrawn' });
    return;
  }
  athleteRun.current = null;
  patchRecord(athleteRun, recordIndex, { outcome: 'withdrawn', endedAtMs: null });
  if (athleteRun.abortedAtMs !== null) athleteRun.phase = 'stopped';
  else if (run.plan.kind === 'freeSession') athleteRun.phase = 'free';
  else planAfterEffort(run, athleteRun, { ...record, endedAtMs: run.nowMs });
}

/** A lap button. Ends a repetition at its last lap; otherwise only counts. */
export function lap(run: Draft, athleteRun: DraftAthleteRun): void {
  const step = stepOfCurrent(athleteRun);
  if (athleteRun.current === null || step === undefined || step.poolLengthMeters === null) return;
  const recordIndex = athleteRun.current.recordIndex;
  const lapsAtMs = [...(athleteRun.records[recordIndex]?.lapsAtMs ?? []), run.nowMs];
  patchRecord(athleteRun, recordIndex, { lapsAtMs });
  if (step.lapsToEnd !== null && lapsAtMs.length >= step.lapsToEnd)
    endEffort(run, athleteRun, run.nowMs, 'lap', null);
}
