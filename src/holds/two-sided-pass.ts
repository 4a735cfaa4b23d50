// The pass over a whole recording: learns the person's scales, estimates every hold afresh from signals on both
// sides of each boundary, and lets marks win.

import { type MonotonicMs, monotonicMs } from '../../shared/units.ts';
import type { Mark } from '../samples/mark.ts';
import type { Sample } from '../samples/sample.ts';
import { createSecondRows, type SecondRow } from '../signal/second-rows.ts';
import { logDurationDensity, longestHoldS, shortestHoldS } from './evidence.ts';
import type { Boundary, Hold } from './hold.ts';
import {
  bandShapes,
  bandSpan,
  featuresOf,
  movingMean,
  type RecordingFeatures,
} from './recording-features.ts';
import {
  type FoundHold,
  type PersonModel,
  type Segmentation,
  type ShapeModel,
  segment,
  settlingRows,
} from './semi-markov.ts';

/** A mark this near an estimate names the same boundary. */
const sameBoundaryMs = 45_000;
/**
 * How far a change of heart rate trails the airway, seconds. The heart answers a breath within one to two seconds
 * (vagal latency below 1 s, one beat more, and a change larger than noise); a strap's own rate averages some beats
 * more and an oximeter's pulse rate about 8 s. Common practice, no source for the averaging.
 */
const reportDelayS = {
  rr: { start: 0.5, end: 1.5 },
  heartRate: { start: 2, end: 3.5 },
  pulseRate: { start: 3, end: 5 },
  none: { start: 0, end: 0 },
} as const;
/** Scale floor: rounding of a rate in whole beats has a standard deviation of 0.29 /min. A pleth has its own unit. */
const leastScale = (band: number): number => (bandShapes[band]!.signal === 'heartRate' ? 0.25 : 1e-6);

/**
 * Finds the holds of one athlete's recording, ordered and disjoint. `samples` and `marks` are in time order.
 * `liveHolds` lends its ids and `declaredAtMs` to the holds that match; marks are boundaries and win.
 * `plethBaseline` (row time to value, see pleth-breathing.ts) stands in for pleth samples where those are left out.
 * A hold that the recording does not see the end of is returned only when its start was marked.
 */
export function reestimateHolds(
  samples: readonly Sample[],
  marks: readonly Mark[],
  liveHolds: readonly Hold[] = [],
  plethBaseline?: ReadonlyMap<number, number>,
): Hold[] {
  const stream = createSecondRows();
  const rows: SecondRow[] = [];
  for (const sample of samples) {
    for (const row of stream.push(sample)) {
      rows.push(row);
    }
  }
  rows.push(...stream.flush());
  if (plethBaseline !== undefined && plethBaseline.size > 0) {
    rows.forEach((row, i) => {
      rows[i] = { ...row, plethBreathing: plethBaseline.get(row.atMs) ?? Number.NaN };
    });
  }
  const endMs = samples.at(-1)?.atMs ?? monotonicMs(0);
  const estimates = rows.length < 20 ? [] : estimate(rows);
  return withMarks(estimates, marks, liveHolds, endMs);
}

interface Estimate {
  readonly start: Boundary;
  readonly end: Boundary;
}

/** Learns a person's scales from the rows and finds the holds. Exported for the bench's look inside. */
export function fitRecording(rows: readonly SecondRow[]): {
  features: RecordingFeatures;
  person: PersonModel;
  found: Segmentation;
} {
  const features = featuresOf(rows);
  // Three beginnings, from a person whose breathing shows clearly in the heart rate to one in whom it hardly does.
  const fits = [1, 1.6, 3].map((factor) => {
    const first = firstGuess(features, factor);
    const person = learn(features, first, segment(features, first).holds);
    return { person, found: segment(features, person) };
  });
  let { person, found } = fits.reduce((best, fit) =>
    fit.found.logLikelihood > best.found.logLikelihood ? fit : best,
  );
  for (let round = 0; round < 2; round++) {
    person = learn(features, person, found.holds);
    found = segment(features, person);
  }
  return { features, person, found };
}

