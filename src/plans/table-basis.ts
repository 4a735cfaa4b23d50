// What a table of an athlete is made from: their own holds of the last weeks, and where little is known, little. Then the table
// itself, short enough that by the model of their saturation nothing comes near the floor. All rules are our choice, because
// numbers that fit everybody fit nobody; none makes a hold longer than what the athlete has found comfortable.

import type { PlanOf } from '../../shared/plan.ts';
import { type Said, said } from '../../shared/said.ts';
import type { AthleteOxygen } from '../oxygen/oxygen-parameters.ts';
import { quantileOfSorted, sortedRising } from '../sessions/quantiles.ts';
import { makeCarbonDioxideTable, makeOxygenTable } from './generate-plan.ts';
import { dryMinimumRecovery, minimumRecoveryMs } from './minimum-recovery.ts';
import { previewForAthletes } from './plan-effect.ts';

/** A finished hold at rest. */
export interface PastHold {
  readonly sessionId: string;
  /** Days since 1970 by the calendar of the athlete's place. */
  readonly atDay: number;
  readonly durationS: number;
  /** 1 very uncomfortable, 5 easy; null where nobody said. */
  readonly comfort: number | null;
  /** From the end until saturation, and until heart rate, was back near their own rest; null where not known. */
  readonly spo2BackS: number | null;
  readonly heartRateBackS: number | null;
}

export interface TableBasis {
  /** A hold that was no effort: what the table is built round. */
  readonly comfortableSeconds: number;
  readonly rows: number;
  /** After so long saturation and heart rate were back nine times of ten; null where that is not known. */
  readonly backSeconds: number | null;
  readonly restsOn: 'ownHolds' | 'fewHolds' | 'nothing';
  readonly holdCount: number;
  /** Day of the oldest hold it rests on; null without one. */
  readonly sinceDay: number | null;
}

/** An older hold says little of today. */
const freshDays = 56;
/** Fewer holds, or of one session alone, do not tell what is usual. */
const enoughHolds = 6;
const enoughSessions = 2;
/** Where little is known: a hold that most people find short, and as few of them. */
const unknownSeconds = 30;
const fewHoldsAtMostSeconds = 60;
const unknownRows = 4;
const [leastRows, mostRows] = [3, 8] as const;
/** Rated below, a hold was not comfortable. */
const comfortableFrom = 3;

/** From one athlete's finished holds, in any order. */
export function tableBasisOf(holds: readonly PastHold[], today: number): TableBasis {
  const own = holds.filter(
    ({ atDay, comfort }) => today - atDay < freshDays && (comfort === null || comfort >= comfortableFrom),
  );
  const durations = sortedRising(own.map(({ durationS }) => durationS));
  const sessions = new Map<string, number>();
  for (const { sessionId } of own) sessions.set(sessionId, (sessions.get(sessionId) ?? 0) + 1);
  const holdCount = own.length;
  const sinceDay = holdCount === 0 ? null : Math.min(...own.map(({ atDay }) => atDay));
  const common = { holdCount, sinceDay };
  if (holdCount === 0)
    return {
      ...common,
      restsOn: 'nothing',
      comfortableSeconds: unknownSeconds,
      rows: unknownRows,
      backSeconds: null,
    };
  const back = sortedRising(
    own.flatMap(({ spo2BackS, heartRateBackS }) =>
      spo2BackS === null && heartRateBackS === null ? [] : Math.max(spo2BackS ?? 0, heartRateBackS ?? 0),
    ),
  );
  const backSeconds = back.length < enoughHolds ? null : Math.ceil(quantileOfSorted(back, 0.9)!);
  if (holdCount < enoughHolds || sessions.size < enoughSessions)
    return {
      ...common,
      restsOn: 'fewHolds',
      comfortableSeconds: toFiveDown(Math.min(fewHoldsAtMostSeconds, durations[0]!)),
      rows: unknownRows,
      backSeconds,
    };
  const usualRows = quantileOfSorted(sortedRising([...sessions.values()]), 0.5)!;
  return {
    ...common,
    restsOn: 'ownHolds',
    // As long as half of their own holds are, not the longest.
    comfortableSeconds: toFiveDown(quantileOfSorted(durations, 0.5)!),
    rows: Math.min(mostRows, Math.max(leastRows, Math.round(usualRows))),
    backSeconds,
  };
}

/** Of several who hold together, the most careful of each. */
export function sharedBasis(bases: readonly TableBasis[]): TableBasis {
  const [first, ...others] = bases;
  if (first === undefined) return tableBasisOf([], 0);
  return others.reduce(
    (shared, each) => ({
      comfortableSeconds: Math.min(shared.comfortableSeconds, each.comfortableSeconds),
      rows: Math.min(shared.rows, each.rows),
      backSeconds:
        shared.backSeconds === null || each.backSeconds === null
          ? null
          : Math.max(shared.backSeconds, each.backSeconds),
      restsOn:
        shared.restsOn === 'nothing' || each.restsOn === 'nothing'
          ? 'nothing'
          : shared.restsOn === 'fewHolds'
            ? 'fewHolds'
            : each.restsOn,
      holdCount: shared.holdCount + each.holdCount,
      sinceDay:
        shared.sinceDay === null ? each.sinceDay : Math.min(shared.sinceDay, each.sinceDay ?? Infinity),
    }),
    first,
  );
}

