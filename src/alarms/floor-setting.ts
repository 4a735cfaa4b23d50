// The rules for the floor as a setting: its range, and that it is never lowered while someone holds. The one door by
// which settings come into force; the hub asks the same question before it accepts a change.

import { floorRangePercent } from '../../shared/schema-parts.ts';
import type { AthleteSettings } from '../../shared/views.ts';

declare const checked: unique symbol;
/** Settings that have come through `settingsInForce`: thresholds, forecast and alarms take no others. */
export type SettingsInForce = AthleteSettings & { readonly [checked]: true };

/**
 * What of new settings comes into force: a floor outside its range is brought into it, and one that may not be
 * lowered now stays as it is. `current` is left out when monitoring begins.
 */
export function settingsInForce(
  asked: AthleteSettings,
  current?: { readonly settings: AthleteSettings; readonly floorLocked: boolean },
): SettingsInForce {
  const allowed = withAllowedFloor(asked);
  const inForce =
    current !== undefined && isFloorLoweredDuringHold(current.settings, allowed, current.floorLocked)
      ? { ...allowed, floorSpo2Percent: current.settings.floorSpo2Percent }
      : allowed;
  return inForce as SettingsInForce;
}

/** For the hub: whether a change of settings must be refused with `floorLoweredDuringHold`. */
export function isFloorLoweredDuringHold(
  current: AthleteSettings,
  next: AthleteSettings,
  floorLocked: boolean,
): boolean {
  return floorLocked && allowedFloor(next) < allowedFloor(current);
}

function withAllowedFloor(settings: AthleteSettings): AthleteSettings {
  const floorSpo2Percent = allowedFloor(settings);
  return floorSpo2Percent === settings.floorSpo2Percent ? settings : { ...settings, floorSpo2Percent };
}

/** In its range; a floor that is no number becomes the initial one. */
function allowedFloor(settings: AthleteSettings): AthleteSettings['floorSpo2Percent'] {
  const asked: number = settings.floorSpo2Percent;
  const floor = Number.isFinite(asked)
    ? Math.min(floorRangePercent.most, Math.max(floorRangePercent.least, asked))
    : floorRangePercent.initial;
  return floor as AthleteSettings['floorSpo2Percent'];
}
