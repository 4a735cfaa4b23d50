// Notices that two people seem to wear each other's sensors: one's strap beats with the other's oximeter and the other way
// round, for long enough. Of two people whose hearts beat alike it can say nothing.

import type { MonotonicMs } from '../../shared/units.ts';

/** Whose signal it is taken for, and where it comes from. */
export interface PulseReading {
  readonly athleteId: string;
  readonly from: 'strap' | 'oximeter';
  readonly atMs: MonotonicMs;
  readonly bpm: number;
}

/** Two whose signals look exchanged, in the order in which they were first heard of. */
export type ExchangedPair = readonly [athleteId: string, athleteId: string];

export interface ExchangedSignals {
  /** In order of time for each athlete and source. */
  push(reading: PulseReading): void;
  /** What was heard of them says nothing any more: they left, or wear other sensors. */
  forget(athleteId: string): void;
  /** Those who look exchanged at `nowMs`. To be asked about every 5 s. */
  look(nowMs: MonotonicMs): readonly ExchangedPair[];
}

/**
 * Compared over this long. Chosen, with the three below, on 26 people with an electrocardiogram and an oximeter (8 min each,
 * all 325 pairs; tests/core/signal/exchanged-signals-real.test.ts): every pair 8 /min apart or more was found crossed,
 * 65 s after the start at the median, of closer ones 55 in 98, and in 43 h of pairs not crossed there was no warning. A minute also outlasts an oximeter's averaging
 * (4.14) and one breath's swing of the pulse.
 */
const windowS = 60;
/** So much of it must be there of all four signals. */
const leastShare = 0.75;
/** Crosswise they agree within this, /min: pulse rate is declared to 3 /min (4.03), and a beat is averaged differently. */
const agreeWithinBpm = 5;
/** Each own pair must disagree by this much more than the worse of the crosswise ones, /min. */
const clearerByBpm = 3;
/** For so long without a break. */
const lastingMs = 20_000;
/** An oximeter's pulse rate may trail the strap's by some of its averaging, s. */
const lagsS = [0, 3, 6] as const;
/** One wild reading counts for no more than this, /min. */
const mostApartBpm = 40;

/** A minute and the largest lag, by the second. */
const keptS = windowS + 8;

/** The last reading of each second. */
class SecondValues {
  readonly #bpm = new Float64Array(keptS).fill(Number.NaN);
  #newestS = Number.NEGATIVE_INFINITY;

  set(atS: number, bpm: number): void {
    if (atS <= this.#newestS - keptS) return;
    const fromS = Math.max(this.#newestS + 1, atS - keptS + 1);
    for (let s = fromS; s < atS; s += 1) this.#bpm[s % keptS] = Number.NaN;
    this.#bpm[atS % keptS] = bpm;
    this.#newestS = Math.max(this.#newestS, atS);
  }

  /** NaN where nothing was read. */
  at(atS: number): number {
    return atS < 0 || atS > this.#newestS || atS <= this.#newestS - keptS
      ? Number.NaN
      : this.#bpm[atS % keptS]!;
  }
}

interface Heard {
  readonly strap: SecondValues;
  readonly oximeter: SecondValues;
}

/** How far apart they are at the lag that suits them best, /min; undefined where too little is there. */
function apart(strap: SecondValues, oximeter: SecondValues, nowS: number): number | undefined {
  let best: number | undefined;
  for (const lagS of lagsS) {
    let sum = 0;
    let count = 0;
    for (let s = nowS - windowS + 1; s <= nowS; s += 1) {
      const difference = Math.abs(strap.at(s - lagS) - oximeter.at(s));
      if (Number.isNaN(difference)) continue;
      sum += Math.min(mostApartBpm, difference);
      count += 1;
    }
    if (count >= leastShare * windowS && (best === undefined || sum / count < best)) best = sum / count;
  }
  return best;
}

function lookExchanged(one: Heard, other: Heard, nowS: number): boolean {
  const oneCross = apart(one.strap, other.oximeter, nowS);
  const otherCross = apart(other.strap, one.oximeter, nowS);
  if (oneCross === undefined || otherCross === undefined) return false;
  const cross = Math.max(oneCross, otherCross);
  if (cross > agreeWithinBpm) return false;
  const oneOwn = apart(one.strap, one.oximeter, nowS);
  const otherOwn = apart(other.strap, other.oximeter, nowS);
  return oneOwn !== undefined && otherOwn !== undefined && Math.min(oneOwn, otherOwn) - cross >= clearerByBpm;
}

/** Constant memory an athlete. Deterministic. */
export function createExchangedSignals(): ExchangedSignals {
  const heard = new Map<string, Heard>();
  const sinceMs = new Map<string, number>();
  const keyOf = (one: string, other: string): string => JSON.stringify([one, other]);

  return {
    push({ athleteId, from, atMs, bpm }) {
      let own = heard.get(athleteId);
      if (own === undefined) {
        own = { strap: new SecondValues(), oximeter: new SecondValues() };
        heard.set(athleteId, own);
      }
      own[from].set(Math.floor(atMs / 1_000), bpm);
    },
    forget(athleteId) {
      heard.delete(athleteId);
      for (const key of sinceMs.keys())
        if ((JSON.parse(key) as string[]).includes(athleteId)) sinceMs.delete(key);
    },
    look(nowMs) {
      const nowS = Math.floor(nowMs / 1_000);
      const found: ExchangedPair[] = [];
      const people = [...heard];
      for (const [index, [one, ofOne]] of people.entries())
        for (const [other, ofOther] of people.slice(index + 1)) {
          const key = keyOf(one, other);
          if (!lookExchanged(ofOne, ofOther, nowS)) {
            sinceMs.delete(key);
            continue;
          }
          const since = sinceMs.get(key) ?? nowMs;
          sinceMs.set(key, since);
          if (nowMs - since >= lastingMs) found.push([one, other]);
        }
      return found;
    },
  };
}
