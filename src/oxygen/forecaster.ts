// The live forecast of one athlete: from the readings of a hold so far, the lowest reading to expect if breathing began
// now and the seconds left until it must. Says "not known yet" while the readings say nothing. No clock, no randomness.

import { floorRangePercent, type HoldLungs, type SampleQuality } from '../../shared/schema-parts.ts';
import type { MonotonicMs } from '../../shared/units.ts';
import type { Boundary } from '../holds/hold.ts';
import { selectPlace } from '../signal/order-statistics.ts';
import { type AthletePrior, populationPrior, taughtBy } from './athlete-prior.ts';
import type { Forecast, NoForecast } from './forecast.ts';
import { type Foresight, foresee } from './foresight.ts';
import { createHeartRateRise } from './heart-rate-rise.ts';
import { HoldPosterior } from './hold-posterior.ts';
import { createLungsSaid } from './lungs-said.ts';
import { createMovementDip } from './movement-dip.ts';
import { centralShares, type Quantiles, type Shares } from './weighted-quantiles.ts';

/** In time order, but for samples a little late. The floor comes with `settings`. */
export type ForecasterEvent =
  | {
      readonly type: 'spo2';
      readonly atMs: MonotonicMs;
      readonly spo2Percent: number;
      readonly quality: SampleQuality;
    }
  /** Of a fall that nobody announced, whether the heart says that somebody breathes; the fall itself is read off the saturation. */
  | {
      readonly type: 'heartRate';
      readonly atMs: MonotonicMs;
      readonly heartRateBpm: number;
      readonly quality: SampleQuality;
    }
  | { readonly type: 'holdStarted'; readonly atMs: MonotonicMs; readonly start: StartOfHold }
  | { readonly type: 'holdRevised'; readonly atMs: MonotonicMs; readonly start: StartOfHold }
  | { readonly type: 'holdEnded'; readonly atMs: MonotonicMs; readonly endedAtMs: MonotonicMs }
  /** There was no hold: nothing is learnt from it. */
  | { readonly type: 'holdWithdrawn'; readonly atMs: MonotonicMs }
  /** Somebody said how full the lungs are, of the hold under way, else of the next one; undefined takes it back. */
  | { readonly type: 'lungs'; readonly atMs: MonotonicMs; readonly lungs: HoldLungs | undefined }
  | { readonly type: 'settings'; readonly atMs: MonotonicMs; readonly floorSpo2Percent: number }
  /** What was told so far had taught its lesson before: from now on holds teach. Only with `taughtBefore`. */
  | { readonly type: 'learnOn'; readonly atMs: MonotonicMs }
  | { readonly type: 'advance'; readonly atMs: MonotonicMs };

/** What of a `Boundary` counts here. `uncertaintyMs` is one standard deviation; 0 for a mark. */
export type StartOfHold = Pick<Boundary, 'atMs' | 'uncertaintyMs'>;

export interface ForecasterOptions {
  readonly floorSpo2Percent?: number;
  /** What earlier holds of this athlete taught; the population when left out. */
  readonly prior?: AthletePrior;
  /** The prior knows already what holds teach until `learnOn`. */
  readonly taughtBefore?: boolean;
}

export interface Forecaster {
  /** Takes in one event and answers the forecast as it now stands; the same object while it is unchanged. */
  push(event: ForecasterEvent): Forecast;
  readonly forecast: Forecast;
  /** What is known of the athlete so far; keep it and give it to the next session. */
  readonly prior: AthletePrior;
}

/**
 * Chance of falling below the floor, once more time to react has passed, at which stopping is advised. Our choice, after seeds 1 to
 * 4 of the foreign generators, start marked and lungs said: the goal is that 95 of 100 holds keep the floor with each filling, on
 * either generator, also of who is known for three days (tests/bench/README.md). Where nobody said how full the lungs are, emptied
 * ones are what is found too late. What is shown reaches as far as the advice looks: its low end is at the floor when the accepted
 * chance is.
 */
