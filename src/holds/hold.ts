// What a hold is, and the events by which a detector speaks of it. Shared by the live detector and the later pass.

import type { BoundarySource, Phase } from '../../shared/schema-parts.ts';
import type { MonotonicMs } from '../../shared/units.ts';
import type { Mark } from '../samples/mark.ts';
import type { Sample } from '../samples/sample.ts';

export type WithdrawReason = 'tooShort' | 'markRemoved';

/** Why a boundary is where it is. */
export type BoundaryEvidence =
  | 'weakSigns'
  | 'heartRateFell'
  | 'heartRateRose'
  | 'rhythmLeft'
  | 'rhythmBack'
  | 'plethStill'
  | 'plethBreathing'
  | 'saturationTurned'
  | 'marked'
  | 'newStartMarked'
  | 'breathingMarked'
  | 'noHoldInSignals'
  | 'noEndFound'
  | 'setByHand'
  | 'movedByHand';

/** A hold's start or end: a time, how sure, from what, and when it was said. */
export interface Boundary {
  readonly atMs: MonotonicMs;
  /** Half-width of the interval that should hold the true time in 68 % of cases; 0 for a mark. */
  readonly uncertaintyMs: number;
  readonly declaredAtMs: MonotonicMs;
  readonly source: BoundarySource;
  /** Short phrases for a person: "heart rate rose 12 /min in 6 s". */
  /** `BoundaryEvidence`; phrases in recordings of before. */
  readonly evidence: readonly string[];
}

export interface Hold {
  /** Unique within an athlete's session and stable across revisions. */
  readonly holdId: string;
  readonly start: Boundary;
  readonly end?: Boundary;
  /**
   * Only of a hold under way that a person marked as begun, or that a breathing sensor showed which has gone silent: it is
   * probably over, by a clear and lasting sign of breathing.
   * It goes on for everything that protects until it has an `end`.
   */
  readonly probableEnd?: Boundary;
  /** Times of marked contractions. */
  readonly contractionsAtMs: readonly MonotonicMs[];
  /** Probability, 0 to 1, that there is a hold at all; absent where a person said so. */
  readonly confidence?: number;
  /** Found afterwards in signals that cannot carry a decision: a person accepts or dismisses it. */
  readonly proposed?: true;
}

/** Everything that protects in a hold stays in force for this long after it is called probably over. Our choice. */
export const armedAfterProbableEndMs = 60_000;

/** What a detector is fed, in time order per athlete. `advance` says that time has passed with nothing new. */
export type DetectorEvent =
  | { readonly type: 'sample'; readonly sample: Sample }
  | { readonly type: 'mark'; readonly mark: Mark }
  | { readonly type: 'markRemoved'; readonly markId: string }
  /** A planned hold start, as a prior; `toleranceMs` is how far people usually stray from it. */
  | { readonly type: 'schedule'; readonly startAtMs: MonotonicMs; readonly toleranceMs: number }
  /**
   * Nobody watched from `fromMs` to `toMs`: that nothing came says nothing of a hold. `known` are the holds as they were
   * told until then, of which one may be under way: they stand, whatever was found since.
   */
  | {
      readonly type: 'unwatched';
      readonly fromMs: MonotonicMs;
      readonly toMs: MonotonicMs;
      readonly known?: readonly Hold[];
    }
  | { readonly type: 'advance'; readonly atMs: MonotonicMs };

/** What a detector says. A hold once started is later ended, revised (same id) or withdrawn. */
export type HoldEvent =
  | { readonly type: 'phaseChanged'; readonly atMs: MonotonicMs; readonly phase: Phase }
  | { readonly type: 'holdStarted'; readonly hold: Hold }
  | { readonly type: 'holdRevised'; readonly hold: Hold }
  | { readonly type: 'holdEnded'; readonly hold: Hold }
  | {
      readonly type: 'holdWithdrawn';
      readonly holdId: string;
      readonly atMs: MonotonicMs;
      readonly reason: WithdrawReason;
    };

/** A live detector: deterministic, no clock; the same events in any grouping give the same answers. */
export interface HoldDetector {
  push(event: DetectorEvent): readonly HoldEvent[];
  readonly phase: Phase;
  /** The hold in progress, if any. */
  readonly current: Hold | undefined;
  /** The breathing sensor that is read and does not seem to be on a body. */
  readonly offBody: string | undefined;
}
