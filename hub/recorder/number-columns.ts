// Columns of numbers in few bytes, exactly: differences of integers, split into byte planes, deflated where that helps.

import { constants, deflateRawSync, inflateRawSync } from 'node:zlib';
import { type ByteReader, MalformedBytes } from './byte-reader.ts';
import type { ByteWriter } from './byte-writer.ts';

const plain = 0;
const constant = 1;
const deflated = 2;

/** Shorter columns gain nothing from a Huffman table. */
const leastDeflatedBytes = 24;

/** Writes bytes whose number the reader will know. */
export function writeBytes(writer: ByteWriter, bytes: Uint8Array): void {
  if (bytes.length === 0) return;
  if (isConstant(bytes)) {
    writer.u8(constant);
    writer.u8(bytes[0]!);
    return;
  }
  if (bytes.length >= leastDeflatedBytes) {
    const packed = deflate(bytes);
    if (packed.length < bytes.length) {
      writer.u8(deflated);
      writer.block(packed);
      return;
    }
  }
  writer.u8(plain);
  writer.bytes(bytes);
}

/** Reads `count` bytes; they may be a view of what is being read. */
export function readBytes(reader: ByteReader, count: number): Uint8Array {
  if (count === 0) return new Uint8Array(0);
  const kind = reader.u8();
  if (kind === constant) return new Uint8Array(count).fill(reader.u8());
  if (kind === plain) return reader.bytes(count);
  if (kind !== deflated) throw new MalformedBytes('unknownColumn');
  let bytes: Uint8Array;
  try {
    const inflated = inflateRawSync(reader.block(), {
      maxOutputLength: count,
      chunkSize: Math.max(64, count),
    });
    // Not a Buffer: loops that see two kinds of array are several times slower.
    bytes = new Uint8Array(inflated.buffer, inflated.byteOffset, inflated.length);
  } catch (cause) {
    if (cause instanceof MalformedBytes) throw cause;
    throw new MalformedBytes('columnNotInflated');
  }
  if (bytes.length !== count) throw new MalformedBytes('columnTooShort');
  return bytes;
}

/** Filtered: residuals of noise gain by Huffman codes, hardly by matches. Buffers no larger than the column needs. */
function deflate(bytes: Uint8Array): Uint8Array {
  const digits = 32 - Math.clz32(bytes.length);
  return deflateRawSync(bytes, {
    level: 6,
    strategy: constants.Z_FILTERED,
    windowBits: Math.min(15, Math.max(9, digits)),
    memLevel: Math.min(9, Math.max(1, digits - 6)),
    chunkSize: Math.max(64, bytes.length),
  });
}

function isConstant(bytes: Uint8Array): boolean {
  const first = bytes[0];
  for (let i = 1; i < bytes.length; i++) if (bytes[i] !== first) return false;
  return true;
}

/** Beyond this, second differences of integers would no longer be exact in a double. */
const greatestInteger = 2 ** 50;

/** Writes whole numbers between -2^50 and 2^50 as differences of the order (0, 1 or 2) that leaves least. */
export function writeIntegers(writer: ByteWriter, values: Float64Array): void {
  if (values.length === 0) return;
  const order = cheapestOrder(values);
  writer.u8(order);
  for (let i = 0; i < order; i++) writer.varint(zigzag(values[i]!));
  const codes = new Float64Array(values.length - order);
  let greatest = 0;
  for (let i = order; i < values.length; i++) {
    const code = zigzag(difference(values, i, order));
    codes[i - order] = code;
    if (code > greatest) greatest = code;
  }
  let planes = 0;
  for (let rest = greatest; rest > 0; rest = Math.floor(rest / 256)) planes++;
  writer.u8(planes);
  const plane = new Uint8Array(codes.length);
  for (let p = 0; p < planes; p++) {
    for (let i = 0; i < codes.length; i++) {
      const code = codes[i]!;
      const rest = Math.floor(code / 256);
      plane[i] = code - rest * 256;
      codes[i] = rest;
    }
    writeBytes(writer, plane);
  }
}

