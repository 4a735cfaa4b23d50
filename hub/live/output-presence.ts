// Which pages are there to show and sound an alarm of an athlete: by what each last said, and how long ago.

import type { ProcessMs } from '../../shared/units.ts';
import type { Clock } from '../base/ports/clock.ts';

/** A page that has not said its state for this long no longer counts as an output (it says it every second). */
export const pageSilenceMs = 3_500;

/** What a page can do for the athletes it shows. */
export interface PageOutputs {
  readonly visible: boolean;
  readonly soundReady: boolean;
  readonly athleteIds: 'all' | readonly string[];
}

export class OutputPresence {
  readonly #clock: Clock;
  readonly #hubSoundCount: () => number;
  readonly #pages = new Map<string, PageOutputs & { readonly heardAtMs: ProcessMs }>();

  /** `hubSoundCount`: how many outputs of the hub itself can sound an alarm now. */
  constructor(clock: Clock, hubSoundCount: () => number) {
    this.#clock = clock;
    this.#hubSoundCount = hubSoundCount;
  }

  said(pageId: string, outputs: PageOutputs): void {
    this.#pages.set(pageId, { ...outputs, heardAtMs: this.#clock.nowMs() });
  }

  gone(pageId: string): void {
    this.#pages.delete(pageId);
  }

  countFor(athleteId: string): { readonly livingPageCount: number; readonly soundReadyCount: number } {
    let livingPageCount = 0;
    let soundReadyCount = this.#hubSoundCount();
    const nowMs = this.#clock.nowMs();
    for (const page of this.#pages.values()) {
      if (nowMs - page.heardAtMs > pageSilenceMs) continue;
      if (page.athleteIds !== 'all' && !page.athleteIds.includes(athleteId)) continue;
      // A hidden page may be throttled or asleep: it counts as present only while it is on the screen or sounding.
      if (page.visible || page.soundReady) livingPageCount += 1;
      if (page.soundReady) soundReadyCount += 1;
    }
    return { livingPageCount, soundReadyCount };
  }
}
