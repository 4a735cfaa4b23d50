// What is known of one athlete's fall before a hold: one normal distribution over standardised traits, in which full,
// half and emptied lungs have a trait each and share the others. Population values at first; every hold teaches.

import type { HoldLungs } from '../../shared/schema-parts.ts';
import { cholesky, regressionOn } from './cholesky.ts';
import { holdLungs, lungStates } from './lung-states.ts';

/** Order of the traits of one hold. Each is standard normal in the population. */
const traits = ['lungs', 'uptake', 'blood', 'shift', 'offset', 'lag'] as const;
export const traitCount = traits.length;
/** Order of the traits of an athlete: those of a hold with full lungs, then the lungs of the other states. */
const athleteTraitCount = traitCount + 2;
const lungsTrait: Readonly<Record<HoldLungs, number>> = {
  full: 0,
  half: traitCount,
  emptied: traitCount + 1,
};
/** How far an athlete's lungs of two states go together (large lungs are large in each). Our choice. */
const lungsCorrelation = 0.5;

/** The lowest reading of an athlete's holds in one lung state, and how long that hold was. */
export interface LowestSeen {
  readonly percent: number;
  readonly holdDurationMs: number;
}

export interface AthletePrior {
  /** Of the athlete's eight traits. */
  readonly mean: readonly number[];
  /** Covariance of the eight, row by row. */
  readonly covariance: readonly number[];
  /** Holds that have taught something; 0 for the population's values. */
  readonly holdCount: number;
  /** Of `holdCount`, by the lungs they began with; a prior of before knew only full ones. */
  readonly holdCountByLungs: Readonly<Record<HoldLungs, number>>;
  readonly lowestSeen: Readonly<Partial<Record<HoldLungs, LowestSeen>>>;
  /** How far the lowest readings of this athlete's holds lay from what was foreseen, against what was to be expected (1). */
  readonly errorScale: number;
}

/** The six traits of a hold with known lungs. */
export interface HoldPrior {
  readonly lungs: HoldLungs;
  readonly mean: readonly number[];
  readonly covariance: readonly number[];
}

const populationCovariance = Array.from({ length: athleteTraitCount ** 2 }, (_, index) => {
  const row = Math.floor(index / athleteTraitCount);
  const column = index % athleteTraitCount;
  const areLungs = (Object.values(lungsTrait) as number[]).includes(row) && isLungsTrait(column);
  return row === column ? 1 : areLungs ? lungsCorrelation : 0;
});

function isLungsTrait(index: number): boolean {
  return (Object.values(lungsTrait) as number[]).includes(index);
}

/** A person of whom nothing is known. */
export const populationPrior: AthletePrior = {
  mean: new Array<number>(athleteTraitCount).fill(0),
  covariance: populationCovariance,
  holdCount: 0,
  holdCountByLungs: { full: 0, half: 0, emptied: 0 },
  lowestSeen: {},
  errorScale: 1,
};

/**
 * A stored prior, checked: the right lengths, finite numbers, a covariance that can be one. One of six traits, from
 * before lungs were told apart, is read as that of full lungs. Undefined where it cannot be read.
 */
export function readAthletePrior(value: unknown): AthletePrior | undefined {
  if (typeof value !== 'object' || value === null) return undefined;
  const { mean, covariance, holdCount, holdCountByLungs, lowestSeen, errorScale } = value as Partial<
    Record<keyof AthletePrior, unknown>
  >;
  if (!isCount(holdCount)) return undefined;
  if (areNumbers(mean, traitCount) && isCovariance(covariance, traitCount)) {
    const full = updated(populationPrior, { lungs: 'full', mean, covariance });
    return { ...full, holdCount, holdCountByLungs: { full: holdCount, half: 0, emptied: 0 } };
  }
  if (!areNumbers(mean, athleteTraitCount) || !isCovariance(covariance, athleteTraitCount)) return undefined;
  const counts = (holdCountByLungs ?? {}) as Partial<Record<HoldLungs, unknown>>;
  const seen = (lowestSeen ?? {}) as Partial<Record<HoldLungs, unknown>>;
  const countOf = (lungs: HoldLungs): number => (isCount(counts[lungs]) ? counts[lungs] : 0);
  return {
    mean,
    covariance,
    holdCount,
    holdCountByLungs: { full: countOf('full'), half: countOf('half'), emptied: countOf('emptied') },
    lowestSeen: Object.fromEntries(
      holdLungs.flatMap((lungs) => (isLowestSeen(seen[lungs]) ? [[lungs, seen[lungs]]] : [])),
    ),
    errorScale:
      typeof errorScale === 'number' && errorScale >= leastErrorScale && errorScale <= mostErrorScale
        ? errorScale
        : 1,
  };
}

