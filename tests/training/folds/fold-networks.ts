// The networks that were trained without one half of the real people: each person is scored by those that never met them.

import type { LiveNetworks } from '../../../src/holds/hold-belief.ts';
import { readWeights } from '../../../src/holds/hold-network.ts';
import type { SmoothingNetworks } from '../../../src/holds/smoothing.ts';
import { liveWeights as liveFirst } from './live-without-half-1.ts';
import { liveWeights as liveSecond } from './live-without-half-2.ts';
import { plethWeights as plethFirst } from './pleth-without-half-1.ts';
import { plethWeights as plethSecond } from './pleth-without-half-2.ts';
import { smoothingWeights as smoothingFirst } from './smoothing-without-half-1.ts';
import { smoothingWeights as smoothingSecond } from './smoothing-without-half-2.ts';

export const smoothingWithoutHalf: readonly [SmoothingNetworks, SmoothingNetworks] = [
  { smoothing: readWeights(smoothingFirst), pleth: readWeights(plethFirst) },
  { smoothing: readWeights(smoothingSecond), pleth: readWeights(plethSecond) },
];
export const liveWithoutHalf: readonly [LiveNetworks, LiveNetworks] = [
  { live: readWeights(liveFirst), ...smoothingWithoutHalf[0] },
  { live: readWeights(liveSecond), ...smoothingWithoutHalf[1] },
];
