// UUIDs in one spelling: lower case without dashes, and the four-digit form for a number assigned by the Bluetooth SIG.

/** Bluetooth Core 5.3 Vol 3 Part B s2.5.1: the base UUID that 16-bit numbers are shorthand for. */
const baseTail = '00001000800000805f9b34fb';

/** Shortens `0000180D-0000-1000-8000-00805F9B34FB` to `180d`; anything else is lower-cased and freed of dashes. */
export function shortUuid(uuid: string): string {
  const plain = uuid.toLowerCase().replaceAll('-', '');
  if (plain.length === 32 && plain.startsWith('0000') && plain.endsWith(baseTail)) return plain.slice(4, 8);
  if (plain.length === 8 && plain.startsWith('0000')) return plain.slice(4);
  return plain;
}

/** True for four or 32 hexadecimal digits, after `shortUuid`. */
export const isUuid = (uuid: string): boolean => /^(?:[0-9a-f]{4}|[0-9a-f]{32})$/.test(uuid);

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
