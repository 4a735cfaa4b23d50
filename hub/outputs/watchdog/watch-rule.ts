// When a hub that says nothing has stopped: from the words it sends and the time they came, without a clock of its own.

/** `round`: it went round with a session running; `idle`: without one; `end`: it stops in order. */
export type HubWord = 'round' | 'idle' | 'end';

/** What the watchdog writes back for each piece of words that it has read. */
export const heardAnswer = 'h';
/** How often the hub speaks. Our choice: the alarm path goes round forty times a second. */
export const wordEveryMs = 250;
/** Eight words missed. Our choice: output within 3 s, and no false alarm from a hub that is busy for a second. */
export const silenceMs = 2_000;
/** After this the watchdog falls silent, whatever the hub does: by then nobody is near, or everybody knows. Our choice. */
export const soundAtMostMs = 300_000;

/**
 * A hub that has said nothing for so long does not come back by itself in time: where something starts it anew it is ended. Our
 * choice: twice the silence at which it sounds, longer than any stall measured (`stalls-results.json`), and back within 10 s.
 */
export const hungMs = 4_000;

export type WatchState = 'waiting' | 'well' | 'silent' | 'sounding' | 'ended';

/** What has happened, for the log. */
export interface WatchNews {
  readonly what: 'stopped' | 'gone' | 'goesOn' | 'givesUp' | 'idleStopped';
  /** Since the last word. */
  readonly silentMs: number;
}

export class WatchRule {
  #state: WatchState = 'waiting';
  #lastWordAtMs = 0;
  #monitored = false;
  #soundingSinceMs = 0;
  #isGone = false;

  get state(): WatchState {
    return this.#state;
  }

  get sounds(): boolean {
    return this.#state === 'sounding';
  }

  /** It lives and says nothing: to be ended, where something starts it anew. */
  isHung(atMs: number): boolean {
    const isSilent = this.#state === 'sounding' || this.#state === 'silent';
    return isSilent && !this.#isGone && atMs - this.#lastWordAtMs >= hungMs;
  }

  /** The hub said this. */
  word(word: HubWord, atMs: number): WatchNews | undefined {
    const before = this.#state;
    const silentMs = atMs - this.#lastWordAtMs;
    this.#lastWordAtMs = atMs;
    if (before === 'ended') return undefined;
    this.#monitored = word === 'round';
    this.#state = word === 'end' ? 'ended' : 'well';
    return before === 'sounding' || before === 'silent' ? { what: 'goesOn', silentMs } : undefined;
  }

  /** The pipe to the hub has ended: without a farewell it was killed. */
  pipeEnded(atMs: number): WatchNews | undefined {
    this.#isGone = true;
    if (this.#state === 'ended' || this.#state === 'waiting') {
      this.#state = 'ended';
      return undefined;
    }
    const silentMs = atMs - this.#lastWordAtMs;
    if (!this.#monitored) {
      this.#state = 'ended';
      return { what: 'gone', silentMs };
    }
    if (this.#state !== 'sounding') this.#soundingSinceMs = atMs;
    this.#state = 'sounding';
    return { what: 'gone', silentMs };
  }

  time(atMs: number): WatchNews | undefined {
    const silentMs = atMs - this.#lastWordAtMs;
    if (this.#state === 'well' && silentMs >= silenceMs) {
      this.#state = this.#monitored ? 'sounding' : 'silent';
      this.#soundingSinceMs = atMs;
      return { what: this.#monitored ? 'stopped' : 'idleStopped', silentMs };
    }
    if (this.#state === 'sounding' && atMs - this.#soundingSinceMs >= soundAtMostMs) {
      this.#state = 'silent';
      return { what: 'givesUp', silentMs };
    }
    return undefined;
  }
}

/**
 * Words without an answer after which a watchdog is taken for hung, 2 s of a hub that goes round. Counted in words, not in
 * time: a hub that stood still itself must not end a watchdog that is well. Our choice.
 */
const mostUnanswered = 8;
/** A process that has just been started reads its program first; a loaded machine takes seconds for that. Our choice. */
const mostUnansweredAtStart = 80;

/** Whether a watchdog still listens, from the words sent to it and its answers. */
export class ListenerRule {
  #unanswered = 0;
  #everAnswered = false;

  get everAnswered(): boolean {
    return this.#everAnswered;
  }

  /** Another word is sent; answers whether the watchdog has hung. */
  said(): boolean {
    this.#unanswered += 1;
    return this.#unanswered > (this.#everAnswered ? mostUnanswered : mostUnansweredAtStart);
  }

  answered(): void {
    this.#unanswered = 0;
    this.#everAnswered = true;
  }
}
