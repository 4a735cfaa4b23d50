// The small networks that judge each second (weights: smoothing-weights.ts, live-weights.ts): residual stacks of dilated
// convolutions, run here row by row with constant memory, in infer-recording.ts over rows at hand. Trained by
// tests/training/train.py.

import { featureCount } from './row-features.ts';

type WeightTable = readonly (readonly [scale: number, integers: string])[];

interface Layer {
  /** Output by tap by input. */
  readonly weights: Float32Array;
  readonly bias: Float32Array;
}

/** A network's layers. */
export interface HoldNetwork {
  readonly first: Layer;
  readonly taps: readonly Layer[];
  readonly mixes: readonly Layer[];
  readonly last: Layer;
  readonly outputs: number;
  /** Numbers a row has between the layers. */
  readonly width: number;
  /** How far apart each layer's taps are, rows: 1, 2, 4 and so on. */
  readonly dilations: readonly number[];
}

const alphabet = 'ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/';

/** Bytes from base64 (RFC 4648 section 4). */
export function readBase64(text: string): Uint8Array {
  const bytes: number[] = [];
  let bits = 0;
  let held = 0;
  for (const character of text) {
    if (character === '=') {
      break;
    }
    bits = ((bits << 6) | alphabet.indexOf(character)) & 0xffffff;
    held += 6;
    if (held >= 8) {
      held -= 8;
      bytes.push((bits >> held) & 255);
    }
  }
  return Uint8Array.from(bytes);
}

/** Little-endian 16-bit integers from base64, times `scale` / 32767. */
function readNumbers(scale: number, text: string): Float32Array {
  const bytes = readBase64(text);
  return Float32Array.from({ length: bytes.length >> 1 }, (_, i) => {
    const low = bytes[2 * i]! | (bytes[2 * i + 1]! << 8);
    return ((low > 32_767 ? low - 65_536 : low) * scale) / 32_767;
  });
}

/** Reads a table of weights as the training wrote it. */
export function readWeights(table: WeightTable): HoldNetwork {
  const numbers = table.map(([scale, text]) => readNumbers(scale, text));
  const layer = (index: number): Layer => ({ weights: numbers[2 * index]!, bias: numbers[2 * index + 1]! });
  const dilations = Array.from({ length: (numbers.length / 2 - 2) / 2 }, (_, i) => 2 ** i);
  const last = layer(1 + 2 * dilations.length);
  return {
    first: layer(0),
    taps: dilations.map((_, i) => layer(1 + 2 * i)),
    mixes: dilations.map((_, i) => layer(2 + 2 * i)),
    last,
    outputs: last.bias.length,
    width: layer(0).bias.length,
    dilations,
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
    out[o] = one > 0 ? one : 0;
    out[o + 1] = two > 0 ? two : 0;
  }
}

export const rectify = (values: Float32Array): void => {
  for (let i = 0; i < values.length; i++) {
    if (values[i]! < 0) {
      values[i] = 0;
    }
  }
};

/** Judges rows as they come, looking back only. The returned array is reused. */
export function createStreamInference(network: HoldNetwork): (features: Float32Array) => Float32Array {
  const { width, dilations } = network;
  // Each layer needs its input 1 and 2 dilations ago: rings of 2 x dilation rows.
  const rings = dilations.map((dilation) => new Float32Array(2 * dilation * width));
  let row = 0;
  const state = new Float32Array(width);
  const hidden = new Float32Array(width);
  const mixed = new Float32Array(width);
  const result = new Float32Array(network.outputs);
  return (features) => {
    multiply(network.first, features, featureCount, state);
    rectify(state);
    for (let l = 0; l < dilations.length; l++) {
      const dilation = dilations[l]!;
      const ring = rings[l]!;
      // The slot of this row holds the input of two dilations ago until it is overwritten.
      const oldest = (row % (2 * dilation)) * width;
      const middle = ((row + dilation) % (2 * dilation)) * width;
      convolve(network.taps[l]!, ring, oldest, middle, state, hidden);
      multiply(network.mixes[l]!, hidden, width, mixed);
      for (let i = 0; i < width; i++) {
        ring[oldest + i] = state[i]!;
        state[i] = state[i]! + mixed[i]!;
      }
    }
    row += 1;
    for (let i = 0; i < width; i++) {
      hidden[i] = Math.max(0, state[i]!);
    }
    multiply(network.last, hidden, width, result);
    return result;
  };
}
