// Recent samples of one channel in typed arrays: a sliding window that never allocates while a session runs.

import type { Trace } from '../../shared/views.ts';

/** Flags of one stored sample. */
export const sampleFlags = { breakBefore: 1, suspect: 2, bad: 4 } as const;

export class TraceBuffer {
  readonly #capacity: number;
  readonly #atSeconds: Float64Array;
  readonly #value: Float32Array;
  readonly #flags: Uint8Array;
  #start = 0;
  #end = 0;
  #breakPending = false;
  #lastAtMs = Number.NEGATIVE_INFINITY;
  #version = 0;

  /** Keeps the newest `capacity` samples; twice that is allocated so that a view is always contiguous. */
  constructor(capacity: number) {
    this.#capacity = capacity;
    this.#atSeconds = new Float64Array(capacity * 2);
    this.#value = new Float32Array(capacity * 2);
    this.#flags = new Uint8Array(capacity * 2);
  }

  /** Changes whenever the contents do. */
  get version(): number {
    return this.#version;
  }

  get length(): number {
    return this.#end - this.#start;
  }

  /** Time of the newest sample in milliseconds, or -Infinity. */
  get lastAtMs(): number {
    return this.#lastAtMs;
  }

  /** Contiguous views, oldest first; valid until the next append. Times in session seconds. */
  view(): { atSeconds: Float64Array; value: Float32Array; flags: Uint8Array } {
    return {
      atSeconds: this.#atSeconds.subarray(this.#start, this.#end),
      value: this.#value.subarray(this.#start, this.#end),
      flags: this.#flags.subarray(this.#start, this.#end),
    };
  }

  clear(): void {
    this.#start = 0;
    this.#end = 0;
    this.#lastAtMs = Number.NEGATIVE_INFINITY;
    this.#breakPending = false;
    this.#version += 1;
  }

  /** The line must not be drawn across what follows: part of the trace is missing. */
  breakHere(): void {
    this.#breakPending = true;
  }

  /**
   * Appends a batch; samples at or before the newest one are repeats (a resumed page) and are skipped.
   * A null value ends the line; the next value starts a new one. Returns how many values were added.
   */
  append(trace: Trace): number {
    let added = 0;
    const batchNewerThanMs = this.#lastAtMs;
    for (let index = 0; index < trace.atMs.length; index += 1) {
      const atMs = trace.atMs[index]!;
      if (atMs <= batchNewerThanMs || atMs < this.#lastAtMs) continue;
      const value = trace.value[index];
      if (value === null || value === undefined) {
        this.#breakPending = true;
        continue;
      }
      const letter = trace.quality[index];
      this.#push(atMs, value, letter === 'b' ? sampleFlags.bad : letter === 's' ? sampleFlags.suspect : 0);
      added += 1;
    }
    if (added > 0) this.#version += 1;
    return added;
  }

  #push(atMs: number, value: number, qualityFlags: number): void {
    if (this.#end === this.#capacity * 2) {
      const from = this.#end - this.#capacity;
      this.#atSeconds.copyWithin(0, from, this.#end);
      this.#value.copyWithin(0, from, this.#end);
      this.#flags.copyWithin(0, from, this.#end);
      this.#start = 0;
      this.#end = this.#capacity;
    }
    this.#atSeconds[this.#end] = atMs / 1000;
    this.#value[this.#end] = value;
    this.#flags[this.#end] = qualityFlags | (this.#breakPending ? sampleFlags.breakBefore : 0);
    this.#breakPending = false;
    this.#end += 1;
    if (this.#end - this.#start > this.#capacity) this.#start += 1;
    this.#lastAtMs = atMs;
  }
}
