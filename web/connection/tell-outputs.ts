// Tells the hub what this page shows and sounds as soon as that changes; `HubConnection` tells it each second besides.

import { effect, type ReadonlySignal } from '@preact/signals';
import type { Timers } from './timers.ts';

/** What has changed is drawn by then. Our choice: three frames. */
const drawnWithinMs = 50;

/** `send` is called at the start and after each change of one of `causes`, once it has been drawn. Returns how to stop. */
export function tellOutputs(
  causes: readonly ReadonlySignal<unknown>[],
  timers: Pick<Timers, 'after'>,
  send: () => void,
): () => void {
  return effect(() => {
    for (const cause of causes) cause.value;
    // Each change has a message of its own: putting it off for the next one could put it off for ever.
    timers.after(drawnWithinMs, send);
  });
}
