// SFLOAT, the 16-bit decimal float of IEEE 11073-20601 that the pulse oximeter service carries its numbers in.
// Bits 15-12 are a two's-complement exponent, bits 11-0 a two's-complement mantissa; value = mantissa * 10^exponent.

import { uint16At } from './little-endian.ts';

/** The five reserved words (PLXS v1.0.1 Table 5.1). 'NaN' is how a sensor says "not available". */
export type SfloatSpecial = 'NaN' | 'NRes' | '+INFINITY' | '-INFINITY' | 'reserved';

/** A number, or one of the reserved words; never a JavaScript NaN or infinity. */
export type Sfloat = number | SfloatSpecial;

/** Decodes the 16-bit word. Every word has a meaning, so this cannot fail. */
export function decodeSfloat(word: number): Sfloat {
  switch (word) {
    case 0x07ff:
      return 'NaN';
    case 0x0800:
      return 'NRes';
    case 0x07fe:
      return '+INFINITY';
    case 0x0802:
      return '-INFINITY';
    case 0x0801:
      return 'reserved';
  }
  // Sign extension by shifting up to bit 31 and back. The exponent is signed, not biased.
  const mantissa = (word << 20) >> 20;
  const exponent = (word << 16) >> 28;
  // Dividing by a whole power of ten gives the nearest double; multiplying by 10^-n would not.
  return exponent < 0 ? mantissa / 10 ** -exponent : mantissa * 10 ** exponent;
}

/** Decodes the little-endian SFLOAT at `offset`; the caller has checked that two bytes are there. */
export const sfloatAt = (bytes: Uint8Array, offset: number): Sfloat => decodeSfloat(uint16At(bytes, offset));
