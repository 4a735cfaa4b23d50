// Whether the saturation around a found hold went as a hold makes it go: steady before, down in its own time, lowest some
// while after the end, and back to where it was. Signals that do not show breathing need this beside what a network says.

import type { SecondRow } from '../signal/second-rows.ts';

/** Rows a second apart: before the start the level, and before that the level it must not have been falling from. Our choice. */
const levelRows = 30;
const earlierRows = 90;
/** The start may lie some seconds off, and the finger is late by more than that. Our choice. */
const intoHoldRows = 5;
/** The finger's lowest comes 15 to 35 s after the end (reference 3.27); averaging and a boundary's error beside it. Our choice. */
const mostLagRows = 45;
/** It is looked for so far, so that a fall that still goes on shows as one. */
const lookedForRows = 60;
/**
 * What people at rest do without a hold is less than the first: all but two such falls in 6.4 h of real rest. Beside a hold that
 * stands by itself less is asked for: who holds once holds again, and short holds on full lungs cost 2 points. Our choice.
 */
const least = {
  alone: { fallPercent: 3, lagRows: 5 },
  amongHolds: { fallPercent: 2, lagRows: 2 },
} as const;
/** The level before may have drifted down by so much, points. Our choice: a fall that goes on from before is no hold's. */
const mostEarlierFallPercent = 1;
/** Blood takes its time (the steepest published fall is 0.35 %/s, reference 2.29 and 3.11); a finger that moves jumps. */
const mostStepPercent = 2;
/** Back within 80 s of the end (recovery within 30 to 60 s of the lowest, reference 3.28), most of the way and not beyond. */
const backRows = { from: 15, to: 80 } as const;
const leastBackShare = 0.6;
const mostBackBeyondPercent = 3;

/**
 * True where all of it is seen. Rows are whole numbers from the recording's beginning; the end is the first after the hold.
 * `among`: whether another hold of the recording stands by itself.
 */
export function saturationFitsHold(
  rows: readonly SecondRow[],
  startRow: number,
  endRow: number,
  among: keyof typeof least = 'alone',
): boolean {
  const level = middleOf(rows, startRow - levelRows, startRow + intoHoldRows);
  const earlier = middleOf(rows, startRow - earlierRows, startRow - levelRows);
  if (level === undefined || (earlier !== undefined && earlier - level > mostEarlierFallPercent))
    return false;
  const lowest = lowestOf(rows, startRow, Math.min(rows.length, endRow + lookedForRows));
  if (lowest === undefined) return false;
  const fallPercent = level - lowest.percent;
  const lag = lowest.row - endRow;
  if (fallPercent < least[among].fallPercent || lag < least[among].lagRows || lag > mostLagRows) return false;
  const highest = highestOf(rows, endRow + backRows.from, endRow + backRows.to);
  const backPercent = highest - lowest.percent;
  return backPercent >= leastBackShare * fallPercent && backPercent <= fallPercent + mostBackBeyondPercent;
}

const isKnown = (row: SecondRow | undefined): row is SecondRow => row !== undefined && row.spo2Percent > 0;

function middleOf(rows: readonly SecondRow[], from: number, to: number): number | undefined {
  const values = rows
    .slice(Math.max(0, from), Math.max(0, to))
    .filter(isKnown)
    .map((row) => row.spo2Percent)
    .sort((one, other) => one - other);
  return values[values.length >> 1];
}

/** The lowest reading and the middle of the rows that show it, half a point up; undefined after a jump down or without readings. */
function lowestOf(rows: readonly SecondRow[], from: number, to: number) {
  let before: number | undefined;
  let percent = Number.POSITIVE_INFINITY;
  for (let at = Math.max(0, from); at < to; at++) {
    const row = rows[at];
    if (!isKnown(row)) continue;
    if (before !== undefined && before - row.spo2Percent > mostStepPercent) return undefined;
    before = row.spo2Percent;
    percent = Math.min(percent, row.spo2Percent);
  }
  const isLow = (row: SecondRow | undefined): boolean => isKnown(row) && row.spo2Percent <= percent + 0.5;
  let first = Math.max(0, from);
  while (first < to && !isLow(rows[first])) first++;
  let last = to - 1;
  while (last > first && !isLow(rows[last])) last--;
  return first >= to ? undefined : { percent, row: (first + last) / 2 };
}

const highestOf = (rows: readonly SecondRow[], from: number, to: number): number =>
  rows
    .slice(Math.max(0, from), Math.max(0, to))
    .reduce((most, row) => (isKnown(row) ? Math.max(most, row.spo2Percent) : most), Number.NEGATIVE_INFINITY);
