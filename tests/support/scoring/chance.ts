// Seeded chance for the foreign generators: the same seed gives the same people on every machine.

export interface Chance {
  /** Uniform in [0, 1). */
  unit(): number;
  range(low: number, high: number): number;
  /** Normal deviate, cut off at three standard deviations. */
  gauss(mean: number, sd: number): number;
  happens(probability: number): boolean;
  oneOf<Item>(items: readonly Item[]): Item;
}

/** The sfc32 generator (public domain, Chris Doty-Humphrey). */
export function chanceFrom(seed: number): Chance {
  let a = 0x9e3779b9 ^ seed;
  let b = 0x243f6a88;
  let c = 0xb7e15162;
  let counter = 1;
  const unit = (): number => {
    const t = (((a + b) | 0) + counter) | 0;
    counter = (counter + 1) | 0;
    a = b ^ (b >>> 9);
    b = (c + (c << 3)) | 0;
    c = ((c << 21) | (c >>> 11)) + t;
    c |= 0;
    return (t >>> 0) / 4_294_967_296;
  };
  for (let i = 0; i < 20; i++) unit();
  const range = (low: number, high: number): number => low + (high - low) * unit();
  return {
    unit,
    range,
    gauss(mean, sd) {
      const deviate = Math.sqrt(-2 * Math.log(1 - unit())) * Math.cos(2 * Math.PI * unit());
      return mean + sd * Math.max(-3, Math.min(3, deviate));
    },
    happens: (probability) => unit() < probability,
    oneOf: (items) => items[Math.floor(unit() * items.length)]!,
  };
}
