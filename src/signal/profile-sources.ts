// What a profile's sensor sends that is not yet what a hold shows in: three axes become one breathing channel, an
// electrocardiogram becomes beats. Remembers one sensor's signals between packets.

import { type MonotonicMs, monotonicMs } from '../../shared/units.ts';
import { readingLimits } from '../gatt/readings-to-samples.ts';
import type { ProfileState, SourceSample } from '../profiles/decode-profile.ts';
import type { QualityReason, Sample } from '../samples/sample.ts';
import { createChestAccelerometer } from './chest-accelerometer.ts';
import { createQrsDetector, type QrsDetector } from './qrs-detector.ts';

export interface ProfileSources {
  /** Conditions of the sensor that frames without readings have told; its characteristics share them. */
  standing: ProfileState['standing'];
  /** Takes the waves of one packet, in rising order of time within each. */
  push(waves: readonly SourceSample[]): readonly Sample[];
  /**
   * The link is made anew: conditions and beats of before are void. What is known of how the sensor lies on the body stays, or
   * one that was taken off would count as worn once it is back.
   */
  newLink(): void;
}

const axes = ['accelX', 'accelY', 'accelZ'] as const;

export function createProfileSources(sensorId: string): ProfileSources {
  const accelerometer = createChestAccelerometer();
  let detector: QrsDetector | undefined;
  let detectorHz = Number.NaN;
  let lastBeatMs = Number.NaN;

  /** Values of the axes that a sensor has, by time; an axis it lacks is 0 throughout. */
  function breathing(waves: readonly SourceSample[]): Sample[] {
    const known = axes.filter((axis) => waves.some(({ gives }) => gives === axis));
    if (known.length === 0) return [];
    const byTime = new Map<MonotonicMs, Partial<Record<SourceSample['gives'], SourceSample>>>();
    for (const wave of waves)
      if (wave.gives !== 'ecg') byTime.set(wave.atMs, { ...byTime.get(wave.atMs), [wave.gives]: wave });
    return [...byTime].flatMap(([atMs, at]) => {
      if (known.some((axis) => at[axis] === undefined)) return [];
      const told = [...new Set(known.flatMap((axis) => at[axis]!.reasons))];
      const { breathing: value, isWorn } = accelerometer.push(atMs, [
        at.accelX?.value ?? 0,
        at.accelY?.value ?? 0,
        at.accelZ?.value ?? 0,
      ]);
      const reasons = isWorn || told.includes('noContact') ? told : [...told, 'noContact' as const];
      const quality = qualityOf(reasons);
      return [{ channel: 'respirationRaw' as const, atMs, value, sensorId, quality, reasons }];
    });
  }

  function beats(waves: readonly SourceSample[]): Sample[] {
    const samples: Sample[] = [];
    for (const { gives, atMs, value, rateHz, reasons } of waves) {
      if (gives !== 'ecg') continue;
      // Electrodes that are off send anything at all.
      if (qualityOf(reasons) === 'bad') {
        detector = undefined;
        lastBeatMs = Number.NaN;
        continue;
      }
      if (detector === undefined || detectorHz !== rateHz) {
        detector = createQrsDetector(rateHz);
        detectorHz = rateHz;
        lastBeatMs = Number.NaN;
      }
      for (const beatMs of detector.push(atMs, value)) {
        const intervalMs = beatMs - lastBeatMs;
        lastBeatMs = beatMs;
        if (intervalMs > 0 && intervalMs <= longestIntervalMs)
          samples.push(beatSample(sensorId, beatMs, intervalMs, reasons));
      }
    }
    return samples;
  }

  const made: ProfileSources = {
    standing: [],
    push: (waves) => [...breathing(waves), ...beats(waves)],
    newLink() {
      made.standing = [];
      detector = undefined;
      lastBeatMs = Number.NaN;
    },
  };
  return made;
}

/** Between beats so far apart others have been missed. */
const longestIntervalMs = 3_000;

const qualityOf = (reasons: readonly QualityReason[]): Sample['quality'] =>
  reasons.includes('noContact') || reasons.includes('sensorFault')
    ? 'bad'
    : reasons.length > 0
      ? 'suspect'
      : 'good';

/** An interval between beats; `atMs` is the beat that ends it. */
export function beatSample(
  sensorId: string,
  atMs: number,
  intervalMs: number,
  reasons: readonly QualityReason[],
): Sample {
  const { leastRrIntervalMs, mostRrIntervalMs } = readingLimits;
  const isPlausible = intervalMs >= leastRrIntervalMs && intervalMs <= mostRrIntervalMs;
  const all = isPlausible ? reasons : [...reasons, 'outOfRange' as const];
  return {
    channel: 'rrIntervalMs',
    atMs: monotonicMs(Math.max(0, atMs)),
    value: intervalMs,
    sensorId,
    quality: isPlausible ? qualityOf(reasons) : 'bad',
    reasons: all,
  };
}
