// Runs a hold network over rows at hand, with rows on both sides in view: for the later pass, and for the live looking
// back, which asks some hundred times an hour.

import { type HoldNetwork, rectify } from './hold-network.ts';

type Layer = HoldNetwork['first'];

/**
 * A layer's outputs for two rows: bias plus sum over inputs. Eight sums at a time, so that one's additions need not wait
 * for each other's and each number is fetched once; every sum is taken in the order of its inputs all the same.
 */
function multiplyPair({ weights, bias }: Layer, from: Float32Array, out: Float32Array): void {
  const outputs = bias.length;
  const inputs = from.length >> 1;
  let o = 0;
  for (; o + 4 <= outputs; o += 4) {
    const first = o * inputs;
    const second = first + inputs;
    const third = second + inputs;
    const fourth = third + inputs;
    let a = bias[o]!;
    let b = bias[o + 1]!;
    let c = bias[o + 2]!;
    let d = bias[o + 3]!;
    let nextA = a;
    let nextB = b;
    let nextC = c;
    let nextD = d;
    for (let i = 0; i < inputs; i++) {
      const value = from[i]!;
      const next = from[inputs + i]!;
      const weightA = weights[first + i]!;
      const weightB = weights[second + i]!;
      const weightC = weights[third + i]!;
      const weightD = weights[fourth + i]!;
      a += weightA * value;
      b += weightB * value;
      c += weightC * value;
      d += weightD * value;
      nextA += weightA * next;
      nextB += weightB * next;
      nextC += weightC * next;
      nextD += weightD * next;
    }
    out[o] = a;
    out[o + 1] = b;
    out[o + 2] = c;
    out[o + 3] = d;
    out[outputs + o] = nextA;
    out[outputs + o + 1] = nextB;
    out[outputs + o + 2] = nextC;
    out[outputs + o + 3] = nextD;
  }
  for (; o < outputs; o++) {
    let sum = bias[o]!;
    let next = sum;
    for (let i = 0; i < inputs; i++) {
      const weight = weights[o * inputs + i]!;
      sum += weight * from[i]!;
      next += weight * from[inputs + i]!;
    }
    out[o] = sum;
    out[outputs + o] = next;
  }
}

/** Copies one row of `rows`, each `width` long; a row that is not there is zeros. */
function copyRow(rows: Float32Array, row: number, width: number, to: Float32Array, at: number): void {
  const from = row * width;
  if (from < 0 || from >= rows.length) to.fill(0, at, at + width);
  else to.set(rows.subarray(from, from + width), at);
}

/** A layer that takes every row by itself. */
function passEach(layer: Layer, from: Float32Array): Float32Array {
  const outputs = layer.bias.length;
  const inputs = layer.weights.length / outputs;
  const count = from.length / inputs;
  const out = new Float32Array(count * outputs);
  const pair = new Float32Array(2 * inputs);
  const answers = new Float32Array(2 * outputs);
  for (let row = 0; row < count; row += 2) {
    copyRow(from, row, inputs, pair, 0);
    copyRow(from, row + 1, inputs, pair, inputs);
    multiplyPair(layer, pair, answers);
    for (let i = 0, at = row * outputs; i < 2 * outputs && at + i < out.length; i++)
      out[at + i] = answers[i]!;
  }
  return out;
}

/** One residual layer: each row with those `dilation` before and after it, rectified, mixed and added to the row. */
function passLayer(taps: Layer, mix: Layer, dilation: number, state: Float32Array): Float32Array {
  const width = mix.bias.length;
  const count = state.length / width;
  const out = new Float32Array(state.length);
  const windows = new Float32Array(2 * 3 * width);
  const hidden = new Float32Array(2 * width);
  const mixed = new Float32Array(2 * width);
  for (let row = 0; row < count; row += 2) {
    copyRow(state, row - dilation, width, windows, 0);
    copyRow(state, row, width, windows, width);
    copyRow(state, row + dilation, width, windows, 2 * width);
    copyRow(state, row + 1 - dilation, width, windows, 3 * width);
    copyRow(state, row + 1, width, windows, 4 * width);
    copyRow(state, row + 1 + dilation, width, windows, 5 * width);
    multiplyPair(taps, windows, hidden);
    rectify(hidden);
    multiplyPair(mix, hidden, mixed);
    for (let i = 0, at = row * width; i < 2 * width && at + i < out.length; i++)
      out[at + i] = state[at + i]! + mixed[i]!;
  }
  return out;
}

/** Judges every row with rows on both sides in view. Returns the network's outputs, row after row. */
export function inferRecording(network: HoldNetwork, features: Float32Array): Float32Array {
  let state = passEach(network.first, features);
  rectify(state);
  network.taps.forEach((taps, layer) => {
    state = passLayer(taps, network.mixes[layer]!, network.dilations[layer]!, state);
  });
  rectify(state);
  return passEach(network.last, state);
}
