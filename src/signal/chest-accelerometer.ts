// An accelerometer worn on chest or belly: its breathing channel, and whether it is worn at all, which its three axes together tell
// better than the one that breathing moves, for the heart pushes in another direction.

import { createAxisProjection } from './axis-projection.ts';
import { createWornWatch, type Stir } from './worn-watch.ts';

export interface ChestAccelerometer {
  /** One sample of three axes in any unit, at a time in ms that rises. `isWorn` is of the seconds before. */
  push(
    atMs: number,
    axes: readonly [number, number, number],
  ): { readonly breathing: number; readonly isWorn: boolean };
}

/** Noise of three axes together stands out of itself by about 1.9; a heart that shows, by far more. Our choice. */
const heartStandsOut = 2.6;
const leastSamples = 8;

/** Deterministic; holds a second of samples. */
export function createChestAccelerometer(): ChestAccelerometer {
  const projection = createAxisProjection();
  const watch = createWornWatch(heartStandsOut);
  let second = Number.NaN;
  let samples: { readonly axes: readonly number[]; readonly breathing: number }[] = [];
  let isWorn = true;
  return {
    push(atMs, axes) {
      const breathing = projection.push(atMs, axes);
      const now = Math.floor(atMs / 1_000);
      if (now !== second) {
        if (samples.length > 0)
          isWorn = watch(
            samples.reduce((sum, each) => sum + each.breathing, 0) / samples.length,
            stirOf(samples.map((each) => each.axes)),
          );
        samples = [];
        second = now;
      }
      samples.push({ axes: [...axes], breathing });
      return { breathing, isWorn };
    },
  };
}

/** How far each sample lies, in space, from the middle of its neighbours a tenth of the second away. */
function stirOf(axes: readonly (readonly number[])[]): Stir | undefined {
  if (axes.length < leastSamples) return undefined;
  const reach = Math.max(1, Math.round(axes.length / 10));
  const stirs: number[] = [];
  for (let i = reach; i < axes.length - reach; i += 1)
    stirs.push(
      Math.hypot(...axes[i]!.map((value, k) => value - (axes[i - reach]![k]! + axes[i + reach]![k]!) / 2)),
    );
  stirs.sort((a, b) => a - b);
  return { level: stirs[stirs.length >> 1]!, peak: stirs.at(-2)! };
}
