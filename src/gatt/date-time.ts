// Date Time, 0x2A08: seven bytes without a time zone, so it is kept as a label and never used as a time.

/** 0 stands for "not known" in year, month and day. */
export interface GattDateTime {
  readonly year: number;
  readonly month: number;
  readonly day: number;
  readonly hours: number;
  readonly minutes: number;
  readonly seconds: number;
}

export const dateTimeByteCount = 7;

/** Decodes seven bytes at `offset`; undefined where a field is outside the characteristic's range. */
export function dateTimeAt(bytes: Uint8Array, offset: number): GattDateTime | undefined {
  const year = bytes[offset]! | (bytes[offset + 1]! << 8);
  const month = bytes[offset + 2]!;
  const day = bytes[offset + 3]!;
  const hours = bytes[offset + 4]!;
  const minutes = bytes[offset + 5]!;
  const seconds = bytes[offset + 6]!;
  const possible =
    (year === 0 || (year >= 1582 && year <= 9999)) &&
    month <= 12 &&
    day <= 31 &&
    hours <= 23 &&
    minutes <= 59 &&
    seconds <= 59;
  return possible ? { year, month, day, hours, minutes, seconds } : undefined;
}
