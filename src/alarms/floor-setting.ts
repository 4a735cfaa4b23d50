// The rules for the floor as a setting: its range, and that it is never lowered while someone holds.

import { floorRangePercent } from '../../shared/schema-parts.ts';
import type { AthleteSettings } from '../../shared/views.ts';

/** For the hub: whether a change of settings must be refused with `floorLoweredDuringHold`. */
export function isFloorLoweredDuringHold(
  current: AthleteSettings,
  next: AthleteSettings,
  floorLocked: boolean,
): boolean {
  return floorLocked && next.floorSpo2Percent < current.floorSpo2Percent;
}

/** The same settings with the floor brought into its range; a floor that is no number becomes the initial one. */
export function withAllowedFloor(settings: AthleteSettings): AthleteSettings {
  const asked: number = settings.floorSpo2Percent;
  const floor = Number.isFinite(asked)
    ? Math.min(floorRangePercent.most, Math.max(floorRangePercent.least, asked))
    : floorRangePercent.initial;
  return floor === asked
    ? settings
    : { ...settings, floorSpo2Percent: floor as AthleteSettings['floorSpo2Percent'] };
}
