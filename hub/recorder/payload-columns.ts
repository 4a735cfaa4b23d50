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
const packetsLookedAt = 64;

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
  if (kind !== asWave) throw new MalformedBytes(`packets of unknown coding ${kind}`);
  const headerBytes = reader.u8();
  const layout = reader.u8();
  const sampleBytes = layout & 0x0f;
  const bigEndian = (layout & 0x10) !== 0;
  const predictor = predictors[layout >> 5];
  const packetCount = offsets.length - 1;
  const packetBytes = offsets[1] ?? 0;
  const samplesPerPacket = (packetBytes - headerBytes) / sampleBytes;
  if (predictor === undefined || sampleBytes < 1 || sampleBytes > 3)
    throw new MalformedBytes('a wave of unknown layout');
  if (
    packetBytes * packetCount !== bytes.length ||
    !Number.isInteger(samplesPerPacket) ||
    samplesPerPacket < 1
  )
    throw new MalformedBytes('a wave that does not fit its packets');
  readByteColumns(reader, { offsets, bytes }, headerBytes);

  const sampleCount = samplesPerPacket * packetCount;
  const planes: Uint8Array[] = [];
  for (let p = 0; p < sampleBytes; p++) planes.push(readBytes(reader, sampleCount));
  const [low, middle, high] = planes as [Uint8Array, Uint8Array?, Uint8Array?];
  const [a, b, c] = predictor;
  let last = 0;
  let second = 0;
  let third = 0;
  let sample = 0;
  for (let start = 0; start < bytes.length; start += packetBytes) {
    const end = start + packetBytes;
    for (let at = start + headerBytes; at < end; at += sampleBytes, sample++) {
      let code = low[sample]!;
      if (middle !== undefined) code |= middle[sample]! << 8;
      if (high !== undefined) code |= high[sample]! << 16;
      const value = ((code >>> 1) ^ -(code & 1)) + a * last + b * second + c * third;
      third = second;
      second = last;
      // Kept to 24 bits, so that sums of three stay whole; lower widths are cut when they are written.
      last = value & 0xffffff;
      if (sampleBytes === 1) bytes[at] = value;
      else if (sampleBytes === 2) {
        bytes[at] = bigEndian ? value >> 8 : value;
        bytes[at + 1] = bigEndian ? value : value >> 8;
      } else {
        bytes[at] = bigEndian ? value >> 16 : value;
        bytes[at + 1] = value >> 8;
        bytes[at + 2] = bigEndian ? value : value >> 16;
      }
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

function bestWaveLayout(payloads: Payloads): WaveLayout | undefined {
  const { offsets, bytes } = payloads;
  const packetCount = offsets.length - 1;
  const packetBytes = offsets[1] ?? 0;
  if (packetCount < leastWavePackets || packetBytes < leastWavePacketBytes) return undefined;
  for (let i = 1; i <= packetCount; i++) if (offsets[i] !== i * packetBytes) return undefined;
  const looked = Math.min(packetCount, packetsLookedAt);
  const columnBits: number[] = [];
  for (let column = 0; column < packetBytes; column++) {
    const values = new Uint8Array(looked);
    for (let i = 0; i < looked; i++) values[i] = bytes[i * packetBytes + column]!;
    columnBits.push(Math.min(entropyBits(values), entropyBits(differencesOf(values))));
  }
  let best: WaveLayout | undefined;
  let leastBits = columnBits.reduce((sum, bits) => sum + bits, 0);
  let headerBits = 0;
  for (let headerBytes = 0; headerBytes <= 4; headerBytes++) {
    for (const sampleBytes of [1, 2, 3] as const) {
      if ((packetBytes - headerBytes) % sampleBytes !== 0) continue;
      for (const bigEndian of sampleBytes === 1 ? [false] : [false, true]) {
        for (const order of [0, 1, 2, 3] as const) {
          const layout = { headerBytes, sampleBytes, bigEndian, order };
          const codes = waveCodes(payloads, layout, looked);
          let bits = headerBits;
          const plane = new Uint8Array(codes.length);
          for (let p = 0; p < sampleBytes && bits < leastBits; p++) {
            for (let i = 0; i < codes.length; i++) plane[i] = codes[i]! >>> (8 * p);
            bits += entropyBits(plane);
          }
          if (bits < leastBits) {
            leastBits = bits;
            best = layout;
          }
        }
      }
    }
    headerBits += columnBits[headerBytes]!;
  }
  return best;
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
