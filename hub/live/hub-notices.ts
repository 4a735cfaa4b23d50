// What a person should know of the hub itself: sentences that stay until read, and the state of each source of sensors.

import type { SensorSource, Store } from '../base/ports.ts';

const interrupted =
  'The hub stopped during a session. Everything committed before that is kept; find it under Recordings, marked interrupted.';

export class HubNotices {
  readonly #changed: () => void;
  readonly #bySource = new Map<SensorSource, string>();
  #notices: readonly string[];

  constructor(store: Store, changed: () => void) {
    this.#changed = changed;
    this.#notices = [...store.notices, ...store.interruptedSessionIds.map(() => interrupted)];
  }

  get list(): readonly string[] {
    return this.#notices;
  }

  /** Everything as one text, or null when all is well. */
  get text(): string | null {
    const all = [...this.#bySource.values(), ...this.#notices];
    return all.length === 0 ? null : all.join(' ');
  }

  /** Said once, however often it is found. */
  readonly add = (notice: string): void => {
    if (this.#notices.includes(notice)) return;
    this.#notices = [...this.#notices, notice];
    this.#changed();
  };

  /** The state of a source; null when all is well with it. */
  ofSource(source: SensorSource, notice: string | null): void {
    if (notice === null) this.#bySource.delete(source);
    else this.#bySource.set(source, notice);
    this.#changed();
  }

  /** A person has read them. */
  dismiss(): void {
    this.#notices = [];
    this.#changed();
  }
}
