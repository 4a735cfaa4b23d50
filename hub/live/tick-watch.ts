// Notices that nobody was watching for a while: the hub stood still, the computer slept, or its clock was moved.

import type { SupervisionCause } from '../../shared/schema-parts.ts';
import type { ProcessMs, WallMs } from '../../shared/units.ts';

/** A lapse shorter than this is made up for: readings are stale, and alarmed as such, only after as long. Our choice. */
const lapseMs = 5_000;

export type Lapse =
  | {
      readonly type: 'unwatched';
      readonly cause: Extract<SupervisionCause, 'slept' | 'hubStalled'>;
      readonly durationMs: number;
    }
  | { readonly type: 'clockSetBack'; readonly durationMs: number };

export class TickWatch {
  #last: { readonly nowMs: ProcessMs; readonly wallMs: WallMs } | undefined;

  /**
   * Called at every tick. Linux stops the monotonic clock while the computer sleeps, others let it run: a sleep shows
   * either as a jump of the wall clock against it or as a gap between ticks.
   */
  look(nowMs: ProcessMs, wallMs: WallMs): Lapse | null {
    const last = this.#last;
    this.#last = { nowMs, wallMs };
    if (last === undefined) return null;
    const gapMs = nowMs - last.nowMs;
    const jumpMs = wallMs - last.wallMs - gapMs;
    if (jumpMs >= lapseMs) return { type: 'unwatched', cause: 'slept', durationMs: gapMs + jumpMs };
    if (gapMs >= lapseMs) return { type: 'unwatched', cause: 'hubStalled', durationMs: gapMs };
    return jumpMs <= -lapseMs ? { type: 'clockSetBack', durationMs: -jumpMs } : null;
  }
}
