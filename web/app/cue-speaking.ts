// Whether this page gives the cues aloud: asked for here, told by the hub, and taken up again after a reload of the tab.

import { computed, effect } from '@preact/signals';
import type { HubState } from '../state/hub-state.ts';

const idKey = 'slackwater.speaker-id';
const wantKey = 'slackwater.speaks-cues';

export interface CueSpeakingParts {
  readonly hub: Pick<HubState, 'cueSpeaker' | 'link' | 'mayAct'>;
  /** Of this tab alone. */
  readonly storage: Pick<Storage, 'getItem' | 'setItem' | 'removeItem'>;
  readonly newId: () => string;
  readonly take: (speakerId: string, takes: boolean) => void;
}

export class CueSpeaking {
  readonly #parts: CueSpeakingParts;
  readonly #speakerId: string;
  /** `here`, `elsewhere`, or `nobody` was chosen. */
  readonly where;

  constructor(parts: CueSpeakingParts) {
    this.#parts = parts;
    const { hub, storage } = parts;
    this.#speakerId = storage.getItem(idKey) ?? parts.newId();
    storage.setItem(idKey, this.#speakerId);
    this.where = computed<'here' | 'elsewhere' | 'nobody'>(() => {
      const speaker = hub.cueSpeaker.value;
      if (speaker === null) return 'nobody';
      return speaker.speakerId === this.#speakerId ? 'here' : 'elsewhere';
    });
    effect(() => {
      const isTakenElsewhere = this.where.value === 'elsewhere';
      if (isTakenElsewhere) storage.removeItem(wantKey);
    });
    // After a new connection the hub must know again whose page it is.
    effect(() => {
      if (hub.link.value === 'live' && hub.mayAct.value && storage.getItem(wantKey) !== null)
        parts.take(this.#speakerId, true);
    });
  }

  set(takes: boolean): void {
    const { storage, take } = this.#parts;
    if (takes) storage.setItem(wantKey, 'yes');
    else storage.removeItem(wantKey);
    take(this.#speakerId, takes);
  }
}
