// The small networks that judge each second (weights: smoothing-weights.ts, live-weights.ts): residual stacks of dilated
// convolutions, run row by row in stream-inference.ts, over rows at hand in infer-recording.ts. Trained by
// tests/training/train.py.

export type WeightTable = readonly (readonly [scale: number, integers: string])[];

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
const sextets = new Uint8Array(128);
for (let value = 0; value < 64; value++) sextets[alphabet.charCodeAt(value)] = value;

/** Bytes from base64 (RFC 4648 section 4), which must be nothing else. */
export function readBase64(text: string): Uint8Array {
  const padding = text.indexOf('=');
  const length = padding < 0 ? text.length : padding;
  const bytes = new Uint8Array((length * 3) >> 2);
  let bits = 0;
  let held = 0;
  let count = 0;
  for (let i = 0; i < length; i++) {
    bits = ((bits << 6) | sextets[text.charCodeAt(i)]!) & 0xffffff;
    held += 6;
    if (held >= 8) {
      held -= 8;
      bytes[count++] = bits >> held;
    }
  }
  return bytes;
}

/** Little-endian 16-bit integers from base64, times `scale` / 32767. */
function readNumbers(scale: number, text: string): Float32Array {
  const bytes = readBase64(text);
  const numbers = new Float32Array(bytes.length >> 1);
  for (let i = 0; i < numbers.length; i++) {
    const low = bytes[2 * i]! | (bytes[2 * i + 1]! << 8);
    numbers[i] = ((low > 32_767 ? low - 65_536 : low) * scale) / 32_767;
  }
  return numbers;
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
