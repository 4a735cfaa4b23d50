// The linear-chain conditional random field over breathing and holding (Lafferty, McCallum & Pereira 2001): from what
// the later network says of each row to holds, each with the posterior of its start and its end.

import { normalTail } from './normal-tail.ts';

/** A hold between rows; times are fractional rows, the start before row `startRow`, the end before row `endRow`. */
export interface CrfHold {
  readonly startRow: number;
  readonly endRow: number;
  /** Half-widths of the central 68 %. */
  readonly startHalfWidth: number;
  readonly endHalfWidth: number;
  /** Log odds that the airway was closed at all in its rows, against breathing in every one of them. */
  readonly logOdds: number;
  /** The recording begins or ends in it. */
  readonly startSeen: boolean;
  readonly endSeen: boolean;
}

/** Shorter stillness than this is a pause or a swallow, not a hold. A choice. */
const shortestHoldRows = 6;

const logAdd = (a: number, b: number): number => {
  const high = Math.max(a, b);
  return high === Number.NEGATIVE_INFINITY ? high : high + Math.log1p(Math.exp(Math.min(a, b) - high));
};

/** Posterior of each row: held, first of a hold, first after a hold. */
export interface CrfPosterior {
  readonly held: Float64Array;
  readonly starts: Float64Array;
  readonly ends: Float64Array;
  /** Probability that every row from `from` to `to` - 1 was breathed, all at once. */
  breathedThroughout(from: number, to: number): number;
}

/** Logarithms of what all paths up to each row (alpha) and after it (beta) amount to: breathing and holding in it. */
interface Passes {
  readonly alphaB: Float64Array;
  readonly alphaH: Float64Array;
  readonly betaB: Float64Array;
  readonly betaH: Float64Array;
  readonly total: number;
}

/** Forward-backward over `scores`: three a row (held, first held row, first row breathed again). */
function passesOver(scores: Float32Array): Passes {
  const n = scores.length / 3;
  const alphaB = new Float64Array(n);
  const alphaH = new Float64Array(n);
  const betaB = new Float64Array(n);
  const betaH = new Float64Array(n);
  for (let t = 0; t < n; t++) {
    const held = scores[3 * t]!;
    alphaB[t] = t === 0 ? 0 : logAdd(alphaB[t - 1]!, alphaH[t - 1]! + scores[3 * t + 2]!);
    alphaH[t] = t === 0 ? held : held + logAdd(alphaH[t - 1]!, alphaB[t - 1]! + scores[3 * t + 1]!);
  }
  for (let t = n - 2; t >= 0; t--) {
    const held = scores[3 * t + 3]!;
    betaB[t] = logAdd(betaB[t + 1]!, scores[3 * t + 4]! + held + betaH[t + 1]!);
    betaH[t] = logAdd(held + betaH[t + 1]!, scores[3 * t + 5]! + betaB[t + 1]!);
  }
  const total = n === 0 ? 0 : logAdd(alphaB[n - 1]!, alphaH[n - 1]!);
  return { alphaB, alphaH, betaB, betaH, total };
}

/** Probability that a hold begins with row `t`, after the first. */
const startAt = (scores: Float32Array, { alphaB, betaH, total }: Passes, t: number): number =>
  Math.exp(alphaB[t - 1]! + scores[3 * t + 1]! + scores[3 * t]! + betaH[t]! - total);

/** The posterior by `scores`, three a row as above. */
export function crfPosterior(scores: Float32Array): CrfPosterior {
  const n = scores.length / 3;
  const passes = passesOver(scores);
  const { alphaB, alphaH, betaB, betaH, total } = passes;
  const held = new Float64Array(n);
  const starts = new Float64Array(n);
  const ends = new Float64Array(n);
  for (let t = 0; t < n; t++) {
    held[t] = Math.exp(alphaH[t]! + betaH[t]! - total);
    if (t > 0) {
      starts[t] = startAt(scores, passes, t);
      ends[t] = Math.exp(alphaH[t - 1]! + scores[3 * t + 2]! + betaB[t]! - total);
    }
  }
  return {
    held,
    starts,
    ends,
    // Breathing rows score nothing, so the path that breathes from `from` on is that of its first row.
    breathedThroughout: (from, to) => Math.exp(alphaB[from]! + betaB[to - 1]! - total),
  };
}

