// Screens RR intervals beat by beat, without looking ahead, so that one missed or early beat does not look like
// a change of heart rate. The thorough, two-sided correction is in rr-artefacts.ts.

import { selectPlace } from './order-statistics.ts';

export type BeatVerdict = 'normal' | 'missedBeat' | 'extraBeat' | 'ectopicBeat' | 'outOfRange';

/** A beat of the screened timeline: an interval of `rrMs` that ends at `endMs`. */
export interface ScreenedBeat {
  readonly endMs: number;
  readonly rrMs: number;
  readonly verdict: BeatVerdict;
}

export interface BeatScreen {
  /** Takes an interval and the time of the beat that ends it; returns the intervals that follow from it. */
  push(endMs: number, rrMs: number): readonly ScreenedBeat[];
}

/** 20 to 250 /min, wider than any resting or holding heart (lowest single value in divers 28 /min: 3.29). */
const shortestRrMs = 240;
const longestRrMs = 3_000;

const mostAccepted = 7;

/** For one middle at a time: it is asked for at every beat, twice. */
const middleRoom = new Float64Array(mostAccepted);

/** The middle of up to seven, of an even number the later of two. */
function middleOf(values: readonly number[]): number {
  for (let i = 0; i < values.length; i++) middleRoom[i] = values[i]!;
  return selectPlace(middleRoom, values.length, values.length >> 1);
}

/**
 * Makes a screen. Compares each interval with the median of the last seven accepted ones. One beat of the
 * post-hold rise changes an interval by at most about 25 %, so the limits below leave it alone.
 */
export function createBeatScreen(): BeatScreen {
  const accepted: number[] = [];
  let suspectRun = 0;

  const accept = (rrMs: number): void => {
    accepted.push(rrMs);
    if (accepted.length > mostAccepted) {
      accepted.shift();
    }
  };

  return {
    push(endMs, rrMs) {
      if (!(rrMs >= shortestRrMs && rrMs <= 2 * longestRrMs)) {
        return [];
      }
      if (accepted.length < 3) {
        if (rrMs <= longestRrMs) {
          accept(rrMs);
          return [{ endMs, rrMs, verdict: 'normal' }];
        }
        return [];
      }
      const typical = middleOf(accepted);
      const ratio = rrMs / typical;
      if (ratio > 0.65 && ratio < 1.5 && rrMs <= longestRrMs) {
        suspectRun = 0;
        accept(rrMs);
        return [{ endMs, rrMs, verdict: 'normal' }];
      }
      suspectRun += 1;
      if (suspectRun >= 4 && rrMs <= longestRrMs) {
        // Four beats in a row disagree with the past: the past is what is wrong.
        accepted.length = 0;
        suspectRun = 0;
        accept(rrMs);
        return [{ endMs, rrMs, verdict: 'normal' }];
      }
      const parts = Math.round(ratio);
      if (parts >= 2 && parts <= 4 && Math.abs(ratio / parts - 1) < 0.25) {
        const part = rrMs / parts;
        return Array.from({ length: parts }, (_, i) => ({
          endMs: endMs - (parts - 1 - i) * part,
          rrMs: part,
          verdict: 'missedBeat' as const,
        }));
      }
      // Too short, or neither one nor a whole number of beats: time passes at the typical rate.
      return [{ endMs, rrMs: typical, verdict: ratio <= 0.65 ? 'extraBeat' : 'ectopicBeat' }];
    },
  };
}
