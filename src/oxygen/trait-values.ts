// From standardised traits to physical numbers: lung store, uptake, blood store, start and lag of the fall; and an
// athlete's traits as parameters of the store model, for plan previews.

import type { HoldLungs } from '../../shared/schema-parts.ts';
import { type AthletePrior, type HoldPrior, holdPriorOf, traitCount } from './athlete-prior.ts';
import { tableStartPo2MmHg } from './fall-curve.ts';
import { lungMlPerLitrePerMmHg } from './gas-equations.ts';
import { lungStates } from './lung-states.ts';
import {
  type AthleteOxygen,
  oxygenParameterTable,
  plausible,
  populationOxygen,
} from './oxygen-parameters.ts';

const table = oxygenParameterTable;
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

/** Litres when the hold begins. */
function lungVolumeOf(lungs: HoldLungs, trait: number): number {
  const { volumeL, relativeSpread } = lungStates[lungs];
  return volumeL * Math.exp(relativeSpread * trait);
}

/** What an athlete's lungs hold in a state, litres: `deviation` standard deviations of what is known off its middle. */
export function knownLungVolumeOf(prior: AthletePrior, lungs: HoldLungs, deviation: number): number {
  const { mean, covariance } = holdPriorOf(prior, lungs);
  return lungVolumeOf(lungs, mean[0]! + Math.sqrt(covariance[0]!) * deviation);
}

/** ml per mmHg, natural logarithm. */
export function logLungOf(lungs: HoldLungs, trait: number): number {
  return Math.log(lungVolumeOf(lungs, trait) * lungMlPerLitrePerMmHg);
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
export function shiftSecondsOf(
  lungs: HoldLungs,
  shiftTrait: number,
  lagTrait: number,
  startUncertaintyS: number,
): number {
  const { readinessSpreadS } = lungStates[lungs];
  return lagSecondsOf(lagTrait) - 4 + Math.hypot(readinessSpreadS, startUncertaintyS) * shiftTrait;
}

/** Oxygen that counts as used when the hold begins, mmHg: lungs that are not full begin further down the curve. */
export function usedAtStartOf(lungs: HoldLungs): number {
  return tableStartPo2MmHg - lungStates[lungs].startPo2MmHg;
}

/** Points by which this oximeter on this finger differs; the resting reading has told most of it. */
export const offsetSpreadKnownRest = 0.7;

/** The athlete's traits as parameters of the store model, with the volume of full lungs, for plan previews. */
export function oxygenOf(prior: AthletePrior): AthleteOxygen {
  const lungs = 'full';
  const hold: HoldPrior = holdPriorOf(prior, lungs);
  const { mean } = hold;
  const spreadOf = (trait: number): number => Math.sqrt(hold.covariance[trait * traitCount + trait]!);
  const population = populationOxygen;
  const lungVolumeL = lungVolumeOf(lungs, mean[0]!);
  const parameters = plausible({
    ...population.parameters,
    lungVolumeL,
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
      lungVolumeL: lungVolumeL * lungStates[lungs].relativeSpread * spreadOf(0),
      metabolicRateMlPerMin: population.spreads.metabolicRateMlPerMin * spreadOf(1),
      // The fitted uptake holds both, so the response is not varied a second time once fitted.
      diveResponseFraction: prior.holdCount === 0 ? population.spreads.diveResponseFraction : 0,
      bloodVolumeL: population.spreads.bloodVolumeL * spreadOf(2),
      lagS: population.spreads.lagS * spreadOf(5),
      readingOffsetPercent: population.spreads.readingOffsetPercent * spreadOf(4),
    },
    holdCount: prior.holdCount,
    prior,
  };
}