function isCount(value: unknown): value is number {
  return typeof value === 'number' && Number.isInteger(value) && value >= 0;
}

function areNumbers(list: unknown, length: number): list is number[] {
  return Array.isArray(list) && list.length === length && list.every((number) => Number.isFinite(number));
}

function isCovariance(matrix: unknown, size: number): matrix is number[] {
  if (!areNumbers(matrix, size * size)) return false;
  for (let i = 0; i < size; i += 1) {
    if (!(matrix[i * size + i]! > 0)) return false;
    for (let j = 0; j < i; j += 1)
      if (Math.abs(matrix[i * size + j]! - matrix[j * size + i]!) > 1e-6) return false;
  }
  return true;
}

function isLowestSeen(value: unknown): value is LowestSeen {
  if (typeof value !== 'object' || value === null) return false;
  const { percent, holdDurationMs } = value as Partial<Record<keyof LowestSeen, unknown>>;
  return (
    typeof percent === 'number' &&
    percent > 0 &&
    percent <= 100 &&
    typeof holdDurationMs === 'number' &&
    holdDurationMs > 0
  );
}

/** Which of the athlete's traits a hold with these lungs has, in the hold's order. */
const indicesOf = (lungs: HoldLungs): number[] =>
  traits.map((_, trait) => (trait === 0 ? lungsTrait[lungs] : trait));

/** What a hold of this athlete with these lungs may expect. */
export function holdPriorOf(prior: AthletePrior, lungs: HoldLungs): HoldPrior {
  const indices = indicesOf(lungs);
  return {
    lungs,
    mean: indices.map((index) => prior.mean[index]!),
    covariance: indices.flatMap((row) =>
      indices.map((column) => prior.covariance[row * athleteTraitCount + column]!),
    ),
  };
}

/** How likely each state is when nobody says: the population's habit until the athlete's own holds outweigh it. */
export function lungShares(prior: AthletePrior): Readonly<Record<HoldLungs, number>> {
  // As if the population's habit were five holds (our choice).
  const weight = 5;
  const { holdCountByLungs: counts } = prior;
  const all = weight + counts.full + counts.half + counts.emptied;
  const shareOf = (lungs: HoldLungs): number => (weight * lungStates[lungs].share + counts[lungs]) / all;
  return { full: shareOf('full'), half: shareOf('half'), emptied: shareOf('emptied') };
}

/**
 * How far each trait of one hold lies from this athlete's usual one, in population spreads. Our choice: how far lungs are filled
 * and how the body rests changes from hold to hold (0.4-0.5); blood, sensor and circulation change little. How far lungs are
 * emptied changes most: a little more or less air is a large part of what is left.
 */
const holdSpread: readonly number[] = [0.45, 0.4, 0.2, 0.5, 0.3, 0.25];
const holdSpreadOfEmptiedLungs = 0.75;
/** How far the usual one itself moves between holds. Our choice: training, another finger, another day. */
const usualDrift = 0.12;
const holdVarianceOf = (lungs: HoldLungs, trait: number): number =>
  (trait === 0 && lungs === 'emptied' ? holdSpreadOfEmptiedLungs : holdSpread[trait]!) ** 2;

/**
 * What the next hold with these lungs may expect: the athlete's usual traits, as far as this hold told of them, and how one hold
 * differs. A hold's traits are the usual ones and an own part of variance D, so with `former` of covariance C before it the usual ones
 * follow the hold's by I - D C^-1 (the conditional normal; any textbook of statistics).
 */
function nextHoldAfter(former: HoldPrior, hold: HoldPrior): HoldPrior {
  const size = traitCount;
  const own = traits.map((_, trait) => holdVarianceOf(hold.lungs, trait));
  const factor = cholesky(former.covariance, size);
  const identity = (row: number): number[] => traits.map((_, column) => (row === column ? 1 : 0));
  const inverse = traits.map((_, row) => regressionOn(factor, size, identity(row)));
  const follows = inverse.map((cells, row) =>
    cells.map((cell, column) => (row === column ? 1 : 0) - own[row]! * cell),
  );
  const mean = former.mean.map((value, row) =>
    follows[row]!.reduce((sum, part, trait) => sum + part * (hold.mean[trait]! - former.mean[trait]!), value),
  );
  const covariance = traits.flatMap((_, row) =>
    traits.map((_, column) => {
      let value =
        (row === column ? 2 * own[row]! + usualDrift ** 2 : 0) -
        own[row]! * inverse[row]![column]! * own[column]!;
      for (let i = 0; i < size; i++)
        for (let k = 0; k < size; k++)
          value += follows[row]![i]! * hold.covariance[i * size + k]! * follows[column]![k]!;
      return value;
    }),
  );
  return { lungs: hold.lungs, mean, covariance };
}

