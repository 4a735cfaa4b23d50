/* One residual layer of a hold network over rows at hand, four numbers at a time. Built into src/holds/layer-kernel.ts by
 * tests/training/build-kernel.sh. Widths are multiples of 16. Memory is laid out by the caller. */
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
