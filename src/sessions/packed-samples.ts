// Samples as a handful of typed columns, so that hours of them cross from one thread to another in no time and come
// back exactly as they were.

import type { Channel, SampleQuality } from '../../shared/schema-parts.ts';
import { monotonicMs } from '../../shared/units.ts';
import type { QualityReason, Sample } from '../samples/sample.ts';

export interface PackedSamples {
  /** What can stand beside a time and a value; `kind` of each sample is its place in here. */
  readonly kinds: readonly {
    readonly channel: Channel;
    readonly sensorId: string;
    readonly quality: SampleQuality;
    readonly reasons: readonly QualityReason[];
  }[];
  readonly kind: Uint16Array;
  readonly atMs: Float64Array;
  readonly value: Float64Array;
}

/** Channels, sensors, qualities and reasons of one person's session are few; 65 536 combinations are never reached. */
export function packSamples(samples: readonly Sample[]): PackedSamples {
  const kinds: PackedSamples['kinds'][number][] = [];
  const placeOf = new Map<string, number>();
  const kind = new Uint16Array(samples.length);
  const atMs = new Float64Array(samples.length);
  const value = new Float64Array(samples.length);
  samples.forEach((sample, index) => {
    const { channel, sensorId, quality, reasons } = sample;
    const key = `${channel} ${quality} ${reasons.join()} ${sensorId}`;
    let place = placeOf.get(key);
    if (place === undefined) {
      place = kinds.length;
      kinds.push({ channel, sensorId, quality, reasons });
      placeOf.set(key, place);
    }
    kind[index] = place;
    atMs[index] = sample.atMs;
    value[index] = sample.value;
  });
  return { kinds, kind, atMs, value };
}

export function unpackSamples({ kinds, kind, atMs, value }: PackedSamples): Sample[] {
  return Array.from(atMs, (at, index) => ({
    ...kinds[kind[index]!]!,
    atMs: monotonicMs(at),
    value: value[index]!,
  }));
}
