// What the live detector believes: each second, from what has come so far, the probability that the airway is closed;
// and, when asked, where the hold under way began and where the last one ended, from the last ten minutes looked back on.

import type { SecondRow } from '../signal/second-rows.ts';
import { type FieldHold, fieldPosterior, holdsOfPosterior } from './hold-field.ts';
import { createRowJudge, readWeights } from './hold-network.ts';
import { judgeRecording } from './judge-recording.ts';
import { laterNetwork } from './later-network.ts';
import { liveWeights } from './live-weights.ts';
import { createFeatureStream, featuresOfRecording } from './row-features.ts';

const liveNetwork = readWeights(liveWeights);

/** The looking back sees as much as fits the longest hold that training knew, and rest around it. */
const keptRows = 600;

export interface HoldBelief {
  /** Takes a row; returns the probability, 0 to 1, that the airway is closed in it. */
  push(row: SecondRow): number;
  /** The holds of the kept rows as they look now; the last one may still be under way (`endSeen` false). */
  lookBack(): { readonly rows: readonly SecondRow[]; readonly holds: readonly FieldHold[] };
}

/** Makes a belief that has seen nothing. Bounded memory. */
export function createHoldBelief(): HoldBelief {
  const features = createFeatureStream();
  const judge = createRowJudge(liveNetwork);
  let kept: SecondRow[] = [];
  return {
    push(row) {
      kept.push(row);
      if (kept.length >= keptRows + 60) {
        kept = kept.slice(-keptRows);
      }
      return 1 / (1 + Math.exp(-judge(features(row))[0]!));
    },
    lookBack() {
      const rows = kept.slice(-keptRows);
      return {
        rows,
        holds: holdsOfPosterior(fieldPosterior(judgeRecording(laterNetwork, featuresOfRecording(rows)))),
      };
    },
  };
}
