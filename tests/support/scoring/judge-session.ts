// Runs one session through the real pipeline and sets what it said against the truth: holds afterwards and live, alarms.

import { percent } from '../../../shared/units.ts';
import type { AthleteSettings } from '../../../shared/views.ts';
import type { Hold } from '../../../src/holds/hold.ts';
import { createPipeline, type Pipeline, type PipelineOutput } from '../../../src/pipeline.ts';
import { deriveRecording } from '../../../src/sessions/derive-recording.ts';
import { type AlarmTally, tallyAlarms } from './alarm-tally.ts';
import { isProposal, statedConfidence } from './proposals.ts';
import type { ScoredSession, TrueHold } from './scored-session.ts';

/** A true hold and the found one that names it. */
export interface Pair {
  readonly truth: TrueHold;
  readonly found: Hold;
}

export interface Verdict {
  readonly name: string;
  readonly conditions: Readonly<Record<string, string>>;
  readonly hours: number;
  readonly truths: readonly TrueHold[];
  readonly pairs: readonly Pair[];
  /** Found afterwards, declared, and naming no true hold; a piece of a hold is one of them. */
  readonly unmatched: readonly Hold[];
  /** Found afterwards and only proposed: neither counted for nor against the declared ones. */
  readonly proposals: readonly { readonly hold: Hold; readonly isTrue: boolean }[];
  /** Every statement that carries a confidence, with whether it was so. */
  readonly statements: readonly { readonly confidence: number; readonly isTrue: boolean }[];
  readonly fragmentation: readonly ('whole' | 'pieces' | 'part' | 'missed')[];
  /** Declared live at any time, taken back or not, and naming no true hold. */
  readonly liveEverFalse: number;
  /** Declared live, never taken back, and naming no true hold. */
  readonly liveStoodFalse: number;
  readonly livePairs: readonly Pair[];
  readonly alarms: AlarmTally;
}

export function settingsWithFloor(floorPercent: number): AthleteSettings {
  return {
    floorSpo2Percent: percent(floorPercent),
    thresholdsPercent: [percent(95), percent(90)],
    heartRateLowBpm: null,
    heartRateHighBpm: null,
    maxHoldDurationMs: null,
    forecastAlarm: 'medium',
  };
}

const overlapMs = (truth: TrueHold, hold: Hold): number =>
  Math.min(truth.endMs, hold.end?.atMs ?? Number.POSITIVE_INFINITY) -
  Math.max(truth.startMs, hold.start.atMs);

/** Shared time over joint time; 0 without overlap or for a hold without an end. */
export function intersectionOverUnion(truth: TrueHold, hold: Hold): number {
  if (hold.end === undefined) return 0;
  const union = Math.max(truth.endMs, hold.end.atMs) - Math.min(truth.startMs, hold.start.atMs);
  return Math.max(0, overlapMs(truth, hold)) / union;
}

/** One to one, best agreement first; a pair shares at least half of its joint time. */
export function pairUp(truths: readonly TrueHold[], found: readonly Hold[]): { pairs: Pair[]; left: Hold[] } {
  const candidates = truths
    .flatMap((truth) =>
      found.map((hold) => ({ truth, found: hold, iou: intersectionOverUnion(truth, hold) })),
    )
    .filter(({ iou }) => iou >= 0.5)
    .sort((a, b) => b.iou - a.iou);
  const usedTruths = new Set<TrueHold>();
  const usedHolds = new Set<Hold>();
  const pairs: Pair[] = [];
  for (const { truth, found: hold } of candidates) {
    if (usedTruths.has(truth) || usedHolds.has(hold)) continue;
    usedTruths.add(truth);
    usedHolds.add(hold);
    pairs.push({ truth, found: hold });
  }
  return { pairs, left: found.filter((hold) => !usedHolds.has(hold)) };
}

/** Whole: one found hold covers 80 % of it. Pieces: two or more lie in it for 5 s each. Part: one that covers less. */
function fragmentationOf(truth: TrueHold, found: readonly Hold[]): Verdict['fragmentation'][number] {
  const shared = found.map((hold) => overlapMs(truth, hold)).filter((ms) => ms >= 5_000);
  if (shared.length === 0) return 'missed';
  if (shared.length > 1) return 'pieces';
  return shared[0]! >= 0.8 * (truth.endMs - truth.startMs) ? 'whole' : 'part';
}

/** The pipeline, with every output heard as it comes. */
function overheard(pipeline: Pipeline, hear: (output: PipelineOutput) => void): Pipeline {
  return {
    push(event) {
      const outputs = pipeline.push(event);
      outputs.forEach(hear);
      return outputs;
    },
    get state() {
      return pipeline.state;
    },
    openGaps: () => pipeline.openGaps(),
    get prior() {
      return pipeline.prior;
    },
  };
}

export function judgeSession(session: ScoredSession): Verdict {
  /** Each live hold as it stood last, also those taken back. */
  const everLive = new Map<string, Hold>();
  const derived = deriveRecording(
    overheard(createPipeline(settingsWithFloor(session.floorPercent)), (output) => {
      if (
        output.type === 'hold' &&
        output.event.type !== 'phaseChanged' &&
        output.event.type !== 'holdWithdrawn'
      )
        everLive.set(output.event.hold.holdId, output.event.hold);
    }),
    session.events,
    session.durationMs,
  );
  const found = derived.holds.map(({ hold }) => hold);
  const declared = found.filter((hold) => !isProposal(hold));
  const { pairs, left } = pairUp(session.holds, declared);
  const proposed = found.filter(isProposal);
  const truePaired = new Set(pairUp(session.holds, found).pairs.map((pair) => pair.found));
  const liveStood = derived.liveHolds.filter((hold) => !isProposal(hold));
  const live = pairUp(session.holds, liveStood);
  const ever = [...everLive.values()].filter((hold) => !isProposal(hold));
  /** A hold taken back has no end: it was right if it began within one. */
  const isInTruth = (hold: Hold): boolean =>
    session.holds.some((truth) => hold.start.atMs < truth.endMs && overlapMs(truth, hold) > 0);
  return {
    name: session.name,
    conditions: session.conditions,
    hours: session.durationMs / 3_600_000,
    truths: session.holds,
    pairs,
    unmatched: left,
    proposals: proposed.map((hold) => ({ hold, isTrue: truePaired.has(hold) })),
    statements: found.flatMap((hold) => {
      const confidence = statedConfidence(hold);
      return confidence === undefined ? [] : [{ confidence, isTrue: truePaired.has(hold) }];
    }),
    fragmentation: session.holds.map((truth) => fragmentationOf(truth, declared)),
    liveEverFalse: ever.filter((hold) => !isInTruth(hold)).length,
    liveStoodFalse: live.left.length,
    livePairs: live.pairs,
    alarms: tallyAlarms(derived.alarms, derived.samples, session),
  };
}
