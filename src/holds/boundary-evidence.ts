// Why a hold is thought to begin or end at a time: plain differences measured around it, as codes.

import type { SecondRow } from '../signal/second-rows.ts';
import type { BoundaryEvidence } from './hold.ts';

const mean = (values: readonly number[]): number => {
  const known = values.filter((value) => Number.isFinite(value));
  return known.length * 2 < values.length || known.length === 0
    ? Number.NaN
    : known.reduce((sum, value) => sum + value, 0) / known.length;
};

/** Root mean square of second differences: how much the values swing from second to second. */
function swing(values: readonly number[]): number {
  const squares: number[] = [];
  for (let i = 2; i < values.length; i++) {
    squares.push((values[i]! - 2 * values[i - 1]! + values[i - 2]!) ** 2);
  }
  return Math.sqrt(mean(squares));
}

const rates = (rows: readonly SecondRow[], from: number, to: number): number[] =>
  rows.slice(Math.max(0, from), Math.max(0, to)).map((row) => row.heartRateBpm);
const baselines = (rows: readonly SecondRow[], from: number, to: number): number[] =>
  rows.slice(Math.max(0, from), Math.max(0, to)).map((row) => row.plethBreathing);

const nothingClear: readonly BoundaryEvidence[] = ['weakSigns'];

/** Signs of a start before row `start` of a hold that lasts to row `end`. Thresholds only choose what is worth saying. */
export function startEvidence(
  rows: readonly SecondRow[],
  start: number,
  end: number,
): readonly BoundaryEvidence[] {
  const signs: BoundaryEvidence[] = [];
  const from = Math.round(start);
  const to = Math.min(Math.round(end), from + 60);
  const before = mean(rates(rows, from - 40, from - 8));
  const inside = mean(rates(rows, from + 12, to));
  const fallPercent = 100 * (1 - inside / before);
  if (fallPercent >= 5) {
    signs.push('heartRateFell');
  }
  if (swing(rates(rows, from + 3, to)) < 0.65 * swing(rates(rows, from - 40, from))) {
    signs.push('rhythmLeft');
  }
  if (swing(baselines(rows, from + 2, to)) < 0.65 * swing(baselines(rows, from - 40, from))) {
    signs.push('plethStill');
  }
  return signs.length > 0 ? signs : nothingClear;
}

/** Signs of an end before row `end` of a hold that began at row `start`. */
export function endEvidence(
  rows: readonly SecondRow[],
  start: number,
  end: number,
): readonly BoundaryEvidence[] {
  const signs: BoundaryEvidence[] = [];
  const to = Math.round(end);
  const from = Math.max(Math.round(start), to - 60);
  const riseBpm = mean(rates(rows, to + 2, to + 8)) - mean(rates(rows, to - 6, to));
  if (riseBpm >= 4) {
    signs.push('heartRateRose');
  }
  if (swing(rates(rows, from + 3, to)) < 0.65 * swing(rates(rows, to, to + 40))) {
    signs.push('rhythmBack');
  }
  if (swing(baselines(rows, from + 2, to)) < 0.65 * swing(baselines(rows, to, to + 40))) {
    signs.push('plethBreathing');
  }
  // Finger saturation turns 15 to 35 s after the airway opens (3.27).
  const spo2 = (a: number, b: number): number[] =>
    rows
      .slice(Math.max(0, a), Math.max(0, b))
      .map((row) => row.spo2Percent)
      .filter((value) => Number.isFinite(value));
  const lowest = Math.min(...spo2(to + 3, to + 50));
  const later = Math.max(...spo2(to + 20, to + 75));
  if (Math.max(...spo2(from, to)) - lowest >= 3 && later - lowest >= 3) {
    signs.push('saturationTurned');
  }
  return signs.length > 0 ? signs : nothingClear;
}
