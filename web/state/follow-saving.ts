// Asks the hub again and again whether what this page changed is on the disk, while something of it isn't.

import type { Timers } from '../connection/timers.ts';
import type { UnsavedChanges } from './unsaved-changes.ts';

/** The hub tries its disk again twice a second. Our choice. */
const askEveryMs = 1_000;

type Checked = Parameters<UnsavedChanges['checked']>[0];

export interface SavingParts {
  readonly unsaved: UnsavedChanges;
  readonly isLive: () => boolean;
  readonly ask: () => Promise<{ readonly ok: true; readonly value: Checked } | { readonly ok: false }>;
  readonly timers: Pick<Timers, 'every'>;
}

export function followSaving({ unsaved, isLive, ask, timers }: SavingParts): void {
  let isAsking = false;
  timers.every(askEveryMs, () => {
    if (isAsking || !unsaved.isWaiting || !isLive()) return;
    isAsking = true;
    void ask().then((answer) => {
      isAsking = false;
      // No answer is asked for again.
      if (answer.ok) unsaved.checked(answer.value);
    });
  });
}
