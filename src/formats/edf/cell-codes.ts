// The signal beside each channel of an EDF+ file of ours: whether a cell holds a reading, how good it is, and where in
// the cell it was taken. One 16-bit number a cell.

import type { SampleQuality } from '../../../shared/schema-parts.ts';
import { cellStepsOf, gridQuality } from '../../sessions/sample-grid.ts';
import type { EdfSignal } from './edf-file.ts';
import { transducers } from './edf-words.ts';

/** Quality stands in the bits above these thirteen. */
const stepCodes = 8_192;
const mostCode = 4 * stepCodes - 1;

export const cellCodeScale = {
  physicalMin: 0,
  physicalMax: mostCode,
  digitalMin: 0,
  digitalMax: mostCode,
} as const;
export const cellCodeTransducer = transducers.cellCode;

export const cellCodeOf = (quality: number, step: number): number =>
  quality === gridQuality.none ? 0 : quality * stepCodes + step;

export interface CellReading {
  readonly quality: SampleQuality;
  /** Parts of a cell: the reading was at or after `from` and before `to`. */
  readonly from: number;
  readonly to: number;
}

/** Files before places were written have the quality alone, 0 to 3, and the cell is all that is known of the time. */
export const isCellCode = (signal: Pick<EdfSignal, 'digitalMax'>): boolean => signal.digitalMax === mostCode;

const qualityOf = (code: number): SampleQuality =>
  code === gridQuality.bad ? 'bad' : code === gridQuality.suspect ? 'suspect' : 'good';

/** Undefined for a cell without a reading. */
export function readingOfCell(
  code: number,
  cellsPerSecond: number,
  withPlace: boolean,
): CellReading | undefined {
  if (code <= gridQuality.none) return undefined;
  if (!withPlace) return { quality: qualityOf(code), from: 0, to: 1 };
  const steps = cellStepsOf(cellsPerSecond);
  const step = Math.min(steps - 1, code % stepCodes);
  return { quality: qualityOf(Math.floor(code / stepCodes)), from: step / steps, to: (step + 1) / steps };
}
