// Who is simulated: one person's physiology and sensors as numbers, with the range of each and where it comes from.

import { SeededRandom } from './seeded-random.ts';

/** One simulated person. Volumes are litres BTPS; oxygen amounts are ml STPD. */
export interface PersonParameters {
  /** 0 = never trained breath-holding, 1 = trains often. */
  readonly trainedFraction: number;
  readonly massKg: number;
  readonly totalLungCapacityL: number;
  readonly residualVolumeL: number;
  readonly functionalResidualL: number;
  /** Part of the total lung capacity filled by the last breath before a hold with full lungs. */
  readonly holdFillFraction: number;
  readonly breathsPerMin: number;
  /** Coefficient of variation of breath length and depth. */
  readonly breathVariation: number;
  readonly sighsPerHour: number;
  readonly restingPco2MmHg: number;
  /** How much more than needed is breathed while readying (1 = none). */
  readonly readyingVentilationFactor: number;

  readonly haemoglobinGPerDl: number;
  readonly bloodVolumeL: number;
  readonly restingVo2MlPerMin: number;
  readonly respiratoryQuotient: number;
  readonly restingCardiacOutputLPerMin: number;
  readonly shuntFraction: number;
  /** Fall of the oxygen drawn from blood once the diving response is complete. */
  readonly vo2FallFraction: number;

  readonly restingHeartRateBpm: number;
  /** Half the swing of heart rate with ordinary breathing. */
  readonly rsaAmplitudeBpm: number;
  readonly slowWaveAmplitudeBpm: number;
  readonly beatJitterMs: number;
  readonly anticipationBpm: number;
  readonly onsetTachycardiaBpm: number;
  /** Fall of heart rate by the diving response, as a fraction of the resting rate; 0 in some people. */
  readonly diveFallFraction: number;
  readonly diveTimeConstantMs: number;
  /** Further fall in the struggle phase over 100 s; 0 in about half. */
  readonly phaseThreeFallFraction: number;
  readonly recoveryTimeConstantMs: number;
  readonly recoveryOvershootBpm: number;
  /** Arousals at rest (stretching, a thought) that raise heart rate for some seconds. */
  readonly arousalsPerHour: number;

  readonly contractionPco2MmHg: number;
  /** PCO2 beyond the first contraction at which a maximal hold is ended. */
  readonly contractionToleranceMmHg: number;
  /** Arterial saturation at which a maximal hold is ended at the latest. */
  readonly breakingSaturationPercent: number;

  /** Transit lung to finger at resting cardiac output; lengthens as cardiac output falls. */
  readonly lungToFingerMs: number;
  readonly perfusionIndexPercent: number;
  readonly oximeterAveragingMs: number;
  /** Constant error of this oximeter on this finger. */
  readonly oximeterBiasPercent: number;
  /** Further error for each percent below 90 %. */
  readonly oximeterSlopeError: number;
  readonly oximeterNoisePercent: number;
}

/**
 * The range each drawn parameter is kept in and its source. "reference 3.11" and the like are rows of the project's
 * table of published values; "textbook" and "common practice" mean no paper was read for it.
 */
export const personRanges: Readonly<
  Record<keyof PersonParameters, { readonly least: number; readonly most: number; readonly source: string }>
