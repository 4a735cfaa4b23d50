// Tells a sensor that no longer knows the key which bluetoothd keeps for it from one that is lost: its links end before
// anything was answered, again and again. bluetoothd says so itself since 5.82 only. Pure.

/** Encryption begins with the link and fails within a few connection intervals; ours, with room for a loaded machine. */
const shortMs = 5_000;
/** Ours: one or two such ends may be chance, at the edge of reach. */
const endsInARow = 3;

export class KeyDoubts {
  readonly #sinceMs = new Map<string, number>();
  readonly #answered = new Set<string>();
  readonly #ends = new Map<string, number>();

  linked(path: string, atMs: number): void {
    this.#answered.delete(path);
    this.#sinceMs.set(path, atMs);
  }

  /** The sensor's services were read over this link: whatever key it took was the right one. */
  answered(path: string): void {
    this.#answered.add(path);
    this.#ends.delete(path);
  }

  /** The beginning of so short a link may not have been told. */
  ended(path: string, hasKey: boolean, atMs: number): void {
    const isShort = atMs - (this.#sinceMs.get(path) ?? atMs) < shortMs;
    const isDoubted = hasKey && isShort && !this.#answered.has(path);
    if (isDoubted) this.#ends.set(path, (this.#ends.get(path) ?? 0) + 1);
    this.#sinceMs.delete(path);
    this.#answered.delete(path);
  }

  forget(path: string): void {
    this.#sinceMs.delete(path);
    this.#answered.delete(path);
    this.#ends.delete(path);
  }

  isLikely(path: string): boolean {
    return (this.#ends.get(path) ?? 0) >= endsInARow;
  }
}
