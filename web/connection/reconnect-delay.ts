// How long to wait before trying the hub again. The hub is near, so the waits are short.

/**
 * Doubles from 200 ms to at most 1.5 s, spread by `random` (0 to 1) between half and the whole of it, so that many
 * pages do not come back in one instant.
 */
export function reconnectDelayMs(attempt: number, random: number): number {
  const fullMs = Math.min(1_500, 200 * 2 ** Math.min(attempt, 10));
  return fullMs / 2 + (fullMs / 2) * random;
}
