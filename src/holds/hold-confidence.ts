// From the smoothing pass's log odds of a hold to a probability that can be shown: what the networks say of practice
// sessions is not what holds of other people, so each kind of evidence has its own line (Platt 1999), fitted by
// tests/training/calibrate-confidence.ts.

import type { EvidenceKind } from './hold-evidence.ts';

/** More certainty than this is the model's, not the world's. */
const mostLogOdds = 12;

/** Confidence is the logistic function of `offset` + `slope` times the log odds. */
const lines: Readonly<Record<EvidenceKind, { readonly offset: number; readonly slope: number }>> = {
  breathing: { offset: 0, slope: 1 },
  beats: { offset: -1.202, slope: 1.175 },
  pleth: { offset: -1.282, slope: 0.515 },
  unsteadyPleth: { offset: -1.868, slope: 0.114 },
  rateAndSaturation: { offset: -0.777, slope: 1.098 },
  saturation: { offset: -1.288, slope: 1.129 },
  rate: { offset: -1.107, slope: 1.012 },
  none: { offset: 0.033, slope: 1.061 },
};

/** Probability, 0 to 1, that there is a hold where the smoothing pass found one. */
export function confidenceOf(kind: EvidenceKind, logOdds: number): number {
  const { offset, slope } = lines[kind];
  return 1 / (1 + Math.exp(-(offset + slope * Math.min(mostLogOdds, logOdds))));
}
