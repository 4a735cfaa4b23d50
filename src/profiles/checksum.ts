// Checksums over a frame: sums, and cyclic redundancy checks of eight and sixteen bits with any parameters.

import type { ChecksumKind, ProfileChecksum } from './sensor-profile.ts';

/** The parameters of a cyclic redundancy check, as catalogues of them name them. */
export interface CrcParameters {
  readonly polynomial: number;
  readonly initial: number;
  /** Exclusive-or with the result. */
  readonly final: number;
  /** Bits go in and out lowest first. */
  readonly reflected: boolean;
}

/** Polynomial 0x07, initially 0; and polynomial 0x1021, initially 0xFFFF (CRC-8/SMBUS, CRC-16/IBM-3740). */
const usual: Readonly<Record<'crc8' | 'crc16', CrcParameters>> = {
  crc8: { polynomial: 0x07, initial: 0, final: 0, reflected: false },
  crc16: { polynomial: 0x1021, initial: 0xffff, final: 0, reflected: false },
};

const reversed = (value: number, width: number): number => {
  let out = 0;
  for (let bit = 0; bit < width; bit += 1) if (value & (1 << bit)) out |= 1 << (width - 1 - bit);
  return out;
};

/** Of eight or sixteen bits, bit by bit. */
export function crcOf(width: 8 | 16, parameters: CrcParameters, bytes: Uint8Array): number {
  const top = 1 << (width - 1);
  const mask = 2 ** width - 1;
  let crc = parameters.initial & mask;
  for (const byte of bytes) {
    crc ^= (parameters.reflected ? reversed(byte, 8) : byte) << (width - 8);
    for (let bit = 0; bit < 8; bit += 1) {
      crc = (crc & top ? (crc << 1) ^ parameters.polynomial : crc << 1) & mask;
    }
  }
  return ((parameters.reflected ? reversed(crc, width) : crc) ^ parameters.final) & mask;
}

/** One byte, or two for `crc16`, over the bytes given. */
export function checksumOf(
  kind: ChecksumKind,
  bytes: Uint8Array,
  changed: Partial<CrcParameters> = {},
): number {
  switch (kind) {
    case 'xor8':
      return bytes.reduce((all, byte) => all ^ byte, 0);
    case 'sum8':
      return bytes.reduce((sum, byte) => (sum + byte) & 0xff, 0);
    case 'sum7':
      return bytes.reduce((sum, byte) => (sum + byte) & 0x7f, 0);
    case 'negatedSum8':
      return -bytes.reduce((sum, byte) => (sum + byte) & 0xff, 0) & 0xff;
    case 'crc8':
      return crcOf(8, { ...usual.crc8, ...changed }, bytes);
    case 'crc16':
      return crcOf(16, { ...usual.crc16, ...changed }, bytes);
  }
}

/** Does a whole frame carry the checksum that its bytes make? True where there is none. */
export function checksumFits(checksum: ProfileChecksum | null, frame: Uint8Array): boolean {
  if (checksum === null) return true;
  const place = frame.length - checksum.fromEnd;
  if (place <= checksum.from) return false;
  const made = checksumOf(checksum.kind, frame.subarray(checksum.from, place), checksum.parameters);
  if (checksum.kind !== 'crc16') return made === frame[place];
  const [first, second] = [frame[place]!, frame[place + 1]];
  if (second === undefined) return false;
  return made === (checksum.lowByteFirst ? first | (second << 8) : (first << 8) | second);
}
