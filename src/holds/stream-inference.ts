// Runs a hold network row by row, looking back only, with constant memory: for the live detector. In the WebAssembly module
// where there is one, else plainly; both give the very same numbers.

import type { HoldNetwork } from './hold-network.ts';
import { inputByInput, type KernelMemory, openKernelMemory } from './kernel-memory.ts';
import { featureCount } from './row-features.ts';

type Layer = HoldNetwork['first'];

/** Judges rows as they come. The returned array is reused. */
type StreamInference = (features: Float32Array) => Float32Array;

/** `how`: the module unless it is not there, or the plain functions. */
export function createStreamInference(
  network: HoldNetwork,
  how: 'quickest' | 'plainly' = 'quickest',
): StreamInference {
  const module = how === 'plainly' ? undefined : moduleOf(network);
  const state = new Float32Array(network.width);
  const result = new Float32Array(network.outputs);
  const rings = createRings(network);
  const pass =
    module === undefined
      ? createPlainPass(network, rings, state)
      : (features: Float32Array) => module.pass(features, rings, state);
  return (features) => {
    pass(features);
    rings.next();
    rectify(state);
    multiply(network.last, state, network.width, result);
    return result;
  };
}

/** What each layer needs of earlier rows: its input 1 and 2 dilations ago, in rings of 2 x dilation rows. */
interface Rings {
  readonly rows: readonly Float32Array[];
  /** Where in each ring the input of two dilations ago stands; this row's takes its place. */
  oldest(layer: number): number;
  middle(layer: number): number;
  next(): void;
}

function createRings({ dilations, width }: HoldNetwork): Rings {
  let row = 0;
  return {
    rows: dilations.map((dilation) => new Float32Array(2 * dilation * width)),
    oldest: (layer) => (row % (2 * dilations[layer]!)) * width,
    middle: (layer) => ((row + dilations[layer]!) % (2 * dilations[layer]!)) * width,
    next() {
      row += 1;
    },
  };
}

interface ModulePass {
  pass(features: Float32Array, rings: Rings, state: Float32Array): void;
}

const modules = new WeakMap<HoldNetwork, ModulePass>();

/** One for all streams of a network: they share its weights, and each keeps its own rings outside. */
function moduleOf(network: HoldNetwork): ModulePass | undefined {
  const made = modules.get(network);
  if (made !== undefined || network.width % 8 !== 0) return made;
  const memory = openKernelMemory();
  if (memory === undefined) return undefined;
  const pass = createModulePass(network, memory);
  modules.set(network, pass);
  return pass;
}

function createModulePass(network: HoldNetwork, memory: KernelMemory): ModulePass {
  const { width, dilations } = network;
  const layers = dilations.length;
  const weights = memory.store(
    joined([
      inputByInput(network.first),
      network.first.bias,
      ...dilations.flatMap((_, l) => [
        inputByInput(network.taps[l]!, { groups: 3 }),
        network.taps[l]!.bias,
        inputByInput(network.mixes[l]!),
        network.mixes[l]!.bias,
      ]),
    ]),
  );
  const featuresAt = memory.reserve(featureCount);
  const pastAt = memory.reserve(layers * 2 * width);
  const seenAt = memory.reserve(layers * width);
  const stateAt = memory.reserve(width);
  const hiddenAt = memory.reserve(2 * width);
  // Nothing is reserved after these: they stay valid.
  const featuresIn = memory.view(featuresAt, featureCount);
  const past = memory.view(pastAt, layers * 2 * width);
  const seen = memory.view(seenAt, layers * width);
  const stateOut = memory.view(stateAt, width);
  return {
    pass(features, rings, state) {
      featuresIn.set(features);
      for (let l = 0; l < layers; l++) {
        const ring = rings.rows[l]!;
        const oldest = rings.oldest(l);
        const middle = rings.middle(l);
        const at = 2 * l * width;
        for (let i = 0; i < width; i++) {
          past[at + i] = ring[oldest + i]!;
          past[at + width + i] = ring[middle + i]!;
        }
      }
      memory.sums.stream_row(
        featuresAt,
        pastAt,
        weights,
        seenAt,
        stateAt,
        hiddenAt,
        featureCount,
        width,
        layers,
      );
      for (let l = 0; l < layers; l++) {
        const ring = rings.rows[l]!;
        const oldest = rings.oldest(l);
        for (let i = 0; i < width; i++) ring[oldest + i] = seen[l * width + i]!;
      }
      state.set(stateOut);
    },
  };
}