const acceptedRisks = { full: 0.04, half: 0.06, emptied: 0.04, unsaid: 0.04 } as const;
const acceptedRiskOf = (lungs: HoldLungs | undefined): number => acceptedRisks[lungs ?? 'unsaid'];
const shownSharesOf = (lungs: HoldLungs | undefined): Shares => {
  const risk = acceptedRiskOf(lungs);
  return [risk, 0.5, 1 - risk];
};
/** The advice looks this far ahead, so that a person has time to react. Our choice: beyond the 1 to 2 s that the benches take. */
const reactionS = 3;
/** An oximeter that shows whole percents shows the floor down to half a point below it. */
const shownAsFloorPercent = 0.5;
/**
 * Before the display has visibly fallen, a small chance rests on the prior's tail alone, which moves with every
 * reading: then only a plain chance counts. Our choice; for high floors the fall asked for is a share of what is left.
 */
const adviceFallPercent = 2.5;
const adviceFallShare = 0.3;
const plainRisk = 0.25;
/**
 * Nobody said how full the lungs are: they may be emptied, and the accepted chance itself counts. Our choice, after seeds 1 and 2 of the
 * foreign generators: with 0.05 and 0.06 up to a tenth fewer emptied holds keep the floor, and full ones are told no later.
 */
const plainRiskUnsaid = acceptedRisks.unsaid;
/** With lungs that were said not to be full the fall comes before the display can show it: physiology alone counts sooner. Our choice. */
const plainRiskNotFull = 0.06;
/** The chance must stay so long, against a single reading's noise. Our choice. */
const riskPersistenceS = 0.9;
/** Readings older than this before a hold are not its resting reading. */
const restWindowS = 60;
/** So many readings make a mean. What lies further below the highest ten of that time is not of rest. Our choice: noise and rounding are less, a display on its way back is more. */
const leastRestReadings = 10;
const restSpreadPercent = 2;
/** A forecast rests on readings no older than this. Reference 4.14: 1-4 s between notifications. */
const staleS = 8;
/** The hold's readings are watched this long after its end, to learn the lag. Reference 3.27: nadir at 15-35 s. */
const learnAfterEndS = 60;
/** Known: a fall of a point in the blood is this likely, and the interval is no wider than this. Our choice. */
const fallingShare = 0.8;
const widestIntervalPercent = 9;
/**
 * So much of the central 80 % is stated where emptied lungs were said: their curves are kept wide for the advice. Our choice: 90 of 100 lowest
 * readings of the three simulators beside the forecast (SIMULATED) lie above the low end of 0.68 and below the high end of 0.75 of it; the wider.
 */
const statedShareOfEmptied = 0.75;
/**
 * Where nobody said the lungs, the forecast is surer of their state than it may be: its interval held the truth in 0.63 to 0.84 of the last half-minutes of
 * two foreign simulators (seeds 20 and 21, SIMULATED), which normal errors would have in one of 0.9 to 1.4 times its width. The widest.
 */
const statedShareOfUnsaid = 1.4;
/** Or the reading itself has fallen so far from its height in this hold. */
const visibleFallPercent = 1.5;

/** While a movement hides the reading, the level counts as falling so fast, points a second. Our choice: a usual fall (references 3.05, 3.11). */
const unseenFallPerS = 0.2;

/**
 * A fall that nobody announced: the level (median of five) is two points under its height of the last minute, was
 * one point under it ten seconds ago, and is not rising. Then a hold is assumed to have begun some time before, so
 * that the forecast does not hang on a detector. Our choice; a movement is over sooner and rises again.
 */
const unannouncedFallPercent = 2;
const unannouncedAfterS = 10;
/** The fall happened within this: rest drifts by 2 points too, but over minutes (our choice). */
const heightWindowS = 60;
/** A probe that has just been put on settles: real readings began at 98 % and came to 94 % within half a minute. Our choice. */
const settledAfterS = 60;
const assumedStartBeforeS: Readonly<Record<HoldLungs | 'unsaid', number>> = {
  unsaid: 80,
  full: 80,
  half: 60,
  emptied: 40,
};
const assumedUncertaintyS = 35;
const startLaterS: Readonly<Record<HoldLungs, number>> = {
  full: 0,
  half: assumedStartBeforeS.unsaid - assumedStartBeforeS.half,
  emptied: assumedStartBeforeS.unsaid - assumedStartBeforeS.emptied,
};
/** ... and no reading of these last seconds jumped by more than so many points: that would be a movement. Our choice. */
const smoothWindowS = 25;
const smoothStepPercent = 1;
/**
 * Who says that there is a hold: somebody or a detector; who said how full the lungs are, and then a fall came; the fall alone, of
 * somebody who was at a usual saturation; the fall alone, of somebody who was lower. The last three are assumed: they end by
 * themselves and teach nothing.
 */