function estimate(rows: readonly SecondRow[]): Estimate[] {
  const { features, found } = fitRecording(rows);
  const delays = reportDelayS[features.mainSource];
  return found.holds
    .filter((hold) => hold.logOdds > 0)
    .map((hold) => ({
      start: boundary(features, hold.startRow - delays.start, hold.startHalfWidth, startWords(hold)),
      end: boundary(features, hold.endRow - delays.end, hold.endHalfWidth, endWords(hold)),
    }));
}

function boundary(features: RecordingFeatures, row: number, halfWidth: number, evidence: string[]): Boundary {
  // Row i is the mean over the second that ends at firstRowMs + 1000 i; a boundary before row i is at its beginning.
  const atMs = Math.max(0, Math.round(features.firstRowMs + (row - 1) * 1_000));
  return {
    atMs: monotonicMs(atMs),
    uncertaintyMs: Math.round(1_000 * Math.sqrt(halfWidth ** 2 + 0.8 ** 2)),
    declaredAtMs: monotonicMs(Math.round(features.firstRowMs + (features.length - 1) * 1_000)),
    source: 'detected',
    evidence,
  };
}

function startWords(hold: FoundHold): string[] {
  const words: string[] = [];
  if (hold.evidence.rhythm > 2) {
    words.push('breathing rhythm left the heart rate');
  }
  if (hold.evidence.level > 1.5 || hold.evidence.fall > 1) {
    words.push('heart rate fell below rest');
  }
  if (hold.evidence.saturation > 2) {
    words.push('saturation fell afterwards');
  }
  return words.length > 0 ? words : ['several weak signs together'];
}

function endWords(hold: FoundHold): string[] {
  const words: string[] = [];
  if (hold.evidence.rise > 1) {
    words.push('heart rate rose within seconds');
  }
  if (hold.evidence.rhythm > 2) {
    words.push('breathing rhythm came back');
  }
  if (hold.evidence.saturation > 2) {
    words.push('saturation turned after the usual lag');
  }
  return words.length > 0 ? words : ['several weak signs together'];
}

const quantile = (values: readonly number[], share: number): number => {
  const sorted = values.filter((value) => !Number.isNaN(value)).sort((a, b) => a - b);
  return sorted.length === 0
    ? Number.NaN
    : sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))]!;
};

function firstGuess(features: RecordingFeatures, factor: number): PersonModel {
  const powers = features.bands.map((band) => [
    ...movingMean(
      band.map((value) => value * value),
      7,
    ),
  ]);
  const scaleAt = (share: number): number[] =>
    powers.map((power, b) => {
      const scale = Math.sqrt(quantile(power, share));
      return Math.max(leastScale(b), Number.isNaN(scale) ? 1 : scale);
    });
  // Most of a recording is breathing, yet a single long hold may be most of it: hence the upper part.
  const breathing = scaleAt(0.7);
  // Holds, if there are any, are among the quietest parts.
  const quietest = scaleAt(0.05);
  const everywhere = new Float64Array(features.length).fill(1);
  return {
    breathing,
    holding: breathing.map((scale, b) =>
      Math.max(leastScale(b), Math.min(0.8 * scale, Math.max(0.15 * scale, factor * quietest[b]!))),
    ),
    levelSpread: 0.05,
    base: baseOf(features, everywhere, 0.2, 1.22),
    // Priors in beats a minute: fall of 3 to 20 at a start (3.02), rise of 3 to 25 at an end (3.09).
    fall: { mean: 7, spread: 7, restSpread: restSpreadOf(features.fallAfter, everywhere) },
    rise: { mean: 9, spread: 8, restSpread: restSpreadOf(features.riseAfter, everywhere) },
    ...expectations(features.length, []),
    // Row 3.27: 15 to 35 s, default 25; both sides a little wider.
    lagS: 23,
    lagSpreadS: 9,
  };
}

