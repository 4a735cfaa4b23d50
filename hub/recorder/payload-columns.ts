// Packet bytes in few bytes without knowing what they mean: byte by byte down the packets, or as a wave of integers.

import type { ByteReader } from './byte-reader.ts';
import { MalformedBytes } from './byte-reader.ts';
import type { ByteWriter } from './byte-writer.ts';
import { readBytes, writeBytes } from './number-columns.ts';

/** Packets of one stream, one after another; packet `i` is `bytes` from `offsets[i]` to `offsets[i + 1]`. */
export interface Payloads {
  readonly offsets: Uint32Array;
  readonly bytes: Uint8Array;
}

/**
 * How a run of packets of equal length may hold a wave: after `headerBytes`, integers of `sampleBytes`, each
 * foretold from the `order` before it (a polynomial through them) across the packets' borders.
 */
interface WaveLayout {
  readonly headerBytes: number;
  readonly sampleBytes: 1 | 2 | 3;
  readonly bigEndian: boolean;
  readonly order: 0 | 1 | 2 | 3;
}

/** Coefficients of the last three samples that foretell the next, by order. */
const predictors = [
  [0, 0, 0],
  [1, 0, 0],
  [2, -1, 0],
  [3, -3, 1],
] as const;

const asColumns = 0;
const asWave = 1;
/** Shorter packets are readouts, not waves. */
const leastWavePacketBytes = 8;
const leastWavePackets = 4;
/** Enough packets to choose a layout by; the choice costs time, never exactness. */
const packetsLookedAt = 32;

export function writePayloads(writer: ByteWriter, payloads: Payloads): void {
  const wave = bestWaveLayout(payloads);
  if (wave === undefined) {
    writer.u8(asColumns);
    writeByteColumns(writer, payloads, Number.POSITIVE_INFINITY);
    return;
  }
  writer.u8(asWave);
  writer.u8(wave.headerBytes);
  writer.u8(wave.sampleBytes | (wave.bigEndian ? 0x10 : 0) | (wave.order << 5));
  writeByteColumns(writer, payloads, wave.headerBytes);
  const codes = waveCodes(payloads, wave, payloads.offsets.length - 1);
  const plane = new Uint8Array(codes.length);
  for (let p = 0; p < wave.sampleBytes; p++) {
    for (let i = 0; i < codes.length; i++) plane[i] = codes[i]! >>> (8 * p);
    writeBytes(writer, plane);
  }
}

/** Fills `bytes`, whose packets lie at `offsets`. */
export function readPayloads(reader: ByteReader, { offsets, bytes }: Payloads): void {
  const kind = reader.u8();
  if (kind === asColumns) {
    readByteColumns(reader, { offsets, bytes }, Number.POSITIVE_INFINITY);
    return;
  }
  if (kind !== asWave) throw new MalformedBytes('unknownCoding');
  const headerBytes = reader.u8();
  const layout = reader.u8();
  const sampleBytes = layout & 0x0f;
  const bigEndian = (layout & 0x10) !== 0;
  const predictor = predictors[layout >> 5];
  const packetCount = offsets.length - 1;
  const packetBytes = offsets[1] ?? 0;
  const samplesPerPacket = (packetBytes - headerBytes) / sampleBytes;
  if (predictor === undefined || sampleBytes < 1 || sampleBytes > 3)
    throw new MalformedBytes('unknownWaveLayout');
  if (
    packetBytes * packetCount !== bytes.length ||
    !Number.isInteger(samplesPerPacket) ||
    samplesPerPacket < 1
  )
    throw new MalformedBytes('unfittingWave');
  readByteColumns(reader, { offsets, bytes }, headerBytes);

  const planes: Uint8Array[] = [];
  for (let p = 0; p < sampleBytes; p++) planes.push(readBytes(reader, samplesPerPacket * packetCount));
  const wave = { headerBytes, packetBytes, predictor, bytes };
  if (sampleBytes === 2 && !bigEndian) restorePairs(wave, planes[0]!, planes[1]!);
  else restoreSamples(wave, planes, bigEndian);
}

interface WaveBeingRead {
  readonly headerBytes: number;
  readonly packetBytes: number;
  readonly predictor: (typeof predictors)[number];
  readonly bytes: Uint8Array;
}

