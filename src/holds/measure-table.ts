// Every measure of a hold and of a session: its key, unit and source, in one table. Its name and exact definition are in
// shared/words/en-measures.ts under the same key.

import { type Said, said } from '../../shared/said.ts';

export interface MeasureDefinition {
  readonly key: string;
  readonly unit: 's' | '%' | '/min' | 'ms' | '%/min' | '% s' | 'count' | 'ratio' | 's/hold';
  readonly source: Said;
}

const practice = said('source.commonPractice');
const cited = (citation: string): Said => said('source.citation', { citation });
const after = (citation: string): Said => said('source.after', { citation });
const ownMethod = said('source.ownMethodUntested');
const taskForce = 'Task Force of ESC and NASPE, Circulation 1996;93:1043-1065';

/** Saturation thresholds for which the time below is measured, per cent. */
export const thresholdsPercent = [95, 90, 85, 80, 75, 70] as const;

/** Measures of one hold, in the order in which they are shown. */
export const measureTable = [
  {
    key: 'durationS',
    unit: 's',
    source: practice,
  },
  {
    key: 'contractionCount',
    unit: 'count',
    source: practice,
  },
  {
    key: 'timeToFirstContractionS',
    unit: 's',
    source: cited('Bourdas & Geladas, Eur J Appl Physiol 2025, doi:10.1007/s00421-024-05632-x'),
  },
  {
    key: 'timeAfterFirstContractionS',
    unit: 's',
    source: cited('Bourdas & Geladas 2025'),
  },
  {
    key: 'shareBeforeContractionsPercent',
    unit: '%',
    source: cited('Bourdas & Geladas 2025 (onset at 52.9 % in trained divers)'),
  },
  {
    key: 'estimatedContractionOnsetS',
    unit: 's',
    source: said('source.ownMethodSimulated'),
  },
  {
    key: 'estimatedContractionOnsetUncertaintyS',
    unit: 's',
    source: said('source.ownMethod'),
  },
  {
    key: 'estimatedContractionCount',
    unit: 'count',
    source: said('source.ownMethodUntested'),
  },
  {
    key: 'breathingRateBeforePerMin',
    unit: '/min',
    source: after('Charlton et al., IEEE Rev Biomed Eng 2018;11:2-20'),
  },
  {
    key: 'heartRateSwingBeforeBpm',
    unit: '/min',
    source: after('Charlton et al. 2018'),
  },
  {
    key: 'spo2AtStartPercent',
    unit: '%',
    source: practice,
  },
  {
    key: 'spo2LowestPercent',
    unit: '%',
    source: said('source.fingerLagRows'),
  },
  {
    key: 'spo2LowestAfterEndS',
    unit: 's',
    source: cited('Zubieta-Calleja et al., J Physiol Pharmacol 2005;56 Suppl 4:251-256 (15.9 s, healthy)'),
  },
  {
    key: 'spo2FallRatePercentPerMin',
    unit: '%/min',
    source: after('Stewart et al., Med Sci Sports Exerc 2005;37:1871-1876'),
  },
  {
    key: 'spo2SteepestFallPercentPerMin',
    unit: '%/min',
    source: after('Stewart et al. 2005 (greatest slope)'),
  },
  ...thresholdsPercent.flatMap((threshold) => [
    {
      key: `timeBelow${threshold}S` as const,
      unit: 's' as const,
      source: practice,
    },
    {
      key: `areaBelow${threshold}PercentS` as const,
      unit: '% s' as const,
      source: practice,
    },
  ]),
  {
    key: 'spo2BaselinePercent',
    unit: '%',
    source: ownMethod,
  },
  {
    key: 'spo2BackToBaselineS',
    unit: 's',
    source: ownMethod,
  },
  {
    key: 'spo2HalfTimeS',
    unit: 's',
    source: ownMethod,
  },
  {
    key: 'timeBackTo95S',
    unit: 's',
    source: practice,
  },
  {
    key: 'heartRateRestBpm',
    unit: '/min',
    source: practice,
  },
  {
    key: 'heartRateLowestBpm',
    unit: '/min',
    source: practice,
  },
  {
    key: 'heartRateMeanBpm',
    unit: '/min',
    source: practice,
  },
  {
    key: 'heartRateFallPercent',
    unit: '%',
    source: cited('Lemaitre et al., Aviat Space Environ Med 2008;79:99-104'),
  },
  {
    key: 'timeToLowestHeartRateS',
    unit: 's',
    source: practice,
  },
  {
    key: 'heartRateInitialPeakBpm',
    unit: '/min',
    source: after('Taboni et al., Eur J Appl Physiol 2020, doi:10.1007/s00421-020-04544-w'),
  },
  {
    key: 'heartRateInitialPeakS',
    unit: 's',
    source: after('Taboni et al. 2020'),
  },
  {
    key: 'heartRateHalfFallS',
    unit: 's',
    source: after('Perini et al., Eur J Appl Physiol 2008;104:1-7 (settled after about 30 s)'),
  },
  {
    key: 'heartRateMostFallS',
    unit: 's',
    source: after('Perini et al. 2008'),
  },
  {
    key: 'heartRateBackS',
    unit: 's',
    source: cited('Perini et al., Eur J Appl Physiol 2010 (about 5 s)'),
  },
  {
    key: 'heartRateHalfBackS',
    unit: 's',
    source: ownMethod,
  },
  {
    key: 'rmssdRestMs',
    unit: 'ms',
    source: cited(`${taskForce}; artefacts after Lipponen & Tarvainen 2019`),
  },
  {
    key: 'sdnnRestMs',
    unit: 'ms',
    source: cited(taskForce),
  },
  {
    key: 'rmssdRecoveryMs',
    unit: 'ms',
    source: cited(taskForce),
  },
  {
    key: 'sdnnRecoveryMs',
    unit: 'ms',
    source: cited(taskForce),
  },
  {
    key: 'rmssdBackS',
    unit: 's',
    source: ownMethod,
  },
  {
    key: 'rmssdHalfBackS',
    unit: 's',
    source: ownMethod,
  },
  {
    key: 'heartRateCoveragePercent',
    unit: '%',
    source: practice,
  },
  {
    key: 'spo2CoveragePercent',
    unit: '%',
    source: practice,
  },
] as const satisfies readonly MeasureDefinition[];

/** Measures of a whole session. */
export const sessionMeasureTable = [
  {
    key: 'holdCount',
    unit: 'count',
    source: practice,
  },
  {
    key: 'totalHoldS',
    unit: 's',
    source: practice,
  },
  {
    key: 'workToRecoveryRatio',
    unit: 'ratio',
    source: practice,
  },
  {
    key: 'durationTrendSPerHold',
    unit: 's/hold',
    source: cited('Sen PK, J Am Stat Assoc 1968;63:1379-1389'),
  },
  {
    key: 'lowestSpo2Percent',
    unit: '%',
    source: practice,
  },
  {
    key: 'medianLagS',
    unit: 's',
    source: said('source.fingerLagRows'),
  },
] as const satisfies readonly MeasureDefinition[];
