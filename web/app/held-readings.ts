// Readings of the rooms of a school, which come hundreds a second: held until the wall's next look, then taken all at once, so
// that the page draws a few times a second and not for each. Alarms are held by nothing.

import type { DownMessage } from '../../shared/messages/down.ts';

/** Of a reading, and of nothing else: what order they come in beside alarms changes nothing. */
const heldTypes: ReadonlySet<DownMessage['type']> = new Set(['latest', 'trace', 'heartbeat']);

export class HeldReadings {
  readonly #apply: (message: DownMessage, pageNowMs: number) => void;
  #held: { readonly message: DownMessage; readonly heardAtMs: number }[] = [];

  constructor(apply: (message: DownMessage, pageNowMs: number) => void) {
    this.#apply = apply;
  }

  /** An alarm is applied at once; whatever else is no reading, after the readings that came before it. */
  take(message: DownMessage, heardAtMs: number): void {
    if (heldTypes.has(message.type)) {
      this.#held.push({ message, heardAtMs });
      return;
    }
    if (message.type !== 'alarms') this.look();
    this.#apply(message, heardAtMs);
  }

  /** In the order in which they came. To be called in one batch for all rooms. */
  look(): void {
    const held = this.#held;
    this.#held = [];
    for (const { message, heardAtMs } of held) this.#apply(message, heardAtMs);
  }
}
