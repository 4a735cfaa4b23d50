// Efforts of a lane: begun, ended, called off, revised or taken back, whoever or whatever said so.

import type { PlanRunEvent } from '../../shared/plan-run.ts';
import type { EffortBoundarySource, StepRecord } from './plan-run-state.ts';
import { latestUnmovedEndMs, type PlanStep } from './plan-steps.ts';
import {
  type Draft,
  type DraftLane,
  earliestStartMs,
  endsByClock,
  patchRecord,
  planRunRules,
  say,
  stepOfCurrent,
} from './run-draft.ts';
import { newRecord, openStep, planAfterEffort, planStart } from './run-starts.ts';

function ceilingOf(run: Draft, lane: DraftLane, step: PlanStep | undefined): number | null {
  const planned =
    step === undefined
      ? run.plan.kind === 'freeSession' && run.plan.ceilingSeconds !== null
        ? run.plan.ceilingSeconds * 1_000
        : null
      : // Where nobody marks an end, an interval's hold is taken to end when its minimum recovery must begin.
        run.options.assumeFromCues && step.effort === 'hold'
        ? latestUnmovedEndMs(run.plan, withEvery(lane, step))
        : step.ceilingMs;
  if (lane.ceilingMs === null || step?.effort === 'swim') return planned;
  return planned === null ? lane.ceilingMs : Math.min(planned, lane.ceilingMs);
}

const withEvery = (lane: DraftLane, step: PlanStep): PlanStep =>
  step.next.by === 'every' && lane.everyMs !== null
    ? { ...step, next: { by: 'every', everyMs: lane.everyMs } }
    : step;

export function beginEffort(
  run: Draft,
  lane: DraftLane,
  recordIndex: number,
  startedAtMs: number,
  startSource: EffortBoundarySource,
  holdId: string | null,
): void {
  const record = lane.records[recordIndex];
  const step = record === undefined || record.stepIndex === null ? undefined : lane.steps[record.stepIndex];
  const ceilingMs = ceilingOf(run, lane, step);
  patchRecord(lane, recordIndex, {
    holdIds: holdId === null ? [] : [holdId],
    startedAtMs,
    startSource,
    ceilingMs,
    recoveryBeforeMs: lane.lastEndAtMs === null ? null : Math.max(0, startedAtMs - lane.lastEndAtMs),
    outcome: 'pending',
  });
  lane.current = {
    recordIndex,
    startedAtMs,
    startSource,
    ceilingMs,
    nearCued: false,
    breatheCued: false,
    lastCheckAtMs: null,
  };
  lane.openedAtMs = null;
  lane.phase = 'holding';
}

export function endEffort(
  run: Draft,
  lane: DraftLane,
  endedAtMs: number,
  endSource: EffortBoundarySource,
  lowestSpo2Percent: number | null,
): void {
  const current = lane.current;
  if (current === null) return;
  const endMs = Math.min(run.nowMs, Math.max(endedAtMs, current.startedAtMs));
  const aborted = lane.records[current.recordIndex]?.outcome === 'aborted';
  const effort = stepOfCurrent(lane)?.effort ?? 'hold';
  patchRecord(lane, current.recordIndex, {
    endedAtMs: endMs,
    endSource,
    lowestSpo2Percent,
    outcome: aborted ? 'aborted' : 'done',
  });
  lane.current = null;
  lane.lastEndAtMs = Math.max(lane.lastEndAtMs ?? 0, endMs);
  lane.lastEffortMs = endMs - current.startedAtMs;
  lane.minimumOverCued = false;
  const more = run.plan.kind === 'freeSession' || lane.nextIndex < lane.steps.length;
  if (lane.abortedAtMs === null) say(run, lane, more ? (effort === 'swim' ? 'rest' : 'recover') : 'lastDone');
  afterEffort(run, lane, current.recordIndex);
}

function afterEffort(run: Draft, lane: DraftLane, recordIndex: number): void {
  const record = lane.records[recordIndex];
  if (lane.abortedAtMs !== null) {
    lane.phase = 'stopped';
    lane.plannedStartAtMs = null;
  } else if (run.plan.kind === 'freeSession') lane.phase = 'free';
  else if (record !== undefined) planAfterEffort(run, lane, record);
}

/** A hold was called off, by an alarm or a person. */
export function abort(run: Draft, lane: DraftLane, reason: string): void {
  if (lane.abortedAtMs !== null || lane.phase === 'ended') return;
  const recordIndex = lane.current?.recordIndex ?? lane.records.length - 1;
  lane.abortedAtMs = run.nowMs;
  const record = lane.records[recordIndex];
  const recent =
    lane.current !== null ||
    lane.phase === 'open' ||
    (lane.lastEndAtMs !== null && run.nowMs <= lane.lastEndAtMs + planRunRules.watchMs);
  if (record !== undefined && recent) patchRecord(lane, recordIndex, { outcome: 'aborted' });
  say(run, lane, 'aborted', { reason });
  if (lane.current !== null) {
    lane.current = { ...lane.current, nearCued: true, breatheCued: true };
    if (endsByClock(run, lane, lane.current)) endEffort(run, lane, run.nowMs, 'assumed', null);
    return;
  }
  lane.phase = 'stopped';
  lane.plannedStartAtMs = null;
  lane.openedAtMs = null;
}

