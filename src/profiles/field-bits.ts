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
  const view = new DataView(frame.buffer, frame.byteOffset, frame.byteLength);
  const raw = readNumber(view, field.at + strideOf(field) * index, field.type);
  if (field.bits === null) return raw;
  const [low, high] = field.bits;
  const unsigned = raw < 0 ? raw + 2 ** (8 * numberSizes[field.type]) : raw;
  // 32-bit fields exceed what JavaScript's bit operators hold, so this divides instead.
  return Math.floor(unsigned / 2 ** low) % 2 ** (high - low + 1);
}

function readNumber(view: DataView, at: number, type: ProfileField['type']): number {
  switch (type) {
    case 'u8':
      return view.getUint8(at);
    case 'i8':
      return view.getInt8(at);
    case 'u16le':
      return view.getUint16(at, true);
    case 'u16be':
      return view.getUint16(at);
    case 'i16le':
      return view.getInt16(at, true);
    case 'i16be':
      return view.getInt16(at);
    case 'u24le':
      return view.getUint16(at, true) | (view.getUint8(at + 2) << 16);
    case 'u24be':
      return (view.getUint16(at) << 8) | view.getUint8(at + 2);
    case 'i24le':
      return view.getUint16(at, true) | (view.getInt8(at + 2) << 16);
    case 'i24be':
      return (view.getInt16(at) << 8) | view.getUint8(at + 2);
    case 'u32le':
      return view.getUint32(at, true);
    case 'u32be':
      return view.getUint32(at);
    case 'i32le':
      return view.getInt32(at, true);
    case 'i32be':
      return view.getInt32(at);
  }
}