/** How many holds begin after the first row, as expected by `scores`. */
function expectedStarts(scores: Float32Array): number {
  const passes = passesOver(scores);
  let count = 0;
  for (let t = 1; t < scores.length / 3; t++) count += startAt(scores, passes, t);
  return count;
}

/** A row belongs to a hold from this posterior on. */
const likelier = 0.5;
/** In the practice sessions a hold begins about once in this many rows. */
export const practiceRowsPerHold = 500;
/** What the pleth's own network was trained on. */
const plethPractice = { rowsPerHold: 200, mostCommoner: 0.5 } as const;
/** What a recording may say of its own rate of holds, in nats: quiet nights have next to none. Our choice. */
const mostRarer = 5;
const mostCommoner = 1.5;

/**
 * The posterior with the recording's own rate of holds as the prior, in place of that of the practice sessions (empirical
 * Bayes): what would be a likely hold in a training session is none in eight hours of rest without another.
 */
export function crfPosteriorByRate(scores: Float32Array, isPlethAlone = false): CrfPosterior {
  const practice = isPlethAlone ? plethPractice : { rowsPerHold: practiceRowsPerHold, mostCommoner };
  const shifted = Float32Array.from(scores);
  for (let round = 0; round < 3; round++) {
    const rate = (expectedStarts(shifted) + 1) / (scores.length / 3 + practice.rowsPerHold);
    const likelier = Math.log(rate * practice.rowsPerHold);
    const shift = Math.min(practice.mostCommoner, Math.max(-mostRarer, likelier));
    for (let i = 1; i < scores.length; i += 3) shifted[i] = scores[i]! + shift;
  }
  return crfPosterior(shifted);
}

const logOddsOf = (probability: number): number =>
  Math.log(Math.max(1e-12, probability) / Math.max(1e-12, 1 - probability));

/** Rows on either side of a boundary over which its posterior is taken. */
const reach = 40;

interface Span {
  readonly from: number;
  to: number;
}

/** Stretches of rows in which holding is the likelier. */
function spansOf(held: Float64Array): readonly Span[] {
  const n = held.length;
  const spans: Span[] = [];
  for (let t = 0; t < n; t++) {
    if (held[t]! < likelier) {
      continue;
    }
    const last = spans.at(-1);
    if (last !== undefined && last.to === t) {
      last.to = t + 1;
    } else {
      spans.push({ from: t, to: t + 1 });
    }
  }
  return spans;
}

/** Holds where the posterior of holding passes one half, with the spread of each boundary. */
export function holdsOfPosterior({ held, starts, ends, breathedThroughout }: CrfPosterior): CrfHold[] {
  const n = held.length;
  const spans = spansOf(held);
  return spans
    .map(({ from, to }, index): CrfHold => {
      const middle = (from + to) >> 1;
      const low = Math.max(from - reach, spans[index - 1]?.to ?? 0);
      const high = Math.min(to + reach, spans[index + 1]?.from ?? n, n);
      const start = spreadOf(starts, low, Math.min(middle, from + reach));
      const end = spreadOf(ends, Math.max(middle, to - reach), high);
      const startSeen = from > 0 && start !== undefined;
      const endSeen = to < n && end !== undefined;
      return {
        startRow: startSeen ? start.middle : from,
        endRow: endSeen ? end.middle : to,
        startHalfWidth: startSeen ? start.halfWidth : 0,
        endHalfWidth: endSeen ? end.halfWidth : 0,
        logOdds: logOddsOf(1 - breathedThroughout(from, to)),
        startSeen,
        endSeen,
      };
    })
    .filter((hold) => hold.endRow - hold.startRow >= shortestHoldRows || !hold.endSeen || !hold.startSeen);
}

/** Median and half-width of the central 68 % of masses over rows `low` to `high` - 1, interpolated. */
function spreadOf(
  mass: Float64Array,
  low: number,
  high: number,
): { middle: number; halfWidth: number } | undefined {
  let all = 0;
  for (let t = low; t < high; t++) {
    all += mass[t]!;
  }
  if (!(all > 0.05)) {
    return undefined;
  }
  const at = (share: number): number => {
    let sum = 0;
    for (let t = low; t < high; t++) {
      const next = sum + mass[t]! / all;
      if (next >= share) {
        return t - 0.5 + (share - sum) / Math.max(1e-12, next - sum);
      }
      sum = next;
    }
    return high - 1;
  };
  return { middle: at(0.5), halfWidth: (at(1 - normalTail(1)) - at(normalTail(1))) / 2 };
}