export function readIntegers(reader: ByteReader, count: number): Float64Array {
  const values = new Float64Array(count);
  if (count === 0) return values;
  const order = reader.u8();
  if (order > 2 || order > count) throw new MalformedBytes('unknownOrder');
  for (let i = 0; i < order; i++) values[i] = unzigzag(reader.varint());
  const planes = reader.u8();
  if (planes > 7) throw new MalformedBytes(`numbers of ${planes} bytes`);
  let scale = 1;
  for (let p = 0; p < planes; p++) {
    const plane = readBytes(reader, count - order);
    if (p === 0) for (let i = order; i < count; i++) values[i] = plane[i - order]!;
    else for (let i = order; i < count; i++) values[i]! += plane[i - order]! * scale;
    scale *= 256;
  }
  for (let i = order; i < count; i++) {
    const change = unzigzag(values[i]!);
    if (order === 0) values[i] = change;
    else if (order === 1) values[i] = values[i - 1]! + change;
    else values[i] = 2 * values[i - 1]! - values[i - 2]! + change;
  }
  return values;
}

function difference(values: Float64Array, i: number, order: number): number {
  if (order === 0) return values[i]!;
  if (order === 1) return values[i]! - values[i - 1]!;
  return values[i]! - 2 * values[i - 1]! + values[i - 2]!;
}

function zigzag(value: number): number {
  return value < 0 ? -2 * value - 1 : 2 * value;
}

function unzigzag(code: number): number {
  const half = Math.floor(code / 2);
  return code === 2 * half ? half : -half - 1;
}

function cheapestOrder(values: Float64Array): number {
  let cheapest = 0;
  let leastBits = Number.POSITIVE_INFINITY;
  for (let order = 0; order <= 2 && order <= values.length; order++) {
    let bits = 0;
    for (let i = order; i < values.length; i++) bits += Math.log2(1 + Math.abs(difference(values, i, order)));
    if (bits < leastBits) {
      leastBits = bits;
      cheapest = order;
    }
  }
  return cheapest;
}

/** Finest grid tried: 1/1024. Grids are powers of two, so that scaling is exact. */
const finestGrid = 10;
const notOnGrid = 255;

/** Writes any doubles bit for bit: as integers on the coarsest grid that holds them all, else as they are. */
export function writeDoubles(writer: ByteWriter, values: Float64Array): void {
  const grid = coarsestGrid(values);
  writer.u8(grid ?? notOnGrid);
  if (grid === undefined) {
    writeWords(writer, values);
    return;
  }
  const scale = 2 ** grid;
  writeIntegers(writer, grid === 0 ? values : values.map((value) => value * scale));
}

export function readDoubles(reader: ByteReader, count: number): Float64Array {
  const grid = reader.u8();
  if (grid === notOnGrid) return readWords(reader, count);
  if (grid > finestGrid) throw new MalformedBytes(`a grid of 1/2^${grid}`);
  const values = readIntegers(reader, count);
  if (grid > 0) for (let i = 0; i < count; i++) values[i]! /= 2 ** grid;
  return values;
}

function coarsestGrid(values: Float64Array): number | undefined {
  let grid = 0;
  let scale = 1;
  for (const value of values) {
    // Minus zero is not an integer that would come back as itself.
    if (Object.is(value, -0) || !(Math.abs(value) * 2 ** finestGrid <= greatestInteger)) return undefined;
    while (!Number.isInteger(value * scale)) {
      if (++grid > finestGrid) return undefined;
      scale *= 2;
    }
  }
  return grid;
}

function writeWords(writer: ByteWriter, values: Float64Array): void {
  const bytes = new Uint8Array(8 * values.length);
  const view = new DataView(bytes.buffer);
  values.forEach((value, i) => {
    view.setFloat64(8 * i, value, true);
  });
  const plane = new Uint8Array(values.length);
  for (let p = 0; p < 8; p++) {
    for (let i = 0; i < values.length; i++) plane[i] = bytes[8 * i + p]!;
    writeBytes(writer, plane);
  }
}

function readWords(reader: ByteReader, count: number): Float64Array {
  const bytes = new Uint8Array(8 * count);
  for (let p = 0; p < 8; p++) {
    const plane = readBytes(reader, count);
    for (let i = 0; i < count; i++) bytes[8 * i + p] = plane[i]!;
  }
  const view = new DataView(bytes.buffer);
  return Float64Array.from({ length: count }, (_, i) => view.getFloat64(8 * i, true));
}
