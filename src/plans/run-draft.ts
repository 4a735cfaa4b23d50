// What the parts of the plan runner share: its own times, the draft of a run while one event is taken in, cues.

import type { Plan } from '../../shared/plan.ts';
import type { PlanRunOptions } from '../../shared/plan-run.ts';
import { monotonicMs } from '../../shared/units.ts';
import type { Cue, CueKind } from './cue.ts';
import { minimumRecoveryMs, minimumRecoveryOf } from './minimum-recovery.ts';
import type { AthleteRun, CurrentEffort, StepRecord } from './plan-run-state.ts';
import type { PlanStep } from './plan-steps.ts';

/** The runner's own times. Design choices where no source stands beside them. */
export const planRunRules = {
  /** Cues before a start. The first that is due; those that a late change makes impossible are left out. */
  cuesBeforeStartMs: [60_000, 10_000, 3_000, 2_000, 1_000],
  /** Readiness is looked at when the countdown begins, and again at the start. */
  countdownMs: 10_000,
  /** Shortest notice of a start that was moved. */
  noticeMs: 20_000,
  /** After this long a start that waits is left out. */
  waitLimitMs: 300_000,
  /** After its cue a start stays open this long; longer than a detector needs to see a hold begin. */
  openLimitMs: 90_000,
  /** A hold begun this early still belongs to the coming start. */
  earlyMs: 30_000,
  /** Watching after an effort: at least 30 s, better 60 s (Alert Diver, Spring 2016). */
  watchMs: 60_000,
  /** With no choice after an abort the run ends. */
  choiceLimitMs: 600_000,
  pauseLimitMs: 3_600_000,
  /** An effort whose end nobody has seen closes the run: as long as the longest hold that can be set. */
  openEffortLimitMs: 900_000,
  /** Someone should look when an effort outlasts its ceiling by this, and again at each interval. */
  checkAfterMs: 15_000,
  checkEveryMs: 30_000,
  /** The same for a hold without a ceiling. */
  checkWithoutCeilingMs: 600_000,
  ceilingNearMs: 10_000,
  /** Shorter ceilings get no notice of their nearness. */
  leastCeilingForNearMs: 30_000,
  mostSteps: 64,
} as const;

export type DraftAthleteRun = { -readonly [Key in keyof AthleteRun]: AthleteRun[Key] };

export interface Draft {
  readonly plan: Plan;
  readonly options: PlanRunOptions;
  readonly startAtMs: number;
  nowMs: number;
  /** True while time passes in which the hub was away. */
  away: boolean;
  readonly athleteRuns: DraftAthleteRun[];
  readonly cues: Cue[];
}

export const stepOfCurrent = (athleteRun: DraftAthleteRun): PlanStep | undefined => {
  if (athleteRun.current === null) return undefined;
  const index = athleteRun.records[athleteRun.current.recordIndex]?.stepIndex;
  return index === null || index === undefined ? undefined : athleteRun.steps[index];
};

export function patchRecord(
  athleteRun: DraftAthleteRun,
  recordIndex: number,
  change: Partial<StepRecord>,
): void {
  athleteRun.records = athleteRun.records.map((record, index) =>
    index === recordIndex ? { ...record, ...change } : record,
  );
}

export const minimumAfterLast = (run: Draft, athleteRun: DraftAthleteRun): number =>
  minimumRecoveryMs(minimumRecoveryOf(run.plan), athleteRun.lastEffortMs);

export const earliestStartMs = (run: Draft, athleteRun: DraftAthleteRun): number =>
  athleteRun.lastEndAtMs === null ? 0 : athleteRun.lastEndAtMs + minimumAfterLast(run, athleteRun);

export const everyMsOf = (athleteRun: DraftAthleteRun, plannedEveryMs: number): number =>
  athleteRun.everyMs ?? plannedEveryMs;

/** True where the plan's clock may take an effort as ended: never for a breath-hold that somebody saw begin. */
export function endsByClock(run: Draft, athleteRun: DraftAthleteRun, current: CurrentEffort): boolean {
  const step = stepOfCurrent(athleteRun);
  if (step?.effort === 'swim') return true;
  return step?.effort !== 'oneBreathSwim' && current.startSource === 'assumed' && run.options.assumeFromCues;
}

export function say(
  run: Draft,
  athleteRun: DraftAthleteRun,
  kind: CueKind,
  more: { readonly secondsLeft?: number; readonly reason?: string } = {},
): void {
  if (run.away) return;
  run.cues.push({ atMs: monotonicMs(run.nowMs), athleteId: athleteRun.athleteId, kind, ...more });
}
