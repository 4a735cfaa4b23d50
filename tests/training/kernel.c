/* The sums of the hold networks. Built into src/holds/layer-kernel.ts by tests/training/build-kernel.sh. Memory is laid out by
 * the caller.
 *
 * `layer`: one residual layer over rows at hand, four numbers at a time. Widths are multiples of 16. Its sums are single
 * precision: within 1e-3 of those in double precision (tests/core/holds).
 *
 * `stream_row` and `each`: double precision, two sums side by side, each added up in the order of its inputs and rounded where
 * the plain functions round: the very same numbers. Widths are multiples of 8. */
#include <wasm_simd128.h>

/* out[row] = bias + sum over the inputs of from, for two rows; weights input by input, `width` outputs each. */
static inline void add_product(const float *weights, const float *a, const float *b, int width, int block, v128_t *sums) {
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

/* state, out: rows x width. taps: 3 x width inputs x width outputs, oldest first; mix: width x width. zeros: width of them.
 * hidden: 2 x width. Rows that are not there are zeros. */
__attribute__((export_name("layer"))) void layer(const float *state, float *out, const float *taps, const float *taps_bias,
                                                 const float *mix, const float *mix_bias, const float *zeros, float *hidden,
                                                 int rows, int width, int dilation) {
  const v128_t zero = wasm_f32x4_splat(0);
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
      for (int k = 0; k < 4; k++) sums[k] = sums[4 + k] = wasm_v128_load(taps_bias + block + 4 * k);
      for (int tap = 0; tap < 3; tap++) add_product(taps + tap * width * width, seen[0][tap], seen[1][tap], width, block, sums);
      for (int k = 0; k < 4; k++) {
        wasm_v128_store(hidden + block + 4 * k, wasm_f32x4_max(sums[k], zero));
        wasm_v128_store(hidden + width + block + 4 * k, wasm_f32x4_max(sums[4 + k], zero));
      }
    }
    for (int block = 0; block < width; block += 16) {
      v128_t sums[8];
      for (int k = 0; k < 4; k++) sums[k] = sums[4 + k] = wasm_v128_load(mix_bias + block + 4 * k);
      add_product(mix, hidden, hidden + width, width, block, sums);
      for (int k = 0; k < 4; k++) {
        const int at = row * width + block + 4 * k;
        wasm_v128_store(out + at, wasm_f32x4_add(wasm_v128_load(state + at), sums[k]));
        if (two) wasm_v128_store(out + at + width, wasm_f32x4_add(wasm_v128_load(state + at + width), sums[4 + k]));
      }
    }
  }
}

/* sums[k] += weight * value for eight outputs beside each other. */
static inline void add_eight(const float *weights, const float *value, v128_t *sums) {
  const v128_t x = wasm_f64x2_splat(*value);
  for (int k = 0; k < 4; k++)
    sums[k] = wasm_f64x2_add(sums[k], wasm_f64x2_mul(wasm_f64x2_promote_low_f32x4(wasm_v128_load64_zero(weights + 2 * k)), x));
}

static inline void load_eight(const float *from, v128_t *sums) {
  for (int k = 0; k < 4; k++) sums[k] = wasm_f64x2_promote_low_f32x4(wasm_v128_load64_zero(from + 2 * k));
}

static inline void store_eight(float *to, const v128_t *sums, int rectified) {
  const v128_t zero = wasm_f32x4_splat(0);
  for (int k = 0; k < 4; k++) {
    const v128_t rounded = wasm_f32x4_demote_f64x2_zero(sums[k]);
    wasm_v128_store64_lane(to + 2 * k, rectified ? wasm_f32x4_pmax(zero, rounded) : rounded, 0);
  }
}

static inline void product(const float *weights, const float *bias, const float *from, int inputs, int outputs, int rectified,
                           float *to) {
  for (int block = 0; block < outputs; block += 8) {
    v128_t sums[4];
    load_eight(bias + block, sums);
    for (int i = 0; i < inputs; i++) add_eight(weights + i * outputs + block, from + i, sums);
    store_eight(to + block, sums, rectified);
  }
}

/* Every row by itself: from: rows x inputs; weights: inputs x outputs; to: rows x outputs. */
__attribute__((export_name("each"))) void each(const float *from, float *to, const float *weights, const float *bias, int rows,
                                               int inputs, int outputs) {
  for (int row = 0; row < rows; row++) product(weights, bias, from + row * inputs, inputs, outputs, 0, to + row * outputs);
}

/* One row of a stream through all layers. past: each layer's input two and one dilations ago, layers x 2 x width. weights:
 * first (inputs x width), then for each layer taps (width x 3 x width: input, tap, output), its bias, mix (width x width)
 * and its bias. seen: each layer's input now, layers x width, for later rows. state: the sums after the last layer, width. */
__attribute__((export_name("stream_row"))) void stream_row(const float *features, const float *past, const float *weights,
                                                           float *seen, float *state, float *hidden, int inputs, int width,
                                                           int layers) {
  product(weights, weights + inputs * width, features, inputs, width, 1, state);
  weights += (inputs + 1) * width;
  for (int l = 0; l < layers; l++) {
    const float *oldest = past + 2 * l * width, *middle = oldest + width;
    const float *taps_bias = weights + 3 * width * width;
    const float *mix = taps_bias + width, *mix_bias = mix + width * width;
    for (int block = 0; block < width; block += 8) {
      v128_t sums[4];
      load_eight(taps_bias + block, sums);
      for (int i = 0; i < width; i++) {
        const float *w = weights + 3 * i * width + block;
        const v128_t x = wasm_f64x2_splat(oldest[i]), y = wasm_f64x2_splat(middle[i]), z = wasm_f64x2_splat(state[i]);
        for (int k = 0; k < 4; k++) {
          const v128_t a = wasm_f64x2_mul(wasm_f64x2_promote_low_f32x4(wasm_v128_load64_zero(w + 2 * k)), x);
          const v128_t b = wasm_f64x2_mul(wasm_f64x2_promote_low_f32x4(wasm_v128_load64_zero(w + width + 2 * k)), y);
          const v128_t c = wasm_f64x2_mul(wasm_f64x2_promote_low_f32x4(wasm_v128_load64_zero(w + 2 * width + 2 * k)), z);
          sums[k] = wasm_f64x2_add(sums[k], wasm_f64x2_add(wasm_f64x2_add(a, b), c));
        }
      }
      store_eight(hidden + block, sums, 1);
    }
    for (int i = 0; i < width; i++) seen[l * width + i] = state[i];
    /* Rounded, then added: as two roundings of single precision. */
    product(mix, mix_bias, hidden, width, width, 0, hidden + width);
    for (int i = 0; i < width; i++) state[i] += hidden[width + i];
    weights = mix_bias + width;
  }
}