/** Bounds of `errorScale`, and how slowly it learns: as if the population's were four holds, then over eight. Our choice. */
const leastErrorScale = 0.5;
const mostErrorScale = 2.5;
const errorMemory = { atFirst: 4, atMost: 8 } as const;

function scaleAfter(prior: AthletePrior, surprise: number | undefined): number {
  if (surprise === undefined) return prior.errorScale;
  const memory = Math.min(errorMemory.atMost, errorMemory.atFirst + prior.holdCount);
  // One wild hold must not count for more than three spreads' worth.
  const square = Math.min(9, surprise ** 2) * prior.errorScale ** 2;
  const scale = Math.sqrt((memory * prior.errorScale ** 2 + square) / (memory + 1));
  return Math.min(mostErrorScale, Math.max(leastErrorScale, scale));
}

/**
 * The prior after a hold whose readings left this posterior. What its traits share with the other states follows.
 * `surprise`: by how many of its own spreads the lowest reading lay off what was foreseen.
 */
export function taughtBy(
  prior: AthletePrior,
  posterior: HoldPrior,
  lowest?: LowestSeen,
  surprise?: number,
): AthletePrior {
  const next = nextHoldAfter(holdPriorOf(prior, posterior.lungs), posterior);
  const covariance = [...next.covariance];
  // Never surer of nothing: no variance beyond the population's.
  const scale = traits.map((_, trait) => Math.min(1, 1 / Math.sqrt(covariance[trait * traitCount + trait]!)));
  for (let row = 0; row < traitCount; row++)
    for (let column = 0; column < traitCount; column++)
      covariance[row * traitCount + column] =
        covariance[row * traitCount + column]! * scale[row]! * scale[column]!;
  const { lungs } = posterior;
  const before = prior.lowestSeen[lungs];
  const isLower = lowest !== undefined && (before === undefined || lowest.percent < before.percent);
  return {
    ...updated(prior, { ...next, covariance }),
    holdCount: prior.holdCount + 1,
    holdCountByLungs: { ...prior.holdCountByLungs, [lungs]: prior.holdCountByLungs[lungs] + 1 },
    lowestSeen: isLower ? { ...prior.lowestSeen, [lungs]: lowest } : prior.lowestSeen,
    errorScale: scaleAfter(prior, surprise),
  };
}

/**
 * The joint normal whose six traits of one state have this distribution and whose other two keep what they had given
 * those six (the conditional normal; any textbook of statistics).
 */
function updated(prior: AthletePrior, hold: HoldPrior): AthletePrior {
  const size = athleteTraitCount;
  const known = indicesOf(hold.lungs);
  const others = Array.from({ length: size }, (_, index) => index).filter((index) => !known.includes(index));
  const former = holdPriorOf(prior, hold.lungs);
  const factor = cholesky(former.covariance, traitCount);
  // Row by row: what each other trait follows from the six.
  const slopes = others.map((other) =>
    regressionOn(
      factor,
      traitCount,
      known.map((index) => prior.covariance[other * size + index]!),
    ),
  );
  const mean = [...prior.mean];
  const covariance = [...prior.covariance];
  const change = hold.mean.map((value, trait) => value - former.mean[trait]!);
  const put = (row: number, column: number, value: number): void => {
    covariance[row * size + column] = value;
    covariance[column * size + row] = value;
  };
  known.forEach((row, i) => {
    mean[row] = hold.mean[i]!;
    known.forEach((column, j) => {
      put(row, column, hold.covariance[i * traitCount + j]!);
    });
  });
  others.forEach((other, which) => {
    const slope = slopes[which]!;
    mean[other] = prior.mean[other]! + slope.reduce((sum, part, trait) => sum + part * change[trait]!, 0);
    known.forEach((column, j) => {
      put(
        other,
        column,
        slope.reduce((sum, part, trait) => sum + part * hold.covariance[trait * traitCount + j]!, 0),
      );
    });
  });
  others.forEach((row, one) => {
    others.slice(0, one + 1).forEach((column, two) => {
      let value = prior.covariance[row * size + column]!;
      for (let i = 0; i < traitCount; i++)
        for (let j = 0; j < traitCount; j++)
          value +=
            slopes[one]![i]! *
            (hold.covariance[i * traitCount + j]! - former.covariance[i * traitCount + j]!) *
            slopes[two]![j]!;
      put(row, column, value);
    });
  });
  return { ...prior, mean, covariance };
}
