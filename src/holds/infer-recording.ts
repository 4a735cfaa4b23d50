// Runs a hold network over rows at hand, with rows on both sides in view: for the smoothing pass, and for the live looking
// back, which asks some hundred times an hour. In the WebAssembly module where there is one, four numbers at a time, else
// plainly: the same within 1e-3 of a score and its size.

import type { HoldNetwork } from './hold-network.ts';
import { inputByInput, type KernelMemory, openKernelMemory } from './kernel-memory.ts';
import { featureCount } from './row-features.ts';

type Layer = HoldNetwork['first'];
/** Every row's scores from every row's features, row after row. */
type Inference = (features: Float32Array) => Float32Array;

const modules = new WeakMap<HoldNetwork, Inference>();

/**
 * Infers every row's scores with rows on both sides in view. Returns the network's outputs, row after row. `how`: the module
 * unless it is not there, or the plain functions.
 */
export function inferRecording(
  network: HoldNetwork,
  features: Float32Array,
  how: 'quickest' | 'plainly' = 'quickest',
): Float32Array {
  const infer = how === 'plainly' ? undefined : moduleOf(network);
  return infer === undefined ? inferPlainly(network, features) : infer(features);
}

function moduleOf(network: HoldNetwork): Inference | undefined {
  const made = modules.get(network);
  if (made !== undefined || network.width % 16 !== 0) return made;
  const memory = openKernelMemory();
  if (memory === undefined) return undefined;
  const infer = createModuleInference(network, memory);
  modules.set(network, infer);
  return infer;
}

function createModuleInference(network: HoldNetwork, memory: KernelMemory): Inference {
  const { width, dilations, outputs } = network;
  const { sums } = memory;
  // The module takes them by fours.
  const paddedOutputs = 4 * Math.ceil(outputs / 4);
  const lastBias = new Float32Array(paddedOutputs);
  lastBias.set(network.last.bias);
  const first = {
    weights: memory.store(inputByInput(network.first)),
    bias: memory.store(network.first.bias),
  };
  const last = {
    weights: memory.store(inputByInput(network.last, paddedOutputs)),
    bias: memory.store(lastBias),
  };
  const layers = dilations.map((dilation, l) => ({
    dilation,
    taps: memory.store(inputByInput(network.taps[l]!)),
    tapsBias: memory.store(network.taps[l]!.bias),
    mix: memory.store(inputByInput(network.mixes[l]!)),
    mixBias: memory.store(network.mixes[l]!.bias),
  }));
  const zeros = memory.reserve(width);
  const hidden = memory.reserve(2 * width);
  const roomAt = memory.reserve(0);
  return (features) => {
    memory.release(roomAt);
    const rows = features.length / featureCount;
    const featuresAt = memory.store(features);
    let from = memory.reserve(rows * width);
    let to = memory.reserve(rows * width);
    const scoresAt = memory.reserve(rows * paddedOutputs);
    sums.first(featuresAt, from, first.weights, first.bias, rows, featureCount, width);
    for (const { taps, tapsBias, mix, mixBias, dilation } of layers) {
      const isFirst = dilation === 1 ? 1 : 0;
      sums.layer(from, to, taps, tapsBias, mix, mixBias, zeros, hidden, rows, width, dilation, isFirst);
      [from, to] = [to, from];
    }
    sums.last(from, scoresAt, last.weights, last.bias, rows, width, paddedOutputs);
    const padded = memory.view(scoresAt, rows * paddedOutputs);
    const scores = new Float32Array(rows * outputs);
    for (let row = 0; row < rows; row++)
      for (let o = 0; o < outputs; o++) scores[row * outputs + o] = padded[row * paddedOutputs + o]!;
    return scores;
  };
}

function inferPlainly(network: HoldNetwork, features: Float32Array): Float32Array {
  const { width } = network;
  const rows = features.length / featureCount;
  let state = passEach(network.first, features);
  rectify(state);
  for (const [l, dilation] of network.dilations.entries()) {
    const seen = new Float32Array(3 * width * rows);
    for (let row = 0; row < rows; row++)
      for (let tap = 0; tap < 3; tap++) {
        const at = row + (tap - 1) * dilation;
        if (at >= 0 && at < rows)
          seen.set(state.subarray(at * width, (at + 1) * width), (3 * row + tap) * width);
      }
    const hidden = passEach(network.taps[l]!, seen);
    rectify(hidden);
    const mixed = passEach(network.mixes[l]!, hidden);
    state = state.map((value, i) => value + mixed[i]!);
  }
  rectify(state);
  return passEach(network.last, state);
}

/** A layer that takes every row by itself. */
function passEach({ weights, bias }: Layer, from: Float32Array): Float32Array {
  const outputs = bias.length;
  const inputs = weights.length / outputs;
  const count = from.length / inputs;
  const out = new Float32Array(count * outputs);
  for (let row = 0; row < count; row++)
    for (let o = 0; o < outputs; o++) {
      let sum = bias[o]!;
      for (let i = 0; i < inputs; i++) sum += weights[o * inputs + i]! * from[row * inputs + i]!;
      out[row * outputs + o] = sum;
    }
  return out;
}

function rectify(values: Float32Array): void {
  for (let i = 0; i < values.length; i++) if (values[i]! < 0) values[i] = 0;
}
