// Finds and corrects artefacts in a series of RR intervals, after Lipponen JA, Tarvainen MP, J Med Eng Technol
// 2019;43(3):173-181, doi:10.1080/03091902.2019.1640306. Two-sided: for use on a recording, not live.

export type RrArtefact = 'ectopicBeat' | 'missedBeat' | 'extraBeat' | 'longOrShort';

export interface CorrectedRr {
  /** One verdict an input interval; undefined where it is normal. */
  readonly verdicts: readonly (RrArtefact | undefined)[];
  /** Corrected intervals: missed beats put in, extra beats taken out, others replaced. Total time is kept. */
  readonly correctedMs: readonly number[];
  /** For each corrected interval, whether it was touched. */
  readonly touched: readonly boolean[];
}

// Constants of the paper (7.06): threshold factor, window, median filter, and the two lines of the ectopic test.
const alpha = 5.2;
const windowBeats = 91;
const medianBeats = 11;
const c1 = 0.13;
const c2 = 0.17;
/**
 * The quartile deviation of a very even series is near zero, and every beat would be an artefact. Changes below
 * 50 ms are ordinary variability (the NN50 of the Task Force), so the threshold is never lower. Our addition.
 */
const leastThresholdMs = 50;

/**
 * Linear quantile of each centred window, shorter windows at the edges. A window that straddles a hold's start
 * mixes two regimes (7.07), so callers should pass one regime at a time where they know the holds.
 */
function rollingQuantiles(
  values: readonly number[],
  width: number,
  quantiles: readonly number[],
): number[][] {
  const half = width >> 1;
  const sorted: number[] = [];
  const insert = (value: number): void => {
    let low = 0;
    let high = sorted.length;
    while (low < high) {
      const mid = (low + high) >> 1;
      if (sorted[mid]! < value) {
        low = mid + 1;
      } else {
        high = mid;
      }
    }
    sorted.splice(low, 0, value);
  };
  const remove = (value: number): void => {
    let low = 0;
    let high = sorted.length;
    while (low < high) {
      const mid = (low + high) >> 1;
      if (sorted[mid]! < value) {
        low = mid + 1;
      } else {
        high = mid;
      }
    }
    sorted.splice(low, 1);
  };
  for (let i = 0; i < Math.min(half, values.length); i++) {
    insert(values[i]!);
  }
  return values.map((_, i) => {
    if (i + half < values.length) {
      insert(values[i + half]!);
    }
    if (i - half - 1 >= 0) {
      remove(values[i - half - 1]!);
    }
    return quantiles.map((q) => {
      const at = q * (sorted.length - 1);
      const low = Math.floor(at);
      const low_ = sorted[low]!;
      return low_ + (at - low) * ((sorted[low + 1] ?? low_) - low_);
    });
  });
}

function thresholds(values: readonly number[]): number[] {
  return rollingQuantiles(
    values.map((value) => Math.abs(value)),
    windowBeats,
    [0.25, 0.75],
  ).map(([q1, q3]) => Math.max(leastThresholdMs, (alpha * (q3! - q1!)) / 2));
}

