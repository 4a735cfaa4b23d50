// Summaries of ended sessions that are still to be worked out: a few at a time, those asked for last first, each kept in the
// store. Nothing is begun while a session is recorded: an alarm must not even wait for a disk that is read for this.

import { availableParallelism } from 'node:os';
import type { HubStore } from '../base/ports/hub-store.ts';
import { keyOf } from './derivations.ts';
import type { RecordedSessions } from './recorded-sessions.ts';

/**
 * Threads to work summaries out in, at most four: they are there while no session runs, and for moments only. Linux gives
 * each the lowest claim to a processor (review-worker.ts); elsewhere one is left for everything else.
 */
export const summaryThreads = Math.max(
  1,
  Math.min(4, availableParallelism() - (process.platform === 'linux' ? 0 : 1)),
);

export interface SummaryWorkParts {
  readonly store: Pick<HubStore, 'readSession' | 'saveSummary' | 'stateOf'>;
  readonly recordings: Pick<RecordedSessions, 'summarise' | 'changeOf' | 'isWorkedOut'>;
  /** The rules by which they are made. */
  readonly madeBy: string;
  /** False while a session is recorded. */
  readonly mayWork: () => boolean;
  /** How many at a time: one a thread, and one more that is being read. */
  readonly atOnce: number;
  readonly warn: (message: string, error: unknown) => void;
}

export interface PartOfSession {
  readonly sessionId: string;
  readonly athleteId: string;
}

interface Wanted extends PartOfSession {
  readonly done: Promise<void>;
  readonly resolve: () => void;
}

export class SummaryWork {
  readonly #parts: SummaryWorkParts;
  /** By key, in the order in which they are to be begun. */
  readonly #waiting = new Map<string, Wanted>();
  readonly #underWay = new Map<string, Wanted>();
  /** Sessions that could not be read: tried once in the life of a hub, not at every question. */
  readonly #unreadable = new Set<string>();
  #closed = false;

  constructor(parts: SummaryWorkParts) {
    this.#parts = parts;
  }

  /** The rules by which they are made. */
  get madeBy(): string {
    return this.#parts.madeBy;
  }

  /** Nothing is begun while a session is recorded. */
  get mayWork(): boolean {
    return this.#parts.mayWork();
  }

  isUnreadable(sessionId: string, athleteId: string): boolean {
    return this.#unreadable.has(keyOf(sessionId, athleteId));
  }

  /** Puts them before all that waits, in the order given, and resolves when they are done, whether kept or unreadable. */
  async want(parts: readonly PartOfSession[]): Promise<void> {
    if (this.#closed) return;
    const before = new Map(this.#waiting);
    this.#waiting.clear();
    const asked = parts.flatMap(({ sessionId, athleteId }) => {
      const key = keyOf(sessionId, athleteId);
      if (this.#unreadable.has(key)) return [];
      const known = this.#underWay.get(key);
      if (known !== undefined) return [known];
      const wanted = before.get(key) ?? newlyWanted(sessionId, athleteId);
      this.#waiting.set(key, wanted);
      return [wanted];
    });
    for (const [key, wanted] of before) if (!this.#waiting.has(key)) this.#waiting.set(key, wanted);
    this.goOn();
    await Promise.all(asked.map(({ done }) => done));
  }

  /**
   * Keeps at once, be it beside a session, the summary of what a person has just had worked out, and resolves when it is kept:
   * nothing is read for it that was not just read. What is not at hand is wanted.
   */
  async keep(part: PartOfSession): Promise<void> {
    const { sessionId, athleteId } = part;
    if (this.#parts.recordings.isWorkedOut(sessionId, athleteId)) await this.#summarise(part);
    else void this.want([part]);
  }

  /** Begins what may be begun. Call when a session has ended. */
  goOn(): void {
    const { atOnce, mayWork } = this.#parts;
    while (!this.#closed && this.#underWay.size < atOnce && mayWork()) {
      const [next] = this.#waiting;
      if (next === undefined) return;
      const [key, wanted] = next;
      this.#waiting.delete(key);
      this.#underWay.set(key, wanted);
      void this.#workOut(key, wanted);
    }
  }

  close(): void {
    this.#closed = true;
    for (const { resolve } of this.#waiting.values()) resolve();
    this.#waiting.clear();
  }

  async #workOut(key: string, wanted: Wanted): Promise<void> {
    await this.#summarise(wanted);
    this.#underWay.delete(key);
    wanted.resolve();
    this.goOn();
  }

  /** Never rejects. */
  async #summarise({ sessionId, athleteId }: PartOfSession): Promise<void> {
    const { store, recordings, madeBy, warn } = this.#parts;
    try {
      const before = recordings.changeOf(sessionId, athleteId);
      const madeOf = store.stateOf?.(sessionId);
      const summary = await recordings.summarise(sessionId, athleteId);
      // It may have been deleted or corrected meanwhile: then it is missing still, and asked for anew.
      if (
        summary !== undefined &&
        recordings.changeOf(sessionId, athleteId) === before &&
        (await store.readSession(sessionId)) !== undefined
      )
        await store.saveSummary(sessionId, athleteId, madeBy, summary, madeOf);
    } catch (error) {
      if (!this.#closed) {
        warn(`recording ${sessionId} cannot be summarised`, error);
        this.#unreadable.add(keyOf(sessionId, athleteId));
      }
    }
  }
}

function newlyWanted(sessionId: string, athleteId: string): Wanted {
  let resolve: () => void = () => undefined;
  const done = new Promise<void>((yes) => {
    resolve = yes;
  });
  return { sessionId, athleteId, done, resolve };
}
