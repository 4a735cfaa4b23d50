// Whether this page stands on the device like a program, and the browser's own offer to put it there.

import { type Signal, signal } from '@preact/signals';

export type InstallState =
  | 'installed'
  /** The browser would ask at once. */
  | 'offered'
  /** The browser makes no offer; its menu may have one. */
  | 'byMenu';

/** Chromium's, not yet in the DOM's types (Web App Manifest incubations: BeforeInstallPromptEvent). */
interface InstallOffer extends Event {
  prompt(): Promise<{ readonly outcome: 'accepted' | 'dismissed' }>;
}

export class Installing {
  readonly state: Signal<InstallState>;
  #offer: InstallOffer | null = null;

  constructor() {
    const standsAlone = matchMedia('(display-mode: standalone), (display-mode: fullscreen)').matches;
    this.state = signal(standsAlone ? 'installed' : 'byMenu');
    addEventListener('beforeinstallprompt', (event) => {
      // Not in the middle of a hold: the page offers it where it is looked for.
      event.preventDefault();
      this.#offer = event as InstallOffer;
      this.state.value = 'offered';
    });
    addEventListener('appinstalled', () => {
      this.state.value = 'installed';
    });
  }

  async install(): Promise<void> {
    const offer = this.#offer;
    if (offer === null) return;
    // An offer can be used once.
    this.#offer = null;
    this.state.value = (await offer.prompt()).outcome === 'accepted' ? 'installed' : 'byMenu';
  }
}
