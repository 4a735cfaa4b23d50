// How much of something may come in how short a time: so much at once, and so much a second from then on.

export class TokenBucket {
  readonly #capacity: number;
  readonly #perSecond: number;
  #tokens: number;
  #atMs: number;

  constructor(capacity: number, perSecond: number, nowMs: number) {
    this.#capacity = capacity;
    this.#perSecond = perSecond;
    this.#tokens = capacity;
    this.#atMs = nowMs;
  }

  /** False when there is not that much left; then nothing is taken. */
  take(amount: number, nowMs: number): boolean {
    const grown = (Math.max(0, nowMs - this.#atMs) / 1_000) * this.#perSecond;
    this.#tokens = Math.min(this.#capacity, this.#tokens + grown);
    this.#atMs = nowMs;
    if (this.#tokens < amount) return false;
    this.#tokens -= amount;
    return true;
  }

  /** Nobody has taken anything for so long that a fresh one would be no different. */
  isFull(nowMs: number): boolean {
    return this.take(0, nowMs) && this.#tokens >= this.#capacity;
  }
}
