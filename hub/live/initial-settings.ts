// The settings a new athlete starts with.

import { floorRangePercent } from '../../shared/schema-parts.ts';
import { percent } from '../../shared/units.ts';
import type { AthleteSettings } from '../../shared/views.ts';

/** The floor's reasons stand at `floorRangePercent` and in the page's text. */
export const initialSettings: AthleteSettings = {
  // 88: four points (one Arms, ISO 80601-2-61) above the 84 % group mean at the end of prolonged dry holds of
  // trained divers (Perini 2008), so that a reading that is wrong by its declared accuracy still stops earlier.
  floorSpo2Percent: percent(floorRangePercent.initial),
  thresholdsPercent: [percent(95), percent(92), percent(90)],
  heartRateLowBpm: null,
  heartRateHighBpm: null,
  maxHoldDurationMs: null,
  forecastAlarm: 'medium',
};
