// Keeps the screen awake while a session runs, where the browser can; the lock is lost when hidden and taken again.

export class WakeLock {
  #wanted = false;
  #held: WakeLockSentinel | null = null;

  constructor() {
    document.addEventListener('visibilitychange', () => void this.#take());
  }

  keepAwake(wanted: boolean): void {
    this.#wanted = wanted;
    if (wanted) void this.#take();
    else {
      void this.#held?.release().catch(() => undefined);
      this.#held = null;
    }
  }

  async #take(): Promise<void> {
    if (!this.#wanted || document.visibilityState !== 'visible' || !('wakeLock' in navigator)) return;
    if (this.#held !== null && !this.#held.released) return;
    try {
      this.#held = await navigator.wakeLock.request('screen');
    } catch {
      // Refused on low battery or by policy; the page says nothing it cannot change.
    }
  }
}
