// Irregular samples on a regular grid, for formats that know only equally spaced ones. Each reading has a cell of its
// own, so that values and their times to within a cell come back from the file.

import type { SampleQuality } from '../../shared/schema-parts.ts';
import type { Sample } from '../samples/sample.ts';

export interface SampleGrid {
  /** A power of two: a grid made of a grid's own cells is the same grid. */
  readonly cellsPerSecond: number;
  /** Value of the cell's reading; NaN in an empty cell. */
  readonly values: Float64Array;
  /** `gridQuality` code of each cell. */
  readonly quality: Uint8Array;
  /** Readings that share a cell with an earlier one at the finest grid, or lie outside the recording. */
  readonly leftOutCount: number;
}

/** Codes of a cell's quality, also as the files carry them. */
export const gridQuality = { none: 0, good: 1, suspect: 2, bad: 3 } as const satisfies Record<
  SampleQuality | 'none',
  number
>;

const finestCellsPerSecond = 128;
/** Readings of these sensors come once a second; they are only looked at finer where two would share a cell. */
const coarsestCellsPerSecond = 1;

/**
 * `samples` of one channel in time order, onto whole seconds from 0 to at least `durationMs`. Takes the coarsest grid
 * on which no two readings share a cell.
 */
export function gridSamples(samples: readonly Sample[], durationMs: number): SampleGrid {
  const seconds = Math.max(1, Math.ceil(durationMs / 1000));
  let cellsPerSecond = coarsestCellsPerSecond;
  while (cellsPerSecond < finestCellsPerSecond && shareACell(samples, cellsPerSecond)) cellsPerSecond *= 2;
  const count = seconds * cellsPerSecond;
  const values = new Float64Array(count).fill(Number.NaN);
  const quality = new Uint8Array(count);
  let leftOutCount = 0;
  for (const sample of samples) {
    const cell = cellOf(sample, cellsPerSecond);
    if (cell < 0 || cell >= count || quality[cell] !== gridQuality.none) {
      leftOutCount += 1;
      continue;
    }
    values[cell] = sample.value;
    quality[cell] = gridQuality[sample.quality];
  }
  return { cellsPerSecond, values, quality, leftOutCount };
}

// Multiplied first: powers of two are exact, so a cell's own begin falls into it.
const cellOf = (sample: Sample, cellsPerSecond: number): number =>
  Math.floor((sample.atMs * cellsPerSecond) / 1000);

function shareACell(samples: readonly Sample[], cellsPerSecond: number): boolean {
  let before = Number.NaN;
  for (const sample of samples) {
    const cell = cellOf(sample, cellsPerSecond);
    if (cell === before) return true;
    before = cell;
  }
  return false;
}
