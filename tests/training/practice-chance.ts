// Seeded chance for the practice sessions (sfc32, public domain). Shares nothing with the scoring simulators.

export interface Chance {
  /** Uniform over [0, 1). */
  next(): number;
  between(low: number, high: number): number;
  /** Log-uniform between two positive numbers. */
  scale(low: number, high: number): number;
  normal(): number;
  odds(share: number): boolean;
  /** One of the values by weight. */
  pick<T>(weighted: readonly (readonly [number, T])[]): T;
}

export function createChance(seed: number): Chance {
  let a = 0x9e3779b9 ^ seed;
  let b = 0x243f6a88;
  let c = 0xb7e15162 + seed;
  let d = 1;
  const next = (): number => {
    const t = (a + b + d) | 0;
    d = (d + 1) | 0;
    a = b ^ (b >>> 9);
    b = (c + (c << 3)) | 0;
    c = (c << 21) | (c >>> 11);
    c = (c + t) | 0;
    return (t >>> 0) / 4_294_967_296;
  };
  for (let i = 0; i < 20; i++) {
    next();
  }
  return {
    next,
    between: (low, high) => low + (high - low) * next(),
    scale: (low, high) => Math.exp(Math.log(low) + (Math.log(high) - Math.log(low)) * next()),
    normal: () => Math.sqrt(-2 * Math.log(1 - next())) * Math.cos(2 * Math.PI * next()),
    odds: (share) => next() < share,
    pick(weighted) {
      let left = next() * weighted.reduce((sum, [weight]) => sum + weight, 0);
      for (const [weight, value] of weighted) {
        left -= weight;
        if (left < 0) {
          return value;
        }
      }
      return weighted[weighted.length - 1]![1];
    },
  };
}
