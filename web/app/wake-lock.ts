// Keeps the screen awake while a session runs, where the browser can; the lock is lost when hidden and taken again.

import { type Signal, signal } from '@preact/signals';

export class WakeLock {
  /** A session runs, and this screen will go dark: refused on low battery, by policy, or without TLS. */
  readonly refused: Signal<boolean> = signal(false);
  #wanted = false;
  #held: WakeLockSentinel | null = null;

  constructor() {
    document.addEventListener('visibilitychange', () => void this.#take());
  }

  keepAwake(wanted: boolean): void {
    this.#wanted = wanted;
    if (wanted) {
      void this.#take();
      return;
    }
    this.refused.value = false;
    void this.#held?.release().catch(() => undefined);
    this.#held = null;
  }

  async #take(): Promise<void> {
    if (!this.#wanted || document.visibilityState !== 'visible') return;
    if (this.#held !== null && !this.#held.released) return;
    if (!('wakeLock' in navigator)) {
      this.refused.value = true;
      return;
    }
    try {
      this.#held = await navigator.wakeLock.request('screen');
      this.refused.value = false;
      // The session may have ended while the browser thought about it.
      if (!this.#wanted) await this.#held.release();
    } catch {
      this.refused.value = this.#wanted && document.visibilityState === 'visible';
    }
  }
}
