// From the smoothing pass's log odds of a hold to a probability that can be shown: what the networks say of practice
// sessions is not what holds of other people, so each kind of evidence has its own line (Platt 1999), fitted by
// tests/training/calibrate-confidence.ts.

import type { EvidenceKind } from './hold-evidence.ts';

/** More certainty than this is the model's, not the world's. */
const mostLogOdds = 12;

/** Confidence is the logistic function of `offset` + `slope` times the log odds. */
const lines: Readonly<Record<EvidenceKind, { readonly offset: number; readonly slope: number }>> = {
  breathing: { offset: 0, slope: 1 },
  beats: { offset: -0.41, slope: 0.6 },
  pleth: { offset: -0.828, slope: 0.396 },
  unsteadyPleth: { offset: -1.355, slope: 0.087 },
  rateAndSaturation: { offset: -1.185, slope: 0.651 },
  saturation: { offset: -1.237, slope: 0.462 },
  rate: { offset: -0.563, slope: 0.345 },
  none: { offset: 0, slope: 1 },
};

/** Probability, 0 to 1, that there is a hold where the smoothing pass found one. */
export function confidenceOf(kind: EvidenceKind, logOdds: number): number {
  const { offset, slope } = lines[kind];
  return 1 / (1 + Math.exp(-(offset + slope * Math.min(mostLogOdds, logOdds))));
}
