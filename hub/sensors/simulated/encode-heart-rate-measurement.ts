// Heart Rate Measurement (0x2A37) bytes, as a strap's firmware would write them. Written apart from the decoder.

export interface HeartRateToEncode {
  readonly heartRateBpm: number;
  /** Undefined: the strap does not report contact. */
  readonly skinContact?: boolean | undefined;
  readonly energyExpendedKj?: number | undefined;
  /** Oldest first; rounded to 1/1024 s and kept inside 16 bits. */
  readonly rrIntervalsMs?: readonly number[];
}

/** Uses the 16-bit rate from 256 /min up, as the service asks (Heart Rate Service 1.0 s3.1.1.1). */
export function encodeHeartRateMeasurement(reading: HeartRateToEncode): Uint8Array {
  const rate = Math.max(0, Math.min(65_535, Math.round(reading.heartRateBpm)));
  const intervals = reading.rrIntervalsMs ?? [];
  let flags = 0;
  const body: number[] = [];
  if (rate > 255) {
    flags += 1;
    body.push(rate % 256, Math.floor(rate / 256));
  } else {
    body.push(rate);
  }
  if (reading.skinContact === true) flags += 6;
  if (reading.skinContact === false) flags += 4;
  if (reading.energyExpendedKj !== undefined) {
    flags += 8;
    const energy = Math.max(0, Math.min(65_535, Math.round(reading.energyExpendedKj)));
    body.push(energy % 256, Math.floor(energy / 256));
  }
  if (intervals.length > 0) flags += 16;
  for (const intervalMs of intervals) {
    const units = Math.max(0, Math.min(65_535, Math.round(intervalMs * 1.024)));
    body.push(units % 256, Math.floor(units / 256));
  }
  return Uint8Array.from([flags, ...body]);
}