/** Classifies each interval (milliseconds, in order, all positive). Fewer than 5 intervals are all normal. */
export function classifyRr(rrMs: readonly number[]): (RrArtefact | undefined)[] {
  const count = rrMs.length;
  const verdicts: (RrArtefact | undefined)[] = new Array(count).fill(undefined);
  if (count < 5) {
    return verdicts;
  }
  const differences = rrMs.map((rr, i) => (i === 0 ? 0 : rr - rrMs[i - 1]!));
  const rest = differences.slice(1);
  differences[0] = rest.reduce((sum, value) => sum + value, 0) / rest.length;
  const th1 = thresholds(differences);
  const dRr = differences.map((value, i) => value / th1[i]!);
  // Reflecting pads, as numpy's: the edge itself is not repeated.
  const at = (i: number): number => dRr[i < 0 ? -i : i >= count ? 2 * (count - 1) - i : i]!;
  const medians = rollingQuantiles(rrMs, medianBeats, [0.5]).map(([median]) => median!);
  const deviations = rrMs.map((rr, i) => (rr - medians[i]!) * (rr < medians[i]! ? 2 : 1));
  const th2 = thresholds(deviations);
  const mRr = deviations.map((value, i) => value / th2[i]!);
  const s12 = (i: number): number =>
    at(i) > 0 ? Math.max(at(i - 1), at(i + 1)) : at(i) < 0 ? Math.min(at(i - 1), at(i + 1)) : 0;
  const s22 = (i: number): number =>
    at(i) >= 0 ? Math.min(at(i + 1), at(i + 2)) : Math.max(at(i + 1), at(i + 2));

  let i = 0;
  while (i < count - 2) {
    const d = dRr[i]!;
    if (Math.abs(d) <= 1) {
      i += 1;
      continue;
    }
    if ((d > 1 && s12(i) < -c1 * d - c2) || (d < -1 && s12(i) > -c1 * d + c2)) {
      verdicts[i] = 'ectopicBeat';
      i += 1;
      continue;
    }
    const candidates = Math.abs(dRr[i + 1]!) < Math.abs(dRr[i + 2]!) ? [i, i + 1] : [i];
    for (const j of candidates) {
      const longThenShort = dRr[j]! > 1 && s22(j) < -1;
      const shortThenLong = dRr[j]! < -1 && s22(j) > 1;
      if (longThenShort || shortThenLong || Math.abs(mRr[j]!) > 3) {
        const couldBeMissed = Math.abs(rrMs[j]! / 2 - medians[j]!) < th2[j]!;
        const couldBeExtra = Math.abs(rrMs[j]! + (rrMs[j + 1] ?? 0) - medians[j]!) < th2[j]!;
        verdicts[j] =
          shortThenLong && couldBeExtra
            ? 'extraBeat'
            : longThenShort && couldBeMissed
              ? 'missedBeat'
              : 'longOrShort';
      }
      i += 1;
    }
  }
  return verdicts;
}

/**
 * Classifies and corrects a series: a missed beat is put in at the middle, an extra beat is taken out, ectopic and
 * long or short beats are replaced by interpolation between their untouched neighbours.
 */
export function correctRr(rrMs: readonly number[]): CorrectedRr {
  const verdicts = classifyRr(rrMs);
  const correctedMs: number[] = [];
  const touched: boolean[] = [];
  const replace: number[] = [];
  for (let i = 0; i < rrMs.length; i++) {
    const rr = rrMs[i]!;
    switch (verdicts[i]) {
      case undefined:
        correctedMs.push(rr);
        touched.push(false);
        break;
      case 'missedBeat':
        correctedMs.push(rr / 2, rr / 2);
        touched.push(true, true);
        break;
      case 'extraBeat':
        if (i + 1 < rrMs.length) {
          correctedMs.push(rr + rrMs[i + 1]!);
          touched.push(true);
          i += 1;
        }
        break;
      case 'ectopicBeat':
      case 'longOrShort':
        replace.push(correctedMs.length);
        correctedMs.push(rr);
        touched.push(true);
        break;
    }
  }
  const waiting = new Set(replace);
  for (const index of replace) {
    let before = index - 1;
    while (before >= 0 && waiting.has(before)) {
      before -= 1;
    }
    let after = index + 1;
    while (after < correctedMs.length && waiting.has(after)) {
      after += 1;
    }
    const left = correctedMs[before] ?? correctedMs[after];
    const right = correctedMs[after] ?? correctedMs[before];
    if (left !== undefined && right !== undefined && before < index && after > index) {
      const share = (index - Math.max(before, -1)) / (after - before);
      correctedMs[index] =
        before < 0 ? right : after >= correctedMs.length ? left : left + share * (right - left);
    }
  }
  return { verdicts, correctedMs, touched };
}
