// How a sensor is shown: its record brought down to what the hub tells pages.

import { percent } from '../../../shared/units.ts';
import type { SensorStatus } from '../../base/ports/sensor-source.ts';
import type { LinkPolicy } from './link-policy.ts';
import type { SensorRecord } from './link-state.ts';
import { sensorCondition } from './sensor-condition.ts';

/** The status of one sensor as the hub shows it. Pure; `nowMs` is on the clock of the record. */
export function sensorStatus(sensor: SensorRecord, policy: LinkPolicy, nowMs: number): SensorStatus {
  const { link, detail } = sensorCondition(sensor, policy, nowMs);
  return {
    sensorId: sensor.sensorId,
    name: sensor.name,
    kinds: [...sensor.kinds],
    source: 'bluetooth',
    link,
    detail,
    batteryPercent: sensor.batteryPercent === null ? null : percent(sensor.batteryPercent),
    rssiDbm: sensor.rssiDbm,
  };
}
