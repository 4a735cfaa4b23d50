// Says aloud whose alarm calls, beside its tone and never in its place: off unless somebody asked for it on this device, since a
// room hears it. By name, or by place on this device's wall.

import type { AlarmPriority } from '../../shared/schema-parts.ts';
import { burstDurationMs, signalPatterns } from '../../src/alarms/signal-patterns.ts';
import type { SpokenAlarmChoice } from '../state/preferences.ts';
import { type AlarmEntry, type AthleteEntry, isCalling } from '../state/standing-alarms.ts';

export interface SpokenAlarmsParts {
  readonly choice: () => SpokenAlarmChoice;
  readonly entries: () => readonly AlarmEntry[];
  /** What sounds now; null while nothing does, or a person paused it. */
  readonly sounding: () => AlarmPriority | null;
  /** Whom and what, in the page's language. */
  readonly sentence: (entry: AthleteEntry, choice: 'names' | 'places') => string;
  /** Ends what is being said and says this; `over` is called at its end. */
  readonly speak: (sentence: string, over: () => void) => void;
  readonly hush: () => void;
}

/** Long enough to be understood and short enough to be heard again before it is forgotten. Our choice. */
const againMs = 20_000;
/** Some browsers never say that they have ended. Our choice. */
const mostSpeechMs = 8_000;

interface Called {
  readonly priority: AlarmPriority;
  /** When it is to be said next. */
  readonly dueMs: number;
  readonly isSaid: boolean;
}

export class SpokenAlarms {
  readonly #parts: SpokenAlarmsParts;
  readonly #called = new Map<string, Called>();
  #speaking: { readonly key: string; readonly untilMs: number } | null = null;

  constructor(parts: SpokenAlarmsParts) {
    this.#parts = parts;
  }

  /** True while an alarm is being said: nothing else may cut it short. */
  get speaking(): boolean {
    return this.#speaking !== null;
  }

  /** Called a few times a second. */
  update(nowMs: number): void {
    const choice = this.#parts.choice();
    const calling = choice === 'off' || this.#parts.sounding() === null ? [] : this.#callingNow();
    this.#follow(calling, nowMs);
    if (this.#speaking !== null && nowMs < this.#speaking.untilMs) {
      if (this.#called.has(this.#speaking.key)) return;
      // Put aside, paused or over: nobody has to hear the rest of it.
      this.#parts.hush();
    }
    this.#speaking = null;
    if (choice === 'off') return;
    const next = this.#next(calling, nowMs);
    if (next === undefined) return;
    this.#called.set(next.key, { priority: next.priority, dueMs: nowMs + againMs, isSaid: true });
    const { key } = next;
    this.#speaking = { key, untilMs: nowMs + mostSpeechMs };
    this.#parts.speak(this.#parts.sentence(next, choice), () => {
      if (this.#speaking?.key === key) this.#speaking = null;
    });
  }

  /** None before one that is more urgent has been said. */
  #next(calling: readonly AthleteEntry[], nowMs: number): AthleteEntry | undefined {
    for (const entry of calling) {
      const called = this.#called.get(entry.key);
      if (called === undefined || called.dueMs <= nowMs) return entry;
      if (!called.isSaid) return undefined;
    }
    return undefined;
  }

  /** What nobody has seen, in the order of the frame. */
  #callingNow(): AthleteEntry[] {
    return this.#parts
      .entries()
      .filter((entry): entry is AthleteEntry => entry.type === 'athlete')
      .filter((entry) => !entry.acknowledged && isCalling(entry));
  }

  /** A new one, or one that became more urgent, is said after its first burst. */
  #follow(calling: readonly AthleteEntry[], nowMs: number): void {
    const keys = new Set(calling.map(({ key }) => key));
    for (const key of this.#called.keys()) if (!keys.has(key)) this.#called.delete(key);
    for (const { key, priority } of calling) {
      if (this.#called.get(key)?.priority === priority) continue;
      const dueMs = nowMs + burstDurationMs(signalPatterns[priority].sound);
      this.#called.set(key, { priority, dueMs, isSaid: false });
    }
  }
}
