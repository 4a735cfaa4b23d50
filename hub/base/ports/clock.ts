// What the hub needs of time: the two clocks, and being called later. Contract: tests/contract (clock).

import type { ProcessMs, WallMs } from '../../../shared/units.ts';

/** Time, and being called later. The only source of either in the hub; tests drive a fake one. */
export interface Clock {
  nowMs(): ProcessMs;
  wallNowMs(): WallMs;
  /** Calls back every `intervalMs` until the returned function is called. */
  every(intervalMs: number, callback: () => void): () => void;
  after(delayMs: number, callback: () => void): () => void;
  /** Calls back once what is under way is done, and whatever has arrived meanwhile with it. Never before it returns. */
  soon(callback: () => void): void;
}
