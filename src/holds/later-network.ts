// The network that sees both sides, read once from its weights for the later pass and for the live looking back; and
// where in time a row of its answers begins.

import type { SecondRow } from '../signal/second-rows.ts';
import { readWeights } from './hold-network.ts';
import { laterWeights } from './later-weights.ts';

export const laterNetwork = readWeights(laterWeights);

/**
 * Time of a boundary before `row` (may be fractional) of rows a second apart: row i is the mean over the second that ends
 * at its time, so the boundary is at that second's beginning. Milliseconds; negative before the recording.
 */
export const boundaryMsBefore = (rows: readonly SecondRow[], row: number): number =>
  Math.round(rows[0]!.atMs + (row - 1) * 1_000);
