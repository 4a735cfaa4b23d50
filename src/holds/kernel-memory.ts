// The WebAssembly module of the networks' sums (layer-kernel.ts) with a memory of its own, where this machine runs it. Where
// it does not, without WebAssembly or its SIMD, the plain functions beside each use do the same.

import { readBase64 } from './hold-network.ts';
import { layerKernel } from './layer-kernel.ts';

/** What is used of WebAssembly (W3C WebAssembly JavaScript Interface); the core is compiled without a platform's types. */
declare const WebAssembly:
  | {
      Module: new (bytes: Uint8Array) => object;
      Memory: new (size: {
        initial: number;
      }) => { readonly buffer: ArrayBuffer; grow(pages: number): number };
      Instance: new (module: object, imports: object) => { readonly exports: KernelSums };
    }
  | undefined;

/** As in tests/training/kernel.c; addresses in bytes. */
type EachRow = (
  from: number,
  to: number,
  weights: number,
  bias: number,
  rows: number,
  inputs: number,
  outputs: number,
) => void;

/** The same. */
interface KernelSums {
  layer(
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
    isFirst: 0 | 1,
  ): void;
  readonly first: EachRow;
  readonly last: EachRow;
  stream_row(
    features: number,
    past: number,
    weights: number,
    seen: number,
    state: number,
    hidden: number,
    inputs: number,
    width: number,
    layers: number,
  ): void;
}

export interface KernelMemory {
  readonly sums: KernelSums;
  /** Room for so many numbers, by its address in bytes. Views of the memory from before may have lost it. */
  reserve(numbers: number): number;
  /** Keeps the numbers for good; their address. */
  store(values: Float32Array): number;
  view(at: number, numbers: number): Float32Array;
  /** What was reserved from `at` on is free again. */
  release(at: number): void;
}

/** Below this the module keeps its stack: 64 KiB by its linker's default. */
const firstFreeByte = 131_072;
const pageBytes = 65_536;

/** Null where the module can't be compiled here. */
let compiled: object | null | undefined;

function compile(): object | null {
  try {
    return typeof WebAssembly === 'undefined' ? null : new WebAssembly.Module(readBase64(layerKernel));
  } catch {
    // No SIMD: the module does not validate.
    return null;
  }
}

/** A fresh memory with the module in it; undefined where this machine doesn't run it. */
export function openKernelMemory(): KernelMemory | undefined {
  compiled ??= compile();
  if (compiled === null || typeof WebAssembly === 'undefined') return undefined;
  const memory = new WebAssembly.Memory({ initial: firstFreeByte / pageBytes });
  const { exports: sums } = new WebAssembly.Instance(compiled, { env: { memory } });
  let freeByte = firstFreeByte;
  const reserve = (numbers: number): number => {
    const at = freeByte;
    freeByte += 4 * numbers;
    const missing = freeByte - memory.buffer.byteLength;
    if (missing > 0) memory.grow(Math.ceil(missing / pageBytes));
    return at;
  };
  const view = (at: number, numbers: number): Float32Array => new Float32Array(memory.buffer, at, numbers);
  return {
    sums,
    reserve,
    view,
    store(values) {
      const at = reserve(values.length);
      view(at, values.length).set(values);
      return at;
    },
    release(at) {
      freeByte = at;
    },
  };
}

/** Weights input by input, so that neighbouring outputs can be taken together; further outputs of zeros up to `outputs`. */
export function inputByInput(
  { weights, bias }: { readonly weights: Float32Array; readonly bias: Float32Array },
  outputs = bias.length,
): Float32Array {
  const inputs = weights.length / bias.length;
  const out = new Float32Array(inputs * outputs);
  for (let o = 0; o < bias.length; o++)
    for (let i = 0; i < inputs; i++) out[i * outputs + o] = weights[o * inputs + i]!;
  return out;
}
