// A coach's short messages to athletes: shown at once, or when the athlete neither holds nor recovers any more. The last
// one to each athlete stands until they have seen it.

import type { CoachWords } from '../../../shared/course.ts';
import { failed, ok, type Result } from '../../../src/result.ts';
import type { Clock } from '../../base/ports/clock.ts';
import type { Refusal } from '../../base/refusal.ts';
import type { LiveEvent } from '../live-event.ts';
import { refusals } from '../refusals.ts';

export interface CoachMailParts {
  readonly clock: Pick<Clock, 'wallNowMs'>;
  readonly makeId: () => string;
  /** In a hold or the recovery after it. */
  readonly isToBeLeftAlone: (athleteId: string) => boolean;
  readonly changed: (words: CoachWords) => void;
}

export class CoachMail {
  readonly #parts: CoachMailParts;
  readonly #last = new Map<string, CoachWords>();

  constructor(parts: CoachMailParts) {
    this.#parts = parts;
  }

  /** Those that still stand. */
  get standing(): readonly CoachWords[] {
    return [...this.#last.values()];
  }

  send(athleteId: string, text: string, insists: boolean, by: string): CoachWords {
    const { clock, makeId, isToBeLeftAlone } = this.#parts;
    const waits = !insists && isToBeLeftAlone(athleteId);
    const words: CoachWords = {
      wordsId: makeId(),
      athleteId,
      text,
      by,
      sentWallAtMs: clock.wallNowMs(),
      state: waits ? 'waiting' : 'shown',
    };
    this.#take(words);
    return words;
  }

  seen(athleteId: string, wordsId: string): Result<true, Refusal> {
    const words = this.#last.get(athleteId);
    if (words?.wordsId !== wordsId || words.state === 'waiting') return failed<Refusal>(refusals.noWords);
    this.#last.delete(athleteId);
    this.#parts.changed({ ...words, state: 'seen' });
    return ok<true>(true);
  }

  readonly hear = (event: LiveEvent): void => {
    if (event.type === 'sessionEnded') this.#deliver(() => true);
    else if (event.type === 'phase' || event.type === 'athleteLeft')
      this.#deliver((athleteId) => athleteId === event.athleteId);
  };

  #deliver(isMeant: (athleteId: string) => boolean): void {
    for (const words of this.standing)
      if (
        words.state === 'waiting' &&
        isMeant(words.athleteId) &&
        !this.#parts.isToBeLeftAlone(words.athleteId)
      )
        this.#take({ ...words, state: 'shown' });
  }

  #take(words: CoachWords): void {
    this.#last.set(words.athleteId, words);
    this.#parts.changed(words);
  }
}
