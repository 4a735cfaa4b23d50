// Figures over many verdicts: F1, boundary errors, fragments, live delays, false holds an hour, reliability.

import type { Hold } from '../../../src/holds/hold.ts';
import type { Pair, Verdict } from './judge-session.ts';

const ratio = (part: number, whole: number): number | null => (whole === 0 ? null : part / whole);

/** The value below which a share `q` lies; null of nothing. */
export function quantile(values: readonly number[], q: number): number | null {
  if (values.length === 0) return null;
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.min(sorted.length - 1, Math.floor(q * sorted.length))]!;
}

const medianAndP90 = (values: readonly number[]) => ({
  median: quantile(values, 0.5),
  p90: quantile(values, 0.9),
});

/** Precision, recall and F1 of holds of at least `leastMs`; found holds that name shorter true ones are left out. */
export function f1Of(verdicts: readonly Verdict[], leastMs: number) {
  const isLong = (pair: Pair): boolean => pair.truth.endMs - pair.truth.startMs >= leastMs;
  const truths = verdicts.flatMap((v) => v.truths).filter((t) => t.endMs - t.startMs >= leastMs).length;
  const right = verdicts.flatMap((v) => v.pairs).filter(isLong).length;
  const wrong = verdicts.reduce((sum, v) => sum + v.unmatched.length, 0);
  return {
    trueHolds: truths,
    precision: ratio(right, right + wrong),
    recall: ratio(right, truths),
    f1: truths === 0 ? null : ratio(2 * right, truths + right + wrong),
  };
}

function boundaryErrors(
  pairs: readonly Pair[],
  of: (pair: Pair) => { errorMs: number; uncertaintyMs: number },
) {
  const errors = pairs.map(of);
  return {
    ...medianAndP90(errors.map(({ errorMs }) => Math.abs(errorMs) / 1_000)),
    biasS: quantile(
      errors.map(({ errorMs }) => errorMs / 1_000),
      0.5,
    ),
    /** Share of true times within the stated uncertainty; 0.68 is honest. */
    withinStated: ratio(errors.filter((e) => Math.abs(e.errorMs) <= e.uncertaintyMs).length, errors.length),
    withinTwiceStated: ratio(
      errors.filter((e) => Math.abs(e.errorMs) <= 2 * e.uncertaintyMs).length,
      errors.length,
    ),
  };
}

const startError = ({ truth, found }: Pair) => ({
  errorMs: found.start.atMs - truth.startMs,
  uncertaintyMs: found.start.uncertaintyMs,
});
const endError = ({ truth, found }: Pair) => ({
  errorMs: found.end!.atMs - truth.endMs,
  uncertaintyMs: found.end!.uncertaintyMs,
});

/** Of holds stated with a confidence from `from` to `to`, the share that were holds: on the diagonal when honest. */
function reliabilityOf(statements: Verdict['statements']) {
  const edges = [0, 0.2, 0.4, 0.6, 0.8, 0.9, 1.000_001];
  return edges.slice(1).flatMap((to, i) => {
    const within = statements.filter((s) => s.confidence >= edges[i]! && s.confidence < to);
    return within.length === 0
      ? []
      : [
          {
            from: edges[i]!,
            to: Math.min(1, to),
            count: within.length,
            meanStated: within.reduce((sum, s) => sum + s.confidence, 0) / within.length,
            observed: within.filter((s) => s.isTrue).length / within.length,
          },
        ];
  });
}

/** Largest distance from the diagonal, of bins with at least 20 statements. */
function offDiagonal(bins: ReturnType<typeof reliabilityOf>): number | null {
  const gaps = bins.filter((b) => b.count >= 20).map((b) => Math.abs(b.meanStated - b.observed));
  return gaps.length === 0 ? null : Math.max(...gaps);
}

const countOf = (verdicts: readonly Verdict[], of: (verdict: Verdict) => number): number =>
  verdicts.reduce((sum, verdict) => sum + of(verdict), 0);

/** An alarm or false hold count, per so many hours. */
const per = (hours: number, count: number, unitHours: number): number | null =>
  hours === 0 ? null : (unitHours * count) / hours;