/** The commonest wave, little-endian 16-bit samples, in one pass: it decides how fast an hour opens. */
function restorePairs(wave: WaveBeingRead, low: Uint8Array, high: Uint8Array): void {
  const { headerBytes, packetBytes, bytes } = wave;
  const [a, b, c] = wave.predictor;
  let last = 0;
  let second = 0;
  let third = 0;
  let sample = 0;
  for (let start = 0; start < bytes.length; start += packetBytes) {
    const end = start + packetBytes;
    for (let at = start + headerBytes; at < end; at += 2) {
      const code = low[sample]! | (high[sample]! << 8);
      sample++;
      const value =
        ((code >>> 1) ^ -(code & 1)) + Math.imul(a, last) + Math.imul(b, second) + Math.imul(c, third);
      third = second;
      second = last;
      // Kept to 24 bits, so that sums of three stay whole; the sample's own bits are the low ones.
      last = value & 0xffffff;
      bytes[at] = last;
      bytes[at + 1] = last >> 8;
    }
  }
}

function restoreSamples(wave: WaveBeingRead, planes: readonly Uint8Array[], bigEndian: boolean): void {
  const { headerBytes, packetBytes, bytes } = wave;
  const [a, b, c] = wave.predictor;
  const sampleBytes = planes.length;
  let last = 0;
  let second = 0;
  let third = 0;
  let sample = 0;
  for (let start = 0; start < bytes.length; start += packetBytes) {
    const end = start + packetBytes;
    for (let at = start + headerBytes; at < end; at += sampleBytes) {
      let code = 0;
      for (let p = 0; p < sampleBytes; p++) code |= planes[p]![sample]! << (8 * p);
      sample++;
      const value =
        ((code >>> 1) ^ -(code & 1)) + Math.imul(a, last) + Math.imul(b, second) + Math.imul(c, third);
      third = second;
      second = last;
      last = value & 0xffffff;
      for (let byte = 0; byte < sampleBytes; byte++)
        bytes[at + byte] = last >> (8 * (bigEndian ? sampleBytes - 1 - byte : byte));
    }
  }
}

/** Zigzagged residuals modulo the sample's width: signed and unsigned waves come out the same. */
function waveCodes(payloads: Payloads, wave: WaveLayout, packetCount: number): Uint32Array {
  const { headerBytes, sampleBytes, bigEndian } = wave;
  const { bytes } = payloads;
  const packetBytes = payloads.offsets[1]!;
  const [a, b, c] = predictors[wave.order];
  const unused = 32 - 8 * sampleBytes;
  const codes = new Uint32Array(((packetBytes - headerBytes) / sampleBytes) * packetCount);
  const mask = 2 ** (8 * sampleBytes) - 1;
  let last = 0;
  let second = 0;
  let third = 0;
  let sample = 0;
  for (let packet = 0; packet < packetCount; packet++) {
    const end = (packet + 1) * packetBytes;
    for (let at = packet * packetBytes + headerBytes; at < end; at += sampleBytes) {
      let value = bytes[at]!;
      if (sampleBytes === 2)
        value = bigEndian ? (value << 8) | bytes[at + 1]! : value | (bytes[at + 1]! << 8);
      else if (sampleBytes === 3)
        value = bigEndian
          ? (value << 16) | (bytes[at + 1]! << 8) | bytes[at + 2]!
          : value | (bytes[at + 1]! << 8) | (bytes[at + 2]! << 16);
      const residual = ((value - a * last - b * second - c * third) << unused) >> unused;
      codes[sample++] = ((residual << 1) ^ (residual >> 31)) & mask;
      third = second;
      second = last;
      last = value;
    }
  }
  return codes;
}

/** The layout that leaves the fewest bits in the first packets; undefined if that is byte columns. */
function bestWaveLayout(payloads: Payloads): WaveLayout | undefined {
  const { offsets, bytes } = payloads;
  const packetCount = offsets.length - 1;
  const packetBytes = offsets[1] ?? 0;
  if (packetCount < leastWavePackets || packetBytes < leastWavePacketBytes) return undefined;
  for (let i = 1; i <= packetCount; i++) if (offsets[i] !== i * packetBytes) return undefined;
  const looked = Math.min(packetCount, packetsLookedAt);
  const columnBits = new Uint32Array(packetBytes);
  let leastBits = 0;
  for (let column = 0; column < packetBytes; column++) {
    let bits = 0;
    for (let i = 1; i < looked; i++)
      bits += residualBits(bytes[i * packetBytes + column]! - bytes[(i - 1) * packetBytes + column]!, 24);
    columnBits[column] = bits;
    leastBits += bits;
  }
  let best: WaveLayout | undefined;
  let headerBits = 0;
  for (let headerBytes = 0; headerBytes <= 4; headerBytes++) {
    for (const sampleBytes of [1, 2, 3] as const) {
      if ((packetBytes - headerBytes) % sampleBytes !== 0) continue;
      for (const bigEndian of sampleBytes === 1 ? [false] : [false, true]) {
        const bitsByOrder = waveBits(bytes, looked, packetBytes, headerBytes, sampleBytes, bigEndian);
        for (const order of [0, 1, 2, 3] as const) {
          const bits = headerBits + bitsByOrder[order]!;
          if (bits >= leastBits) continue;
          leastBits = bits;
          best = { headerBytes, sampleBytes, bigEndian, order };
        }
      }
    }
    headerBits += columnBits[headerBytes]!;
  }
  return best;
}