type HoldBasis = 'named' | 'lungsSaid' | 'fall' | 'fallFromLow';
/**
 * Accepted chance in a hold that only the fall itself names, and how far it looks ahead: it may be none, and its start, its lungs and so its
 * lag are the least known. Then the level must also have fallen by so much in the last ten and twenty seconds, because people who breathe
 * stay where a dip has brought them. Our choice, after real recordings of people who breathe (npm run bench:accuracy -- --only real): 3
 * points in 20 s missed a fifth of the foreign simulators' holds and spared real people nothing.
 */
const fallAlone = {
  fall: { risk: 0.25, aheadS: 6 },
  fallFromLow: { risk: 0.35, aheadS: 9 },
  fallingPercent: 1,
  fallen20sPercent: 2,
} as const;
/**
 * A person's usual saturation: the middle of the last minutes but the newest seconds. At rest people rise by 2 or 3 points for half a
 * minute and fall back: that is no fall, so it must lead so far below the usual. Our choice, after real recordings (noneeg, 6.4 h at rest and
 * moving): with nothing said 2.5 and 3 took one such fall for a hold, 4 none. Who said how full the lungs are and held nothing all the while
 * would be called 7 times with 3 (full lungs; without this rule 13), and 33 times with 2 (emptied; without 183): later, and
 * fewer of those who hold on emptied lungs keep the floor.
 */
const usualUntilAgoMs = 30_000;
const belowUsualPercent = { nothingSaid: 4, lungsSaid: 3, emptied: 2 } as const;
/** For high floors a share of what is left: the advice must not wait for the floor itself. Our choice. */
const belowUsualShare = 0.5;
/** Below this it is thin air or illness, where saturation wanders (controlled-desaturation, usually 87 to 92 %): the curves bend there as they did. Our choice. */
const leastUsualPercent = 93;
/** With a start that is only assumed a curve's slope may be so much wronger, where the lungs were said. Our choice, after the benches. */
const slopeErrorOfLungsSaid = 1.5;
/** An assumed hold is dropped when the level has risen so far from its lowest. Our choice. */
const assumedOverPercent = 2;

/** An end may be told this many readings late. */
const mostExpected = 60;
/** A hold that fell less does not say how well a fall is foreseen. Our choice. */
const judgedFallPercent = 4;

/** For one level at a time, of five readings. */
const levelRoom = new Float64Array(5);
/** For one usual saturation at a time, of all readings kept: several a second where a sensor sends a wave with each. */
let usualRoom = new Float64Array(512);

interface Reading {
  readonly atMs: number;
  readonly percent: number;
  readonly trust: number;
  /** Tells a hold nothing (movement-dip.ts). */
  readonly isOfDip: boolean;
}

interface Hold {
  basis: HoldBasis;
  startMs: number;
  uncertaintyS: number;
  endMs: number | undefined;
  /** As said, or undefined. */
  lungs: HoldLungs | undefined;
  posterior: HoldPosterior;
  /** Slow mean of the readings and the highest it has been. */
  level: number | undefined;
  height: number;
  /** When the newest reading came. */
  newestMs: number | undefined;
  /** Of an assumed hold. */
  lowest: number;
  /** The two lowest good readings so far: one alone may be an error. */
  lowestGood: readonly [number, number];
  /** Since when the chance has been too high. */
  riskySinceS: number | undefined;
  /** Of the advice to stop, once it has been given: with lungs full or half full there would be no hurry yet. Stays false. */
  onlyIfEmptied: boolean | undefined;
  /** What was expected of the newest times to breathe, oldest first: judged by the lowest reading after the end. */
  readonly expected: { readonly atS: number; readonly lowest: Quantiles }[];
}

/** Makes a forecaster. Cheap to keep: one per athlete, well under 2 ms an update on a laptop (`bench:alarm` says). */
export function createForecaster(options: ForecasterOptions = {}): Forecaster {
  return new LiveForecaster(options);
}

