// Seeded random numbers for the corpus: the same seed gives the same corpus on every machine.

export interface Random {
  /** Uniform in [0, 1). */
  next(): number;
  between(low: number, high: number): number;
  normal(): number;
  chance(probability: number): boolean;
  pick<Item>(items: readonly Item[]): Item;
}

/** The mulberry32 generator (public domain, Tommy Ettinger). */
export function createRandom(seed: number): Random {
  let state = (seed * 2_654_435_761) >>> 0;
  const next = (): number => {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = state;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4_294_967_296;
  };
  return {
    next,
    between: (low, high) => low + (high - low) * next(),
    normal: () => Math.sqrt(-2 * Math.log(1 - next())) * Math.cos(2 * Math.PI * next()),
    chance: (probability) => next() < probability,
    pick: (items) => items[Math.floor(next() * items.length)]!,
  };
}
