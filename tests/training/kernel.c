/* The sums of the hold networks. Built into src/holds/layer-kernel.ts by tests/training/build-kernel.sh. Memory is laid out by
 * the caller.
 *
 * Four numbers at a time in single precision, each added up in the order of its inputs: the plain functions beside each use
 * round where these round. Widths of `layer` are multiples of 16, those of the others of 8; outputs of `last` of 4.
 *
 * Rectified inputs that are 0, about half of them, are passed over: they would add a 0, which changes no sum. */
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

/* A bit for each of up to 64 inputs, a multiple of 4, that rectifying does not make 0. */
INLINE unsigned long long left_of(const float *from, int inputs) {
  unsigned long long left = 0;
  for (int i = 0; i < inputs; i += 4)
    left |= (unsigned long long)(15 & ~wasm_i32x4_bitmask(wasm_f32x4_le(wasm_v128_load(from + i), wasm_f32x4_splat(0)))) << i;
  return left;
}

/* As `add_row` of rectified inputs, whether `from` is so yet or not. */
INLINE void add_rectified(const float *weights, const float *from, int inputs, int outputs, int block, const int vectors,
                          v128_t *sums) {
  for (int first = 0; first < inputs; first += 64) {
    unsigned long long left = left_of(from + first, inputs - first < 64 ? inputs - first : 64);
    for (; left != 0; left &= left - 1) {
      const int i = first + __builtin_ctzll(left);
      add_row(weights + i * outputs, from + i, 1, outputs, block, vectors, sums);
    }
  }
}

/* The same as `add_row` for two rows and sixteen outputs: a weight is loaded once for both. */
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

/* One block of a layer of three taps for one row: rectified outputs. inputs_rectified: those of the taps are. */
INLINE void taps_block(const float *taps, const float *bias, const float *const seen[3], int width, int block, const int vectors,
                       const int inputs_rectified, float *hidden) {
  v128_t sums[12];
  load(bias + block, vectors, sums);
  for (int tap = 0; tap < 3; tap++) {
    const float *weights = taps + tap * width * width;
    if (inputs_rectified) add_rectified(weights, seen[tap], width, width, block, vectors, sums);
    else add_row(weights, seen[tap], width, width, block, vectors, sums);
  }
  store(hidden + block, vectors, sums, 1);
}

/* All blocks of the same for two rows. Where both rows see none at a tap, their zeros add nothing. */
INLINE void taps_of_two(const float *taps, const float *bias, const float *const seen[2][3], const float *zeros, int width,
                        float *hidden) {
  for (int block = 0; block < width; block += 16) {
    v128_t sums[8];
    load(bias + block, 4, sums);
    load(bias + block, 4, sums + 4);
    for (int tap = 0; tap < 3; tap++)
      if (seen[0][tap] != zeros || seen[1][tap] != zeros)
        add_rows(taps + tap * width * width, seen[0][tap], seen[1][tap], width, block, sums);
    store(hidden + block, 4, sums, 1);
    store(hidden + width + block, 4, sums + 4, 1);
  }
}

/* One block of out = state + bias + mix * hidden, of one row; `hidden` is rectified. */
INLINE void mix_block(const float *mix, const float *bias, const float *hidden, const float *state, int width, int block,
                      const int vectors, float *out) {
  v128_t sums[12];
  load(bias + block, vectors, sums);
  add_rectified(mix, hidden, width, width, block, vectors, sums);
  for (int k = 0; k < vectors; k++) {
    const int at = block + 4 * k;
    wasm_v128_store(out + at, wasm_f32x4_add(wasm_v128_load(state + at), sums[k]));
  }
}

/* One residual layer over rows at hand. state, out: rows x width. taps: 3 x width inputs x width outputs, oldest first; mix:
 * width x width. zeros: width of them, for rows that are not there. hidden: 2 x width. is_first: `state` is rectified. Rows by
 * themselves have as many sums in registers as there are; of those that cannot be passed over two rows together load less. */