/** Bits of the residuals of every order at once: what `waveCodes` would leave, roughly. */
function waveBits(
  bytes: Uint8Array,
  packetCount: number,
  packetBytes: number,
  headerBytes: number,
  sampleBytes: number,
  bigEndian: boolean,
): readonly [number, number, number, number] {
  const unused = 32 - 8 * sampleBytes;
  let bits0 = 0;
  let bits1 = 0;
  let bits2 = 0;
  let bits3 = 0;
  let last = 0;
  let change = 0;
  let bend = 0;
  for (let packet = 0; packet < packetCount; packet++) {
    const end = (packet + 1) * packetBytes;
    for (let at = packet * packetBytes + headerBytes; at < end; at += sampleBytes) {
      let value = bytes[at]!;
      for (let b = 1; b < sampleBytes; b++)
        value = bigEndian ? (value << 8) | bytes[at + b]! : value | (bytes[at + b]! << (8 * b));
      const nextChange = value - last;
      const nextBend = nextChange - change;
      bits0 += residualBits(value, unused);
      bits1 += residualBits(nextChange, unused);
      bits2 += residualBits(nextBend, unused);
      bits3 += residualBits(nextBend - bend, unused);
      last = value;
      change = nextChange;
      bend = nextBend;
    }
  }
  return [bits0, bits1, bits2, bits3];
}

/** Binary digits of a residual modulo its width, sign included. */
function residualBits(residual: number, unused: number): number {
  const wrapped = (residual << unused) >> unused;
  return 32 - Math.clz32((wrapped << 1) ^ (wrapped >> 31));
}

/** Column `j` holds byte `j` of each packet that is that long, as it is or as differences. */
function writeByteColumns(writer: ByteWriter, { offsets, bytes }: Payloads, mostColumns: number): void {
  const packetCount = offsets.length - 1;
  const longest = longestPacket(offsets);
  for (let column = 0; column < longest && column < mostColumns; column++) {
    const values = new Uint8Array(packetCount);
    let count = 0;
    for (let i = 0; i < packetCount; i++) {
      const at = offsets[i]! + column;
      if (at < offsets[i + 1]!) values[count++] = bytes[at]!;
    }
    const present = values.subarray(0, count);
    const differences = differencesOf(present);
    const differ = entropyBits(differences) < entropyBits(present);
    writer.u8(differ ? 1 : 0);
    writeBytes(writer, differ ? differences : present);
  }
}

function readByteColumns(reader: ByteReader, { offsets, bytes }: Payloads, mostColumns: number): void {
  const packetCount = offsets.length - 1;
  const longest = longestPacket(offsets);
  for (let column = 0; column < longest && column < mostColumns; column++) {
    let count = 0;
    for (let i = 0; i < packetCount; i++) if (offsets[i]! + column < offsets[i + 1]!) count++;
    const differ = reader.u8() === 1;
    const values = readBytes(reader, count);
    let last = 0;
    let next = 0;
    for (let i = 0; i < packetCount; i++) {
      const at = offsets[i]! + column;
      if (at >= offsets[i + 1]!) continue;
      last = differ ? last + values[next]! : values[next]!;
      bytes[at] = last;
      next++;
    }
  }
}

function longestPacket(offsets: Uint32Array): number {
  let longest = 0;
  for (let i = 1; i < offsets.length; i++) longest = Math.max(longest, offsets[i]! - offsets[i - 1]!);
  return longest;
}

function differencesOf(values: Uint8Array): Uint8Array {
  const differences = new Uint8Array(values.length);
  let last = 0;
  for (let i = 0; i < values.length; i++) {
    differences[i] = values[i]! - last;
    last = values[i]!;
  }
  return differences;
}

/** Shannon's lower bound for coding these bytes one by one. */
function entropyBits(values: Uint8Array): number {
  const counts = new Uint32Array(256);
  for (const value of values) counts[value]!++;
  let bits = 0;
  for (const count of counts) if (count > 0) bits -= count * Math.log2(count / values.length);
  return bits;
}
