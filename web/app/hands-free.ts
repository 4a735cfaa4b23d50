// Marks without touching the page: a page turner's or keyboard's keys, and the buttons of a headset or media keys, which the
// browser hands on by its media session (W3C Media Session, working draft) while something plays: here silence.

import { effect, type Signal, signal } from '@preact/signals';
import type { MarkKind } from '../../shared/schema-parts.ts';
import {
  buttonOfKey,
  type HandAction,
  type HandButton,
  handActions,
  handButtons,
} from '../state/hand-buttons.ts';
import type { HubState } from '../state/hub-state.ts';
import { keepRecord, type RecordStorage, readRecord } from '../state/stored-record.ts';
import type { Commands } from './commands.ts';

const storageKey = 'slackwater.hands-free';

/** What a button did, to be said on the page. `mark` is null where nobody could be meant. */
export interface HandNews {
  readonly number: number;
  readonly button: HandButton;
  readonly name: string;
  readonly mark: MarkKind | null;
}

export interface HandsFreeParts {
  readonly storage: RecordStorage;
  readonly hub: Pick<HubState, 'athletes' | 'athleteById' | 'recording' | 'mayAct'>;
  readonly commands: Pick<Commands, 'mark' | 'nextBoundary'>;
  readonly path: () => string;
}

/** The media session's words for the buttons. */
const mediaActions: Readonly<Partial<Record<MediaSessionAction, HandButton>>> = {
  play: 'mediaPlay',
  pause: 'mediaPlay',
  nexttrack: 'mediaNext',
  previoustrack: 'mediaPrevious',
};

/** What is typed or chosen there is no mark. */
const leftAlone = ['dialog', 'input', 'select', 'textarea'] as const;

export class HandsFree {
  readonly on = signal(false);
  readonly actions: Readonly<Record<HandButton, Signal<HandAction>>> = {
    PageDown: signal('boundary'),
    PageUp: signal('contraction'),
    Space: signal('nothing'),
    mediaPlay: signal('boundary'),
    mediaNext: signal('contraction'),
    mediaPrevious: signal('nothing'),
  };
  readonly news = signal<HandNews | null>(null);
  readonly #parts: HandsFreeParts;
  #silence: HTMLAudioElement | null = null;

  constructor(parts: HandsFreeParts) {
    this.#parts = parts;
    const stored = readRecord(parts.storage, storageKey);
    if (stored['on'] === true) this.on.value = true;
    for (const button of handButtons) {
      const action = handActions.find((each) => each === stored[button]);
      if (action !== undefined) this.actions[button].value = action;
    }
    effect(() =>
      keepRecord(parts.storage, storageKey, {
        on: this.on.value,
        ...Object.fromEntries(handButtons.map((button) => [button, this.actions[button].value])),
      }),
    );
    effect(() => this.#listenToMedia(this.on.value && parts.hub.recording.value));
    // Before any view's own keys.
    addEventListener('keydown', (event) => this.#key(event), { capture: true });
  }

  #key(event: KeyboardEvent): void {
    if (!this.on.value || !this.#parts.hub.recording.value || event.repeat) return;
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const button = buttonOfKey(event.key);
    if (button === undefined || this.actions[button].value === 'nothing') return;
    const target = event.target instanceof Element ? event.target : null;
    if (leftAlone.some((tag) => target?.closest(tag))) return;
    if (button === 'Space' && target?.closest('button, a, summary')) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    this.press(button);
  }

  press(button: HandButton): void {
    const { hub, commands } = this.#parts;
    const action = this.actions[button].value;
    if (action === 'nothing' || !hub.mayAct.value) return;
    const athleteId = this.#whose();
    const model = athleteId === undefined ? undefined : hub.athleteById(athleteId);
    const mark =
      model === undefined ? null : action === 'boundary' ? commands.nextBoundary(model.athleteId) : action;
    if (model !== undefined && mark !== null) commands.mark(model.athleteId, mark);
    this.news.value = {
      number: (this.news.value?.number ?? 0) + 1,
      button,
      name: model?.athlete.value.name ?? '',
      mark,
    };
  }

  /** Whose page is open, else the only one there is: nobody is guessed among several. */
  #whose(): string | undefined {
    const { hub, path } = this.#parts;
    const opened = /^\/live\/([^/]+)$/.exec(path())?.[1];
    if (opened !== undefined) return decodeURIComponent(opened);
    const [only, ...others] = hub.athletes.value;
    return others.length === 0 ? only?.athleteId : undefined;
  }

  #listenToMedia(listens: boolean): void {
    const { mediaSession } = navigator as { readonly mediaSession?: MediaSession };
    if (mediaSession === undefined) return;
    for (const [action, button] of Object.entries(mediaActions))
      try {
        mediaSession.setActionHandler(
          action as MediaSessionAction,
          listens ? () => this.#media(button) : null,
        );
      } catch {
        // A browser that does not know this button has none to hand on.
      }
    if (listens) {
      this.#silence ??= Object.assign(new Audio('/silence.wav'), { loop: true });
      // Before a first touch browsers let nothing play; `unlock` tries again.
      void this.#silence.play().catch(() => undefined);
    } else this.#silence?.pause();
  }

  /** After a person's gesture. */
  unlock(): void {
    if (this.#silence?.paused === true && this.on.value && this.#parts.hub.recording.value)
      void this.#silence.play().catch(() => undefined);
  }

  #media(button: HandButton): void {
    this.press(button);
    // A pause would end the session by which the next press comes.
    this.unlock();
  }
}