export function summariseFalseAlarms(verdicts: readonly Verdict[]) {
  const hours = countOf(verdicts, (v) => v.hours);
  const sum = (of: (alarms: Verdict['alarms']) => number): number => countOf(verdicts, (v) => of(v.alarms));
  return {
    needlessForecastPer10h: per(
      hours,
      sum((a) => a.needlessForecast),
      10,
    ),
    forecastAlarms: sum((a) => a.forecast),
    falseFloorPer10h: per(
      hours,
      sum((a) => a.falseFloor),
      10,
    ),
    floorAlarms: sum((a) => a.floor),
    lowStretches: sum((a) => a.lowStretches),
    missedLowStretches: sum((a) => a.missedLowStretches),
  };
}

/** For people in whom no hold exists, or beside it for those in whom some do. */
export function summariseFalseHolds(verdicts: readonly Verdict[]) {
  const hours = countOf(verdicts, (v) => v.hours);
  const afterwards = countOf(verdicts, (v) => v.unmatched.length);
  const liveStood = countOf(verdicts, (v) => v.liveStoodFalse);
  const liveEver = countOf(verdicts, (v) => v.liveEverFalse);
  const falseProposals = countOf(verdicts, (v) => v.proposals.filter((p) => !p.isTrue).length);
  return {
    recordings: verdicts.length,
    hours,
    afterwards,
    afterwardsPer20h: per(hours, afterwards, 20),
    liveStood,
    liveStoodPer20h: per(hours, liveStood, 20),
    liveEver,
    liveEverPer20h: per(hours, liveEver, 20),
    falseProposals,
    falseProposalsPer20h: per(hours, falseProposals, 20),
  };
}

export function summariseVerdicts(verdicts: readonly Verdict[]) {
  const pairs = verdicts.flatMap((v) => v.pairs);
  const livePairs = verdicts.flatMap((v) => v.livePairs);
  const shapes = verdicts.flatMap((v) => v.fragmentation);
  const truths = countOf(verdicts, (v) => v.truths.length);
  const delayS = (of: (hold: Hold) => number | undefined, from: (pair: Pair) => number): number[] =>
    livePairs.flatMap((pair) => {
      const saidMs = of(pair.found);
      return saidMs === undefined ? [] : [(saidMs - from(pair)) / 1_000];
    });
  const reliability = reliabilityOf(verdicts.flatMap((v) => v.statements));
  return {
    sessions: verdicts.length,
    hours: countOf(verdicts, (v) => v.hours),
    all: f1Of(verdicts, 0),
    of30sAndMore: f1Of(verdicts, 30_000),
    start: boundaryErrors(pairs, startError),
    end: boundaryErrors(pairs, endError),
    found: Object.fromEntries(
      (['whole', 'pieces', 'part', 'missed'] as const).map((shape) => [
        shape,
        shapes.filter((s) => s === shape).length,
      ]),
    ),
    live: {
      recall: ratio(livePairs.length, truths),
      startDelayS: medianAndP90(
        delayS(
          (hold) => hold.start.declaredAtMs,
          (pair) => pair.truth.startMs,
        ),
      ),
      endDelayS: medianAndP90(
        delayS(
          (hold) => hold.end?.declaredAtMs,
          (pair) => pair.truth.endMs,
        ),
      ),
    },
    falseHolds: summariseFalseHolds(verdicts),
    trueProposals: countOf(verdicts, (v) => v.proposals.filter((p) => p.isTrue).length),
    alarms: summariseFalseAlarms(verdicts),
    reliability,
    reliabilityOffDiagonal: offDiagonal(reliability),
  };
}

/** The same summary for each value of each condition. */
export function splitByCondition<Summary>(
  verdicts: readonly Verdict[],
  summarise: (verdicts: readonly Verdict[]) => Summary,
): Record<string, Summary> {
  const out: Record<string, Summary> = {};
  for (const axis of new Set(verdicts.flatMap((v) => Object.keys(v.conditions))))
    for (const value of [...new Set(verdicts.map((v) => v.conditions[axis]))].sort())
      if (value !== undefined)
        out[`${axis}: ${value}`] = summarise(verdicts.filter((v) => v.conditions[axis] === value));
  return out;
}
