// Marks the moments at which saturation falls below a threshold and comes back, with hysteresis so that a reading
// that flickers about a threshold does not fill the record.

import type { Sample } from '../samples/sample.ts';

export interface ThresholdCrossing {
  readonly atMs: Sample['atMs'];
  readonly thresholdPercent: number;
  readonly direction: 'below' | 'above';
}

/**
 * Oximeters show whole per cents and flicker by one at a steady saturation (seen in the controlled-desaturation
 * extract in fixtures/): coming back needs one whole point above the threshold. Our choice.
 */
const hysteresisPercent = 1;

export interface ThresholdWatch {
  /** Takes a saturation sample; bad ones say nothing. */
  push(sample: Sample): readonly ThresholdCrossing[];
  setThresholds(thresholdsPercent: readonly number[]): void;
}

export function createThresholdWatch(thresholdsPercent: readonly number[]): ThresholdWatch {
  let isBelow = new Map(thresholdsPercent.map((threshold) => [threshold, false]));

  return {
    push(sample) {
      if (sample.quality === 'bad') return [];
      const crossings: ThresholdCrossing[] = [];
      for (const [threshold, below] of isBelow) {
        const fell = !below && sample.value < threshold;
        const rose = below && sample.value >= threshold + hysteresisPercent;
        if (!fell && !rose) continue;
        isBelow.set(threshold, fell);
        crossings.push({
          atMs: sample.atMs,
          thresholdPercent: threshold,
          direction: fell ? 'below' : 'above',
        });
      }
      return crossings;
    },
    setThresholds(thresholds) {
      isBelow = new Map(thresholds.map((threshold) => [threshold, isBelow.get(threshold) ?? false]));
    },
  };
}
