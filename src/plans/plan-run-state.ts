// What a run of a plan knows: one run of their own an athlete, one record a start. Plain data, rebuilt from the run's events.

import type { Plan } from '../../shared/plan.ts';
import type { PlanRunOptions } from '../../shared/plan-run.ts';
import type { AlarmKind, BoundarySource } from '../../shared/schema-parts.ts';
import type { PlanStep } from './plan-steps.ts';

/** `assumed`: taken from the plan's clock, seen by nobody. `lap`: a lap button. */
export type EffortBoundarySource = BoundarySource | 'assumed' | 'lap' | 'clock';

/** Why a start has to wait. */
export type WaitReason =
  | 'notReady'
  | 'saturation'
  | 'heartRate'
  | 'alarm'
  | 'signal'
  | 'otherAthleteHolding'
  | 'away';

export type StepOutcome =
  /** Still to come, or going on. */
  | 'pending'
  | 'done'
  /** Called off by an alarm or a person. */
  | 'aborted'
  /** A person left it out. */
  | 'skipped'
  /** The athlete, saturation, heart rate or signal was not ready in time. */
  | 'notReady'
  /** Its start came and nobody began. */
  | 'notStarted'
  /** Its start fell in a time when the hub was away. */
  | 'missed'
  /** The detector took it back. */
  | 'withdrawn';

/** Planned beside actual for one start, or for a hold outside the plan (`stepIndex` null). */
export interface StepRecord {
  readonly stepIndex: number | null;
  readonly holdIds: readonly string[];
  /** Start by the plan's clock before anything moved; null for a hold outside the plan. */
  readonly nominalStartAtMs: number | null;
  /** When the start cue was given, if it was. */
  readonly cuedAtMs: number | null;
  readonly startedAtMs: number | null;
  readonly startSource: EffortBoundarySource | null;
  readonly endedAtMs: number | null;
  readonly endSource: EffortBoundarySource | null;
  /** From the effort before to this start, where both are known. */
  readonly recoveryBeforeMs: number | null;
  readonly ceilingMs: number | null;
  readonly outcome: StepOutcome;
  readonly waitedFor: readonly WaitReason[];
  readonly lapsAtMs: readonly number[];
  readonly lowestSpo2Percent: number | null;
  readonly comfort: number | null;
}

/** Of a step of no plan, before anything is known of it. */
export const emptyRecord: StepRecord = {
  stepIndex: null,
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
  waitedFor: [],
  lapsAtMs: [],
  lowestSpo2Percent: null,
  comfort: null,
};

export type AthleteRunPhase =
  /** Before a start: at `plannedStartAtMs`, or waiting for readiness where that is null. */
  | 'waiting'
  /** The start cue was given; nobody has begun yet. */
  | 'open'
  | 'holding'
  /** After an abort: nothing starts until a person chooses to go on. */
  | 'stopped'
  /** A free session between holds. */
  | 'free'
  /** After the last effort: a minute of watching. */
  | 'watching'
  | 'ended';

export type AthleteRunEndReason =
  | 'complete'
  | 'endedByPerson'
  | 'stoppedAfterAbort'
  | 'pausedTooLong'
  | 'noEndSeen';

export interface CurrentEffort {
  readonly recordIndex: number;
  readonly startedAtMs: number;
  readonly startSource: EffortBoundarySource;
  readonly ceilingMs: number | null;
  readonly nearCued: boolean;
  readonly breatheCued: boolean;
  readonly lastCheckAtMs: number | null;
}

export interface AthleteRun {
  readonly athleteId: string;
  readonly steps: readonly PlanStep[];
  readonly records: readonly StepRecord[];
  /** Index in `steps` of the next start. */
  readonly nextIndex: number;
  readonly phase: AthleteRunPhase;
  readonly endReason: AthleteRunEndReason | null;
  readonly plannedStartAtMs: number | null;
  readonly nominalStartAtMs: number;
  /** When `plannedStartAtMs` was set: cues due before that are not made up for. */
  readonly plannedSetAtMs: number;
  /** Seconds-before-start of the cues already given for this planned start, smallest; Infinity for none. */
  readonly cuedBeforeMs: number;
  readonly waitingSinceMs: number | null;
  readonly waitedFor: readonly WaitReason[];
  readonly openedAtMs: number | null;
  readonly pausedAtMs: number | null;
  readonly current: CurrentEffort | null;
  readonly lastEndAtMs: number | null;
  readonly lastEffortMs: number;
  readonly minimumOverCued: boolean;
  readonly saturationBack: boolean | null;
  readonly heartRateBack: boolean | null;
  readonly notReady: boolean;
  readonly presentAlarms: readonly AlarmKind[];
  readonly abortedAtMs: number | null;
  /** Longer interval or recovery chosen during the run. */
  readonly everyMs: number | null;
  readonly extraRecoveryMs: number;
  /** The floor as it was when the last effort ended, where it is known. */
  readonly floorSpo2Percent: number | null;
  readonly ceilingMs: number | null;
}

export interface PlanRunState {
  readonly plan: Plan;
  readonly options: PlanRunOptions;
  readonly startAtMs: number;
  readonly nowMs: number;
  readonly athleteRuns: readonly AthleteRun[];
  /** True once every athlete's run has ended. */
  readonly ended: boolean;
}

export const athleteRunOf = (state: PlanRunState, athleteId: string): AthleteRun | undefined =>
  state.athleteRuns.find((athleteRun) => athleteRun.athleteId === athleteId);