export function holdStarted(
  run: Draft,
  lane: DraftLane,
  holdId: string,
  startedAtMs: number,
  source: EffortBoundarySource,
): void {
  if (
    lane.records.some(
      (record, index) => index !== lane.current?.recordIndex && record.holdIds.includes(holdId),
    )
  )
    return;
  const begunAtMs = Math.max(startedAtMs, lane.lastEndAtMs ?? 0);
  if (lane.current !== null) {
    const record = lane.records[lane.current.recordIndex];
    const replaces = lane.current.startSource === 'assumed' || lane.current.startSource === 'clock';
    const bestAtMs = replaces ? begunAtMs : Math.min(begunAtMs, lane.current.startedAtMs);
    lane.current = {
      ...lane.current,
      startedAtMs: bestAtMs,
      startSource: replaces ? source : lane.current.startSource,
    };
    patchRecord(lane, lane.current.recordIndex, {
      holdIds: [...new Set([...(record?.holdIds ?? []), holdId])],
      startedAtMs: bestAtMs,
      startSource: lane.current.startSource,
    });
    return;
  }
  const lastIndex = lane.records.length - 1;
  const last = lane.records[lastIndex];
  if (lane.phase === 'open') {
    beginEffort(run, lane, lastIndex, begunAtMs, source, holdId);
    return;
  }
  if (
    last?.outcome === 'notStarted' &&
    last.cuedAtMs !== null &&
    begunAtMs >= last.cuedAtMs - planRunRules.earlyMs &&
    begunAtMs <= last.cuedAtMs + planRunRules.openLimitMs
  ) {
    beginEffort(run, lane, lastIndex, begunAtMs, source, holdId);
    return;
  }
  // A start that waits and is begun all the same is still that start.
  const belongs =
    lane.plannedStartAtMs === null
      ? lane.waitingSinceMs !== null
      : begunAtMs >= lane.plannedStartAtMs - planRunRules.earlyMs;
  if (lane.phase === 'waiting' && lane.nextIndex < lane.steps.length && belongs) {
    openStep(lane, null);
    beginEffort(run, lane, lane.records.length - 1, begunAtMs, source, holdId);
    return;
  }
  lane.records = [...lane.records, newRecord(lane, null)];
  beginEffort(run, lane, lane.records.length - 1, begunAtMs, source, holdId);
}

export function takeBoundary(
  run: Draft,
  lane: DraftLane,
  event: Extract<PlanRunEvent, { type: 'holdEnded' | 'holdRevised' }>,
): void {
  const current = lane.current;
  const knownIndex = lane.records.findIndex(
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
      endEffort(run, lane, event.endedAtMs, event.source, event.lowestSpo2Percent);
      return;
    }
    const startedAtMs = Math.max(Math.min(event.startedAtMs, run.nowMs), lane.lastEndAtMs ?? 0);
    lane.current = { ...current, startedAtMs };
    patchRecord(lane, current.recordIndex, { startedAtMs });
    if (event.endedAtMs !== null) endEffort(run, lane, event.endedAtMs, 'corrected', null);
    return;
  }
  const record = lane.records[knownIndex];
  if (record === undefined || record.startedAtMs === null || event.endedAtMs === null) return;
  reviseRecord(run, lane, knownIndex, record, event);
}

/** A boundary of an effort that is already over: kept in its record; a later end can only move the next start later. */
function reviseRecord(
  run: Draft,
  lane: DraftLane,
  recordIndex: number,
  record: StepRecord,
  event: Extract<PlanRunEvent, { type: 'holdEnded' | 'holdRevised' }>,
): void {
  const startedAtMs =
    event.type === 'holdRevised' ? Math.min(event.startedAtMs, run.nowMs) : (record.startedAtMs ?? run.nowMs);
  const endedAtMs = Math.max(startedAtMs, Math.min(event.endedAtMs ?? run.nowMs, run.nowMs));
  patchRecord(lane, recordIndex, {
    startedAtMs,
    endedAtMs,
    endSource: event.type === 'holdEnded' ? event.source : 'corrected',
    outcome: record.outcome === 'pending' ? 'done' : record.outcome,
    ...(event.type === 'holdEnded' ? { lowestSpo2Percent: event.lowestSpo2Percent } : {}),
  });
  if (lane.lastEndAtMs === null || endedAtMs <= lane.lastEndAtMs) return;
  lane.lastEndAtMs = endedAtMs;
  lane.lastEffortMs = Math.max(lane.lastEffortMs, endedAtMs - startedAtMs);
  if (lane.phase === 'waiting' && lane.plannedStartAtMs !== null) {
    const earliest = earliestStartMs(run, lane);
    if (lane.plannedStartAtMs < earliest) planStart(run, lane, earliest, lane.nominalStartAtMs);
  }
}

export function holdWithdrawn(run: Draft, lane: DraftLane, holdId: string): void {
  const recordIndex = lane.records.findIndex((record) => record.holdIds.includes(holdId));
  const record = lane.records[recordIndex];
  if (record === undefined) return;
  if (lane.current?.recordIndex !== recordIndex) {
    if (record.endedAtMs !== null) patchRecord(lane, recordIndex, { outcome: 'withdrawn' });
    return;
  }
  lane.current = null;
  patchRecord(lane, recordIndex, { outcome: 'withdrawn', endedAtMs: null });
  if (lane.abortedAtMs !== null) lane.phase = 'stopped';
  else if (run.plan.kind === 'freeSession') lane.phase = 'free';
  else planAfterEffort(run, lane, { ...record, endedAtMs: run.nowMs });
}

/** A lap button. Ends a repetition at its last lap; otherwise only counts. */
export function lap(run: Draft, lane: DraftLane): void {
  const step = stepOfCurrent(lane);
  if (lane.current === null || step === undefined || step.poolLengthMeters === null) return;
  const recordIndex = lane.current.recordIndex;
  const lapsAtMs = [...(lane.records[recordIndex]?.lapsAtMs ?? []), run.nowMs];
  patchRecord(lane, recordIndex, { lapsAtMs });
  if (step.lapsToEnd !== null && lapsAtMs.length >= step.lapsToEnd)
    endEffort(run, lane, run.nowMs, 'lap', null);
}
