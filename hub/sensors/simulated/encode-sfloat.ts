// Numbers to SFLOAT words (IEEE 11073-20601), as a sensor's firmware would write them. Written apart from the decoder.

/** The word for "not available". */
export const sfloatNotAvailable = 0x07ff;

/**
 * The word for `value` with `decimals` digits after the point (0 to 8). Throws RangeError when the mantissa would not
 * fit or would be one of the reserved words: that is a mistake of the caller, not of the outside.
 */
export function encodeSfloat(value: number, decimals = 0): number {
  const mantissa = Math.round(value * 10 ** decimals);
  if (!(decimals >= 0 && decimals <= 8)) throw new RangeError('sfloat.decimals');
  if (!(mantissa >= -2045 && mantissa <= 2045)) {
    throw new RangeError('sfloat.value');
  }
  const exponentNibble = (16 - decimals) % 16;
  const mantissaBits = mantissa < 0 ? 4096 + mantissa : mantissa;
  return exponentNibble * 4096 + mantissaBits;
}
