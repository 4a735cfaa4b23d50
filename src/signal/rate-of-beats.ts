// A heart rate from intervals between beats, for a sensor that sends beats and no rate: an electrocardiogram, or intervals by
// a profile. Without it neither page nor alarms would know a rate.

import type { Sample } from '../samples/sample.ts';

/** One beat missed, or one too many, moves the middle of so many intervals by little. Our choice; a strap averages over more. */
const usualBeats = 5;
const leastBeats = 3;
/** After a silence of this length, intervals from before it say nothing of now. Our choice. */
const forgetAfterMs = 5_000;

/** Takes intervals in order; returns a rate beside each, once there are enough. Bounded memory. */
export function createRateOfBeats(): (beat: Sample) => Sample | undefined {
  let recent: number[] = [];
  let lastAtMs = Number.NEGATIVE_INFINITY;
  return (beat) => {
    if (beat.quality === 'bad') return undefined;
    if (beat.atMs - lastAtMs > forgetAfterMs) recent = [];
    lastAtMs = beat.atMs;
    recent = [...recent, beat.value].slice(-usualBeats);
    if (recent.length < leastBeats) return undefined;
    const middle = recent.toSorted((a, b) => a - b)[recent.length >> 1]!;
    return { ...beat, channel: 'heartRateBpm', value: 60_000 / middle };
  };
}