export interface TableForAthletes {
  readonly plan: PlanOf<'holdTable'>;
  /** The hold that it is made round, after shortening. */
  readonly comfortableSeconds: number;
  /** Where its numbers come from, in one sentence. */
  readonly why: Said;
}

export interface TableModel {
  readonly athletes: readonly AthleteOxygen[];
  /** The highest of their floors. */
  readonly floorSpo2Percent: number;
}

/** A table may come no nearer to the floor than this, by the lower end of what the model gives. */
const clearOfFloorPercent = 2;
/** No hold of a table is made shorter than this: it would be none. */
const shortestSeconds = 15;
/** Share of a comfortable hold that a carbon-dioxide table repeats: its recoveries are short. */
const repeatedShare = 0.8;
/** An oxygen table begins at this share and ends at a comfortable hold. */
const firstShare = 0.6;
/** Where nobody knows how long this athlete needs to be back near rest. */
const unknownBackSeconds = 60;
/** What is given beyond the time in which they were back. */
const spareSeconds = 15;

/** Null for the model: a person has chosen how long, and nothing is shortened. */
export function tableForAthletes(
  shape: 'carbonDioxide' | 'oxygen',
  basis: TableBasis,
  model: TableModel | null,
): TableForAthletes {
  const comfortable = model === null ? basis.comfortableSeconds : clearSeconds(shape, basis, model);
  const plan = tableOf(shape, comfortable, basis);
  const own = whyOf(basis);
  return {
    plan,
    comfortableSeconds: comfortable,
    why:
      model !== null && comfortable < basis.comfortableSeconds
        ? said('table.shortened', {
            why: own,
            toMs: comfortable * 1_000,
            floorPercent: model.floorSpo2Percent,
          })
        : own,
  };
}

/** The longest, in steps of 5 s, round which the table stays clear of the floor. */
function clearSeconds(shape: 'carbonDioxide' | 'oxygen', basis: TableBasis, model: TableModel): number {
  const isClear = (seconds: number): boolean => staysClear(tableOf(shape, seconds, basis), model);
  if (isClear(basis.comfortableSeconds)) return basis.comfortableSeconds;
  // A preview takes its time: it is looked for by halves, by the end of the table alone, where it goes lowest.
  const isEndClear = (seconds: number): boolean => {
    const plan = tableOf(shape, seconds, basis);
    return staysClear({ ...plan, rows: plan.rows.slice(-2) }, model);
  };
  let clear = Math.min(shortestSeconds, basis.comfortableSeconds);
  let tooLong = basis.comfortableSeconds;
  while (tooLong - clear > 5) {
    const between = toFiveDown((clear + tooLong) / 2);
    if (between <= clear) break;
    if (isEndClear(between)) clear = between;
    else tooLong = between;
  }
  while (clear > shortestSeconds && !isClear(clear)) clear = Math.max(shortestSeconds, clear - 5);
  return clear;
}

function tableOf(
  shape: 'carbonDioxide' | 'oxygen',
  comfortableSeconds: number,
  { rows, backSeconds }: TableBasis,
): PlanOf<'holdTable'> {
  const needed = (backSeconds ?? unknownBackSeconds) + spareSeconds;
  const leastAfter = (holdSeconds: number): number =>
    toFiveUp(Math.max(needed, minimumRecoveryMs(dryMinimumRecovery, holdSeconds * 1_000) / 1_000));
  if (shape === 'carbonDioxide') {
    const holdSeconds = Math.max(5, toFiveDown(comfortableSeconds * repeatedShare));
    const lastRecoverySeconds = leastAfter(holdSeconds);
    return makeCarbonDioxideTable({
      holdSeconds,
      rows,
      firstRecoverySeconds: Math.max(lastRecoverySeconds, toFiveUp(holdSeconds * 2)),
      lastRecoverySeconds,
    });
  }
  return makeOxygenTable({
    firstHoldSeconds: Math.max(5, toFiveDown(comfortableSeconds * firstShare)),
    lastHoldSeconds: comfortableSeconds,
    rows,
    recoverySeconds: Math.max(leastAfter(comfortableSeconds), toFiveUp(comfortableSeconds * 2)),
  });
}

/** Nothing known of anybody: the population stands in, as in every preview. */
function staysClear(plan: PlanOf<'holdTable'>, { athletes, floorSpo2Percent }: TableModel): boolean {
  const { effect } = previewForAthletes(plan, athletes, floorSpo2Percent, null);
  return (
    typeof effect === 'string' ||
    effect.steps.every(({ hold }) => hold.lowestReadingPercent.low >= floorSpo2Percent + clearOfFloorPercent)
  );
}

function whyOf({ restsOn, holdCount, sinceDay, comfortableSeconds, rows, backSeconds }: TableBasis): Said {
  const comfortableMs = comfortableSeconds * 1_000;
  if (restsOn === 'nothing' || sinceDay === null) return said('table.ofNothing', { comfortableMs });
  if (restsOn === 'fewHolds') return said('table.ofFewHolds', { count: holdCount, comfortableMs });
  const known = { count: holdCount, day: sinceDay, comfortableMs, rows };
  return backSeconds === null
    ? said('table.ofOwnHolds', known)
    : said('table.ofOwnHoldsAndRecovery', { ...known, backSeconds });
}

const toFiveDown = (seconds: number): number => Math.max(5, Math.floor(seconds / 5) * 5);
const toFiveUp = (seconds: number): number => Math.ceil(seconds / 5) * 5;
