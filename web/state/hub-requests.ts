// What this page has asked of the hub and not yet been answered: each request ends in done, refused or unanswered.

import type { UpMessage } from '../../shared/messages/up.ts';
import type { Timers } from '../connection/timers.ts';

/** Loopback and home networks answer in milliseconds. */
export const answerWithinMs = 5_000;

export type Answer =
  | { readonly type: 'done' }
  | { readonly type: 'refused'; readonly message: string }
  /** Not sent, or no answer came: nobody knows whether it was carried out. */
  | { readonly type: 'unanswered' };

export interface HubRequestsParts {
  readonly send: (message: UpMessage) => boolean;
  readonly timers: Pick<Timers, 'after'>;
  readonly newRequestId: () => string;
}

export class HubRequests {
  readonly #parts: HubRequestsParts;
  readonly #waiting = new Map<string, (answer: Answer) => void>();

  constructor(parts: HubRequestsParts) {
    this.#parts = parts;
  }

  /** Sends what `make` makes of a fresh id, and resolves with the hub's answer. Never rejects. */
  ask(make: (requestId: string) => UpMessage): Promise<Answer> {
    const requestId = this.#parts.newRequestId();
    return new Promise((resolve) => {
      if (!this.#parts.send(make(requestId))) {
        resolve({ type: 'unanswered' });
        return;
      }
      const stopWaiting = this.#parts.timers.after(answerWithinMs, () =>
        this.#answered(requestId, { type: 'unanswered' }),
      );
      this.#waiting.set(requestId, (answer) => {
        stopWaiting();
        resolve(answer);
      });
    });
  }

  done(requestId: string): void {
    this.#answered(requestId, { type: 'done' });
  }

  refused(requestId: string, message: string): void {
    this.#answered(requestId, { type: 'refused', message });
  }

  #answered(requestId: string, answer: Answer): void {
    this.#waiting.get(requestId)?.(answer);
    this.#waiting.delete(requestId);
  }
}
