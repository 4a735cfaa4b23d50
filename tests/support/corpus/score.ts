// Scores holds against the truth: matches, errors, delays, calibration. Knows nothing of how holds were found.

import type { Hold, HoldEvent } from '../../../src/holds/hold.ts';
import type { LiveNetworks } from '../../../src/holds/hold-belief.ts';
import { createHoldDetector } from '../../../src/holds/live-detector.ts';
import { reestimateHolds } from '../../../src/holds/smoothing.ts';
import type { Sample } from '../../../src/samples/sample.ts';
import { createSignalCleaner } from '../../../src/signal/signal-cleaner.ts';
import type { CorpusSession, TrueInterval } from './corpus-session.ts';

export interface MatchedHold {
  readonly truth: TrueInterval;
  readonly found: Hold;
}

export interface SessionScore {
  readonly session: string;
  readonly conditions: Readonly<Record<string, string>>;
  readonly hours: number;
  readonly trueCount: number;
  readonly foundCount: number;
  readonly matched: readonly MatchedHold[];
  readonly missed: readonly TrueInterval[];
  readonly falseHolds: readonly Hold[];
  /** Live: seconds from the true boundary to its declaration; undefined where live never said so. */
  readonly live: readonly {
    readonly startDelayS: number | undefined;
    readonly endDelayS: number | undefined;
  }[];
  readonly liveFalseCount: number;
}

/** Two intervals name the same hold when they share at least half of their union. */
export function sameHold(truth: TrueInterval, hold: Hold): boolean {
  const end = hold.end?.atMs ?? Number.POSITIVE_INFINITY;
  const shared = Math.min(truth.endMs, end) - Math.max(truth.startMs, hold.start.atMs);
  const union = Math.max(truth.endMs, end) - Math.min(truth.startMs, hold.start.atMs);
  return shared > 0 && shared / union >= 0.5;
}

/** Runs the detector over samples as a live session would: in order, once. Returns the holds that stood. */
export function runLive(
  samples: readonly Sample[],
  networks?: LiveNetworks,
): {
  holds: Hold[];
  firstDeclared: Map<string, number>;
  cleaned: Sample[];
} {
  const cleaner = createSignalCleaner();
  const detector = createHoldDetector(networks === undefined ? {} : { networks });
  const holds = new Map<string, Hold>();
  const firstDeclared = new Map<string, number>();
  const cleaned: Sample[] = [];
  for (const raw of samples) {
    for (const sample of cleaner.push(raw)) {
      cleaned.push(sample);
      for (const event of detector.push({ type: 'sample', sample }) as readonly HoldEvent[]) {
        if (event.type === 'holdWithdrawn') {
          holds.delete(event.holdId);
        } else if (event.type !== 'phaseChanged') {
          holds.set(event.hold.holdId, event.hold);
        }
      }
    }
  }
  return { holds: [...holds.values()], firstDeclared, cleaned };
}

/** `later` gives the holds of cleaned samples; the two-sided pass when left out. */
export function scoreSession(
  session: CorpusSession,
  later: (cleaned: readonly Sample[], live: readonly Hold[]) => readonly Hold[] = (cleaned, live) =>
    reestimateHolds(cleaned, [], live),
): SessionScore {
  const { holds: live, cleaned } = runLive(session.samples);
  const found = later(cleaned, live).filter((hold) => hold.end !== undefined);
  const left = new Set(found);
  const matched: MatchedHold[] = [];
  const missed: TrueInterval[] = [];
  const liveDelays: { startDelayS: number | undefined; endDelayS: number | undefined }[] = [];
  const liveLeft = new Set(live);
  for (const truth of session.holds) {
    const hit = [...left].find((hold) => sameHold(truth, hold));
    if (hit === undefined) {
      missed.push(truth);
    } else {
      left.delete(hit);
      matched.push({ truth, found: hit });
    }
    const said = [...liveLeft].find((hold) => sameHold(truth, hold));
    if (said !== undefined) {
      liveLeft.delete(said);
    }
    liveDelays.push({
      startDelayS: said === undefined ? undefined : (said.start.declaredAtMs - truth.startMs) / 1_000,
      endDelayS: said?.end === undefined ? undefined : (said.end.declaredAtMs - truth.endMs) / 1_000,
    });
  }
  return {
    session: session.name,
    conditions: session.conditions,
    hours: session.durationMs / 3_600_000,
    trueCount: session.holds.length,
    foundCount: found.length,
    matched,
    missed,
    falseHolds: [...left],
    live: liveDelays,
    liveFalseCount: liveLeft.size,
  };
}