/** Caution beyond the prior: the model of breathing is simpler than breathing. A choice, checked on rest. */
const caution = 1.5;

/** How often holds begin and how long they are, from those found so far, each by its probability. */
function expectations(
  seconds: number,
  found: readonly FoundHold[],
): { logStartRate: number; logDuration: Float64Array } {
  const weighted = found.map((hold) => ({
    weight: 1 / (1 + Math.exp(-hold.logOdds)),
    logLength: Math.log(Math.max(shortestHoldS, hold.bestEnd - hold.bestStart)),
  }));
  const count = weighted.reduce((sum, hold) => sum + hold.weight, 0);
  const logDuration = new Float64Array(longestHoldS + 1);
  // People repeat themselves: half of the prior follows the holds already found, within about a third of a length.
  const spread = 0.35;
  const own = count / (count + 1.5);
  for (let d = 0; d <= longestHoldS; d++) {
    const general = Math.exp(logDurationDensity(d));
    let near = 0;
    for (const { weight, logLength } of weighted) {
      near += weight * Math.exp(-0.5 * ((Math.log(d) - logLength) / spread) ** 2);
    }
    const kernel = d > 0 && count > 0 ? near / (count * d * spread * 2.5066) : 0;
    logDuration[d] =
      d < shortestHoldS ? Number.NEGATIVE_INFINITY : Math.log((1 - 0.6 * own) * general + 0.6 * own * kernel);
  }
  return { logStartRate: Math.log((count + 1) / (seconds + 300)) - caution, logDuration };
}

function restSpreadOf(feature: Float64Array, mask: Float64Array): number {
  const values: number[] = [];
  for (let i = 0; i < feature.length; i++) {
    if (mask[i]! > 0 && !Number.isNaN(feature[i]!)) {
      values.push(Math.abs(feature[i]!));
    }
  }
  const middle = quantile(values, 0.5);
  return Math.max(0.8, Number.isNaN(middle) ? 2 : 1.4 * middle);
}

/** Resting rate: in blocks of a minute, the median of masked rows of ten minutes, bounded by the calm of the whole. */
function baseOf(features: RecordingFeatures, mask: Float64Array, share: number, above: number): Float64Array {
  const n = features.length;
  const base = new Float64Array(n).fill(Number.NaN);
  const calmAll: number[] = [];
  for (let i = 0; i < n; i++) {
    if (mask[i]! > 0) {
      calmAll.push(features.level[i]!);
    }
  }
  const calm = quantile(calmAll, share);
  for (let from = 0; from < n; from += 60) {
    const near: number[] = [];
    for (let i = Math.max(0, from - 240); i < Math.min(n, from + 300); i++) {
      if (mask[i]! > 0) {
        near.push(features.level[i]!);
      }
    }
    const local = near.length >= 20 ? quantile(near, 0.5) : calm;
    // After exercise the rate falls too; what counts as a hold's fall is a fall below rest.
    const value = Number.isNaN(local) ? calm : Math.min(local, above * calm);
    base.fill(value, from, Math.min(n, from + 60));
  }
  return base;
}

