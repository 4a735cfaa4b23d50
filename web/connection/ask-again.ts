// A question that the hub had no time for is asked again when the hub says (RFC 6585 section 4, RFC 9110 section 10.2.3).

import type { Fetch } from './hub-http.ts';
import type { Timers } from './timers.ts';

const tooManyRequests = 429;
const mostTries = 3;
/** The hub counts over 10 s (hub/server/request-quota.ts); who would have to wait longer is told instead. */
const longestWaitMs = 12_000;

/** Only what reads: whoever presses a button is told at once, and presses again if they still mean it. */
export function askAgainWhenBusy(fetch: Fetch, timers: Timers): Fetch {
  return async (path, init) => {
    for (let tries = 1; ; tries += 1) {
      const response = await fetch(path, init);
      if (response.status !== tooManyRequests || (init?.method ?? 'GET') !== 'GET' || tries === mostTries)
        return response;
      const waitMs = 1_000 * Number(response.headers.get('retry-after') ?? Number.NaN);
      // A date, or nothing, is not what the hub sends.
      if (!(waitMs >= 0 && waitMs <= longestWaitMs)) return response;
      await passed(waitMs, timers, init?.signal ?? null);
    }
  };
}

/** Ends early where nobody waits for the answer any more: the next `fetch` then rejects. */
const passed = (waitMs: number, timers: Timers, signal: AbortSignal | null): Promise<void> =>
  new Promise((resolve) => {
    const cancel = timers.after(waitMs, resolve);
    signal?.addEventListener(
      'abort',
      () => {
        cancel();
        resolve();
      },
      { once: true },
    );
  });
