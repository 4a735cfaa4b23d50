// What a person should know of the hub itself: notices that stay until read, and the state of each source of sensors.

import { isSameSaid, type Said, said } from '../../shared/said.ts';
import type { HubStore } from '../base/ports/hub-store.ts';
import type { SensorSource } from '../base/ports/sensor-source.ts';

export class HubNotices {
  readonly #changed: () => void;
  readonly #bySource = new Map<SensorSource, readonly Said[]>();
  #notices: readonly Said[];
  /** Why something is not saved; it stays for as long as that is so. */
  #ofWriting: Said | undefined;

  constructor(store: Pick<HubStore, 'notices' | 'interruptedSessionIds'>, changed: () => void) {
    this.#changed = changed;
    // However many sessions: each has its own alarm, which names it.
    const interrupted = store.interruptedSessionIds.length === 0 ? [] : [said('notice.interrupted')];
    this.#notices = [...store.notices, ...interrupted];
  }

  /** Those that stay until a person has read them. */
  get list(): readonly Said[] {
    return this.#notices;
  }

  /** Those and the state of every source; empty when all is well. */
  get all(): Said[] {
    return [
      ...(this.#ofWriting === undefined ? [] : [this.#ofWriting]),
      ...[...this.#bySource.values()].flat(),
      ...this.#notices,
    ];
  }

  /** Said once, however often it is found. */
  readonly add = (notice: Said): void => {
    if (this.#notices.some((each) => isSameSaid(each, notice))) return;
    this.#notices = [...this.#notices, notice];
    this.#changed();
  };

  /** It is not so any more. */
  withdraw(notice: Said): void {
    this.#notices = this.#notices.filter((each) => !isSameSaid(each, notice));
    this.#changed();
  }

  /** The state of a source; empty when all is well with it. */
  ofSource(source: SensorSource, notices: readonly Said[]): void {
    if (notices.length === 0) this.#bySource.delete(source);
    else this.#bySource.set(source, notices);
    this.#changed();
  }

  /** What is not saved now; undefined when all is. */
  ofWriting(notice: Said | undefined): void {
    this.#ofWriting = notice;
    this.#changed();
  }

  /** A person has read them. */
  dismiss(): void {
    this.#notices = [];
    this.#changed();
  }
}
