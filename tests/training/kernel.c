/* The sums of the hold networks. Built into src/holds/layer-kernel.ts by tests/training/build-kernel.sh. Memory is laid out by
 * the caller.
 *
 * Four numbers at a time in single precision, each added up in the order of its inputs: the plain functions beside each use
 * round where these round. Widths of `layer` are multiples of 16, those of the others of 8. */
#include <wasm_simd128.h>

#define INLINE static inline __attribute__((always_inline))

/* sums += weights * from, for four times `vectors` outputs from `block` on; weights input by input, `outputs` each. */
INLINE void add_row(const float *weights, const float *from, int inputs, int outputs, int block, const int vectors, v128_t *sums) {
  for (int i = 0; i < inputs; i++) {
    const float *w = weights + i * outputs + block;
    const v128_t x = wasm_v128_load32_splat(from + i);
    for (int k = 0; k < vectors; k++) sums[k] = wasm_f32x4_add(sums[k], wasm_f32x4_mul(wasm_v128_load(w + 4 * k), x));
  }
}

/* The same for two rows and sixteen outputs. */
INLINE void add_rows(const float *weights, const float *a, const float *b, int width, int block, v128_t *sums) {
  for (int i = 0; i < width; i++) {
    const float *w = weights + i * width + block;
    const v128_t x = wasm_v128_load32_splat(a + i), y = wasm_v128_load32_splat(b + i);
    for (int k = 0; k < 4; k++) {
      const v128_t weight = wasm_v128_load(w + 4 * k);
      sums[k] = wasm_f32x4_add(sums[k], wasm_f32x4_mul(weight, x));
      sums[4 + k] = wasm_f32x4_add(sums[4 + k], wasm_f32x4_mul(weight, y));
    }
  }
}

INLINE void load(const float *from, const int vectors, v128_t *sums) {
  for (int k = 0; k < vectors; k++) sums[k] = wasm_v128_load(from + 4 * k);
}

INLINE void store(float *to, const int vectors, const v128_t *sums, const int rectified) {
  const v128_t zero = wasm_f32x4_splat(0);
  for (int k = 0; k < vectors; k++) wasm_v128_store(to + 4 * k, rectified ? wasm_f32x4_pmax(zero, sums[k]) : sums[k]);
}

/* One residual layer over rows at hand. state, out: rows x width. taps: 3 x width inputs x width outputs, oldest first; mix:
 * width x width. zeros: width of them. hidden: 2 x width. Rows that are not there are zeros, and where both are none they add
 * nothing. */
__attribute__((export_name("layer"))) void layer(const float *state, float *out, const float *taps, const float *taps_bias,
                                                 const float *mix, const float *mix_bias, const float *zeros, float *hidden,
                                                 int rows, int width, int dilation) {
  for (int row = 0; row < rows; row += 2) {
    const int two = row + 1 < rows;
    const float *seen[2][3];
    for (int r = 0; r < 2; r++)
      for (int tap = 0; tap < 3; tap++) {
        const int at = row + r + (tap - 1) * dilation;
        seen[r][tap] = at < 0 || at >= rows ? zeros : state + at * width;
      }
    for (int block = 0; block < width; block += 16) {
      v128_t sums[8];
      load(taps_bias + block, 4, sums);
      load(taps_bias + block, 4, sums + 4);
      for (int tap = 0; tap < 3; tap++)
        if (seen[0][tap] != zeros || seen[1][tap] != zeros)
          add_rows(taps + tap * width * width, seen[0][tap], seen[1][tap], width, block, sums);
      store(hidden + block, 4, sums, 1);
      store(hidden + width + block, 4, sums + 4, 1);
    }
    for (int block = 0; block < width; block += 16) {
      v128_t sums[8];
      load(mix_bias + block, 4, sums);
      load(mix_bias + block, 4, sums + 4);
      add_rows(mix, hidden, hidden + width, width, block, sums);
      for (int k = 0; k < 4; k++) {
        const int at = row * width + block + 4 * k;
        wasm_v128_store(out + at, wasm_f32x4_add(wasm_v128_load(state + at), sums[k]));
        if (two) wasm_v128_store(out + at + width, wasm_f32x4_add(wasm_v128_load(state + at + width), sums[4 + k]));
      }
    }
  }
}

/* to = bias + weights * from: so many outputs at once as registers hold, the rest by eights. */
INLINE void product(const float *weights, const float *bias, const float *from, int inputs, int outputs, int rectified, float *to) {
  int block = 0;
  for (; block + 40 <= outputs; block += 40) {
    v128_t sums[10];
    load(bias + block, 10, sums);
    add_row(weights, from, inputs, outputs, block, 10, sums);
    store(to + block, 10, sums, rectified);
  }
  for (; block < outputs; block += 8) {
    v128_t sums[2];
    load(bias + block, 2, sums);
    add_row(weights, from, inputs, outputs, block, 2, sums);
    store(to + block, 2, sums, rectified);
  }
}

/* Every row by itself: from: rows x inputs; weights: inputs x outputs; to: rows x outputs, rectified where asked. */
__attribute__((export_name("each"))) void each(const float *from, float *to, const float *weights, const float *bias, int rows,
                                               int inputs, int outputs, int rectified) {
  for (int row = 0; row < rows; row++)
    product(weights, bias, from + row * inputs, inputs, outputs, rectified, to + row * outputs);
}

/* One block of a layer of three taps. */
INLINE void taps_block(const float *taps, const float *bias, const float *oldest, const float *middle, const float *state, int width,
                       int block, const int vectors, float *hidden) {
  v128_t sums[10];
  load(bias + block, vectors, sums);
  add_row(taps, oldest, width, width, block, vectors, sums);
  add_row(taps + width * width, middle, width, width, block, vectors, sums);
  add_row(taps + 2 * width * width, state, width, width, block, vectors, sums);
  store(hidden + block, vectors, sums, 1);
}

/* One row of a stream through all layers. past: each layer's input two and one dilations ago, layers x 2 x width. weights:
 * first (inputs x width) and its bias, then for each layer taps (3 x width inputs x width outputs, oldest first), their bias,
 * mix (width x width) and its bias. seen: each layer's input now, layers x width, for later rows. state: the sums after the last
 * layer, width. hidden: 2 x width. */
__attribute__((export_name("stream_row"))) void stream_row(const float *features, const float *past, const float *weights,
                                                           float *seen, float *state, float *hidden, int inputs, int width,
                                                           int layers) {
  product(weights, weights + inputs * width, features, inputs, width, 1, state);
  weights += (inputs + 1) * width;
  for (int l = 0; l < layers; l++) {
    const float *oldest = past + 2 * l * width, *middle = oldest + width;
    const float *taps_bias = weights + 3 * width * width;
    const float *mix = taps_bias + width, *mix_bias = mix + width * width;
    int block = 0;
    for (; block + 40 <= width; block += 40) taps_block(weights, taps_bias, oldest, middle, state, width, block, 10, hidden);
    for (; block < width; block += 8) taps_block(weights, taps_bias, oldest, middle, state, width, block, 2, hidden);
    for (int i = 0; i < width; i++) seen[l * width + i] = state[i];
    product(mix, mix_bias, hidden, width, width, 0, hidden + width);
    for (int i = 0; i < width; i++) state[i] += hidden[width + i];
    weights = mix_bias + width;
  }
}
