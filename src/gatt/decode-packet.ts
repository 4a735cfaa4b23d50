// Bytes of any standard characteristic the hub reads, to a reading or to the reason why not.

import type { Result } from '../result.ts';
import { ok } from '../result.ts';
import { decodeBatteryLevel } from './battery-level.ts';
import type { BodySensorLocation } from './body-sensor-location.ts';
import { decodeBodySensorLocation } from './body-sensor-location.ts';
import type { DeviceTextField, PnpId } from './device-information.ts';
import { decodeDeviceText, decodePnpId, deviceTextFields } from './device-information.ts';
import type { DiscardCode } from './discard-reason.ts';
import { discard } from './discard-reason.ts';
import type { HeartRateMeasurement } from './heart-rate-measurement.ts';
import { decodeHeartRateMeasurement } from './heart-rate-measurement.ts';
import type { PlxContinuous } from './plx-continuous.ts';
import { decodePlxContinuous } from './plx-continuous.ts';
import type { PlxFeatures } from './plx-features.ts';
import { decodePlxFeatures } from './plx-features.ts';
import type { PlxSpotCheck } from './plx-spot-check.ts';
import { decodePlxSpotCheck } from './plx-spot-check.ts';
import type { RecordAccess } from './record-access.ts';
import { decodeRecordAccess } from './record-access.ts';

/** Assigned numbers of the characteristics, as `SensorPacket.characteristic` writes them. */
export const characteristicNumbers = {
  heartRateMeasurement: '2a37',
  bodySensorLocation: '2a38',
  plxSpotCheck: '2a5e',
  plxContinuous: '2a5f',
  plxFeatures: '2a60',
  recordAccess: '2a52',
  batteryLevel: '2a19',
  pnpId: '2a50',
} as const;

export type Reading =
  | { readonly kind: 'heartRate'; readonly measurement: HeartRateMeasurement }
  | { readonly kind: 'plxContinuous'; readonly measurement: PlxContinuous }
  | { readonly kind: 'plxSpotCheck'; readonly measurement: PlxSpotCheck }
  | { readonly kind: 'plxFeatures'; readonly features: PlxFeatures }
  | { readonly kind: 'battery'; readonly batteryPercent: number }
  | { readonly kind: 'bodySensorLocation'; readonly location: BodySensorLocation }
  | { readonly kind: 'deviceText'; readonly field: DeviceTextField; readonly text: string }
  | { readonly kind: 'pnpId'; readonly pnpId: PnpId }
  | { readonly kind: 'recordAccess'; readonly recordAccess: RecordAccess };

/**
 * `characteristic` is a UUID in lower case as in `SensorPacket`: four hex digits for a SIG number. Never throws,
 * whatever the bytes; an unknown characteristic is a discard like any other.
 */
export function decodePacket(characteristic: string, bytes: Uint8Array): Result<Reading, DiscardCode> {
  switch (characteristic) {
    case characteristicNumbers.heartRateMeasurement: {
      const result = decodeHeartRateMeasurement(bytes);
      return result.ok ? ok({ kind: 'heartRate', measurement: result.value }) : result;
    }
    case characteristicNumbers.plxContinuous: {
      const result = decodePlxContinuous(bytes);
      return result.ok ? ok({ kind: 'plxContinuous', measurement: result.value }) : result;
    }
    case characteristicNumbers.plxSpotCheck: {
      const result = decodePlxSpotCheck(bytes);
      return result.ok ? ok({ kind: 'plxSpotCheck', measurement: result.value }) : result;
    }
    case characteristicNumbers.plxFeatures: {
      const result = decodePlxFeatures(bytes);
      return result.ok ? ok({ kind: 'plxFeatures', features: result.value }) : result;
    }
    case characteristicNumbers.batteryLevel: {
      const result = decodeBatteryLevel(bytes);
      return result.ok ? ok({ kind: 'battery', batteryPercent: result.value.batteryPercent }) : result;
    }
    case characteristicNumbers.bodySensorLocation: {
      const result = decodeBodySensorLocation(bytes);
      return result.ok ? ok({ kind: 'bodySensorLocation', location: result.value.location }) : result;
    }
    case characteristicNumbers.recordAccess: {
      const result = decodeRecordAccess(bytes);
      return result.ok ? ok({ kind: 'recordAccess', recordAccess: result.value }) : result;
    }
    case characteristicNumbers.pnpId: {
      const result = decodePnpId(bytes);
      return result.ok ? ok({ kind: 'pnpId', pnpId: result.value }) : result;
    }
  }
  const field = Object.hasOwn(deviceTextFields, characteristic)
    ? deviceTextFields[characteristic]
    : undefined;
  if (field === undefined) {
    return discard('unknownCharacteristic');
  }
  const result = decodeDeviceText(bytes);
  return result.ok ? ok({ kind: 'deviceText', field, text: result.value.text }) : result;
}
