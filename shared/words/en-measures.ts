// Measures of holds and sessions in English: names, exact definitions, sources, and why one is not known.

export interface Lacking {
  readonly count: number;
  readonly all: number;
}

const lacks = ({ count, all }: Lacking) => `is not known for ${count} of ${all} holds.`;

export const measureWordsInEnglish = {
  'measure.durationS': 'Duration',
  'measure.durationS.is': 'End of the hold less its start.',
  'measure.contractionCount': 'Contractions marked',
  'measure.contractionCount.is':
    'Number of contraction marks within the hold; not known when none was marked.',
  'measure.timeToFirstContractionS': 'Time before contractions',
  'measure.timeToFirstContractionS.is':
    'First contraction mark less the start of the hold (the easy-going phase).',
  'measure.timeAfterFirstContractionS': 'Time after contractions began',
  'measure.timeAfterFirstContractionS.is':
    'End of the hold less the first contraction mark (the struggle phase).',
  'measure.shareBeforeContractionsPercent': 'Share before contractions',
  'measure.shareBeforeContractionsPercent.is':
    'Time before the first contraction mark as a share of the duration.',
  'measure.estimatedContractionOnsetS': 'Contraction onset, estimate',
  'measure.estimatedContractionOnsetS.is':
    'AN ESTIMATE, not a mark: time into the hold from which heart rate beat by beat (or else the pleth baseline) ripples with 2 to 8 s period at 2.5 times its earlier power or more; not known when the evidence does not carry it.',
  'measure.estimatedContractionOnsetUncertaintyS': 'Contraction onset, estimate: give or take',
  'measure.estimatedContractionOnsetUncertaintyS.is':
    'Half the span of onsets nearly as likely (within one of the log likelihood).',
  'measure.estimatedContractionCount': 'Contractions, estimate',
  'measure.estimatedContractionCount.is':
    'AN ESTIMATE, not marks: crests of that ripple from its onset on, above twice the earlier standard deviation.',
  'measure.breathingRateBeforePerMin': 'Breathing rate before',
  'measure.breathingRateBeforePerMin.is':
    'AN ESTIMATE: rate of the largest rhythm of 4 to 36 /min in the minute before the start, of the pleth baseline or else of heart rate beat by beat; not known when none stands out.',
  'measure.heartRateSwingBeforeBpm': 'Breathing swing of heart rate before',
  'measure.heartRateSwingBeforeBpm.is':
    'Peak to trough of that rhythm in heart rate (respiratory sinus arrhythmia).',
  'measure.spo2AtStartPercent': 'SpO2 at start',
  'measure.spo2AtStartPercent.is': 'Median of usable saturation in the 15 s before the start.',
  'measure.spo2LowestPercent': 'Lowest SpO2',
  'measure.spo2LowestPercent.is':
    'Lowest usable saturation from 10 s after the start to 60 s after the end (or 10 s into the next hold), because the finger lags the lungs.',
  'measure.spo2LowestAfterEndS': 'Time to lowest SpO2, from the end',
  'measure.spo2LowestAfterEndS.is':
    "Middle of the time at the lowest saturation less the end of the hold; that athlete's lag. Not known when the fall is less than 2 %.",
  'measure.spo2FallRatePercentPerMin': 'Rate of SpO2 fall',
  'measure.spo2FallRatePercentPerMin.is':
    'Least-squares slope of usable saturation from the last reading within 1 % of the start value to the lowest; positive for a fall; not known below a 3 % fall.',
  'measure.spo2SteepestFallPercentPerMin': 'Steepest 30 s of the SpO2 fall',
  'measure.spo2SteepestFallPercentPerMin.is':
    'Greatest least-squares slope of usable saturation over any 30 s from a reading on, between the start and the first lowest reading; positive for a fall; not known below a 3 % fall.',
  'measure.timeBelow95S': 'Time below 95 %',
  'measure.timeBelow95S.is':
    'Time with usable saturation below 95 %, from the start to 60 s after the end (or 10 s into the next hold).',
  'measure.timeBelow90S': 'Time below 90 %',
  'measure.timeBelow90S.is':
    'Time with usable saturation below 90 %, from the start to 60 s after the end (or 10 s into the next hold).',
  'measure.timeBelow85S': 'Time below 85 %',
  'measure.timeBelow85S.is':
    'Time with usable saturation below 85 %, from the start to 60 s after the end (or 10 s into the next hold).',
  'measure.timeBelow80S': 'Time below 80 %',
  'measure.timeBelow80S.is':
    'Time with usable saturation below 80 %, from the start to 60 s after the end (or 10 s into the next hold).',
  'measure.timeBelow75S': 'Time below 75 %',
  'measure.timeBelow75S.is':
    'Time with usable saturation below 75 %, from the start to 60 s after the end (or 10 s into the next hold).',
  'measure.timeBelow70S': 'Time below 70 %',
  'measure.timeBelow70S.is':
    'Time with usable saturation below 70 %, from the start to 60 s after the end (or 10 s into the next hold).',
  'measure.areaBelow95PercentS': 'Area below 95 %',
  'measure.areaBelow95PercentS.is':
    'Integral of (95 % less saturation) where it is below 95 %, over the same time.',
  'measure.areaBelow90PercentS': 'Area below 90 %',
  'measure.areaBelow90PercentS.is':
    'Integral of (90 % less saturation) where it is below 90 %, over the same time.',
  'measure.areaBelow85PercentS': 'Area below 85 %',
  'measure.areaBelow85PercentS.is':
    'Integral of (85 % less saturation) where it is below 85 %, over the same time.',
  'measure.areaBelow80PercentS': 'Area below 80 %',
  'measure.areaBelow80PercentS.is':
    'Integral of (80 % less saturation) where it is below 80 %, over the same time.',
  'measure.areaBelow75PercentS': 'Area below 75 %',
  'measure.areaBelow75PercentS.is':
    'Integral of (75 % less saturation) where it is below 75 %, over the same time.',
  'measure.areaBelow70PercentS': 'Area below 70 %',
  'measure.areaBelow70PercentS.is':
    'Integral of (70 % less saturation) where it is below 70 %, over the same time.',
  'measure.spo2BaselinePercent': 'Own resting SpO2',
  'measure.spo2BaselinePercent.is':
    'Median of usable saturation in the 60 s before the start, not within 60 s after an earlier hold; where that leaves fewer than 5 readings, that of the hold before.',
  'measure.spo2BackToBaselineS': 'Time to own resting SpO2, from the end',
  'measure.spo2BackToBaselineS.is':
    'First usable reading after the lowest that is within 1 % of the own resting saturation and stays there for 5 s, less the end of the hold; looked for until 3 min after the end or the next hold.',
  'measure.spo2HalfTimeS': 'SpO2 half time',
  'measure.spo2HalfTimeS.is':
    'From the lowest saturation to the first reading that is half the way back to the own resting saturation and stays there for 5 s.',
  'measure.timeBackTo95S': 'Time to SpO2 of 95 %, from the end',
  'measure.timeBackTo95S.is':
    'First usable reading of 95 % or more after the lowest one, less the end of the hold; not known when saturation was never below 95 %.',
  'measure.heartRateRestBpm': 'Resting heart rate',
  'measure.heartRateRestBpm.is':
    'Median heart rate from 60 s to 10 s before the start, not within 30 s after an earlier hold.',
  'measure.heartRateLowestBpm': 'Lowest heart rate',
  'measure.heartRateLowestBpm.is': 'Lowest 5 s mean of heart rate within the hold.',
  'measure.heartRateMeanBpm': 'Mean heart rate',
  'measure.heartRateMeanBpm.is': 'Time-weighted mean heart rate within the hold.',
  'measure.heartRateFallPercent': 'Heart rate fall',
  'measure.heartRateFallPercent.is': 'Resting less lowest heart rate, as a share of the resting rate.',
  'measure.timeToLowestHeartRateS': 'Time to lowest heart rate',
  'measure.timeToLowestHeartRateS.is': 'Middle of the lowest 5 s less the start of the hold.',
  'measure.heartRateBackS': 'Time to resting heart rate, from the end',
  'measure.heartRateBackS.is':
    'Middle of the first 3 s after the end whose mean is 95 % of the resting rate or more, less the end; looked for until 2 min after the end or the next hold. Not known when the last 5 s of the hold were not below that.',
  'measure.heartRateHalfBackS': 'Time to heart rate half back, from the end',
  'measure.heartRateHalfBackS.is':
    'The same for half the way from the mean of the last 5 s of the hold to the resting rate.',
  'measure.heartRateInitialPeakBpm': 'Heart rate peak at the start',
  'measure.heartRateInitialPeakBpm.is': 'Highest 3 s mean of heart rate in the first 20 s of the hold.',
  'measure.heartRateInitialPeakS': 'Time to that peak',
  'measure.heartRateInitialPeakS.is': 'Middle of those 3 s less the start of the hold.',
  'measure.heartRateHalfFallS': 'Time to half of the heart rate fall',
  'measure.heartRateHalfFallS.is':
    'The fall is from the peak at the start to the lowest 5 s mean after it within the first 60 s, so that later drift is left out. Middle of the first 3 s after the peak whose mean is down by half of it, less the start of the hold. Not known in holds under 30 s or for a fall under 5 %.',
  'measure.heartRateMostFallS': 'Time to 90 % of the heart rate fall',
  'measure.heartRateMostFallS.is': 'The same for 90 % of that fall.',
  'measure.rmssdBackS': 'Time to RMSSD back, from the end',
  'measure.rmssdBackS.is':
    'Middle of the first window of 30 s (one every 5 s from the end on) whose RMSSD is 80 % of the resting one or more, less the end; looked for until 3 min after the end or the next hold. Not known when the first window was not below that.',
  'measure.rmssdHalfBackS': 'Time to RMSSD half back, from the end',
  'measure.rmssdHalfBackS.is': 'The same for half the way from the first window to the resting RMSSD.',
  'measure.rmssdRestMs': 'RMSSD at rest',
  'measure.rmssdRestMs.is':
    'Of corrected intervals from 130 s to 10 s before the start, at least 30 s of them, none within 30 s after an earlier hold.',
  'measure.sdnnRestMs': 'SDNN at rest',
  'measure.sdnnRestMs.is':
    'Standard deviation (N - 1) of the same intervals. Shorter than the 5 min the Task Force advises.',
  'measure.rmssdRecoveryMs': 'RMSSD in recovery',
  'measure.rmssdRecoveryMs.is':
    'Of corrected intervals from 10 s to 70 s after the end, at least 30 s of them.',
  'measure.sdnnRecoveryMs': 'SDNN in recovery',
  'measure.sdnnRecoveryMs.is': 'Standard deviation (N - 1) of the same intervals.',
  'measure.heartRateCoveragePercent': 'Heart rate known',
  'measure.heartRateCoveragePercent.is': 'Share of the seconds of the hold with a usable heart rate.',
  'measure.spo2CoveragePercent': 'SpO2 known',
  'measure.spo2CoveragePercent.is':
    'Share of the seconds from start to 30 s after the end with a usable saturation not older than 5 s.',
  'sessionMeasure.holdCount': 'Holds',
  'sessionMeasure.holdCount.is': 'Number of finished holds.',
  'sessionMeasure.totalHoldS': 'Time held',
  'sessionMeasure.totalHoldS.is': 'Sum of the durations.',
  'sessionMeasure.workToRecoveryRatio': 'Work to recovery',
  'sessionMeasure.workToRecoveryRatio.is':
    'Time held, less the last hold, divided by the breathing time between holds.',
  'sessionMeasure.durationTrendSPerHold': 'Trend of duration',
  'sessionMeasure.durationTrendSPerHold.is':
    'Median of the slopes between all pairs of holds (Theil-Sen), seconds a hold; from three holds on.',
  'sessionMeasure.lowestSpo2Percent': 'Lowest SpO2',
  'sessionMeasure.lowestSpo2Percent.is': 'Lowest of the lowest saturations of the holds.',
  'sessionMeasure.medianLagS': 'Finger lag',
  'sessionMeasure.medianLagS.is': 'Median over holds of the time from the end to the lowest saturation.',
  'trend.durationS.is': 'End of each hold less its start.',
  'trend.timeToFirstContractionS.is':
    'First contraction mark less the start of the hold. Only where one was marked.',
  'trend.spo2FallPercent.is': 'Saturation at the start less the lowest that belongs to the hold.',
  'trend.spo2LowestAfterEndS.is':
    'Time from the end of the hold to the lowest reading: how late this finger is.',
  'trend.heartRateFallPercent.is': 'Resting less lowest heart rate, as a share of the resting rate.',
  'trend.spo2BackToBaselineS.is':
    'Time from the end of the hold until saturation is back within 1 % of this athlete\u2019s own rest and stays there.',
  'trend.spo2HalfTimeS.is':
    'Time from the lowest saturation until half the way back to the own rest is done.',
  'trend.heartRateBackS.is':
    'Time from the end of the hold until heart rate is back within 5 % of this athlete\u2019s own rest.',
  'trend.heartRateHalfBackS.is':
    'Time from the end of the hold until heart rate has come half the way back to the own rest.',

  'measure.why.noEnd': 'the hold has no end in this recording',
  'measure.why.noSaturation': 'no usable saturation in this hold',
  'measure.why.noSaturationBefore': 'no usable saturation at rest before this hold',
  'measure.why.fewReadings': 'too few readings of the fall',
  'measure.why.smallFall': 'saturation fell by less than 2\u202f%',
  'measure.why.smallFallForRate': 'saturation fell by less than 3\u202f%',
  'measure.why.never95': 'saturation was never below 95\u202f%',
  'measure.why.fallOverBeforeEnd': 'saturation was back before the hold ended',
  'measure.why.notBackBeforeNext': 'not back before the next hold began',
  'measure.why.notBackInTime': 'not seen to come back in this recording',
  'measure.why.noHeartRate': 'no usable heart rate',
  'measure.why.noRest': 'too little rest before this hold',
  'measure.why.noRateFall': 'heart rate did not fall by 5\u202f%',
  'measure.why.rateNotLower': 'heart rate was not below rest when the hold ended',
  'measure.why.shortForResponse': 'the hold is shorter than 30 s',
  'measure.why.noBeats': 'too few beat intervals from the sensors',
  'measure.why.rmssdNotLower': 'RMSSD was not below rest after the hold',
  'measure.why.noMark': 'nobody marked a contraction',
  'measure.why.weakEvidence': 'the signals do not carry an estimate',
  'measure.why.noRhythm': 'no breathing rhythm stands out in the signals',
  'sessionMeasure.lacks.lowestSpo2': (p: Lacking) => `The lowest saturation ${lacks(p)}`,
  'sessionMeasure.lacks.lowestHeartRate': (p: Lacking) => `The lowest heart rate ${lacks(p)}`,
  'sessionMeasure.lacks.variability': (p: Lacking) => `Heart-rate variability at rest ${lacks(p)}`,
  'sessionMeasure.lacks.onset': (p: Lacking) => `The onset of contractions (nobody marked one) ${lacks(p)}`,
  'sessionMeasure.lacks.end': (p: Lacking) => `The end ${lacks(p)}`,
  'source.citation': (p: { readonly citation: string }) => p.citation,
  'source.after': (p: { readonly citation: string }) => `after ${p.citation}`,
  'source.ownMethod': 'own method',
  'source.ownMethodUntested': 'own method, not validated against people',
  'source.ownMethodSimulated': 'own method, not validated against people (npm run bench:accuracy: simulated)',
  'source.fingerLagRows': 'rows 3.23-3.27 of the reference values',
  'gap.heartRateBpm': 'no heart rate',
  'gap.rrIntervalMs': 'no beat intervals',
  'gap.spo2Percent': 'no saturation',
  'gap.pulseRateBpm': 'no pulse rate',
  'gap.perfusionIndexPercent': 'no perfusion index',
  'gap.pleth': 'no pleth waveform',
  'gap.respirationRaw': 'no breathing signal',
  'gap.hubDied': 'nobody watched: the hub had ended without warning',
  'gap.hubStopped': 'nobody watched: the hub had been stopped',
  'gap.diskFault': 'nobody watched: the disk had failed',
  'gap.slept': 'nobody watched: the computer slept',
  'gap.hubStalled': 'nobody watched: the hub stood still',
};
