// Irregular samples on a regular grid, for formats that know only equally spaced ones. Each reading has a cell of its
// own and its place in the cell, so that values and their times come back from the file.

import type { SampleQuality } from '../../shared/schema-parts.ts';
import type { Sample } from '../samples/sample.ts';

export interface SampleGrid {
  readonly cellsPerSecond: number;
  /** Value of the cell's reading; NaN in an empty cell. */
  readonly values: Float64Array;
  /** `gridQuality` code of each cell. */
  readonly quality: Uint8Array;
  /** Where in its cell the reading is, in steps of `cellStepsOf(cellsPerSecond)`. */
  readonly steps: Uint16Array;
  /** Readings that share a cell with an earlier one at the finest grid stand in the next free one. */
  readonly movedCount: number;
  /** Readings outside the recording, or in a second that is full. */
  readonly leftOutCount: number;
}

/** Codes of a cell's quality, also as the files carry them. */
export const gridQuality = { none: 0, good: 1, suspect: 2, bad: 3 } as const satisfies Record<
  SampleQuality | 'none',
  number
>;

/**
 * Rates that a grid may have, the coarsest that gives each reading a cell is taken. Powers of two for readings that come
 * about once a second; the usual rates of waves above, so that a wave keeps its own.
 */
const rates = [1, 2, 4, 8, 16, 32, 64, 100, 125, 128, 200, 250, 256, 400, 500, 512, 1_000, 1_024] as const;

/**
 * Steps of time in a cell. Up to 64 cells a second, 8192: the edges of every coarser grid of powers of two are steps, so
 * a grid made of a grid's own readings is the same grid. Above, steps of 1/128 000 s, which every rate divides; beats,
 * whose clock has 1024 a second, are on a step either way.
 */
export const cellStepsOf = (cellsPerSecond: number): number =>
  cellsPerSecond <= 64 ? 8_192 : 128_000 / cellsPerSecond;

/** Rounding of binary fractions, in cells: far less than a step. */
const hair = 1e-7;

/** `samples` of one channel in time order, onto whole seconds from 0 to at least `durationMs`. */
export function gridSamples(samples: readonly Sample[], durationMs: number): SampleGrid {
  const seconds = Math.max(1, Math.ceil(durationMs / 1000));
  const cellsPerSecond = rates.find((rate) => !shareACell(samples, rate)) ?? rates.at(-1)!;
  const cellSteps = cellStepsOf(cellsPerSecond);
  const count = seconds * cellsPerSecond;
  const values = new Float64Array(count).fill(Number.NaN);
  const quality = new Uint8Array(count);
  const steps = new Uint16Array(count);
  let leftOutCount = 0;
  let movedCount = 0;
  for (const { atMs, value, quality: said } of samples) {
    const place = (atMs * cellsPerSecond) / 1000;
    const own = Math.floor(place + hair);
    const cell = own < 0 || own >= count ? -1 : freeCellFrom(own, quality, cellsPerSecond);
    if (cell < 0) {
      leftOutCount += 1;
      continue;
    }
    if (cell !== own) movedCount += 1;
    else
      steps[cell] = Math.min(
        cellSteps - 1,
        Math.max(0, Math.floor((place - own) * cellSteps + hair * cellSteps)),
      );
    values[cell] = value;
    quality[cell] = gridQuality[said];
  }
  return { cellsPerSecond, values, quality, steps, movedCount, leftOutCount };
}

/** The cell itself or the next free one within a second; -1 where there is none. */
function freeCellFrom(own: number, quality: Uint8Array, cellsPerSecond: number): number {
  for (let cell = own; cell < Math.min(quality.length, own + cellsPerSecond); cell += 1)
    if (quality[cell] === gridQuality.none) return cell;
  return -1;
}

function shareACell(samples: readonly Sample[], cellsPerSecond: number): boolean {
  let before = Number.NaN;
  for (const { atMs } of samples) {
    const cell = Math.floor((atMs * cellsPerSecond) / 1000 + hair);
    if (cell === before) return true;
    before = cell;
  }
  return false;
}
