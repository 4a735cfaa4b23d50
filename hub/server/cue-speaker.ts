// Which page gives the cues aloud: the last one that took it, until it gives it up or has been gone for some seconds.

import type { DownMessage } from '../../shared/messages/down.ts';
import type { Clock } from '../base/ports/clock.ts';

/** A page that is loaded anew is back well within this. Our choice. */
const goneAfterMs = 5_000;

export interface CueSpeakerParts {
  readonly clock: Pick<Clock, 'after'>;
  readonly tell: (message: DownMessage) => void;
}

export class CueSpeaker {
  readonly #parts: CueSpeakerParts;
  #speaker: { readonly speakerId: string; readonly device: string; pageId: string } | null = null;

  constructor(parts: CueSpeakerParts) {
    this.#parts = parts;
  }

  get message(): DownMessage {
    const speaker = this.#speaker;
    return {
      type: 'cueSpeaker',
      speaker: speaker === null ? null : { speakerId: speaker.speakerId, device: speaker.device },
    };
  }

  take(pageId: string, speakerId: string, device: string): void {
    const isSame = this.#speaker?.speakerId === speakerId;
    this.#speaker = { speakerId, device, pageId };
    if (!isSame) this.#parts.tell(this.message);
  }

  /** Nothing follows where another has it. */
  giveUp(speakerId: string): void {
    if (this.#speaker?.speakerId !== speakerId) return;
    this.#speaker = null;
    this.#parts.tell(this.message);
  }

  pageGone(pageId: string): void {
    if (this.#speaker?.pageId !== pageId) return;
    const { speakerId } = this.#speaker;
    this.#parts.clock.after(goneAfterMs, () => {
      if (this.#speaker?.pageId === pageId) this.giveUp(speakerId);
    });
  }
}
