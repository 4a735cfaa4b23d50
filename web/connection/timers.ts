// The page's time: one interface so that tests drive it, and the browser's own behind it.

export interface Timers {
  /** Milliseconds of the page's monotonic clock. */
  nowMs(): number;
  /** Calls back once; the returned function cancels. */
  after(delayMs: number, callback: () => void): () => void;
  every(intervalMs: number, callback: () => void): () => void;
}

export const browserTimers: Timers = {
  nowMs: () => performance.now(),
  after(delayMs, callback) {
    const handle = setTimeout(callback, delayMs);
    return () => clearTimeout(handle);
  },
  every(intervalMs, callback) {
    const handle = setInterval(callback, intervalMs);
    return () => clearInterval(handle);
  },
};