> = {
  trainedFraction: { least: 0, most: 1, source: 'free: the corpus mixes novices and divers' },
  massKg: { least: 50, most: 95, source: 'textbook' },
  totalLungCapacityL: {
    least: 4.6,
    most: 9,
    source: 'textbook 6 L; divers larger, Koskolou 2023 (reference 3.12) correlates hold with FVC',
  },
  residualVolumeL: { least: 1, most: 2, source: 'textbook' },
  functionalResidualL: { least: 2.1, most: 3.6, source: 'textbook, sitting to lying' },
  holdFillFraction: { least: 0.8, most: 1, source: 'common practice, no source' },
  breathsPerMin: { least: 7, most: 17, source: 'textbook 12 to 15; slower when relaxed, common practice' },
  breathVariation: { least: 0.05, most: 0.25, source: 'common practice, no source' },
  sighsPerHour: { least: 3, most: 15, source: 'textbook, about 10/h' },
  restingPco2MmHg: { least: 36, most: 43, source: 'textbook 40 mmHg' },
  readyingVentilationFactor: {
    least: 1,
    most: 1.6,
    source: 'Pernett 2023 (reference 2.24): ETCO2 29 mmHg before the hold with nothing asked for',
  },
  haemoglobinGPerDl: { least: 11.5, most: 17, source: 'textbook' },
  bloodVolumeL: { least: 3.5, most: 6.7, source: 'textbook, 70 ml/kg' },
  restingVo2MlPerMin: {
    least: 150,
    most: 330,
    source: 'reference 2.13: 3.5 ml/kg/min; 10 to 15 % less lying',
  },
  respiratoryQuotient: { least: 0.75, most: 0.9, source: 'reference 2.13: 0.8' },
  restingCardiacOutputLPerMin: { least: 3.8, most: 7, source: 'textbook, 5 l/min' },
  shuntFraction: { least: 0.01, most: 0.04, source: 'textbook, 2 %' },
  vo2FallFraction: {
    least: 0,
    most: 0.45,
    source: 'Stewart 2005 (reference 3.11) ties slope to bradycardia; size from memory',
  },
  restingHeartRateBpm: { least: 45, most: 88, source: 'textbook' },
  rsaAmplitudeBpm: { least: 0, most: 10, source: 'from memory; none to strong on purpose' },
  slowWaveAmplitudeBpm: { least: 0.5, most: 4, source: 'from memory (0.1 Hz wave)' },
  beatJitterMs: { least: 2, most: 12, source: 'from memory' },
  anticipationBpm: { least: -2, most: 8, source: 'common practice, no source' },
  onsetTachycardiaBpm: { least: 0, most: 15, source: 'Taboni 2020 (reference 3.08): rate rises at onset' },
  diveFallFraction: {
    least: 0,
    most: 0.35,
    source: 'Perini 2008 (3.02): -14 /min; Heusser 2009 (3.10): none; Andersson 2002 (3.16): 21 % in air',
  },
  diveTimeConstantMs: { least: 5_000, most: 14_000, source: 'Perini 2008 (3.02): reached within 30 s' },
  phaseThreeFallFraction: { least: 0, most: 0.25, source: 'Perini 2008 (3.04): 11 of 20; size from memory' },
  recoveryTimeConstantMs: { least: 1_200, most: 4_500, source: 'Perini 2010 (3.09): back in 5 s' },
  recoveryOvershootBpm: { least: 0, most: 14, source: 'from memory' },
  arousalsPerHour: { least: 0, most: 15, source: 'common practice, no source' },
  contractionPco2MmHg: { least: 43, most: 56, source: 'Tetzlaff 2019 (reference 2.23): 45 to 60 mmHg' },
  contractionToleranceMmHg: {
    least: 1.5,
    most: 12,
    source: 'Pernett 2023 (3.18): onset at 80 % of a novice hold; Bourdas 2025 (3.17): 53 % in elite divers',
  },
  breakingSaturationPercent: {
    least: 60,
    most: 88,
    source: 'Heusser 2009 (3.10): 77.6 +/- 13.9 % at the end',
  },
  lungToFingerMs: {
    least: 5_000,
    most: 30_000,
    source: 'reference 3.19 to 3.27: 12 to 38 s with the instrument; lengthened here by low output',
  },
  perfusionIndexPercent: { least: 0.6, most: 12, source: 'common practice, no source' },
  oximeterAveragingMs: {
    least: 3_000,
    most: 9_000,
    source: 'Farre 1998 (reference 4.04): 3 to 21 s settings',
  },
  oximeterBiasPercent: { least: -2, most: 2, source: 'inside Arms 4 % (reference 4.01, from memory)' },
  oximeterSlopeError: {
    least: -0.1,
    most: 0.1,
    source: 'Bickler 2005 (4.10): bias grows as saturation falls',
  },
  oximeterNoisePercent: { least: 0.1, most: 0.6, source: 'from memory' },
};

/** Keeps a drawn number inside its stated range. */
const within = (key: keyof PersonParameters, value: number): number => {
  const range = personRanges[key];
  return Math.max(range.least, Math.min(range.most, value));
};

/**
 * Draws a person. `trainedFraction` may be fixed to ask for a novice (0) or a diver (1); everything else follows from
 * the seed, correlated where it is in people (trained: larger lungs, stronger diving response, more tolerance).
 */
