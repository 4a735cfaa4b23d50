// Every measure of a hold and of a session: its key, name, unit, definition and source, in one table.

export interface MeasureDefinition {
  readonly key: string;
  readonly label: string;
  readonly unit: 's' | '%' | '/min' | 'ms' | '%/min' | '% s' | 'count' | 'ratio' | 's/hold';
  readonly definition: string;
  readonly source: string;
}

const practice = 'common practice, no source';
const taskForce = 'Task Force of ESC and NASPE, Circulation 1996;93:1043-1065';

/** Saturation thresholds for which the time below is measured, per cent. */
export const thresholdsPercent = [95, 90, 85, 80, 75, 70] as const;

/** Measures of one hold, in the order in which they are shown. */
export const measureTable = [
  {
    key: 'durationS',
    label: 'Duration',
    unit: 's',
    definition: 'End of the hold less its start.',
    source: practice,
  },
  {
    key: 'contractionCount',
    label: 'Contractions marked',
    unit: 'count',
    definition: 'Number of contraction marks within the hold; not known when none was marked.',
    source: practice,
  },
  {
    key: 'timeToFirstContractionS',
    label: 'Time before contractions',
    unit: 's',
    definition: 'First contraction mark less the start of the hold (the easy-going phase).',
    source: 'Bourdas & Geladas, Eur J Appl Physiol 2025, doi:10.1007/s00421-024-05632-x',
  },
  {
    key: 'timeAfterFirstContractionS',
    label: 'Time after contractions began',
    unit: 's',
    definition: 'End of the hold less the first contraction mark (the struggle phase).',
    source: 'Bourdas & Geladas 2025',
  },
  {
    key: 'shareBeforeContractionsPercent',
    label: 'Share before contractions',
    unit: '%',
    definition: 'Time before the first contraction mark as a share of the duration.',
    source: 'Bourdas & Geladas 2025 (onset at 52.9 % in trained divers)',
  },
  {
    key: 'estimatedContractionOnsetS',
    label: 'Contraction onset, estimate',
    unit: 's',
    definition:
      'AN ESTIMATE, not a mark: time into the hold from which heart rate beat by beat (or else the pleth baseline) ripples with 2 to 8 s period at 2.5 times its earlier power or more; not known when the evidence does not carry it.',
    source: 'own method, not validated against people (npm run bench:accuracy: simulated)',
  },
  {
    key: 'estimatedContractionOnsetUncertaintyS',
    label: 'Contraction onset, estimate: give or take',
    unit: 's',
    definition: 'Half the span of onsets nearly as likely (within one of the log likelihood).',
    source: 'own method',
  },
  {
    key: 'estimatedContractionCount',
    label: 'Contractions, estimate',
    unit: 'count',
    definition:
      'AN ESTIMATE, not marks: crests of that ripple from its onset on, above twice the earlier standard deviation.',
    source: 'own method, not validated against people',
  },
  {
    key: 'breathingRateBeforePerMin',
    label: 'Breathing rate before',
    unit: '/min',
    definition:
      'AN ESTIMATE: rate of the largest rhythm of 4 to 36 /min in the minute before the start, of the pleth baseline or else of heart rate beat by beat; not known when none stands out.',
    source: 'after the methods reviewed in Charlton et al., IEEE Rev Biomed Eng 2018;11:2-20',
  },
  {
    key: 'heartRateSwingBeforeBpm',
    label: 'Breathing swing of heart rate before',
    unit: '/min',
    definition: 'Peak to trough of that rhythm in heart rate (respiratory sinus arrhythmia).',
    source: 'after the methods reviewed in Charlton et al. 2018',
  },
  {
    key: 'spo2AtStartPercent',
    label: 'SpO2 at start',
    unit: '%',
    definition: 'Median of usable saturation in the 15 s before the start.',
    source: practice,
  },
  {
    key: 'spo2LowestPercent',
    label: 'Lowest SpO2',
    unit: '%',
    definition:
      'Lowest usable saturation from 10 s after the start to 60 s after the end (or 10 s into the next hold), because the finger lags the lungs.',
    source: 'lag 15-35 s and more: rows 3.23-3.27 of the reference values',
  },
  {
    key: 'spo2LowestAfterEndS',
    label: 'End to lowest SpO2',
    unit: 's',
    definition:
      "Middle of the time at the lowest saturation less the end of the hold; that athlete's lag. Not known when the fall is less than 2 %.",
    source: 'Zubieta-Calleja et al., J Physiol Pharmacol 2005;56 Suppl 4:251-256 (15.9 s, healthy)',
  },
  {
    key: 'spo2FallRatePercentPerMin',
    label: 'Rate of SpO2 fall',
    unit: '%/min',
    definition:
      'Least-squares slope of usable saturation from the last reading within 1 % of the start value to the lowest; positive for a fall; not known below a 3 % fall.',
    source: 'after the two-segment fit of Stewart et al., Med Sci Sports Exerc 2005;37:1871-1876',
  },
  ...thresholdsPercent.map((threshold) => ({
    key: `timeBelow${threshold}S`,
    label: `Time below ${threshold} %`,
    unit: 's' as const,
    definition: `Time with usable saturation below ${threshold} %, from the start to 60 s after the end (or 10 s into the next hold).`,
    source: practice,
  })),
  {
    key: 'areaBelow90PercentS',
    label: 'Area below 90 %',
    unit: '% s',
    definition: 'Integral of (90 % less saturation) where it is below 90 %, over the same time.',
    source: practice,
  },
  {
    key: 'timeBackTo95S',
    label: 'End to SpO2 of 95 %',
    unit: 's',
    definition:
      'First usable reading of 95 % or more after the lowest one, less the end of the hold; not known when saturation was never below 95 %.',
    source: practice,
  },
  {
    key: 'heartRateRestBpm',
    label: 'Resting heart rate',
    unit: '/min',
    definition:
      'Median heart rate from 60 s to 10 s before the start, not within 30 s after an earlier hold.',
    source: practice,
  },
  {
    key: 'heartRateLowestBpm',
    label: 'Lowest heart rate',
    unit: '/min',
    definition: 'Lowest 5 s mean of heart rate within the hold.',
    source: practice,
  },
  {
    key: 'heartRateMeanBpm',
    label: 'Mean heart rate',
    unit: '/min',
    definition: 'Time-weighted mean heart rate within the hold.',
    source: practice,
  },
  {
    key: 'heartRateFallPercent',
    label: 'Heart rate fall',
    unit: '%',
    definition: 'Resting less lowest heart rate, as a share of the resting rate.',
    source: 'Lemaitre et al., Aviat Space Environ Med 2008;79:99-104',
  },
  {
    key: 'timeToLowestHeartRateS',
    label: 'Time to lowest heart rate',
    unit: 's',
    definition: 'Middle of the lowest 5 s less the start of the hold.',
    source: practice,
  },
  {
    key: 'heartRateBackS',
    label: 'End to heart rate back',
    unit: 's',
    definition:
      'First 3 s mean after the end at or above the resting rate less 5 %, less the end; not known when the rate had not fallen 5 %.',
    source: 'Perini et al., Eur J Appl Physiol 2010 (about 5 s)',
  },
  {
    key: 'rmssdRestMs',
    label: 'RMSSD at rest',
    unit: 'ms',
    definition:
      'Of corrected intervals from 130 s to 10 s before the start, at least 30 s of them, none within 30 s after an earlier hold.',
    source: `${taskForce}; artefacts after Lipponen & Tarvainen 2019`,
  },
  {
    key: 'sdnnRestMs',
    label: 'SDNN at rest',
    unit: 'ms',
    definition:
      'Standard deviation (N - 1) of the same intervals. Shorter than the 5 min the Task Force advises.',
    source: taskForce,
  },
  {
    key: 'rmssdRecoveryMs',
    label: 'RMSSD in recovery',
    unit: 'ms',
    definition: 'Of corrected intervals from 10 s to 70 s after the end, at least 30 s of them.',
    source: taskForce,
  },
  {
    key: 'sdnnRecoveryMs',
    label: 'SDNN in recovery',
    unit: 'ms',
    definition: 'Standard deviation (N - 1) of the same intervals.',
    source: taskForce,
  },
  {
    key: 'heartRateCoveragePercent',
    label: 'Heart rate known',
    unit: '%',
    definition: 'Share of the seconds of the hold with a usable heart rate.',
    source: practice,
  },
  {
    key: 'spo2CoveragePercent',
    label: 'SpO2 known',
    unit: '%',
    definition:
      'Share of the seconds from start to 30 s after the end with a usable saturation not older than 5 s.',
    source: practice,
  },
] as const satisfies readonly MeasureDefinition[];

