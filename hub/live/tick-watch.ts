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
      /** For so much of it the process's clock stood still. */
      readonly stoodMs: number;
    }
  | { readonly type: 'clockSet'; readonly durationMs: number };

interface Look {
  readonly nowMs: ProcessMs;
  readonly wallMs: WallMs;
  /** Since the computer's start, sleep counted; undefined where the system has no such clock. */
  readonly bootMs: number | undefined;
}

export class TickWatch {
  #last: Look | undefined;

  /**
   * Called at every tick. Linux stops the monotonic clock while the computer sleeps, others let it run: a sleep shows either
   * as a jump of the clock since boot against it or as a gap between ticks. Without a clock since boot, the wall clock has to
   * do, of which nobody can tell a sleep from its being set on.
   */
  look(look: Look): Lapse | null {
    const last = this.#last;
    this.#last = look;
    if (last === undefined) return null;
    const gapMs = look.nowMs - last.nowMs;
    const wallJumpMs = look.wallMs - last.wallMs - gapMs;
    const sleptMs =
      look.bootMs === undefined || last.bootMs === undefined
        ? Math.max(0, wallJumpMs)
        : look.bootMs - last.bootMs - gapMs;
    if (sleptMs >= lapseMs)
      return { type: 'unwatched', cause: 'slept', durationMs: gapMs + sleptMs, stoodMs: sleptMs };
    if (gapMs >= lapseMs) return { type: 'unwatched', cause: 'hubStalled', durationMs: gapMs, stoodMs: 0 };
    const setMs = wallJumpMs - Math.max(0, sleptMs);
    return Math.abs(setMs) >= lapseMs ? { type: 'clockSet', durationMs: Math.abs(setMs) } : null;
  }
}
