// What is known of one athlete's fall before a hold: a normal distribution over six standardised traits. Population
// values at first; after each hold what its readings taught. Also turns traits into physical parameters.

import { lungMlPerLitrePerMmHg } from './gas-equations.ts';
import {
  type AthleteOxygen,
  oxygenParameterTable,
  plausible,
  populationOxygen,
} from './oxygen-parameters.ts';

/** Order of the traits in every vector. Each is standard normal in the population. */
export const traits = ['lungs', 'uptake', 'blood', 'shift', 'offset', 'lag'] as const;
export const traitCount = traits.length;

/** Mean and covariance (rows of a lower-triangular factor, 6 x 6) of the traits, and from how many holds. */
export interface AthletePrior {
  readonly mean: readonly number[];
  /** Covariance, row by row. */
  readonly covariance: readonly number[];
  readonly holdCount: number;
}

/** A stored prior, checked: the right lengths, finite numbers, a covariance that can be one. Else undefined. */
export function readAthletePrior(value: unknown): AthletePrior | undefined {
  if (typeof value !== 'object' || value === null) return undefined;
  const { mean, covariance, holdCount } = value as Partial<Record<keyof AthletePrior, unknown>>;
  const areNumbers = (list: unknown, length: number): list is number[] =>
    Array.isArray(list) && list.length === length && list.every((number) => Number.isFinite(number));
  if (!areNumbers(mean, traitCount) || !areNumbers(covariance, traitCount * traitCount)) return undefined;
  if (typeof holdCount !== 'number' || !Number.isInteger(holdCount) || holdCount < 0) return undefined;
  for (let i = 0; i < traitCount; i += 1) {
    if (!(covariance[i * traitCount + i]! > 0)) return undefined;
    for (let j = 0; j < i; j += 1) {
      if (Math.abs(covariance[i * traitCount + j]! - covariance[j * traitCount + i]!) > 1e-6)
        return undefined;
    }
  }
  return { mean, covariance, holdCount };
}

/** A person of whom nothing is known. */
export const populationPrior: AthletePrior = {
  mean: new Array<number>(traitCount).fill(0),
  covariance: Array.from({ length: traitCount * traitCount }, (_, index) =>
    index % (traitCount + 1) === 0 ? 1 : 0,
  ),
  holdCount: 0,
};

/**
 * How much each trait changes from one hold to the next, in population spreads. Our choice: how far lungs are filled
 * and how the body rests changes from hold to hold (0.35-0.45); blood, sensor and circulation change little.
 */
export const driftBetweenHolds: readonly number[] = [0.7, 0.5, 0.2, 0.6, 0.3, 0.3];

const table = oxygenParameterTable;
/** Capacity of lungs of the mean volume, ml per mmHg. */
const meanLungLog = Math.log(table.lungVolumeL.mean * lungMlPerLitrePerMmHg);
const meanUptakeLog = Math.log(
  (table.metabolicRateMlPerMin.mean * (1 - table.diveResponseFraction.mean)) / 60,
);
/** Relative spread of uptake: rate (17 %) and diving response (15 %) together. */
const uptakeSpread = Math.hypot(
  table.metabolicRateMlPerMin.spread / table.metabolicRateMlPerMin.mean,
  table.diveResponseFraction.spread / (1 - table.diveResponseFraction.mean),
);
/** ml of oxygen that all blood gives up per unit of saturation: 1.34 * Hb * volume. */
const meanBloodLog = Math.log(1.34 * table.haemoglobinGPerDl.mean * table.bloodVolumeL.mean * 10);
const bloodSpread = Math.hypot(
  table.haemoglobinGPerDl.spread / table.haemoglobinGPerDl.mean,
  table.bloodVolumeL.spread / table.bloodVolumeL.mean,
);
const lungSpread = table.lungVolumeL.spread / table.lungVolumeL.mean;
/** Below this trait value lungs get small fast: a tenth of holds begin with half-filled or relaxed lungs (our choice). */
const smallLungsFrom = -0.9;
const smallLungsSlope = 0.55;

/** ml per mmHg, natural logarithm. */
export function logLungOf(trait: number): number {
  const whole =
    trait >= smallLungsFrom
      ? lungSpread * trait
      : lungSpread * smallLungsFrom + smallLungsSlope * (trait - smallLungsFrom);
  return meanLungLog + whole;
}

/** ml per second, natural logarithm. */
export function logUptakeOf(trait: number): number {
  return meanUptakeLog + uptakeSpread * trait;
}

/** ml per unit of saturation, natural logarithm. */
export function logBloodOf(trait: number): number {
  return meanBloodLog + bloodSpread * trait;
}

/** Seconds from the first breath to the lowest reading. */
export function lagSecondsOf(trait: number): number {
  return Math.max(4, table.lagS.mean + table.lagS.spread * trait);
}

/**
 * Seconds by which the display's curve lags the model's: the lag less part of the oximeter's averaging, and whatever
 * starting pressure and readiness differ by. `startUncertaintyS` widens it when a detector named the start.
 */
export function shiftSecondsOf(shiftTrait: number, lagTrait: number, startUncertaintyS: number): number {
  // 8 s: about 4 mmHg of starting pressure at 0.45 mmHg/s (our choice).
  return lagSecondsOf(lagTrait) - 4 + Math.hypot(8, startUncertaintyS) * shiftTrait;
}

/** Points by which this oximeter on this finger differs; the resting reading has told most of it. */
export const offsetSpreadKnownRest = 0.7;

/** The athlete's traits as parameters of the store model, for plan previews. */
export function oxygenOf(prior: AthletePrior): AthleteOxygen {
  const mean = prior.mean;
  const spreadOf = (trait: number): number => Math.sqrt(prior.covariance[trait * traitCount + trait]!);
  const population = populationOxygen;
  const parameters = plausible({
    ...population.parameters,
    lungVolumeL: Math.exp(logLungOf(mean[0]!)) / lungMlPerLitrePerMmHg,
    metabolicRateMlPerMin:
      (60 * Math.exp(logUptakeOf(mean[1]!))) / (1 - population.parameters.diveResponseFraction),
    bloodVolumeL: population.parameters.bloodVolumeL * Math.exp(bloodSpread * mean[2]!),
    lagS: lagSecondsOf(mean[5]!),
    readingOffsetPercent: offsetSpreadKnownRest * mean[4]!,
  });
  return {
    parameters,
    spreads: {
      ...population.spreads,
      lungVolumeL: population.spreads.lungVolumeL * spreadOf(0),
      metabolicRateMlPerMin: population.spreads.metabolicRateMlPerMin * spreadOf(1),
      // The fitted uptake holds both, so the response is not varied a second time once fitted.
      diveResponseFraction: prior.holdCount === 0 ? population.spreads.diveResponseFraction : 0,
      bloodVolumeL: population.spreads.bloodVolumeL * spreadOf(2),
      lagS: population.spreads.lagS * spreadOf(5),
      readingOffsetPercent: population.spreads.readingOffsetPercent * spreadOf(4),
    },
    holdCount: prior.holdCount,
  };
}
