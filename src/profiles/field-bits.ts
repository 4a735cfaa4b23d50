// The raw number a field has in a frame: whole bytes, some of their bits, or bits from several places.

import { numberSizes, type ProfileField } from './sensor-profile.ts';

/** Bytes from one number of a field to the next. */
export const strideOf = (field: ProfileField): number => field.stride ?? numberSizes[field.type];

/** Number of the frame's bytes that there must be; of numbers to the frame's end, none. */
export function endOf(field: ProfileField): number {
  if (field.parts !== undefined) return Math.max(...field.parts.map(({ at }) => at + 1));
  if (field.count === 'rest') return field.at;
  return field.at + strideOf(field) * (field.count - 1) + numberSizes[field.type];
}

/** How many numbers a field has in a frame whose checksum, if any, begins at `bodyEnd`. */
export function countIn(field: ProfileField, bodyEnd: number): number {
  if (field.count !== 'rest') return field.count;
  const room = bodyEnd - field.at - numberSizes[field.type];
  return room < 0 ? 0 : Math.floor(room / strideOf(field)) + 1;
}

export function bitCountOf(field: ProfileField): number {
  if (field.parts !== undefined) return field.parts.reduce((sum, { bits }) => sum + bits[1] - bits[0] + 1, 0);
  return field.bits === null ? 8 * numberSizes[field.type] : field.bits[1] - field.bits[0] + 1;
}

/** The frame must have `endOf` bytes. */
export function rawValueOf(field: ProfileField, frame: Uint8Array, index: number): number {
  const raw = unsignedOf(field, frame, index);
  const isWhole = field.bits === null && field.parts === undefined;
  // Whole numbers have their sign by their type.
  if (!field.signed || isWhole) return raw;
  const span = 2 ** bitCountOf(field);
  return raw >= span / 2 ? raw - span : raw;
}

function unsignedOf(field: ProfileField, frame: Uint8Array, index: number): number {
  if (field.parts !== undefined) {
    return field.parts.reduce((value, { at, bits: [low, high] }) => {
      const width = 2 ** (high - low + 1);
      return value * width + (Math.floor(frame[at]! / 2 ** low) % width);
    }, 0);
  }
  const raw = readNumber(frame, field.at + strideOf(field) * index, field.type);
  if (field.bits === null) return raw;
  const [low, high] = field.bits;
  const unsigned = raw < 0 ? raw + 2 ** (8 * numberSizes[field.type]) : raw;
  // 32-bit fields exceed what JavaScript's bit operators hold, so this divides instead.
  return Math.floor(unsigned / 2 ** low) % 2 ** (high - low + 1);
}

/** By single bytes: a view of the frame for each number costs more than the reading of it. */
function readNumber(frame: Uint8Array, at: number, type: ProfileField['type']): number {
  const byte = frame[at]!;
  switch (type) {
    case 'u8':
      return byte;
    case 'i8':
      return (byte << 24) >> 24;
    case 'u16le':
      return byte | (frame[at + 1]! << 8);
    case 'u16be':
      return (byte << 8) | frame[at + 1]!;
    case 'i16le':
      return ((byte | (frame[at + 1]! << 8)) << 16) >> 16;
    case 'i16be':
      return (((byte << 8) | frame[at + 1]!) << 16) >> 16;
    case 'u24le':
      return byte | (frame[at + 1]! << 8) | (frame[at + 2]! << 16);
    case 'u24be':
      return (byte << 16) | (frame[at + 1]! << 8) | frame[at + 2]!;
    case 'i24le':
      return ((byte << 8) | (frame[at + 1]! << 16) | (frame[at + 2]! << 24)) >> 8;
    case 'i24be':
      return ((byte << 24) | (frame[at + 1]! << 16) | (frame[at + 2]! << 8)) >> 8;
    case 'u32le':
      return (byte | (frame[at + 1]! << 8) | (frame[at + 2]! << 16) | (frame[at + 3]! << 24)) >>> 0;
    case 'u32be':
      return ((byte << 24) | (frame[at + 1]! << 16) | (frame[at + 2]! << 8) | frame[at + 3]!) >>> 0;
    case 'i32le':
      return byte | (frame[at + 1]! << 8) | (frame[at + 2]! << 16) | (frame[at + 3]! << 24);
    case 'i32be':
      return (byte << 24) | (frame[at + 1]! << 16) | (frame[at + 2]! << 8) | frame[at + 3]!;
  }
}
