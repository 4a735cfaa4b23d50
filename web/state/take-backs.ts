// What a person has just done and can take back: each stands for a while with what undoes it. No DOM.

import { type ReadonlySignal, type Signal, signal } from '@preact/signals';
import type { Timers } from '../connection/timers.ts';

/** How long each stands when nobody is at it. Our choice: long enough to be read, found by keyboard and thought about. */
export const takeBackStandsMs = 30_000;

/** Answers with why it could not be done, or null. */
export type TakeBackAction = () => Promise<string | null>;

export interface TakeBackOffer {
  /** What was done, one sentence. */
  readonly done: string;
  /** The first is the one that takes it back; the key does it too. */
  readonly actions: readonly { readonly label: string; readonly act: TakeBackAction }[];
  /** After that it cannot be taken back, whether or not somebody is at it; it can for as long as it stands when left out. */
  readonly withinMs?: number;
}

export interface TakeBack extends TakeBackOffer {
  readonly number: number;
  readonly busy: boolean;
  readonly problem: string | null;
}

/** More than that at once nobody reads: the oldest goes. */
const mostAtOnce = 3;

export class TakeBacks {
  readonly #standing: Signal<readonly TakeBack[]> = signal([]);
  readonly #timers: Pick<Timers, 'after'>;
  readonly #stops = new Map<number, () => void>();
  #next = 1;
  #held = false;

  constructor(timers: Pick<Timers, 'after'>) {
    this.#timers = timers;
  }

  /** The newest last. */
  get standing(): ReadonlySignal<readonly TakeBack[]> {
    return this.#standing;
  }

  offer(offer: TakeBackOffer): void {
    const number = this.#next;
    this.#next += 1;
    const standing = [...this.#standing.value, { ...offer, number, busy: false, problem: null }];
    for (const { number: oldest } of standing.slice(0, -mostAtOnce)) this.#stop(oldest);
    this.#standing.value = standing.slice(-mostAtOnce);
    if (offer.withinMs !== undefined || !this.#held) this.#start(number, offer.withinMs ?? takeBackStandsMs);
  }

  /** While somebody is at them, by pointer or keyboard, none goes that need not. */
  hold(isHeld: boolean): void {
    if (isHeld === this.#held) return;
    this.#held = isHeld;
    for (const { number, withinMs } of this.#standing.value) {
      if (withinMs !== undefined) continue;
      this.#stop(number);
      if (!isHeld) this.#start(number, takeBackStandsMs);
    }
  }

  async act(number: number, index = 0): Promise<void> {
    const found = this.#standing.value.find((each) => each.number === number);
    const action = found?.actions[index];
    if (action === undefined || found?.busy === true) return;
    this.#change(number, { busy: true, problem: null });
    const problem = await action.act();
    if (problem === null) this.dismiss(number);
    else this.#change(number, { busy: false, problem });
  }

  /** The newest, by the key. Answers whether there was one. */
  actOnNewest(): boolean {
    const newest = this.#standing.value.at(-1);
    if (newest === undefined) return false;
    void this.act(newest.number);
    return true;
  }

  dismiss(number: number): void {
    this.#stop(number);
    this.#standing.value = this.#standing.value.filter((each) => each.number !== number);
    if (this.#standing.value.length === 0) this.#held = false;
  }

  #change(number: number, part: Partial<TakeBack>): void {
    this.#standing.value = this.#standing.value.map((each) =>
      each.number === number ? { ...each, ...part } : each,
    );
  }

  #start(number: number, afterMs: number): void {
    this.#stops.set(
      number,
      this.#timers.after(afterMs, () => this.dismiss(number)),
    );
  }

  #stop(number: number): void {
    this.#stops.get(number)?.();
    this.#stops.delete(number);
  }
}
