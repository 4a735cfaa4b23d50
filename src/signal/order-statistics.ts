// The value at a place in the order of many, without sorting them all: Hoare's quickselect (CACM 1961;4:321-322, from memory).

/**
 * Moves numbers (none of them NaN) within `values` from 0 to `count` - 1 so that `place` holds the one that sorting would
 * put there, nothing greater before it and nothing less after; returns it.
 */
export function selectPlace(values: Float64Array, count: number, place: number): number {
  let low = 0;
  let high = count - 1;
  while (low < high) {
    const pivot = values[(low + high) >> 1]!;
    let i = low;
    let j = high;
    while (i <= j) {
      while (values[i]! < pivot) i++;
      while (values[j]! > pivot) j--;
      if (i > j) break;
      const held = values[i]!;
      values[i++] = values[j]!;
      values[j--] = held;
    }
    if (place <= j) high = j;
    else if (place >= i) low = i;
    else break;
  }
  return values[place]!;
}