export interface ErrorSummary {
  readonly medianS: number | null;
  readonly p90S: number | null;
  readonly biasS: number | null;
  /** Share of boundaries whose true time lies within the stated uncertainty; 0.68 is honest. */
  readonly within: number | null;
}

export interface ScoreSummary {
  readonly sessions: number;
  readonly hours: number;
  readonly trueHolds: number;
  readonly precision: number | null;
  readonly recall: number | null;
  readonly f1: number | null;
  readonly start: ErrorSummary;
  readonly end: ErrorSummary;
  readonly liveRecall: number | null;
  readonly liveStartDelay: {
    readonly medianS: number | null;
    readonly p90S: number | null;
    readonly within20: number | null;
  };
  readonly liveEndDelay: {
    readonly medianS: number | null;
    readonly p90S: number | null;
    readonly within8: number | null;
  };
  readonly falseHoldsPer10h: number;
  readonly liveFalsePer10h: number;
}

const quantile = (values: readonly number[], q: number): number | null => {
  if (values.length === 0) {
    return null;
  }
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.min(sorted.length - 1, Math.floor(q * sorted.length))]!;
};

export function summarise(scores: readonly SessionScore[]): ScoreSummary {
  const trueHolds = scores.reduce((sum, s) => sum + s.trueCount, 0);
  const found = scores.reduce((sum, s) => sum + s.foundCount, 0);
  const matched = scores.flatMap((s) => s.matched);
  const hours = scores.reduce((sum, s) => sum + s.hours, 0);
  const errors = (pick: (m: MatchedHold) => { error: number; uncertainty: number }): ErrorSummary => {
    const all = matched.map(pick);
    return {
      medianS: quantile(
        all.map((e) => Math.abs(e.error)),
        0.5,
      ),
      p90S: quantile(
        all.map((e) => Math.abs(e.error)),
        0.9,
      ),
      biasS: all.length === 0 ? null : all.reduce((sum, e) => sum + e.error, 0) / all.length,
      within:
        all.length === 0 ? null : all.filter((e) => Math.abs(e.error) <= e.uncertainty).length / all.length,
    };
  };
  const startDelays = scores.flatMap((s) => s.live.map((l) => l.startDelayS)).filter((v) => v !== undefined);
  const endDelays = scores.flatMap((s) => s.live.map((l) => l.endDelayS)).filter((v) => v !== undefined);
  const precision = found === 0 ? null : matched.length / found;
  const recall = trueHolds === 0 ? null : matched.length / trueHolds;
  const falseHolds = scores.reduce((sum, s) => sum + s.falseHolds.length, 0);
  const liveFalse = scores.reduce((sum, s) => sum + s.liveFalseCount, 0);
  return {
    sessions: scores.length,
    hours,
    trueHolds,
    precision,
    recall,
    f1: trueHolds + found === 0 ? null : (2 * matched.length) / (trueHolds + found),
    start: errors((m) => ({
      error: (m.found.start.atMs - m.truth.startMs) / 1_000,
      uncertainty: m.found.start.uncertaintyMs / 1_000,
    })),
    end: errors((m) => ({
      error: (m.found.end!.atMs - m.truth.endMs) / 1_000,
      uncertainty: m.found.end!.uncertaintyMs / 1_000,
    })),
    liveRecall: trueHolds === 0 ? null : endDelays.length / trueHolds,
    liveStartDelay: {
      medianS: quantile(startDelays, 0.5),
      p90S: quantile(startDelays, 0.9),
      within20: trueHolds === 0 ? null : startDelays.filter((d) => d <= 20).length / trueHolds,
    },
    liveEndDelay: {
      medianS: quantile(endDelays, 0.5),
      p90S: quantile(endDelays, 0.9),
      within8: trueHolds === 0 ? null : endDelays.filter((d) => d <= 8).length / trueHolds,
    },
    falseHoldsPer10h: hours === 0 ? 0 : (10 * falseHolds) / hours,
    liveFalsePer10h: hours === 0 ? 0 : (10 * liveFalse) / hours,
  };
}
