// By which settings a recording is analysed.

import { floorRangePercent } from '../../../shared/schema-parts.ts';
import { percent } from '../../../shared/units.ts';
import type { AthleteSettings } from '../../../shared/views.ts';

/** The settings that count for an analysis: a recorded session's own, or quiet ones, with the floor asked for. */
export function settingsWith(
  recorded: AthleteSettings | undefined,
  floorPercent: number | undefined,
): AthleteSettings {
  const base: AthleteSettings = recorded ?? {
    floorSpo2Percent: percent(floorRangePercent.initial),
    thresholdsPercent: [percent(95), percent(90)],
    heartRateLowBpm: null,
    heartRateHighBpm: null,
    maxHoldDurationMs: null,
    forecastAlarm: 'medium',
  };
  return floorPercent === undefined ? base : { ...base, floorSpo2Percent: percent(floorPercent) };
}
