// Whose is this sensor? One person is asked to take theirs off the skin for ten seconds and put it back: the sensor that
// falls silent and comes back is theirs.

import type { MonotonicMs } from '../../shared/units.ts';

/**
 * `unheard`: nothing usable of it yet, so it can tell nothing. `steady`: it reads. `silent`: it has stopped reading since
 * the person was asked. `answered`: it stopped and reads again.
 */
export type AnswerState = 'unheard' | 'steady' | 'silent' | 'answered';

export interface AnswerWatch {
  /** A packet of the sensor, and whether it held a reading that can be used. In order of time for each sensor. */
  push(sensorId: string, atMs: MonotonicMs, isUsable: boolean): void;
  /** What each sensor heard of has done by `nowMs`. */
  states(nowMs: MonotonicMs): ReadonlyMap<string, AnswerState>;
}

/** Without a usable reading for so long a sensor has stopped: longer than between two of a slow oximeter (1-4 s, 4.14). */
export const silentAfterMs = 5_000;

interface Heard {
  usableAtMs: number;
  answered: boolean;
}

/** Begins when the person is asked. */
export function createAnswerWatch(): AnswerWatch {
  const heard = new Map<string, Heard | null>();
  return {
    push(sensorId, atMs, isUsable) {
      const before = heard.get(sensorId) ?? null;
      if (!isUsable) {
        if (before === null) heard.set(sensorId, null);
        return;
      }
      const isBack = before !== null && atMs - before.usableAtMs >= silentAfterMs;
      heard.set(sensorId, { usableAtMs: atMs, answered: before?.answered === true || isBack });
    },
    states(nowMs) {
      const stateOf = (one: Heard | null): AnswerState => {
        if (one === null) return 'unheard';
        if (nowMs - one.usableAtMs >= silentAfterMs) return 'silent';
        return one.answered ? 'answered' : 'steady';
      };
      return new Map([...heard].map(([sensorId, one]) => [sensorId, stateOf(one)]));
    },
  };
}