class LiveForecaster implements Forecaster {
  #floorPercent: number;
  #prior: AthletePrior;
  #learns: boolean;
  #nowMs = 0;
  /** Readings of the last minutes, for a hold that is told of late. */
  #recent: Reading[] = [];
  #hold: Hold | undefined;
  readonly #said = createLungsSaid();
  readonly #heart = createHeartRateRise();
  readonly #dip = createMovementDip();
  #foresight:
    | { readonly prior: AthletePrior; readonly floorPercent: number; readonly value: Foresight }
    | undefined;
  #forecast: Forecast = unknown('noHold');

  constructor(options: ForecasterOptions) {
    this.#floorPercent = options.floorSpo2Percent ?? floorRangePercent.initial;
    this.#prior = options.prior ?? populationPrior;
    this.#learns = options.taughtBefore !== true;
  }

  get forecast(): Forecast {
    return this.#forecast;
  }

  get prior(): AthletePrior {
    return this.#prior;
  }

  push(event: ForecasterEvent): Forecast {
    this.#nowMs = Math.max(this.#nowMs, event.atMs);
    switch (event.type) {
      case 'spo2':
        this.#reading(event.spo2Percent, event.quality);
        break;
      case 'holdStarted':
      case 'holdRevised':
        this.#begin(event.start.atMs, event.start.uncertaintyMs / 1000);
        break;
      case 'holdEnded':
        this.#end(event.endedAtMs);
        break;
      case 'holdWithdrawn':
        this.#hold = undefined;
        break;
      case 'lungs':
        this.#said.say(this.#nowMs, event.lungs);
        this.#heedLungs();
        break;
      case 'settings':
        this.#floorPercent = event.floorSpo2Percent;
        break;
      case 'learnOn':
        this.#learns = true;
        break;
      case 'heartRate':
        if (event.quality === 'good') this.#heart.push(this.#nowMs, event.heartRateBpm);
        break;
      case 'advance':
        break;
    }
    const hold = this.#hold;
    if (hold?.endMs !== undefined && this.#nowMs - hold.endMs > learnAfterEndS * 1000) this.#learn(hold);
    // Time alone brings nothing new but that readings have stopped.
    if ((event.type === 'advance' && !this.#isStale()) || event.type === 'heartRate') return this.#forecast;
    const answer = this.#answer();
    const foresight = this.#foresee();
    const next = foresight === undefined ? answer : { ...answer, foresight };
    const same =
      !next.known &&
      !this.#forecast.known &&
      next.reason === this.#forecast.reason &&
      foresight === this.#forecast.foresight;
    if (!same) this.#forecast = next;
    return this.#forecast;
  }

  /** Of the hold under way, else of the next one; the same object while nothing it rests on has changed. */
  #foresee(): Foresight | undefined {
    const hold = this.#hold?.endMs === undefined ? this.#hold : undefined;
    const lungs = hold === undefined ? this.#said.next(this.#nowMs) : hold.lungs;
    if (lungs === undefined) {
      this.#foresight = undefined;
      return undefined;
    }
    const known = this.#foresight;
    const isCurrent =
      known?.prior === this.#prior &&
      known.floorPercent === this.#floorPercent &&
      known.value.lungs === lungs;
    if (isCurrent) return known.value;
    const value = foresee(this.#prior, lungs, this.#floorPercent);
    this.#foresight = { prior: this.#prior, floorPercent: this.#floorPercent, value };
    return value;
  }

  #end(endedAtMs: number): void {
    const hold = this.#hold;
    if (hold === undefined || hold.endMs !== undefined) return;
    // Lungs that were said after the end are those of the next hold.
    this.#heedLungs(endedAtMs);
    const ended = this.#hold!;
    ended.endMs = Math.max(ended.startMs, endedAtMs);
    ended.posterior.setEnd((ended.endMs - ended.startMs) / 1000);
    this.#said.ended(ended.endMs);
  }

  #lungsOf(startMs: number, untilMs: number, assumed: boolean): HoldLungs | undefined {
    return assumed ? this.#said.ofFall(startMs, untilMs) : this.#said.of(startMs, untilMs);
  }

  /** The hold under way is followed anew when its lungs turn out to be others. */
  #heedLungs(untilMs: number = this.#nowMs): void {
    const hold = this.#hold;
    if (hold === undefined || hold.endMs !== undefined) return;
    if (this.#lungsOf(hold.startMs, untilMs, hold.basis !== 'named') === hold.lungs) return;
    this.#follow(hold.startMs, hold.uncertaintyS, hold.basis !== 'named', untilMs);
  }

  #reading(percent: number, quality: SampleQuality): void {
    if (quality === 'bad' || !(percent > 0 && percent <= 100)) return;
    const reading: Reading = {
      atMs: this.#nowMs,
      percent,
      trust: quality === 'good' ? 1 : 0.3,
      isOfDip: this.#dip.isOfDip(this.#nowMs, percent),
    };
    this.#recent.push(reading);
    const oldestMs = this.#nowMs - 240_000;
    if (this.#recent.length > 0 && this.#recent[0]!.atMs < oldestMs - 60_000)
      this.#recent = this.#recent.filter((kept) => kept.atMs >= oldestMs);
    if (this.#hold !== undefined) take(this.#hold, reading);
    this.#watchUnannounced();
  }

  /** Begins or drops an assumed hold. */
  #watchUnannounced(): void {
    const level = this.#levelAt(this.#nowMs);
    if (level === undefined) return;
    const hold = this.#hold;
    if (hold !== undefined && hold.basis !== 'named') {
      hold.lowest = Math.min(hold.lowest, level);
      if (level >= hold.lowest + assumedOverPercent) this.#hold = undefined;
      // It went on for minutes: what is usual has become low.
      else if (hold.basis === 'fall' && this.#basisOf(true, undefined) !== 'fall')
        this.#follow(hold.startMs, hold.uncertaintyS, true, this.#nowMs);
      return;
    }
    if (hold !== undefined || !this.#isSettled()) return;
    const before = this.#levelAt(this.#nowMs - unannouncedAfterS * 1000);
    if (before === undefined || level >= before) return;
    let height = 0;
    for (let agoS = heightWindowS; agoS > unannouncedAfterS; agoS -= 10)
      height = Math.max(height, this.#levelAt(this.#nowMs - agoS * 1000) ?? 0);
    if (height - level < unannouncedFallPercent || height - before < unannouncedFallPercent / 2) return;
    if (!this.#isSmooth()) return;
    const beforeS = assumedStartBeforeS[this.#said.ofFall(this.#nowMs, this.#nowMs) ?? 'unsaid'];
    this.#begin(this.#nowMs - beforeS * 1000, assumedUncertaintyS, true);
  }

  /** Readings have come for long enough to know the height that a fall is measured from. */
  #isSettled(): boolean {
    return this.#nowMs - (this.#recent[0]?.atMs ?? this.#nowMs) >= settledAfterS * 1000;
  }

  /** No reading of the last seconds jumped. */
  #isSmooth(): boolean {
    let later: Reading | undefined;
    for (let index = this.#recent.length - 1; index >= 0; index--) {
      const reading = this.#recent[index]!;
      if (this.#nowMs - reading.atMs > smoothWindowS * 1000) break;
      if (later !== undefined && Math.abs(later.percent - reading.percent) > smoothStepPercent) return false;
      later = reading;
    }
    return true;
  }

  /** Median of the five believed readings up to a time, or undefined when they are older than 10 s or too few. */
  #levelAt(atMs: number): number | undefined {
    let count = 0;
    for (let index = this.#recent.length - 1; index >= 0 && count < levelRoom.length; index--) {
      const { atMs: readAtMs, percent, trust } = this.#recent[index]!;
      if (readAtMs > atMs) continue;
      if (atMs - readAtMs > 10_000) break;
      if (trust === 1) levelRoom[count++] = percent;
    }
    return count < levelRoom.length ? undefined : selectPlace(levelRoom, count, 2);
  }

  #begin(startMs: number, uncertaintyS: number, assumed = false): void {
    const previous = this.#hold;
    const corrects = previous !== undefined && previous.endMs === undefined;
    // A second hold begins before the first was learnt from: what is there must do.
    if (previous?.endMs !== undefined) this.#learn(previous);
    if (corrects && previous.startMs === startMs && previous.uncertaintyS === uncertaintyS) return;
    this.#follow(startMs, uncertaintyS, assumed, this.#nowMs);
  }

  /** Follows a hold from its start, with the readings there are. */
  #follow(startMs: number, uncertaintyS: number, assumed: boolean, lungsUntilMs: number): void {
    const rest = this.#restReadings(startMs, assumed);
    const lungs = this.#lungsOf(startMs, lungsUntilMs, assumed);
    const basis = this.#basisOf(assumed, lungs);
    const hold: Hold = {
      basis,
      startMs,
      uncertaintyS,
      endMs: undefined,
      lungs,
      level: undefined,
      height: 0,
      newestMs: undefined,
      lowest: Number.POSITIVE_INFINITY,
      lowestGood: [100, 100],
      riskySinceS: undefined,
      onlyIfEmptied: undefined,
      expected: [],
      posterior: new HoldPosterior({
        prior: this.#prior,
        startUncertaintyS: uncertaintyS,
        mayMisfit: basis !== 'fallFromLow',
        slopeErrorFactor: basis === 'lungsSaid' ? slopeErrorOfLungsSaid : 1,
        // A fall that shows by now began later the less air there was.
        ...(basis === 'fall' && { startLaterS }),
        ...(lungs !== undefined && { lungs }),
        ...(rest.length >= leastRestReadings && {
          restPercent: rest.reduce((sum, percent) => sum + percent, 0) / rest.length,
        }),
      }),
    };
    this.#hold = hold;
    for (let i = 0; i < this.#recent.length; i++) {
      const reading = this.#recent[i]!;
      if (reading.atMs >= startMs) take(hold, reading);
    }
  }

  /** What was shown at rest before a hold: soon after another the display is on its way back, and what is low in it is none. */
  #restReadings(startMs: number, assumed: boolean): number[] {
    const before = this.#recent
      .filter(({ atMs, trust }) => trust === 1 && atMs <= startMs && atMs >= startMs - restWindowS * 1000)
      .map(({ percent }) => percent);
    // The tenth highest: a spike is no rest either, and ten make a mean.
    const usual = before.toSorted((one, other) => other - one)[leastRestReadings - 1];
    if (assumed || usual === undefined) return before;
    return before.filter((percent) => percent >= usual - restSpreadPercent);
  }

  #basisOf(assumed: boolean, lungs: HoldLungs | undefined): HoldBasis {
    if (!assumed) return 'named';
    if (lungs !== undefined) return 'lungsSaid';
    return this.#usualPercent() >= leastUsualPercent ? 'fall' : 'fallFromLow';
  }