function joined(parts: readonly Float32Array[]): Float32Array {
  const all = new Float32Array(parts.reduce((sum, { length }) => sum + length, 0));
  let at = 0;
  for (const part of parts) {
    all.set(part, at);
    at += part.length;
  }
  return all;
}

function createPlainPass(
  network: HoldNetwork,
  rings: Rings,
  state: Float32Array,
): (features: Float32Array) => void {
  const { width, dilations } = network;
  const hidden = new Float32Array(width);
  const mixed = new Float32Array(width);
  return (features) => {
    multiply(network.first, features, featureCount, state);
    rectify(state);
    for (let l = 0; l < dilations.length; l++) {
      const ring = rings.rows[l]!;
      const oldest = rings.oldest(l);
      convolve(network.taps[l]!, ring, oldest, rings.middle(l), state, hidden);
      multiply(network.mixes[l]!, hidden, width, mixed);
      for (let i = 0; i < width; i++) {
        ring[oldest + i] = state[i]!;
        state[i] = state[i]! + mixed[i]!;
      }
    }
  };
}

/**
 * out[o] = bias[o] + sum over inputs; `out` may not be `from`. Four outputs at a time, so that sums that do not wait for one
 * another run side by side; each is added up in the order of its inputs. Outputs beyond the last four are taken one by one.
 */
function multiply(layer: Layer, from: Float32Array, inputs: number, out: Float32Array): void {
  const { weights, bias } = layer;
  const outputs = bias.length;
  let o = 0;
  for (; o + 4 <= outputs; o += 4) {
    const w = o * inputs;
    let one = bias[o]!;
    let two = bias[o + 1]!;
    let three = bias[o + 2]!;
    let four = bias[o + 3]!;
    for (let i = 0; i < inputs; i++) {
      const value = from[i]!;
      one += weights[w + i]! * value;
      two += weights[w + inputs + i]! * value;
      three += weights[w + 2 * inputs + i]! * value;
      four += weights[w + 3 * inputs + i]! * value;
    }
    out[o] = one;
    out[o + 1] = two;
    out[o + 2] = three;
    out[o + 3] = four;
  }
  for (; o < outputs; o++) {
    let sum = bias[o]!;
    for (let i = 0; i < inputs; i++) sum += weights[o * inputs + i]! * from[i]!;
    out[o] = sum;
  }
}

/** The rectified outputs of a layer of three taps, two outputs at a time; a width is even. */
function convolve(
  { weights, bias }: Layer,
  ring: Float32Array,
  oldest: number,
  middle: number,
  state: Float32Array,
  out: Float32Array,
): void {
  const width = bias.length;
  for (let o = 0; o < width; o += 2) {
    const w = 3 * width * o;
    const v = w + 3 * width;
    let one = bias[o]!;
    let two = bias[o + 1]!;
    for (let i = 0; i < width; i++) {
      const first = ring[oldest + i]!;
      const second = ring[middle + i]!;
      const third = state[i]!;
      one += weights[w + i]! * first + weights[w + width + i]! * second + weights[w + 2 * width + i]! * third;
      two += weights[v + i]! * first + weights[v + width + i]! * second + weights[v + 2 * width + i]! * third;
    }
    out[o] = Math.max(0, one);
    out[o + 1] = Math.max(0, two);
  }
}

const rectify = (values: Float32Array): void => {
  for (let i = 0; i < values.length; i++) {
    if (values[i]! < 0) {
      values[i] = 0;
    }
  }
};
