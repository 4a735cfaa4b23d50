// Which presses on alarms are meant. Who acknowledges in fright taps twice; what has come up under the finger by then, the next
// alarm or a link away from the readings, was not seen. Pure: the time is handed in.

/**
 * The taps of one fright. Two of a double tap lie 100 to 300 ms apart (Android takes up to 300 ms for one gesture:
 * ViewConfiguration.getDoubleTapTimeout, from memory); twice that, our choice. Counted from the press that was taken, so that
 * who taps on and on is not kept from the next alarm for longer.
 */
const oneFrightMs = 600;

export class HurriedHand {
  #key: string | null = null;
  #atMs = Number.NEGATIVE_INFINITY;

  /** Whether a press on `key` is meant for it. On what was pressed itself it always is. */
  isMeant(key: string, nowMs: number): boolean {
    return key === this.#key || nowMs - this.#atMs >= oneFrightMs;
  }

  pressed(key: string, nowMs: number): void {
    this.#key = key;
    this.#atMs = nowMs;
  }
}