  /** The middle of the believed readings of the last minutes; 0 without any. */
  #usualPercent(): number {
    if (usualRoom.length < this.#recent.length) usualRoom = new Float64Array(2 * this.#recent.length);
    const untilMs = this.#nowMs - usualUntilAgoMs;
    let count = 0;
    for (let i = 0; i < this.#recent.length; i++) {
      const { atMs, percent, trust } = this.#recent[i]!;
      if (trust === 1 && atMs <= untilMs) usualRoom[count++] = percent;
    }
    return count === 0 ? 0 : selectPlace(usualRoom, count, count >> 1);
  }

  #learn(hold: Hold): void {
    // A hold with next to no fall or no readings teaches nothing about the fall.
    const seen = hold.posterior.readingCount >= 20 && hold.endMs !== undefined;
    const holdDurationMs = hold.endMs === undefined ? 0 : hold.endMs - hold.startMs;
    if (this.#learns && seen && hold.basis === 'named' && holdDurationMs >= 15_000) {
      const lowest = { percent: hold.lowestGood[1], holdDurationMs };
      const surprise = surpriseOf(hold, holdDurationMs / 1000);
      this.#prior = taughtBy(this.#prior, hold.posterior.taught(), lowest, surprise);
    }
    this.#hold = undefined;
  }

  #isStale(): boolean {
    const last = this.#recent[this.#recent.length - 1];
    return last === undefined || this.#nowMs - last.atMs > staleS * 1000;
  }

  /** The fall of a hold that may be none is one: likely enough, still going on, no jump, and no quicker heart. */
  #isPlainFall(basis: 'fall' | 'fallFromLow', soon: number): boolean {
    if (soon < fallAlone[basis].risk || !this.#isSmooth() || this.#heart.risenAt(this.#nowMs)) return false;
    const level = this.#levelAt(this.#nowMs);
    const before = this.#levelAt(this.#nowMs - 10_000);
    const longBefore = this.#levelAt(this.#nowMs - 20_000);
    // Sparse readings say nothing of the last seconds: then the chance alone counts.
    if (level === undefined || before === undefined || longBefore === undefined) return true;
    return before - level >= fallAlone.fallingPercent && longBefore - level >= fallAlone.fallen20sPercent;
  }

  /** A fall that nobody and no detector names leads below what is usual; a named hold's need not. */
  #isBelowUsual({ basis, lungs }: Hold): boolean {
    if (basis === 'named' || basis === 'fallFromLow') return true;
    const level = this.#levelAt(this.#nowMs);
    if (level === undefined) return true;
    const asked = basis === 'fall' ? 'nothingSaid' : lungs === 'emptied' ? 'emptied' : 'lungsSaid';
    const usual = this.#usualPercent();
    return (
      usual - level >= Math.min(belowUsualPercent[asked], belowUsualShare * (usual - this.#floorPercent))
    );
  }

  /** Below this the display shows less than the floor. Where lungs may be emptied, whose fall is steep and shown late, and in a hold that may be none: the floor itself. */
  #leastPercent(hold: Hold): number {
    const isSlow = !isFallAlone(hold.basis) && (hold.lungs === 'full' || hold.lungs === 'half');
    const isWhole = isSlow && this.#recent.every(({ percent }) => Number.isInteger(percent));
    return isWhole ? this.#floorPercent - shownAsFloorPercent : this.#floorPercent;
  }

  /** Whether the lowest reading is too likely to fall below the floor if the hold goes on from `atS`. */
  #isRisky(hold: Hold, atS: number): boolean {
    const soon = hold.posterior.chanceBelow(atS + aheadSOf(hold.basis), this.#leastPercent(hold));
    const fallen = hold.height - hold.level!;
    const fallenEnough =
      fallen >= Math.min(adviceFallPercent, adviceFallShare * (hold.height - this.#floorPercent));
    if (isFallAlone(hold.basis))
      return fallenEnough && this.#isPlainFall(hold.basis, soon) && this.#isBelowUsual(hold);
    const isSeen = fallenEnough || (hold.basis === 'named' && soon >= plainRiskOf(hold.lungs));
    return soon >= acceptedRiskOf(hold.lungs) && isSeen && this.#isBelowUsual(hold);
  }

  #answer(): Forecast {
    const hold = this.#hold;
    if (hold === undefined || hold.endMs !== undefined) return unknown('noHold');
    if (hold.level === undefined) return unknown('noReading');
    if (this.#isStale()) return unknown('readingsStopped');
    const atS = (this.#nowMs - hold.startMs) / 1000;
    hold.riskySinceS = this.#isRisky(hold, atS) ? (hold.riskySinceS ?? atS) : undefined;
    const stopAdvised = hold.riskySinceS !== undefined && atS - hold.riskySinceS >= riskPersistenceS;
    const visible = hold.height - hold.level >= visibleFallPercent;
    const isSure = visible || stopAdvised;
    if (!isSure && hold.posterior.chanceFalling(atS) < fallingShare) return stillFlat;
    const lowest = hold.posterior.lowest(atS, centralShares);
    const low = lowest[0];
    const high = lowest[2];
    hold.expected.push({ atS, lowest });
    if (hold.expected.length > mostExpected) hold.expected.shift();
    if (!isSure && high - low > widestIntervalPercent) return stillFlat;
    const central = statedOf(lowest, hold.lungs);
    const { lowestIfStoppedNow, secondsToStop } = this.#shown(hold, atS, stopAdvised);
    return {
      known: true,
      lowestIfStoppedNow: { ...lowestIfStoppedNow, central },
      secondsToStop,
      stopAdvised,
      onlyIfEmptied: this.#isRiskyOnlyIfEmptied(hold, atS, stopAdvised),
    };
  }

  /** Asked while stopping is advised, and kept: an alarm goes on when the advice pauses, and what is said beside it must not flicker. */
  #isRiskyOnlyIfEmptied(hold: Hold, atS: number, stopAdvised: boolean): boolean {
    if (hold.basis !== 'named' || hold.lungs !== undefined || hold.onlyIfEmptied === false) return false;
    if (!stopAdvised) return hold.onlyIfEmptied === true;
    const chance = hold.posterior.chanceBelowUnless('emptied', atS + reactionS, this.#floorPercent);
    hold.onlyIfEmptied = chance < acceptedRisks.unsaid;
    return hold.onlyIfEmptied;
  }

  /** Ranges that fit the advice: both say what can still come of breathing within the time to react. */
  #shown(hold: Hold, atS: number, stopAdvised: boolean) {
    const { posterior } = hold;
    const shownShares = shownSharesOf(hold.lungs);
    const now = posterior.lowest(atS, shownShares);
    const cautious = posterior.lowest(atS + aheadSOf(hold.basis), shownShares)[0];
    // The advice sums chances, the range is a quantile; where they differ by tenths, the advice's word goes.
    const low = stopAdvised ? Math.min(cautious, this.#floorPercent) : cautious;
    const left = posterior.secondsLeft(atS, this.#leastPercent(hold), shownShares);
    return {
      lowestIfStoppedNow: {
        percent: clampPercent(now[1]),
        lowPercent: clampPercent(low),
        highPercent: clampPercent(now[2]),
      },
      secondsToStop: {
        seconds: left[1],
        lowSeconds: stopAdvised ? 0 : Math.max(0, left[0] - reactionS),
        highSeconds: left[2],
      },
    };
  }
}

function take(hold: Hold, reading: Reading): void {
  // What only its fall names is told from a movement by its own rules.
  if (reading.isOfDip && !isFallAlone(hold.basis)) {
    // A fall that is under way goes on unseen: the advice must not wait for the finger.
    const unseenS = Math.min(2, (reading.atMs - (hold.newestMs ?? reading.atMs)) / 1000);
    if (hold.level !== undefined) hold.level -= unseenFallPerS * Math.max(0, unseenS);
    hold.newestMs = reading.atMs;
    return;
  }
  hold.newestMs = reading.atMs;
  const atS = (reading.atMs - hold.startMs) / 1000;
  hold.posterior.push(atS, reading.percent, reading.trust);
  // About five readings of memory: slow enough for one motion spike.
  hold.level =
    hold.level === undefined
      ? reading.percent
      : hold.level + 0.2 * reading.trust * (reading.percent - hold.level);
  if (hold.endMs === undefined) hold.height = Math.max(hold.height, hold.level);
  if (reading.trust === 1 && reading.percent < hold.lowestGood[1]) {
    const [one, two] = hold.lowestGood;
    hold.lowestGood = reading.percent < one ? [reading.percent, one] : [one, Math.min(two, reading.percent)];
  }
}

/**
 * By how many of its own spreads the lowest reading of an ended hold lay off what was expected when it ended. Undefined
 * where nothing was expected then, or the hold fell too little to judge by.
 */
function surpriseOf(hold: Hold, endS: number): number | undefined {
  const then = hold.expected.findLast(({ atS }) => atS <= endS);
  const lowest = hold.lowestGood[1];
  if (then === undefined || endS - then.atS > 3 || hold.height - lowest < judgedFallPercent) return undefined;
  const [low, middle, high] = then.lowest;
  // The central 80 % of a normal distribution is 2.563 spreads wide.
  return (lowest - middle) / Math.max(0.3, (high - low) / 2.563);
}

const isFallAlone = (basis: HoldBasis): basis is 'fall' | 'fallFromLow' =>
  basis === 'fall' || basis === 'fallFromLow';
const aheadSOf = (basis: HoldBasis): number => (isFallAlone(basis) ? fallAlone[basis].aheadS : reactionS);

const plainRiskOf = (lungs: HoldLungs | undefined): number =>
  lungs === undefined ? plainRiskUnsaid : lungs === 'full' ? plainRisk : plainRiskNotFull;

/** The 80 % interval that is stated. Neither the advice nor what a hold teaches rests on it. */
function statedOf([low, middle, high]: Quantiles, lungs: HoldLungs | undefined) {
  const share = lungs === undefined ? statedShareOfUnsaid : lungs === 'emptied' ? statedShareOfEmptied : 1;
  return {
    lowPercent: clampPercent(middle - share * (middle - low)),
    highPercent: clampPercent(middle + share * (high - middle)),
  };
}

const stillFlat = unknown('flat');

function unknown(reason: NoForecast): Forecast {
  return { known: false, reason };
}

function clampPercent(percent: number): number {
  return Math.min(100, Math.max(0, percent));
}
