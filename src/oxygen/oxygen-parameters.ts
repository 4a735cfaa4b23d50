// Every parameter of the oxygen store model in one table: population mean, spread, plausible range and source.
// A person's parameters begin as these and are fitted from their own recordings.

import { type AthletePrior, populationPrior } from './athlete-prior.ts';

export type OxygenParameterName =
  | 'lungVolumeL'
  | 'metabolicRateMlPerMin'
  | 'diveResponseFraction'
  | 'respiratoryQuotient'
  | 'haemoglobinGPerDl'
  | 'bloodVolumeL'
  | 'cardiacOutputLPerMin'
  | 'shuntFraction'
  | 'restingPco2MmHg'
  | 'co2StoreMlPerMmHg'
  | 'lagS'
  | 'averagingS'
  | 'readingOffsetPercent';

export interface OxygenParameterRow {
  readonly mean: number;
  /** Standard deviation among people. */
  readonly spread: number;
  readonly least: number;
  readonly most: number;
  /** Read in a source, from memory, or our choice with its reason. "reference" is the project's table of values. */
  readonly source: string;
}

export const oxygenParameterTable: Readonly<Record<OxygenParameterName, OxygenParameterRow>> = {
  lungVolumeL: {
    mean: 6.3,
    spread: 1,
    least: 1,
    most: 10,
    source:
      'gas in the lungs at the start of a full-lung hold, BTPS; TLC 6-8 L (reference 2.29), textbook; least: below RV',
  },
  metabolicRateMlPerMin: {
    mean: 230,
    spread: 40,
    least: 120,
    most: 400,
    source: 'reference 2.13: 250 ml/min +/- 20 % (from memory); lying is about 10 % less (from memory)',
  },
  diveResponseFraction: {
    mean: 0.2,
    spread: 0.12,
    least: 0,
    most: 0.5,
    source:
      'part by which oxygen uptake falls; slope is tied to bradycardia (Stewart 2005, reference 3.11); size our choice, because a constant rate over-predicts published falls (reference 2.29)',
  },
  respiratoryQuotient: {
    mean: 0.8,
    spread: 0.05,
    least: 0.7,
    most: 1,
    source: 'reference 2.13, textbook (from memory)',
  },
  haemoglobinGPerDl: { mean: 14.5, spread: 1.2, least: 10, most: 18, source: 'textbook, from memory' },
  bloodVolumeL: { mean: 5, spread: 0.7, least: 3, most: 7, source: 'reference 2.29; 70 ml/kg from memory' },
  cardiacOutputLPerMin: { mean: 5, spread: 0.8, least: 3, most: 8, source: 'reference 2.29; from memory' },
  shuntFraction: { mean: 0.02, spread: 0.01, least: 0, most: 0.06, source: 'textbook 2 %, from memory' },
  restingPco2MmHg: {
    mean: 38,
    spread: 3,
    least: 25,
    most: 46,
    source: 'textbook 40; lower before holds (29 end-tidal in Pernett 2023, reference 2.24)',
  },
  co2StoreMlPerMmHg: {
    mean: 60,
    spread: 12,
    least: 35,
    most: 110,
    source: 'fast store 0.5-1.5 ml/kg/mmHg (reference 2.12, from memory); gives about 3 mmHg/min (2.19)',
  },
  lagS: {
    mean: 20,
    spread: 7,
    least: 8,
    most: 45,
    source:
      'healthy people, lung to finger: 15.9 +/- 2.6 s (reference 3.23), 18.5 s (3.25), to the ear 12 s (3.26), and half of an averaging of 3-21 s (4.04) besides; two spreads are 6-34 s. The 31-38 s of 3.24 are of patients',
  },
  averagingS: { mean: 6, spread: 2, least: 2, most: 20, source: 'reference 4.04: settings of 3-21 s' },
  readingOffsetPercent: {
    mean: 0,
    spread: 1.2,
    least: -4,
    most: 4,
    source: 'device bias within Arms 4 % (reference 4.01, from memory); spread our choice',
  },
};

export type OxygenParameters = Readonly<Record<OxygenParameterName, number>>;

/** A person's parameters with how sure each is (standard deviation). */
export interface AthleteOxygen {
  readonly parameters: OxygenParameters;
  readonly spreads: OxygenParameters;
  /** Holds that have taught something; 0 for the population's values. */
  readonly holdCount: number;
  /** What it was made from: the lungs of each state and the lowest seen are read there. */
  readonly prior: AthletePrior;
}

const names = Object.keys(oxygenParameterTable) as readonly OxygenParameterName[];

function column(read: (row: OxygenParameterRow) => number): OxygenParameters {
  return Object.fromEntries(names.map((name) => [name, read(oxygenParameterTable[name])])) as Record<
    OxygenParameterName,
    number
  >;
}

/** A person of whom nothing is known. */
export const populationOxygen: AthleteOxygen = {
  parameters: column((row) => row.mean),
  spreads: column((row) => row.spread),
  holdCount: 0,
  prior: populationPrior,
};

/** Each value brought into its plausible range. */
export function plausible(parameters: OxygenParameters): OxygenParameters {
  return Object.fromEntries(
    names.map((name) => {
      const { least, most } = oxygenParameterTable[name];
      return [name, Math.min(most, Math.max(least, parameters[name]))];
    }),
  ) as Record<OxygenParameterName, number>;
}
