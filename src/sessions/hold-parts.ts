// The easy part of a hold and the part after the first contraction, marked or else estimated, and what share of a session's
// holds stressed by carbon dioxide and by oxygen. Definitions: src/holds/MEASURES.md.

import type { MeasureView } from '../../shared/http.ts';
import type { HoldView } from '../../shared/views.ts';
import { lengthOfHold } from './hold-length.ts';

export interface RecordedHold {
  readonly hold: HoldView;
  readonly measures: readonly MeasureView[];
}

/** A measure's value, null where it is not known. */
export const measureOf = ({ measures }: Pick<RecordedHold, 'measures'>, key: string): number | null =>
  measures.find((measure) => measure.key === key)?.value ?? null;

export interface HoldParts {
  readonly easyMs: number;
  readonly afterMs: number;
  /** Of where one part ends and the other begins; 0 where it was marked. */
  readonly uncertaintyMs: number;
  readonly onset: 'marked' | 'estimated';
}

/** Null where the hold has no end, or nobody marked a contraction and the signals carry no estimate. */
export function partsOfHold(recorded: RecordedHold): HoldParts | null {
  const length = lengthOfHold(recorded.hold);
  if (length === null) return null;
  const marked = measureOf(recorded, 'timeToFirstContractionS');
  const estimated = measureOf(recorded, 'estimatedContractionOnsetS');
  const easyS = marked ?? estimated;
  if (easyS === null) return null;
  const easyMs = Math.min(length.durationMs, Math.max(0, 1_000 * easyS));
  return {
    easyMs,
    afterMs: length.durationMs - easyMs,
    uncertaintyMs:
      marked === null ? 1_000 * (measureOf(recorded, 'estimatedContractionOnsetUncertaintyS') ?? 0) : 0,
    onset: marked === null ? 'estimated' : 'marked',
  };
}

export interface StressShare {
  /** Of the time held, 0 to 100 and more. */
  readonly percent: number;
  readonly uncertaintyPercent: number;
  readonly ofHolds: number;
  readonly estimatedHolds: number;
}

export interface SessionStress {
  /** Holds with an end that are no proposals. */
  readonly holdCount: number;
  readonly totalMs: number;
  /** Time after the first contraction; null where no hold tells. */
  readonly afterContraction: StressShare | null;
  /** Time below 90 % at the finger; null where no hold tells. */
  readonly below90: StressShare | null;
}

export function sessionStress(recorded: readonly RecordedHold[]): SessionStress {
  const counted = recorded.filter(({ hold }) => hold.end !== null && hold.isProposed !== true);
  const lengthMs = (one: RecordedHold): number => lengthOfHold(one.hold)?.durationMs ?? 0;
  const sumOf = (values: readonly number[]): number => values.reduce((sum, value) => sum + value, 0);
  const withParts = counted.flatMap((one) => {
    const parts = partsOfHold(one);
    return parts === null ? [] : [{ parts, lengthMs: lengthMs(one) }];
  });
  const partsMs = sumOf(withParts.map((one) => one.lengthMs));
  const withBelow = counted.flatMap((one) => {
    const belowS = measureOf(one, 'timeBelow90S');
    return belowS === null ? [] : [{ belowMs: 1_000 * belowS, lengthMs: lengthMs(one) }];
  });
  const belowMs = sumOf(withBelow.map((one) => one.lengthMs));
  return {
    holdCount: counted.length,
    totalMs: sumOf(counted.map(lengthMs)),
    afterContraction:
      partsMs === 0
        ? null
        : {
            percent: (100 * sumOf(withParts.map(({ parts }) => parts.afterMs))) / partsMs,
            uncertaintyPercent:
              (100 * Math.hypot(...withParts.map(({ parts }) => parts.uncertaintyMs))) / partsMs,
            ofHolds: withParts.length,
            estimatedHolds: withParts.filter(({ parts }) => parts.onset === 'estimated').length,
          },
    below90:
      belowMs === 0
        ? null
        : {
            percent: (100 * sumOf(withBelow.map((one) => one.belowMs))) / belowMs,
            uncertaintyPercent: 0,
            ofHolds: withBelow.length,
            estimatedHolds: 0,
          },
  };
}
