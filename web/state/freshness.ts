// How old a reading is and what that allows the page to show: fresh, stale (shown as such) or lost (not shown).

import type { Readout } from '../../shared/views.ts';

/**
 * Sensors notify about once a second, so three missed notifications make a reading stale. After 10 s a falling
 * saturation can have changed by several percent (about .3 %/s late in a hold), so the number is taken away.
 * Limits of our own: no standard gives one for a display.
 */
export const staleAfterMs = 3_500;
export const lostAfterMs = 10_000;

export type Freshness = 'none' | 'fresh' | 'stale' | 'lost';

export interface ReadingState {
  readonly freshness: Freshness;
  /** Age in session milliseconds; null while there is no reading or no session time. */
  readonly ageMs: number | null;
}

/**
 * `hubSilent`: nothing more can be known about the present, so even a young reading is shown as stale.
 * `timeScale` widens the limits in a fast demo, where a network millisecond is worth many session milliseconds.
 */
export function readingState(
  readout: Readout,
  nowMs: number | null,
  hubSilent: boolean,
  timeScale: number,
): ReadingState {
  if (readout === null) return { freshness: 'none', ageMs: null };
  if (nowMs === null) return { freshness: 'stale', ageMs: null };
  const ageMs = Math.max(0, nowMs - readout.atMs);
  const slackMs = Math.max(0, timeScale - 1) * 400;
  if (ageMs >= lostAfterMs + slackMs) return { freshness: 'lost', ageMs };
  if (hubSilent || ageMs >= staleAfterMs + slackMs) return { freshness: 'stale', ageMs };
  return { freshness: 'fresh', ageMs };
}
