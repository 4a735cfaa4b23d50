// Runs a hold network over rows at hand, with rows on both sides in view: for the smoothing pass, and for the live looking
// back, which asks some hundred times an hour. The layers run in a small WebAssembly module, four numbers at a time.

import { type HoldNetwork, readBase64, rectify } from './hold-network.ts';
import { layerKernel } from './layer-kernel.ts';

type Layer = HoldNetwork['first'];

/** What is used of WebAssembly (W3C WebAssembly JavaScript Interface); the core is compiled without a platform's types. */
declare const WebAssembly: {
  Module: new (bytes: Uint8Array) => object;
  Memory: new (size: { initial: number }) => { readonly buffer: ArrayBuffer; grow(pages: number): number };
  Instance: new (module: object, imports: object) => { readonly exports: { readonly layer: LayerFunction } };
};
/** As in tests/training/kernel.c; addresses in bytes. */
type LayerFunction = (
  state: number,
  out: number,
  taps: number,
  tapsBias: number,
  mix: number,
  mixBias: number,
  zeros: number,
  hidden: number,
  rows: number,
  width: number,
  dilation: number,
) => void;

/** Below this the module keeps its stack: 64 KiB by its linker's default. */
const firstFreeByte = 131_072;
const pageBytes = 65_536;

/** A network's layers in a module's memory. `run` passes the rows through all of them. */
interface Kernel {
  run(state: Float32Array): Float32Array;
}

const kernels = new WeakMap<HoldNetwork, Kernel>();
let compiled: object | undefined;

/** Weights input by input, so that neighbouring outputs can be taken together. */
function transposed({ weights, bias }: Layer): Float32Array {
  const outputs = bias.length;
  const inputs = weights.length / outputs;
  const out = new Float32Array(weights.length);
  for (let o = 0; o < outputs; o++) {
    for (let i = 0; i < inputs; i++) {
      out[i * outputs + o] = weights[o * inputs + i]!;
    }
  }
  return out;
}

function createKernel(network: HoldNetwork): Kernel {
  const { width, dilations } = network;
  compiled ??= new WebAssembly.Module(readBase64(layerKernel));
  const memory = new WebAssembly.Memory({ initial: firstFreeByte / pageBytes });
  const { layer } = new WebAssembly.Instance(compiled, { env: { memory } }).exports;
  let freeByte = firstFreeByte;
  const reserve = (numbers: number): number => {
    const at = freeByte;
    freeByte += 4 * numbers;
    const missing = freeByte - memory.buffer.byteLength;
    if (missing > 0) memory.grow(Math.ceil(missing / pageBytes));
    return at;
  };
  const store = (values: Float32Array): number => {
    const at = reserve(values.length);
    new Float32Array(memory.buffer, at, values.length).set(values);
    return at;
  };
  const layers = dilations.map((dilation, l) => {
    const [taps, mix] = [network.taps[l]!, network.mixes[l]!];
    return {
      dilation,
      taps: store(transposed(taps)),
      tapsBias: store(taps.bias),
      mix: store(transposed(mix)),
      mixBias: store(mix.bias),
    };
  });
  const zeros = reserve(width);
  const hidden = reserve(2 * width);
  const roomAt = freeByte;
  return {
    run(state) {
      const rows = state.length / width;
      freeByte = roomAt;
      let from = reserve(state.length);
      let to = reserve(state.length);
      new Float32Array(memory.buffer, from, state.length).set(state);
      for (const { taps, tapsBias, mix, mixBias, dilation } of layers) {
        layer(from, to, taps, tapsBias, mix, mixBias, zeros, hidden, rows, width, dilation);
        [from, to] = [to, from];
      }
      return new Float32Array(memory.buffer, from, state.length).slice();
    },
  };
}

/** A layer that takes every row by itself. */
function passEach({ weights, bias }: Layer, from: Float32Array): Float32Array {
  const outputs = bias.length;
  const inputs = weights.length / outputs;
  const count = from.length / inputs;
  const out = new Float32Array(count * outputs);
  // Four rows side by side, for their sums do not wait for one another; each is added up in the order of its inputs.
  let row = 0;
  for (; row + 4 <= count; row += 4) {
    const at = row * inputs;
    for (let o = 0; o < outputs; o++) {
      let one = bias[o]!;
      let two = one;
      let three = one;
      let four = one;
      for (let i = 0; i < inputs; i++) {
        const weight = weights[o * inputs + i]!;
        one += weight * from[at + i]!;
        two += weight * from[at + inputs + i]!;
        three += weight * from[at + 2 * inputs + i]!;
        four += weight * from[at + 3 * inputs + i]!;
      }
      out[row * outputs + o] = one;
      out[(row + 1) * outputs + o] = two;
      out[(row + 2) * outputs + o] = three;
      out[(row + 3) * outputs + o] = four;
    }
  }
  for (; row < count; row++) {
    for (let o = 0; o < outputs; o++) {
      let sum = bias[o]!;
      for (let i = 0; i < inputs; i++) sum += weights[o * inputs + i]! * from[row * inputs + i]!;
      out[row * outputs + o] = sum;
    }
  }
  return out;
}

/** Infers every row's scores with rows on both sides in view. Returns the network's outputs, row after row. */
export function inferRecording(network: HoldNetwork, features: Float32Array): Float32Array {
  const first = passEach(network.first, features);
  rectify(first);
  let kernel = kernels.get(network);
  if (kernel === undefined) {
    kernel = createKernel(network);
    kernels.set(network, kernel);
  }
  const state = kernel.run(first);
  rectify(state);
  return passEach(network.last, state);
}
