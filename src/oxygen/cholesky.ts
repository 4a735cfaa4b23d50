// Lower-triangular factor of a small covariance matrix, and solving with it. Matrices are rows in one array.

/** L with L L' = matrix (size x size). A pivot that is not positive is lifted to a small one. */
export function cholesky(matrix: readonly number[], size: number): number[] {
  const factor = new Array<number>(size * size).fill(0);
  for (let row = 0; row < size; row++) {
    for (let column = 0; column <= row; column++) {
      let sum = matrix[row * size + column]!;
      for (let k = 0; k < column; k++) sum -= factor[row * size + k]! * factor[column * size + k]!;
      factor[row * size + column] =
        row === column ? Math.sqrt(Math.max(sum, 1e-6)) : sum / factor[column * size + column]!;
    }
  }
  return factor;
}

/** Squared length of L^-1 (vector - mean), by forward substitution. `vector` starts at `offset`. */
export function squaredDistance(
  factor: Float64Array,
  size: number,
  vector: Float64Array,
  offset: number,
  mean: Float64Array,
  scratch: Float64Array,
): number {
  let total = 0;
  for (let row = 0; row < size; row++) {
    let sum = vector[offset + row]! - mean[row]!;
    for (let column = 0; column < row; column++) sum -= factor[row * size + column]! * scratch[column]!;
    const value = sum / factor[row * size + row]!;
    scratch[row] = value;
    total += value * value;
  }
  return total;
}

/** matrix^-1 times `vector`, where `factor` is the matrix's: forward, then backward substitution. */
export function regressionOn(factor: readonly number[], size: number, vector: readonly number[]): number[] {
  const solved = [...vector];
  for (let row = 0; row < size; row++) {
    for (let column = 0; column < row; column++)
      solved[row] = solved[row]! - factor[row * size + column]! * solved[column]!;
    solved[row] = solved[row]! / factor[row * size + row]!;
  }
  for (let row = size - 1; row >= 0; row--) {
    for (let column = row + 1; column < size; column++)
      solved[row] = solved[row]! - factor[column * size + row]! * solved[column]!;
    solved[row] = solved[row]! / factor[row * size + row]!;
  }
  return solved;
}