function learn(features: RecordingFeatures, person: PersonModel, found: readonly FoundHold[]): PersonModel {
  const n = features.length;
  // 1 for breathing, 0 near a boundary, -1 inside a hold.
  const mask = new Float64Array(n).fill(1);
  const sure = found.filter((hold) => hold.logOdds > 0);
  for (const hold of sure) {
    mask.fill(0, Math.max(0, hold.bestStart - 4), Math.min(n, hold.bestEnd + 4));
    mask.fill(-1, Math.min(n, hold.bestStart + 4), Math.max(0, hold.bestEnd - 3));
  }
  // Windows wholly inside a hold and past its beginning.
  const still = features.bands.map((_, b) => {
    const inside = new Uint8Array(n);
    for (const hold of sure) {
      inside.fill(
        1,
        Math.min(n, hold.bestStart + bandSpan(b) - 1 + settlingRows(b)),
        Math.max(0, hold.bestEnd - 1),
      );
    }
    return inside;
  });
  const breathing: number[] = [];
  const holding: number[] = [];
  features.bands.forEach((band, b) => {
    let breathSum = 0;
    let breathCount = 0;
    let holdSum = 0;
    let holdCount = 0;
    const before = person.breathing[b]!;
    for (let i = 0; i < n; i++) {
      const value = band[i]!;
      if (Number.isNaN(value)) {
        continue;
      }
      if (mask[i] === 1) {
        breathSum += Math.min(value * value, 9 * before * before);
        breathCount += 1;
      } else if (still[b]![i] === 1) {
        holdSum += Math.min(value * value, 9 * before * before);
        holdCount += 1;
      }
    }
    const breathScale = Math.sqrt((breathSum + 30 * before * before) / (breathCount + 30));
    breathing.push(Math.max(leastScale(b), breathScale));
    const prior = person.holding[b]!;
    const holdScale = Math.sqrt((holdSum + 40 * prior * prior) / (holdCount + 40));
    // The Student density's scale is below the standard deviation; a hold is never livelier than breathing.
    holding.push(Math.min(Math.max(leastScale(b), holdScale), breathScale));
  });
  const base = baseOf(features, mask, 0.15, 1.18);
  const wander: number[] = [];
  for (let i = 0; i < n; i++) {
    if (mask[i] === 1) {
      wander.push(Math.abs(features.level[i]! / base[i]! - 1));
    }
  }
  const middle = quantile(wander, 0.5);
  const shape = (feature: Float64Array, prior: ShapeModel, rows: readonly number[]): ShapeModel => {
    const values = rows.map((row) => feature[row] ?? Number.NaN).filter((value) => !Number.isNaN(value));
    const weight = 3;
    const mean =
      (values.reduce((sum, value) => sum + value, 0) + weight * prior.mean) / (values.length + weight);
    const squares = values.reduce((sum, value) => sum + (value - mean) ** 2, 0);
    const spread = Math.sqrt((squares + weight * 49) / (values.length + weight));
    return { mean: Math.max(3, mean), spread: Math.max(2, spread), restSpread: restSpreadOf(feature, mask) };
  };
  const lags: number[] = [];
  for (const hold of sure) {
    const point = features.lowPoints.find((low) => low.row > hold.bestEnd + 3 && low.row < hold.bestEnd + 50);
    if (point !== undefined) {
      lags.push(point.row - hold.bestEnd);
    }
  }
  const lag =
    lags.length === 0 ? 23 : (lags.reduce((sum, value) => sum + value, 0) + 2 * 23) / (lags.length + 2);
  const lagSquares = lags.reduce((sum, value) => sum + (value - lag) ** 2, 0);
  return {
    breathing,
    holding,
    levelSpread: clampSpread(Number.isNaN(middle) ? 0.05 : 1.3 * middle),
    base,
    fall: shape(
      features.fallAfter,
      person.fall,
      sure.filter((hold) => hold.bestEnd - hold.bestStart > 20).map((hold) => hold.bestStart),
    ),
    rise: shape(
      features.riseAfter,
      person.rise,
      sure.map((hold) => hold.bestEnd),
    ),
    ...expectations(n, found),
    lagS: lag,
    lagSpreadS: Math.max(3, Math.sqrt((lagSquares + 2 * 81) / (lags.length + 2))),
  };
}

const clampSpread = (value: number): number => Math.min(0.07, Math.max(0.025, value));

const markBoundary = (atMs: MonotonicMs): Boundary => ({
  atMs,
  uncertaintyMs: 0,
  declaredAtMs: atMs,
  source: 'mark',
  evidence: ['marked by hand'],
});

