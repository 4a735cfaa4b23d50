// UUIDs that the hub knows by name, and the one spelling of all others.

export { isUuid, shortUuid } from '../../../src/profiles/uuid.ts';

/** Assigned numbers this hub knows by name (Bluetooth SIG Assigned Numbers, s3.4 and s3.8). */
export const assigned = {
  genericAccess: '1800',
  deviceName: '2a00',
  deviceInformation: '180a',
  modelNumber: '2a24',
  serialNumber: '2a25',
  firmwareRevision: '2a26',
  manufacturerName: '2a29',
  battery: '180f',
  batteryLevel: '2a19',
  heartRate: '180d',
  heartRateMeasurement: '2a37',
  bodySensorLocation: '2a38',
  pulseOximeter: '1822',
  plxSpotCheck: '2a5e',
  plxContinuous: '2a5f',
  plxFeatures: '2a60',
} as const;
