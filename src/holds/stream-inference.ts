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
  /** The same bits as whole numbers: copied, single precision would be widened and rounded back number by number. */
  readonly words: readonly Int32Array[];
  /** Where in each ring the input of two dilations ago stands; this row's takes its place. */
  oldest(layer: number): number;
  middle(layer: number): number;
  next(): void;
}

function createRings({ dilations, width }: HoldNetwork): Rings {
  let row = 0;
  const rows = dilations.map((dilation) => new Float32Array(2 * dilation * width));
  return {
    rows,
    words: rows.map(wordsOf),
    oldest: (layer) => (row % (2 * dilations[layer]!)) * width,
    middle: (layer) => ((row + dilations[layer]!) % (2 * dilations[layer]!)) * width,
    next() {
      row += 1;
    },
  };
}

const wordsOf = ({ buffer, byteOffset, length }: Float32Array): Int32Array =>
  new Int32Array(buffer, byteOffset, length);

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
        inputByInput(network.taps[l]!),
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
  const hiddenAt = memory.reserve(width);
  // Nothing is reserved after these: they stay valid.
  const featuresIn = memory.view(featuresAt, featureCount);
  const past = wordsOf(memory.view(pastAt, layers * 2 * width));
  const seen = wordsOf(memory.view(seenAt, layers * width));
  const stateOut = memory.view(stateAt, width);
  return {
    pass(features, rings, state) {
      featuresIn.set(features);
      for (let l = 0; l < layers; l++) {
        const ring = rings.words[l]!;
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
        const ring = rings.words[l]!;
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

const { fround } = Math;

/**
 * out[o] = bias[o] + sum over inputs, single precision; `out` may not be `from`. Four outputs at a time, so that sums that do not
 * wait for one another run side by side; each is added up in the order of its inputs. Outputs beyond the last four are taken one by one.
 */
function multiply(layer: Layer, from: Float32Array, inputs: number, out: Float32Array): void {
  out.set(layer.bias);
  add(layer.weights, inputs, 0, from, 0, inputs, out);
}

/** The rectified outputs of a layer of three taps. */
function convolve(
  { weights, bias }: Layer,
  ring: Float32Array,
  oldest: number,
  middle: number,
  state: Float32Array,
  out: Float32Array,
): void {
  const width = bias.length;
  out.set(bias);
  add(weights, 3 * width, 0, ring, oldest, width, out);
  add(weights, 3 * width, width, ring, middle, width, out);
  add(weights, 3 * width, 2 * width, state, 0, width, out);
  rectify(out);
}

/** sums[o] += weights of `inputs` inputs from place `at` of each output's row on, times `from` its place `first` on. */
function add(
  weights: Float32Array,
  rowLength: number,
  at: number,
  from: Float32Array,
  first: number,
  inputs: number,
  sums: Float32Array,
): void {
  let o = 0;
  for (; o + 4 <= sums.length; o += 4) {
    const w = o * rowLength + at;
    let one = sums[o]!;
    let two = sums[o + 1]!;
    let three = sums[o + 2]!;
    let four = sums[o + 3]!;
    for (let i = 0; i < inputs; i++) {
      const value = from[first + i]!;
      one = fround(one + fround(weights[w + i]! * value));
      two = fround(two + fround(weights[w + rowLength + i]! * value));
      three = fround(three + fround(weights[w + 2 * rowLength + i]! * value));
      four = fround(four + fround(weights[w + 3 * rowLength + i]! * value));
    }
    sums[o] = one;
    sums[o + 1] = two;
    sums[o + 2] = three;
    sums[o + 3] = four;
  }
  for (; o < sums.length; o++) {
    let sum = sums[o]!;
    for (let i = 0; i < inputs; i++)
      sum = fround(sum + fround(weights[o * rowLength + at + i]! * from[first + i]!));
    sums[o] = sum;
  }
}

const rectify = (values: Float32Array): void => {
  for (let i = 0; i < values.length; i++) {
    if (values[i]! < 0) {
      values[i] = 0;
    }
  }
};
