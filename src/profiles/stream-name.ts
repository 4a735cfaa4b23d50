// What packets of a characteristic are called in a recording: as the characteristic, and where several profiles read it (makers
// share those of serial ports), with the mark of the one whose sensor sent them.

import { checksumOf } from './checksum.ts';
import { readsCharacteristic, type SensorProfile } from './sensor-profile.ts';

const between = '~';

/** Four hex digits, the CRC-16 of the name: a recording has its profiles with it, and a name may be long. Names may share one. */
export function markOfProfile(name: string): string {
  const bytes = new Uint8Array(2 * name.length);
  for (let i = 0; i < name.length; i += 1) {
    bytes[2 * i] = name.charCodeAt(i) >> 8;
    bytes[2 * i + 1] = name.charCodeAt(i) & 0xff;
  }
  return checksumOf('crc16', bytes).toString(16).padStart(4, '0');
}

/** @param profileName null where nobody knows whose bytes they are: they are kept, and read by none */
export const markedStream = (characteristic: string, profileName: string | null): string =>
  `${characteristic}${between}${profileName === null ? '' : markOfProfile(profileName)}`;

/** Of a stream, marked or not. */
export const characteristicOf = (stream: string): string => stream.split(between, 1)[0]!;

/** By which a stream is read: one without a mark by the first that reads its characteristic. Undefined where it is read by the standard. */
export function profileOfStream(
  profiles: readonly SensorProfile[],
  stream: string,
): SensorProfile | undefined {
  const [characteristic = '', mark] = stream.split(between);
  return profiles.find(
    (profile) =>
      readsCharacteristic(profile, characteristic) &&
      (mark === undefined || mark === markOfProfile(profile.name)),
  );
}
