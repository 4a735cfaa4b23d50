// Vibrates with each alarm burst where the device can: a phone under a hand is felt even when it is not heard.

import type { AlarmPriority } from '../../shared/schema-parts.ts';
import { burstDurationMs, signalPatterns } from '../../src/alarms/signal-patterns.ts';

export class AlarmVibration {
  readonly #vibrate: (patternMs: number[]) => void;
  #priority: AlarmPriority | null = null;
  #nextAtMs = 0;

  /** `vibrate` is the device's: an empty pattern stops it. */
  constructor(vibrate: (patternMs: number[]) => void) {
    this.#vibrate = vibrate;
  }

  /** Called a few times a second with the priority that sounds now. A change starts or stops at once. */
  update(priority: AlarmPriority | null, nowMs: number): void {
    const changed = priority !== this.#priority;
    this.#priority = priority;
    if (priority === null) {
      if (changed) this.#vibrate([]);
      return;
    }
    if (!changed && nowMs < this.#nextAtMs) return;
    const { sound, vibrationMs } = signalPatterns[priority];
    this.#vibrate([...vibrationMs]);
    this.#nextAtMs = nowMs + burstDurationMs(sound) + sound.interburstMs;
  }
}