/** Puts marks over estimates, ids of live holds on the holds that match, and sorts out overlaps. */
function withMarks(
  estimates: readonly Estimate[],
  marks: readonly Mark[],
  liveHolds: readonly Hold[],
  endMs: MonotonicMs,
): Hold[] {
  const drafts: { start: Boundary; end: Boundary | undefined; marked: boolean }[] = estimates.map((e) => ({
    ...e,
    marked: false,
  }));
  const ordered = [...marks].sort((a, b) => a.atMs - b.atMs);
  const starts = ordered.filter((mark) => mark.kind === 'holdStart');
  const ends = ordered.filter((mark) => mark.kind === 'holdEnd');
  const usedEnds = new Set<Mark>();
  starts.forEach((mark, i) => {
    const nextStartMs = starts[i + 1]?.atMs ?? Number.POSITIVE_INFINITY;
    const endMark = ends.find((end) => end.atMs > mark.atMs && end.atMs <= nextStartMs);
    if (endMark !== undefined) {
      usedEnds.add(endMark);
    }
    const untilMs = endMark?.atMs ?? nextStartMs;
    const same = drafts.filter(
      (draft) =>
        !draft.marked &&
        draft.start.atMs < untilMs &&
        (draft.end === undefined || draft.end.atMs > mark.atMs) &&
        (endMark !== undefined || Math.abs(draft.start.atMs - mark.atMs) <= sameBoundaryMs),
    );
    for (const draft of same) {
      drafts.splice(drafts.indexOf(draft), 1);
    }
    const estimatedEnd = same
      .map((draft) => draft.end)
      .find((end) => end !== undefined && end.atMs > mark.atMs);
    drafts.push({
      start: markBoundary(mark.atMs),
      end: endMark === undefined ? estimatedEnd : markBoundary(endMark.atMs),
      marked: true,
    });
  });
  for (const mark of ends) {
    if (!usedEnds.has(mark)) {
      const draft = drafts.find(
        (candidate) =>
          candidate.start.atMs < mark.atMs &&
          candidate.end?.source !== 'mark' &&
          (candidate.end === undefined || Math.abs(candidate.end.atMs - mark.atMs) <= sameBoundaryMs),
      );
      if (draft !== undefined) {
        draft.end = markBoundary(mark.atMs);
        draft.marked = true;
      }
    }
  }
  drafts.sort((a, b) => a.start.atMs - b.start.atMs || Number(b.marked) - Number(a.marked));
  // An estimate that runs into a marked hold gives way.
  const kept = drafts.filter((draft, i) => {
    const overlaps = (other: (typeof drafts)[number]): boolean =>
      other.start.atMs < (draft.end?.atMs ?? endMs) && (other.end?.atMs ?? endMs) > draft.start.atMs;
    return draft.marked || !drafts.some((other, j) => j !== i && other.marked && overlaps(other));
  });
  const usedIds = new Set<string>();
  let fresh = 0;
  return kept.map((draft) => {
    const live = liveHolds.find(
      (other) =>
        !usedIds.has(other.holdId) &&
        other.start.atMs < (draft.end?.atMs ?? endMs) &&
        (other.end?.atMs ?? endMs) > draft.start.atMs,
    );
    let holdId = live?.holdId;
    while (holdId === undefined || usedIds.has(holdId)) {
      fresh += 1;
      const candidate = `found-${fresh}`;
      holdId = liveHolds.some((other) => other.holdId === candidate) ? undefined : candidate;
    }
    usedIds.add(holdId);
    const declared = (estimated: Boundary, said: Boundary | undefined): Boundary =>
      estimated.source === 'mark' || said === undefined
        ? estimated
        : { ...estimated, declaredAtMs: said.declaredAtMs };
    const end = draft.end;
    const contractionsAtMs = ordered
      .filter(
        (mark) =>
          mark.kind === 'contraction' && mark.atMs >= draft.start.atMs && mark.atMs <= (end?.atMs ?? endMs),
      )
      .map((mark) => mark.atMs);
    return {
      holdId,
      start: declared(draft.start, live?.start),
      ...(end !== undefined && { end: declared(end, live?.end) }),
      contractionsAtMs,
    };
  });
}
