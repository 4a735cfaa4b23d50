// After a run: what was planned beside what happened, one row a start, with where each boundary came from.

import { type Said, said } from '../../shared/said.ts';
import type { AthleteRun, EffortBoundarySource, StepOutcome, WaitReason } from './plan-run-state.ts';

export interface PlannedBesideActual {
  /** Null for a hold outside the plan. */
  readonly stepIndex: number | null;
  readonly label: Said;
  readonly plannedStartAtMs: number | null;
  readonly actualStartAtMs: number | null;
  /** Actual start less planned; null where either is missing. */
  readonly startMovedMs: number | null;
  readonly ceilingMs: number | null;
  readonly actualMs: number | null;
  readonly plannedRecoveryBeforeMs: number | null;
  readonly actualRecoveryBeforeMs: number | null;
  readonly startSource: EffortBoundarySource | null;
  readonly endSource: EffortBoundarySource | null;
  readonly outcome: StepOutcome | 'notReached';
  readonly waitedFor: readonly WaitReason[];
  readonly lapsAtMs: readonly number[];
  readonly distanceMeters: number | null;
  readonly lowestSpo2Percent: number | null;
  readonly comfort: number | null;
}

/** Rows in the order things happened, then the steps that were not reached. */
export function comparePlannedWithActual(athleteRun: AthleteRun): readonly PlannedBesideActual[] {
  let extra = 0;
  const happened = athleteRun.records.map((record): PlannedBesideActual => {
    const step = record.stepIndex === null ? undefined : athleteRun.steps[record.stepIndex];
    const before =
      record.stepIndex === null || record.stepIndex === 0
        ? undefined
        : athleteRun.steps[record.stepIndex - 1];
    if (record.stepIndex === null) extra += 1;
    const { startedAtMs, endedAtMs, nominalStartAtMs } = record;
    return {
      stepIndex: record.stepIndex,
      label: step?.label ?? said('plan.step.outside', { number: extra }),
      plannedStartAtMs: nominalStartAtMs,
      actualStartAtMs: startedAtMs,
      startMovedMs: startedAtMs === null || nominalStartAtMs === null ? null : startedAtMs - nominalStartAtMs,
      ceilingMs: record.ceilingMs ?? step?.ceilingMs ?? null,
      actualMs: startedAtMs === null || endedAtMs === null ? null : endedAtMs - startedAtMs,
      plannedRecoveryBeforeMs: before?.next.by === 'recovery' ? before.next.recoveryMs : null,
      actualRecoveryBeforeMs: record.recoveryBeforeMs,
      startSource: record.startSource,
      endSource: record.endSource,
      outcome: record.outcome,
      waitedFor: record.waitedFor,
      lapsAtMs: record.lapsAtMs,
      distanceMeters:
        step === undefined || step.poolLengthMeters === null
          ? null
          : record.lapsAtMs.length * step.poolLengthMeters,
      lowestSpo2Percent: record.lowestSpo2Percent,
      comfort: record.comfort,
    };
  });
  const notReached = athleteRun.steps.slice(athleteRun.nextIndex).map(
    (step, index): PlannedBesideActual => ({
      stepIndex: athleteRun.nextIndex + index,
      label: step.label,
      plannedStartAtMs: null,
      actualStartAtMs: null,
      startMovedMs: null,
      ceilingMs: step.ceilingMs,
      actualMs: null,
      plannedRecoveryBeforeMs: null,
      actualRecoveryBeforeMs: null,
      startSource: null,
      endSource: null,
      outcome: 'notReached',
      waitedFor: [],
      lapsAtMs: [],
      distanceMeters: null,
      lowestSpo2Percent: null,
      comfort: null,
    }),
  );
  return [...happened, ...notReached];
}
