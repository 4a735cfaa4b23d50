// From the smoothing pass's log odds of a hold to a probability that can be shown: what the networks say of practice
// sessions is not what holds of other people, so each kind of evidence has its own line (Platt 1999), fitted by
// tests/training/calibrate-confidence.ts.

import type { EvidenceKind } from './hold-evidence.ts';

/** More certainty than this is the model's, not the world's. */
const mostLogOdds = 12;

/** Confidence is the logistic function of `offset` + `slope` times the log odds. */
const lines: Readonly<Record<EvidenceKind, { readonly offset: number; readonly slope: number }>> = {
  breathing: { offset: 0, slope: 1 },
  beats: { offset: -0.322, slope: 0.746 },
  pleth: { offset: -0.906, slope: 0.381 },
  unsteadyPleth: { offset: -1.463, slope: 0.089 },
  rateAndSaturation: { offset: -0.969, slope: 0.424 },
  saturation: { offset: -1.327, slope: 0.545 },
  rate: { offset: -0.562, slope: 0.428 },
  none: { offset: 0, slope: 1 },
};

/** Probability, 0 to 1, that there is a hold where the smoothing pass found one. */
export function confidenceOf(kind: EvidenceKind, logOdds: number): number {
  const { offset, slope } = lines[kind];
  return 1 / (1 + Math.exp(-(offset + slope * Math.min(mostLogOdds, logOdds))));
}
