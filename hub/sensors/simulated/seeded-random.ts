// The simulator's only source of chance: a small seeded generator, so that a seed fixes a session to the last bit.

/** Small fast counting generator (sfc32, C. Doty-Humphrey, PractRand; constants from memory), 128 bits of state. */
export class SeededRandom {
  #a: number;
  #b: number;
  #c: number;
  #counter: number;

  /** Streams with the same seed and different labels are independent for our purposes. */
  constructor(seed: number, label = '') {
    let hash = 0x811c9dc5 ^ seed;
    for (const character of `${seed}/${label}`) {
      hash = Math.imul(hash ^ character.charCodeAt(0), 0x01000193);
    }
    this.#a = hash | 0;
    this.#b = Math.imul(hash ^ (hash >>> 15), 0x2c1b3c6d);
    this.#c = seed | 0;
    this.#counter = 1;
    for (let i = 0; i < 16; i += 1) this.next();
  }

  /** Uniform in [0, 1). */
  next(): number {
    const sum = (((this.#a + this.#b) | 0) + this.#counter) | 0;
    this.#counter = (this.#counter + 1) | 0;
    this.#a = this.#b ^ (this.#b >>> 9);
    this.#b = (this.#c + (this.#c << 3)) | 0;
    this.#c = ((this.#c << 21) | (this.#c >>> 11)) + sum;
    this.#c |= 0;
    return (sum >>> 0) / 4294967296;
  }

  between(least: number, most: number): number {
    return least + (most - least) * this.next();
  }

  chance(probability: number): boolean {
    return this.next() < probability;
  }

  /** Standard normal (Box-Muller), cut off at four standard deviations. */
  normal(): number {
    const radius = Math.sqrt(-2 * Math.log(1 - this.next()));
    const value = radius * Math.cos(2 * Math.PI * this.next());
    return Math.max(-4, Math.min(4, value));
  }

  /** Normal with the given mean and standard deviation, kept inside [least, most]. */
  normalWithin(mean: number, deviation: number, least: number, most: number): number {
    return Math.max(least, Math.min(most, mean + deviation * this.normal()));
  }

  clone(): SeededRandom {
    const copy = new SeededRandom(0);
    copy.#a = this.#a;
    copy.#b = this.#b;
    copy.#c = this.#c;
    copy.#counter = this.#counter;
    return copy;
  }
}