/** Measures of a whole session. */
export const sessionMeasureTable = [
  {
    key: 'holdCount',
    label: 'Holds',
    unit: 'count',
    definition: 'Number of finished holds.',
    source: practice,
  },
  {
    key: 'totalHoldS',
    label: 'Time held',
    unit: 's',
    definition: 'Sum of the durations.',
    source: practice,
  },
  {
    key: 'workToRecoveryRatio',
    label: 'Work to recovery',
    unit: 'ratio',
    definition: 'Time held, less the last hold, divided by the breathing time between holds.',
    source: practice,
  },
  {
    key: 'durationTrendSPerHold',
    label: 'Trend of duration',
    unit: 's/hold',
    definition:
      'Median of the slopes between all pairs of holds (Theil-Sen), seconds a hold; from three holds on.',
    source: 'Sen PK, J Am Stat Assoc 1968;63:1379-1389',
  },
  {
    key: 'lowestSpo2Percent',
    label: 'Lowest SpO2',
    unit: '%',
    definition: 'Lowest of the lowest saturations of the holds.',
    source: practice,
  },
  {
    key: 'medianLagS',
    label: 'Finger lag',
    unit: 's',
    definition: 'Median over holds of the time from the end to the lowest saturation.',
    source: 'rows 3.23-3.27 of the reference values',
  },
] as const satisfies readonly MeasureDefinition[];