__attribute__((export_name("layer"))) void layer(const float *state, float *out, const float *taps, const float *taps_bias,
                                                 const float *mix, const float *mix_bias, const float *zeros, float *hidden,
                                                 int rows, int width, int dilation, int is_first) {
  for (int row = 0; row < rows; row += 2) {
    const float *seen[2][3];
    for (int r = 0; r < 2; r++)
      for (int tap = 0; tap < 3; tap++) {
        const int at = row + r + (tap - 1) * dilation;
        seen[r][tap] = at < 0 || at >= rows ? zeros : state + at * width;
      }
    if (!is_first) taps_of_two(taps, taps_bias, seen, zeros, width, hidden);
    for (int r = 0; r < 2 && row + r < rows; r++) {
      const float *own = state + (row + r) * width;
      float *own_hidden = hidden + r * width, *to = out + (row + r) * width;
      int block = 0;
      if (is_first) {
        for (; block + 48 <= width; block += 48) taps_block(taps, taps_bias, seen[r], width, block, 12, 1, own_hidden);
        for (; block < width; block += 16) taps_block(taps, taps_bias, seen[r], width, block, 4, 1, own_hidden);
        block = 0;
      }
      for (; block + 48 <= width; block += 48) mix_block(mix, mix_bias, own_hidden, own, width, block, 12, to);
      for (; block < width; block += 16) mix_block(mix, mix_bias, own_hidden, own, width, block, 4, to);
    }
  }
}

/* to = bias + weights * from, rectified: so many outputs at once as registers hold, the rest by eights. */
INLINE void first_layer(const float *weights, const float *bias, const float *from, int inputs, int outputs, float *to) {
  int block = 0;
  for (; block + 40 <= outputs; block += 40) {
    v128_t sums[10];
    load(bias + block, 10, sums);
    add_row(weights, from, inputs, outputs, block, 10, sums);
    store(to + block, 10, sums, 1);
  }
  for (; block < outputs; block += 8) {
    v128_t sums[2];
    load(bias + block, 2, sums);
    add_row(weights, from, inputs, outputs, block, 2, sums);
    store(to + block, 2, sums, 1);
  }
}

/* Every row by itself, rectified. from: rows x inputs; weights: inputs x outputs; to: rows x outputs. */
__attribute__((export_name("first"))) void first(const float *from, float *to, const float *weights, const float *bias, int rows,
                                                 int inputs, int outputs) {
  for (int row = 0; row < rows; row++) first_layer(weights, bias, from + row * inputs, inputs, outputs, to + row * outputs);
}

/* The same of rows that are still to be rectified; what comes of it is not. */
__attribute__((export_name("last"))) void last(const float *from, float *to, const float *weights, const float *bias, int rows,
                                               int inputs, int outputs) {
  for (int row = 0; row < rows; row++)
    for (int block = 0; block < outputs; block += 4) {
      v128_t sums[1];
      load(bias + block, 1, sums);
      add_rectified(weights, from + row * inputs, inputs, outputs, block, 1, sums);
      store(to + row * outputs + block, 1, sums, 0);
    }
}

/* One row of a stream through all layers. past: each layer's input two and one dilations ago, layers x 2 x width. weights:
 * first (inputs x width) and its bias, then for each layer taps (3 x width inputs x width outputs, oldest first), their bias,
 * mix (width x width) and its bias. seen: each layer's input now, layers x width, for later rows. state: the sums after the last
 * layer, width. hidden: width. */
__attribute__((export_name("stream_row"))) void stream_row(const float *features, const float *past, const float *weights,
                                                           float *seen, float *state, float *hidden, int inputs, int width,
                                                           int layers) {
  first_layer(weights, weights + inputs * width, features, inputs, width, state);
  weights += (inputs + 1) * width;
  for (int l = 0; l < layers; l++) {
    const float *rows[3] = {past + 2 * l * width, past + (2 * l + 1) * width, state};
    const float *taps_bias = weights + 3 * width * width;
    const float *mix = taps_bias + width, *mix_bias = mix + width * width;
    int block = 0;
    for (; l > 0 && block + 40 <= width; block += 40) taps_block(weights, taps_bias, rows, width, block, 10, 0, hidden);
    for (; block + 40 <= width; block += 40) taps_block(weights, taps_bias, rows, width, block, 10, 1, hidden);
    for (; block < width; block += 8) taps_block(weights, taps_bias, rows, width, block, 2, 0, hidden);
    for (int i = 0; i < width; i++) seen[l * width + i] = state[i];
    block = 0;
    for (; block + 40 <= width; block += 40) mix_block(mix, mix_bias, hidden, state, width, block, 10, state);
    for (; block < width; block += 8) mix_block(mix, mix_bias, hidden, state, width, block, 2, state);
    weights = mix_bias + width;
  }
}
