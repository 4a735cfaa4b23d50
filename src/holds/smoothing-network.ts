// The networks that see both sides, read once from their weights for the smoothing pass and for the live looking back: one
// for every mix of sensors, one for a pleth alone; and where in time a row of their answers begins.

import type { SecondRow } from '../signal/second-rows.ts';
import { type HoldNetwork, readWeights } from './hold-network.ts';
import { inferRecording } from './infer-recording.ts';
import { plethWeights } from './pleth-weights.ts';
import { respirationLogOdds } from './respiration-pause.ts';
import { featureCount, featuresOfRecording } from './row-features.ts';
import { smoothingWeights } from './smoothing-weights.ts';

export const committedNetworks = {
  smoothing: readWeights(smoothingWeights),
  pleth: readWeights(plethWeights),
} as const;

/** The share of rows with a pleth from which on, without any saturation, the pleth's own network is asked. A choice. */
const plethShare = 0.5;
/** It has learnt from recordings of a minute; in longer ones the person's usual values say more. A choice. */
const plethMostRows = 240;

export const isPlethAlone = (rows: readonly SecondRow[]): boolean =>
  rows.length <= plethMostRows &&
  rows.filter((row) => Number.isFinite(row.plethBreathing)).length >= plethShare * rows.length &&
  !rows.some((row) => row.spo2Percent > 0 || row.heartRateSource === 'heartRate');

/**
 * The conditional random field's scores of rows at hand, three a row, of row `first` and those after it. Where a breathing channel
 * can tell, it decides. `features` of all these rows, where they have been worked out before.
 */
export function scoresOf(
  rows: readonly SecondRow[],
  networks: { readonly smoothing: HoldNetwork; readonly pleth: HoldNetwork } = committedNetworks,
  first = 0,
  features: Float32Array = featuresOfRecording(rows),
): Float32Array {
  const network = isPlethAlone(rows) ? networks.pleth : networks.smoothing;
  const scores = inferRecording(network, features.subarray(first * featureCount));
  if (rows.some((row) => row.respiration !== undefined)) {
    respirationLogOdds(rows).forEach((logOdds, row) => {
      const i = row - first;
      if (i < 0 || Number.isNaN(logOdds)) return;
      scores[3 * i] = logOdds;
      scores[3 * i + 1] = changeScore;
      scores[3 * i + 2] = changeScore;
    });
  }
  return scores;
}

/** What beginning or ending a hold costs by the breathing channel: about one in practiceRowsPerHold rows. */
const changeScore = -6;

/**
 * Time of a boundary before `row` (may be fractional) of rows a second apart: row i is the mean over the second that ends
 * at its time, so the boundary is at that second's beginning. Milliseconds; negative before the recording.
 */
export const boundaryMsBefore = (rows: readonly SecondRow[], row: number): number =>
  Math.round(rows[0]!.atMs + (row - 1) * 1_000);
