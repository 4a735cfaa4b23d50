// What the live detector believes: each second, from what has come so far, the probability that the airway is closed and
// whether these signals can carry a decision at all; and, when asked, where the hold under way began and where the last one
// ended, from the last ten minutes looked back on.

import type { SecondRow } from '../signal/second-rows.ts';
import { type CrfHold, crfPosterior, holdsOfPosterior } from './hold-crf.ts';
import {
  carriesLiveDecision,
  createSignalCount,
  type EvidenceKind,
  evidenceKindOf,
} from './hold-evidence.ts';
import { type HoldNetwork, readWeights } from './hold-network.ts';
import { liveWeights } from './live-weights.ts';
import { createRespirationPause } from './respiration-pause.ts';
import { createFeatureStream, featuresOfRecording } from './row-features.ts';
import type { SmoothingNetworks } from './smoothing.ts';
import { committedNetworks, scoresOf } from './smoothing-network.ts';
import { createStreamInference } from './stream-inference.ts';

/** The networks of the live detector. Others than the committed ones are for cross-validation. */
export interface LiveNetworks extends SmoothingNetworks {
  readonly live: HoldNetwork;
}

const liveNetworks: LiveNetworks = { live: readWeights(liveWeights), ...committedNetworks };

/** The looking back sees as much as fits the longest hold that training knew, and rest around it. */
const keptRows = 600;
/**
 * Of these it looks at five minutes, or at three before what is asked about: more costs time, and moves a boundary by less than its
 * uncertainty. Our choice; the person's usual values are of all kept rows.
 */
const leastLookedAtRows = 300;
const beforeAskedRows = 180;
/** The kind of evidence is that of the last three minutes: a wrist is not still because it was for one. A choice. */
const evidenceRows = 180;

export interface HoldBelief {
  /** Takes a row; returns the probability, 0 to 1, that the airway is closed in it. `isHolding`: a hold has been said to be on. */
  push(row: SecondRow, isHolding: boolean): number;
  /** The hold that is on has been shown by a breathing sensor, which tells nothing now: silent, off the body, or too short a while back. */
  readonly hasLostBreathing: boolean;
  /** Of the hold that is on: signals beside a breathing sensor have shown it too. */
  readonly isShownByOthers: boolean;
  /** What the last minutes rest on. */
  readonly kind: EvidenceKind;
  /**
   * The holds of the last minutes as they look now; the last one may still be under way (`endSeen` false). `fromMs`: what began
   * there is asked about.
   */
  lookBack(fromMs: number): { readonly rows: readonly SecondRow[]; readonly holds: readonly CrfHold[] };
}

/** Makes a belief that has seen nothing. Bounded memory. */
export function createHoldBelief(networks: LiveNetworks = liveNetworks): HoldBelief {
  const features = createFeatureStream();
  const infer = createStreamInference(networks.live);
  const respiration = createRespirationPause();
  let kept: SecondRow[] = [];
  let breathingTells = false;
  let unknownRows = 0;
  // Of the hold that is on: what has shown it.
  let shownByBreathing = false;
  let shownByOthers = false;
  /** Of the last `evidenceRows`: asked for at every row. */
  const recent = createSignalCount();
  return {
    push(row, isHolding) {
      kept.push(row);
      recent.count(row, 1);
      const past = kept[kept.length - 1 - evidenceRows];
      if (past !== undefined) recent.count(past, -1);
      if (kept.length >= keptRows + 60) {
        kept = kept.slice(-keptRows);
      }
      const fromNetwork = 1 / (1 + Math.exp(-infer(features(row))[0]!));
      // Where a breathing channel is worn, it decides.
      const fromBreathing = respiration(row);
      breathingTells = fromBreathing !== undefined;
      unknownRows = Number.isNaN(row.respiration) ? unknownRows + 1 : 0;
      shownByBreathing = isHolding && (shownByBreathing || (fromBreathing ?? 0) >= 0.5);
      shownByOthers = isHolding && (shownByOthers || fromNetwork >= 0.5);
      if (fromBreathing !== undefined) return fromBreathing;
      if (row.respiration === undefined) return fromNetwork;
      if (carriesLiveDecision(recent.kind(breathingTells))) return fromNetwork;
      // Where nothing else is worn that carries a decision, nothing is known while it cannot tell: a hold neither begins by
      // that nor ends. Taken off for good, it is as if it had not been worn.
      return isHolding || unknownRows < evidenceRows ? 0.5 : fromNetwork;
    },
    get hasLostBreathing() {
      return shownByBreathing && !breathingTells;
    },
    get isShownByOthers() {
      return shownByOthers;
    },
    get kind() {
      const kind = recent.kind(breathingTells);
      // A wrist that moved within the last ten minutes will move again.
      const hasMoved =
        kind === 'pleth' && evidenceKindOf(kept, 0, kept.length, breathingTells) === 'unsteadyPleth';
      return hasMoved ? 'unsteadyPleth' : kind;
    },
    lookBack(fromMs) {
      const rows = kept.slice(-keptRows);
      const asked = rows.length - rows.findLastIndex(({ atMs }) => atMs <= fromMs);
      const first = Math.max(0, rows.length - Math.max(leastLookedAtRows, asked + beforeAskedRows));
      const featuresOfAll = featuresOfRecording(rows);
      const look = (from: number) => ({
        rows: rows.slice(from),
        holds: holdsOfPosterior(crfPosterior(scoresOf(rows, networks, from, featuresOfAll))),
      });
      const near = look(first);
      // What goes on from before asks for more.
      return first > 0 && near.holds.at(-1)?.startSeen === false ? look(0) : near;
    },
  };
}
