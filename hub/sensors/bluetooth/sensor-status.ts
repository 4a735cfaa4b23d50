// How a sensor is shown: its record brought down to what the hub tells pages.

import { percent } from '../../../shared/units.ts';
import type { PairingView } from '../../../shared/views.ts';
import type { SensorStatus } from '../../base/ports/sensor-source.ts';
import type { LinkPolicy } from './link-policy.ts';
import type { PairingWait, SensorRecord } from './link-state.ts';
import { isHeardUnlinked, sensorCondition } from './sensor-condition.ts';

const pairingView = ({ requestId, question, expiresAtMs }: PairingWait, nowMs: number): PairingView => ({
  requestId,
  kind: question.kind,
  code: question.kind === 'typeCode' ? null : question.code,
  secondsLeft: Math.max(0, Math.ceil((expiresAtMs - nowMs) / 1_000)),
});

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
    ...(sensor.isBonded ? { isBonded: true } : {}),
    ...(isHeardUnlinked(sensor, policy, nowMs) ? { isHeard: true } : {}),
    ...(sensor.pairing === null ? {} : { pairing: pairingView(sensor.pairing, nowMs) }),
  };
}
