// Which outputs can raise the alarm of an athlete: a page counts for what it has really shown and sounds, by what it
// last said and how long ago.

import type { AlarmPriority } from '../../shared/schema-parts.ts';
import type { ProcessMs } from '../../shared/units.ts';
import type { Clock } from '../base/ports/clock.ts';

/** A page that has not said its state for this long no longer counts as an output (it says it every second). */
export const pageSilenceMs = 3_500;
/** A page says at once what it presents anew, and each second again: later than this it does not present it. Our choice. */
const presentWithinMs = 2_500;

/** What a page does for the athletes it may see. */
export interface PageOutputs {
  readonly visible: boolean;
  readonly soundReady: boolean;
  readonly athleteIds: 'all' | readonly string[];
  /** The alarms that stand on the page as drawn; null is the watching itself. */
  readonly presented: readonly { readonly athleteId: string | null; readonly alarmIds: readonly string[] }[];
  /** What its sound is scheduled to play. */
  readonly sounding: AlarmPriority | null;
}

/** What of one athlete, or of the watching itself, is to be presented, each since when. */
interface CalledFor {
  readonly alarms: ReadonlyMap<string, ProcessMs>;
  readonly sound: { readonly priority: AlarmPriority; readonly sinceMs: ProcessMs } | null;
}

const loudness: Readonly<Record<AlarmPriority, number>> = { high: 3, medium: 2, low: 1 };
const nothing: CalledFor = { alarms: new Map(), sound: null };

export class OutputPresence {
  readonly #clock: Clock;
  readonly #hubSoundCount: () => number;
  readonly #pages = new Map<string, PageOutputs & { readonly heardAtMs: ProcessMs }>();
  readonly #calledFor = new Map<string | null, CalledFor>();

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

  /** These alarms must now be shown and this sound be made; null is the watching itself. */
  callFor(athleteId: string | null, alarmIds: readonly string[], priority: AlarmPriority | null): void {
    const before = this.#calledFor.get(athleteId) ?? nothing;
    const nowMs = this.#clock.nowMs();
    this.#calledFor.set(athleteId, {
      alarms: new Map(alarmIds.map((alarmId) => [alarmId, before.alarms.get(alarmId) ?? nowMs])),
      sound:
        priority === null
          ? null
          : before.sound?.priority === priority
            ? before.sound
            : { priority, sinceMs: nowMs },
    });
  }

  /** Nobody is monitored any more. */
  sessionOver(): void {
    const watching = this.#calledFor.get(null);
    this.#calledFor.clear();
    if (watching !== undefined) this.#calledFor.set(null, watching);
  }

  countFor(athleteId: string): { readonly livingPageCount: number; readonly soundReadyCount: number } {
    let livingPageCount = 0;
    let soundReadyCount = this.#hubSoundCount();
    const nowMs = this.#clock.nowMs();
    const called = this.#calledFor.get(athleteId) ?? nothing;
    for (const page of this.#pages.values()) {
      if (nowMs - page.heardAtMs > pageSilenceMs) continue;
      if (page.athleteIds !== 'all' && !page.athleteIds.includes(athleteId)) continue;
      if (!this.#shows(page, athleteId, called, nowMs)) continue;
      // A hidden page may be throttled or asleep: it counts as present only while it is on the screen or sounding.
      if (page.visible || page.soundReady) livingPageCount += 1;
      if (page.soundReady && this.#sounds(page, called, nowMs)) soundReadyCount += 1;
    }
    return { livingPageCount, soundReadyCount };
  }

  #shows(page: PageOutputs, athleteId: string, { alarms }: CalledFor, nowMs: ProcessMs): boolean {
    const shown = page.presented.find((one) => one.athleteId === athleteId)?.alarmIds ?? [];
    for (const [alarmId, sinceMs] of alarms)
      if (nowMs - sinceMs > presentWithinMs && !shown.includes(alarmId)) return false;
    return true;
  }

  #sounds({ sounding }: PageOutputs, { sound }: CalledFor, nowMs: ProcessMs): boolean {
    if (sound === null || nowMs - sound.sinceMs <= presentWithinMs) return true;
    return sounding !== null && loudness[sounding] >= loudness[sound.priority];
  }
}