export function personFromSeed(
  seed: number,
  fixed: { readonly trainedFraction?: number } = {},
): PersonParameters {
  const random = new SeededRandom(seed, 'person');
  const drawnTraining = random.next();
  const trained = fixed.trainedFraction ?? drawnTraining;
  const massKg = within('massKg', 72 + 11 * random.normal());
  const totalLungCapacityL = within(
    'totalLungCapacityL',
    5.2 + (massKg - 60) * 0.03 + 1.3 * trained + 0.5 * random.normal(),
  );
  const residualVolumeL = within('residualVolumeL', 1.35 + 0.2 * random.normal());
  const functionalResidualL = within('functionalResidualL', 0.4 * totalLungCapacityL + 0.2 * random.normal());
  const vo2PerKg = random.normalWithin(3.15, 0.3, 2.5, 3.9);
  const restingHeartRateBpm = within('restingHeartRateBpm', 71 - 8 * trained + 7 * random.normal());
  const divesAtAll = !random.chance(0.15);
  const diveFallFraction = divesAtAll
    ? within('diveFallFraction', 0.14 + 0.1 * trained + 0.07 * random.normal())
    : random.between(0, 0.03);
  const vo2FallFraction = within(
    'vo2FallFraction',
    0.08 + 0.16 * trained + 0.4 * diveFallFraction + 0.04 * random.normal(),
  );
  return {
    trainedFraction: trained,
    massKg,
    totalLungCapacityL,
    residualVolumeL,
    functionalResidualL,
    holdFillFraction: within('holdFillFraction', 0.9 + 0.04 * trained + 0.03 * random.normal()),
    breathsPerMin: within('breathsPerMin', 13 - 2.5 * trained + 2 * random.normal()),
    breathVariation: random.between(0.06, 0.22),
    sighsPerHour: random.between(4, 14),
    restingPco2MmHg: within('restingPco2MmHg', 39.5 + 1.3 * random.normal()),
    readyingVentilationFactor: random.between(1.05, 1.5),
    haemoglobinGPerDl: within('haemoglobinGPerDl', 14.3 + 1.1 * random.normal()),
    bloodVolumeL: within('bloodVolumeL', massKg * (0.068 + 0.005 * trained)),
    restingVo2MlPerMin: within('restingVo2MlPerMin', massKg * vo2PerKg),
    respiratoryQuotient: random.between(0.76, 0.88),
    restingCardiacOutputLPerMin: within(
      'restingCardiacOutputLPerMin',
      massKg * 0.072 + 0.4 * random.normal(),
    ),
    shuntFraction: random.between(0.01, 0.035),
    vo2FallFraction,
    restingHeartRateBpm,
    rsaAmplitudeBpm: random.chance(0.15) ? random.between(0, 0.8) : random.between(0.8, 9),
    slowWaveAmplitudeBpm: random.between(0.6, 3.2),
    beatJitterMs: random.between(2, 10),
    anticipationBpm: random.between(-1, 7),
    onsetTachycardiaBpm: random.between(0, 14),
    diveFallFraction,
    diveTimeConstantMs: random.between(5_000, 13_000),
    // Perini 2008: 11 of 20 divers had a phase III.
    phaseThreeFallFraction: random.chance(0.55) ? random.between(0.06, 0.22) : 0,
    recoveryTimeConstantMs: random.between(1_300, 4_000),
    recoveryOvershootBpm: random.between(0, 13),
    arousalsPerHour: random.between(0, 12),
    contractionPco2MmHg: within('contractionPco2MmHg', 46.5 + 2 * trained + 1.7 * random.normal()),
    contractionToleranceMmHg: within(
      'contractionToleranceMmHg',
      2 + 4.2 * trained + (0.6 + 0.8 * trained) * random.normal(),
    ),
    breakingSaturationPercent: within('breakingSaturationPercent', 86 - 16 * trained + 4 * random.normal()),
    lungToFingerMs: within('lungToFingerMs', 14_000 + 4_500 * random.normal()),
    perfusionIndexPercent: within('perfusionIndexPercent', 3.2 * Math.exp(0.55 * random.normal())),
    oximeterAveragingMs: random.between(3_000, 9_000),
    oximeterBiasPercent: within('oximeterBiasPercent', 0.7 * random.normal()),
    oximeterSlopeError: within('oximeterSlopeError', 0.035 * random.normal()),
    oximeterNoisePercent: random.between(0.12, 0.5),
  };
}
