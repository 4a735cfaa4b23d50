// Waveform samples and beats of an imported file as bytes the recorder can keep. No standard characteristic carries a pleth
// or the time of a beat, and imported ones must come back to the last digit: times and values stand in it as they are.

import type { Channel, SampleQuality } from '../../shared/schema-parts.ts';
import { monotonicMs } from '../../shared/units.ts';
import type { Sample } from '../samples/sample.ts';

/** Name these packets, beside the characteristics of sensors. Random UUIDs of our own. */
export const waveCharacteristic = 'c7b6a2f04c1d4f0d9d6e3f58a1e2b94c';
export const beatCharacteristic = '5e1f0c3a8d7b4b6295c1e07a4f2d9b38';

const channels: ReadonlyMap<string, Channel> = new Map([
  [waveCharacteristic, 'pleth'],
  [beatCharacteristic, 'rrIntervalMs'],
]);

const codes = ['good', 'suspect', 'bad'] as const satisfies readonly SampleQuality[];
/** Time on the session's clock and value as doubles, quality as a byte. */
const bytesPerSample = 17;

export interface ExactSample {
  readonly atMs: number;
  readonly value: number;
  readonly quality: SampleQuality;
}

export function encodeExactPacket(samples: readonly ExactSample[]): Uint8Array {
  const bytes = new Uint8Array(samples.length * bytesPerSample);
  const view = new DataView(bytes.buffer);
  samples.forEach(({ atMs, value, quality }, index) => {
    view.setFloat64(index * bytesPerSample, atMs, true);
    view.setFloat64(index * bytesPerSample + 8, value, true);
    bytes[index * bytesPerSample + 16] = codes.indexOf(quality);
  });
  return bytes;
}

/** Takes any bytes: what is no whole sample, or no time or number, is left out. Undefined for other characteristics. */
export function decodeExactPacket(
  characteristic: string,
  bytes: Uint8Array,
  sensorId: string,
): Sample[] | undefined {
  const channel = channels.get(characteristic);
  if (channel === undefined) return undefined;
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  const samples: Sample[] = [];
  for (let at = 0; at + bytesPerSample <= bytes.length; at += bytesPerSample) {
    const atMs = view.getFloat64(at, true);
    const value = view.getFloat64(at + 8, true);
    const quality = codes[bytes[at + 16]!];
    if (!Number.isFinite(atMs) || atMs < 0 || !Number.isFinite(value) || quality === undefined) continue;
    const reasons = quality === 'good' ? [] : (['questionable'] as const);
    samples.push({ channel, atMs: monotonicMs(atMs), value, sensorId, quality, reasons });
  }
  return samples;
}
