// Has the browser keep the page on this device (`web/offline/service-worker.ts`), and knows whether it did.

import { type Signal, signal } from '@preact/signals';

export type OfflineShellState =
  | 'notYet'
  /** The page opens without the hub. */
  | 'kept'
  /** The browser keeps no page that came this way: without TLS from another machine, or with a certificate it only puts up with. */
  | 'refused';

export class OfflineShell {
  readonly state: Signal<OfflineShellState> = signal('notYet');
  #registration: ServiceWorkerRegistration | null = null;

  /** Once the hub has answered; a page that the hub never sent has nothing to keep. */
  async keep(): Promise<void> {
    if (!('serviceWorker' in navigator)) {
      this.state.value = 'refused';
      return;
    }
    try {
      this.#registration = await navigator.serviceWorker.register('/service-worker.js');
      const { installing, active } = this.#registration;
      if (active !== null) this.state.value = 'kept';
      installing?.addEventListener('statechange', () => {
        if (installing.state === 'activated') this.state.value = 'kept';
        // A file could not be fetched, or there is no room: what was kept before, if anything, still stands.
        if (installing.state === 'redundant' && this.#registration?.active === null)
          this.state.value = 'refused';
      });
    } catch {
      this.state.value = 'refused';
    }
  }

  /** What shows a notice even on telephones, where a page by itself may not. */
  get registration(): ServiceWorkerRegistration | null {
    return this.#registration;
  }
}
