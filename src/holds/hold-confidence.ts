// From the smoothing pass's log odds of a hold to a probability that can be shown: what the networks say of practice
// sessions is not what holds of other people, so each kind of evidence has its own line (Platt 1999), fitted by
// tests/training/calibrate-confidence.ts.

import type { EvidenceKind } from './hold-evidence.ts';

/** More certainty than this is the model's, not the world's. */
const mostLogOdds = 12;

/** Confidence is the logistic function of `offset` + `slope` times the log odds. */
const lines: Readonly<Record<EvidenceKind, { readonly offset: number; readonly slope: number }>> = {
  breathing: { offset: 0, slope: 1 },
  beats: { offset: -0.46, slope: 0.627 },
  pleth: { offset: -0.887, slope: 0.401 },
  unsteadyPleth: { offset: -1.174, slope: 0.075 },
  rateAndSaturation: { offset: -0.988, slope: 0.566 },
  saturation: { offset: -1.126, slope: 0.482 },
  rate: { offset: -0.922, slope: 0.405 },
  none: { offset: 0.04, slope: 1.077 },
};

/** Probability, 0 to 1, that there is a hold where the smoothing pass found one. */
export function confidenceOf(kind: EvidenceKind, logOdds: number): number {
  const { offset, slope } = lines[kind];
  return 1 / (1 + Math.exp(-(offset + slope * Math.min(mostLogOdds, logOdds))));
}
