// The simulated athlete: one body, one finger oximeter and one chest strap on a timeline, with the truth beside them.
// Pure and seeded. Imports nothing from src/, so that it can score the detector and the oxygen model.

import type { MonotonicMs } from '../../../shared/units.ts';
import { monotonicMs } from '../../../shared/units.ts';
import { Body, stepMs } from './body.ts';
import type { ReportedBeat, StrapReading } from './chest-strap.ts';
import { BeatGenerator, ChestStrap } from './chest-strap.ts';
import type { Fault, FaultSettings } from './faults.ts';
import { FaultPlan, noFaults } from './faults.ts';
import type { FingerDisplay, OximeterReading } from './finger-oximeter.ts';
import { FingerOximeter } from './finger-oximeter.ts';
import type { PersonParameters } from './person.ts';
import { SeededRandom } from './seeded-random.ts';
import type { HoldLungs, ScriptSegment, SessionScript } from './session-script.ts';

export interface AthleteOptions {
  readonly seed: number;
  readonly person: PersonParameters;
  /** After its end, or without one, the athlete rests until told otherwise. */
  readonly script?: SessionScript;
  readonly faults?: FaultSettings;
  /** Time of the first step; 0 when left out. */
  readonly startAtMs?: number;
  /** Begins the script anew when it has ended. */
  readonly loop?: boolean;
}

/** One hold as it truly was. Times are of the airway: closing and opening. */
export interface TrueHold {
  readonly startMs: MonotonicMs;
  readonly endMs: MonotonicMs;
  readonly lungs: HoldLungs;
  readonly lungVolumeL: number;
  readonly walking: boolean;
  readonly contractionsMs: readonly MonotonicMs[];
  /** Lowest arterial saturation from the start to the next hold, at most 90 s after the end. */
  readonly lowestArterialPercent: number;
  readonly lowestArterialAtMs: MonotonicMs;
  /**
   * Lowest finger display without noise and rounding that shows blood of this hold: from the time its first blood
   * fills the display to the time the next hold's blood arrives, so that a short pause mixes no two holds.
   */
  readonly lowestFingerPercent: number;
  readonly lowestFingerAtMs: MonotonicMs;
  readonly endPco2MmHg: number;
  readonly endAlveolarPo2MmHg: number;
  readonly endArterialPercent: number;
}

/** Values at `fromMs`, `fromMs + everyMs`, ... */
export interface TruthSeries {
  readonly fromMs: MonotonicMs;
  readonly everyMs: number;
  readonly values: readonly number[];
}

export interface SessionTruth {
  readonly holds: readonly TrueHold[];
  /** Once a second: the saturation in the aorta. */
  readonly arterialSpo2Percent: TruthSeries;
  /** Once a second: the finger display without noise and rounding. */
  readonly fingerSpo2Percent: TruthSeries;
  readonly heartRateBpm: TruthSeries;
  readonly lungVolumeL: TruthSeries;
  readonly pco2MmHg: TruthSeries;
  readonly beatsMs: readonly MonotonicMs[];
  readonly breathsMs: readonly MonotonicMs[];
  readonly faults: readonly Fault[];
  /** What the athlete did when, segment by segment as carried out. */
  readonly activities: readonly { readonly atMs: MonotonicMs; readonly activity: string }[];
}

/** What the finger would have shown if breathing had begun at `atMs`. */
export interface StoppedHold {
  readonly atMs: MonotonicMs;
  readonly lowestFingerPercent: number;
  readonly lowestFingerAtMs: MonotonicMs;
  readonly lowestArterialPercent: number;
}

export interface SimulatedSession {
  readonly person: PersonParameters;
  readonly durationMs: number;
  readonly truth: SessionTruth;
  /** Intervals as the strap reports them, each at its beat. */
  readonly beats: readonly ReportedBeat[];
  /** The strap's notifications. */
  readonly heartRate: readonly StrapReading[];
  readonly oximetry: readonly OximeterReading[];
  /**
   * For the hold of this index: the lowest finger display (no noise, no rounding) if breathing had begun at its start
   * plus `everyMs`, plus twice `everyMs`, ... up to its true end. Costs a few ms for each answer.
   */
  lowestIfBreathingBegan(holdIndex: number, everyMs: number): readonly StoppedHold[];
}

/** What came out of one stretch of time. Everything in rising order of time. */
export interface AthleteSignals {
  readonly beats: readonly ReportedBeat[];
  readonly heartRate: readonly StrapReading[];
  readonly oximetry: readonly OximeterReading[];
}

/** How long after a hold its lowest reading is looked for: twice the longest lag of reference 3.27. */
const aftermathMs = 90_000;
const warmUpMs = 180_000;

interface OpenHold {
  readonly startMs: number;
  readonly lungs: HoldLungs;
  readonly lungVolumeL: number;
  readonly walking: boolean;
  readonly contractionsMs: MonotonicMs[];
  readonly checkpoint: Checkpoint;
  endMs: number | undefined;
  endPco2MmHg: number;
  endAlveolarPo2MmHg: number;
  endArterialPercent: number;
  lowestArterialPercent: number;
  lowestArterialAtMs: number;
  lowestFingerPercent: number;
  lowestFingerAtMs: number;
  /** When the display first shows only blood of this hold, and when it begins to show the next hold's. */
  readonly fingerFromMs: number;
  fingerUntilMs: number;
}

interface Checkpoint {
  readonly body: Body;
  readonly display: FingerDisplay;
}

/**
 * The streaming form. `advanceTo` yields the signals up to a time; `beginHold`, `endHold` and `doNow` let a demo or a
 * bench steer the athlete, which ends the scripted segment in progress.
 */
export class SimulatedAthlete {
  readonly person: PersonParameters;
  readonly #body: Body;
  readonly #beatGenerator: BeatGenerator;
  readonly #strap: ChestStrap;
  readonly #oximeter: FingerOximeter;
  readonly #faults: FaultPlan;
  readonly #script: SessionScript;
  readonly #loop: boolean;
  readonly #startAtMs: number;
  #nowMs: number;
  #segmentIndex = 0;
  #segment: ScriptSegment | undefined;
  #segmentEndsMs = Number.POSITIVE_INFINITY;
  #steered = false;
  #openHold: OpenHold | undefined;
  #pendingHold: { lungs: HoldLungs; walking: boolean } | undefined;
  readonly #holds: OpenHold[] = [];
  readonly #arterial: number[] = [];
  readonly #finger: number[] = [];
  readonly #rate: number[] = [];
  readonly #volume: number[] = [];
  readonly #pco2: number[] = [];
  readonly #beatsMs: MonotonicMs[] = [];
  readonly #breathsMs: MonotonicMs[] = [];
  readonly #activities: { atMs: MonotonicMs; activity: string }[] = [];
  #breathCount: number;
  readonly #keepTruth: boolean;

  /** `keepTruth: false` keeps no series, for a demo that runs for days. */
  constructor(options: AthleteOptions & { readonly keepTruth?: boolean }) {
    const { seed, person } = options;
    this.person = person;
    this.#keepTruth = options.keepTruth ?? true;
    this.#startAtMs = options.startAtMs ?? 0;
    this.#nowMs = this.#startAtMs;
    this.#script = options.script ?? [];
    this.#loop = options.loop ?? false;
    const faults = options.faults ?? noFaults;
    this.#body = new Body(person, new SeededRandom(seed, 'body'));
    for (let i = 0; i < warmUpMs / stepMs; i += 1) this.#body.step();
    this.#faults = new FaultPlan(seed, {
      ...faults,
      scheduled: (faults.scheduled ?? []).map((fault) => ({ ...fault })),
    });
    this.#beatGenerator = new BeatGenerator(seed, person.beatJitterMs);
    this.#strap = new ChestStrap(seed, this.#faults, this.#startAtMs, person.restingHeartRateBpm);
    this.#oximeter = new FingerOximeter(person, seed, this.#faults, this.#startAtMs, {
      saturation: this.#body.fingerSaturation,
      motionFlaggedFraction: faults.motionFlaggedFraction ?? 0.5,
    });
    this.#breathCount = this.#body.breathCount;
    this.#nextSegment();
  }

  get nowMs(): MonotonicMs {
    return monotonicMs(this.#nowMs);
  }

  /** True from the closing of the airway to its opening. */
  get holding(): boolean {
    return this.#body.activity === 'holding';
  }

  /** The script has been carried out and is not looped. */
  get scriptDone(): boolean {
    return !this.#loop && this.#segment === undefined && this.#segmentIndex >= this.#script.length;
  }

  get fingerSpo2Percent(): number {
    return this.#oximeter.display.percent;
  }

  get arterialSpo2Percent(): number {
    return 100 * this.#body.arterialSaturation;
  }

  /** Begins the last breath now; the hold starts when it is in (about 5.5 s for full lungs). */
  beginHold(lungs: HoldLungs = 'full', walking = false): void {
    if (this.#body.activity === 'closing' || this.holding) return;
    this.#steer();
    this.#startClosing(lungs, walking);
  }

  /** Opens the airway now. Does nothing when no hold is on. */
  endHold(): void {
    if (!this.holding) return;
    this.#steer();
    this.#open();
  }

  /** Leaves the script (if it is not yet left) and does this until told otherwise. */
  doNow(activity: 'rest' | 'prepare' | 'recover' | 'walk' | 'talk'): void {
    if (this.holding) this.#open();
    this.#steer();
    this.#setActivity(activity);
  }

  /** Goes on to `untilMs` (a whole number of steps) and answers with the signals of that time. */
  advanceTo(untilMs: number): AthleteSignals {
    const beats: ReportedBeat[] = [];
    const heartRate: StrapReading[] = [];
    const oximetry: OximeterReading[] = [];
    while (this.#nowMs + stepMs <= untilMs) this.#step(beats, heartRate, oximetry);
    return { beats, heartRate, oximetry };
  }

  /** The truth so far. A hold still on is left out. */
  truth(): SessionTruth {
    const series = (values: readonly number[]): TruthSeries => ({
      fromMs: monotonicMs(this.#startAtMs + 1_000),
      everyMs: 1_000,
      values,
    });
    return {
      holds: this.#holds
        .filter((hold) => hold.endMs !== undefined)
        .map((hold) => toTrueHold(hold, this.#oximeter.display.percent)),
      arterialSpo2Percent: series(this.#arterial),
      fingerSpo2Percent: series(this.#finger),
      heartRateBpm: series(this.#rate),
      lungVolumeL: series(this.#volume),
      pco2MmHg: series(this.#pco2),
      beatsMs: this.#beatsMs,
      breathsMs: this.#breathsMs,
      faults: this.#faults.happened,
      activities: this.#activities,
    };
  }

  /** See `SimulatedSession.lowestIfBreathingBegan`. */
  lowestIfBreathingBegan(holdIndex: number, everyMs: number): readonly StoppedHold[] {
    const hold = this.#holds.filter((candidate) => candidate.endMs !== undefined)[holdIndex];
    if (hold?.endMs === undefined) return [];
    const body = hold.checkpoint.body.clone();
    const display = hold.checkpoint.display.clone();
    const answers: StoppedHold[] = [];
    const lowest = {
      finger: Number.POSITIVE_INFINITY,
      fingerAtMs: hold.startMs,
      fingerFromMs: hold.fingerFromMs,
      arterial: 100 * body.arterialSaturation,
    };
    let nextMs = hold.startMs + everyMs;
    for (let nowMs = hold.startMs + stepMs; nowMs <= hold.endMs; nowMs += stepMs) {
      body.step();
      display.push(body.fingerSaturation);
      lower(lowest, body, display, nowMs);
      if (nowMs < nextMs) continue;
      nextMs += everyMs;
      const other = body.clone();
      const otherDisplay = display.clone();
      const otherLowest = { ...lowest };
      other.endHold();
      for (let laterMs = nowMs + stepMs; laterMs <= nowMs + aftermathMs; laterMs += stepMs) {
        other.step();
        otherDisplay.push(other.fingerSaturation);
        lower(otherLowest, other, otherDisplay, laterMs);
        // Past the time at which the blood of the first breath has reached the display, and rising for 15 s: done.
        const arrivedMs = nowMs + other.fingerDelayMs + this.person.oximeterAveragingMs + 12_000;
        if (
          laterMs > Math.max(arrivedMs, hold.fingerFromMs + 15_000) &&
          laterMs - otherLowest.fingerAtMs > 15_000
        ) {
          break;
        }
      }
      answers.push({
        atMs: monotonicMs(nowMs),
        lowestFingerPercent: otherLowest.finger,
        lowestFingerAtMs: monotonicMs(otherLowest.fingerAtMs),
        lowestArterialPercent: otherLowest.arterial,
      });
    }
    return answers;
  }

  #step(beats: ReportedBeat[], heartRate: StrapReading[], oximetry: OximeterReading[]): void {
    this.#nowMs += stepMs;
    const nowMs = this.#nowMs;
    const body = this.#body;
    const happened = body.step();
    if (happened === 'closed') this.#closed();
    if (happened === 'contraction') this.#openHold?.contractionsMs.push(monotonicMs(nowMs));
    if (body.breathCount !== this.#breathCount) {
      this.#breathCount = body.breathCount;
      if (this.#keepTruth) this.#breathsMs.push(monotonicMs(nowMs));
    }

    if (this.#faults.active('ectopicBeat', nowMs) !== undefined) {
      this.#faults.spend('ectopicBeat');
      this.#beatGenerator.makeNextEarly();
    }
    const beatMs = this.#beatGenerator.step(body.heartRateBpm, nowMs);
    if (beatMs !== undefined) {
      if (this.#keepTruth) this.#beatsMs.push(monotonicMs(beatMs));
      beats.push(...this.#strap.beat(beatMs));
    }
    const strapReading = this.#strap.step(nowMs);
    if (strapReading !== undefined) heartRate.push(strapReading);
    const oximeterReading = this.#oximeter.step(body, nowMs);
    if (oximeterReading !== undefined) oximetry.push(oximeterReading);

    for (let i = Math.max(0, this.#holds.length - 2); i < this.#holds.length; i += 1) {
      const hold = this.#holds[i]!;
      if (hold.endMs !== undefined && nowMs - hold.endMs > aftermathMs) continue;
      const arterial = 100 * body.arterialSaturation;
      if (i === this.#holds.length - 1 && arterial < hold.lowestArterialPercent) {
        hold.lowestArterialPercent = arterial;
        hold.lowestArterialAtMs = nowMs;
      }
      const finger = this.#oximeter.display.percent;
      const shown = nowMs >= hold.fingerFromMs && nowMs < hold.fingerUntilMs;
      if (shown && finger < hold.lowestFingerPercent) {
        hold.lowestFingerPercent = finger;
        hold.lowestFingerAtMs = nowMs;
      }
    }
    if (this.#keepTruth && (nowMs - this.#startAtMs) % 1_000 < stepMs) {
      this.#arterial.push(100 * body.arterialSaturation);
      this.#finger.push(this.#oximeter.display.percent);
      this.#rate.push(body.heartRateBpm);
      this.#volume.push(body.lungVolumeL);
      this.#pco2.push(body.alveolarPco2MmHg);
    }

    if (this.#steered) return;
    const segment = this.#segment;
    if (segment?.kind === 'hold' && this.holding) {
      const reached =
        segment.endAtReadingPercent !== undefined &&
        this.#oximeter.display.percent <= segment.endAtReadingPercent;
      if (
        reached ||
        nowMs >= this.#segmentEndsMs ||
        (segment.durationMs === 'maximal' && body.atBreakingPoint)
      ) {
        this.#open();
        this.#nextSegment();
      }
    } else if (segment !== undefined && segment.kind !== 'hold' && nowMs >= this.#segmentEndsMs) {
      this.#nextSegment();
    }
  }

  #nextSegment(): void {
    if (this.#segmentIndex >= this.#script.length && this.#loop) this.#segmentIndex = 0;
    this.#segment = this.#script[this.#segmentIndex];
    this.#segmentIndex += 1;
    const segment = this.#segment;
    if (segment === undefined) {
      this.#segmentEndsMs = Number.POSITIVE_INFINITY;
      this.#setActivity('rest');
    } else if (segment.kind === 'hold') {
      this.#segmentEndsMs = Number.POSITIVE_INFINITY;
      this.#startClosing(segment.lungs ?? 'full', segment.walking ?? false);
    } else {
      this.#segmentEndsMs = this.#nowMs + segment.durationMs;
      this.#setActivity(segment.kind);
    }
  }

  #setActivity(activity: 'rest' | 'prepare' | 'recover' | 'walk' | 'talk'): void {
    // A hold has already begun its own recovery when a script's `recover` follows it.
    if (this.#body.activity !== activity) this.#body.setActivity(activity);
    this.#note(activity);
  }

  #startClosing(lungs: HoldLungs, walking: boolean): void {
    this.#pendingHold = { lungs, walking };
    this.#body.beginHold(lungs, walking);
    this.#note('closing');
  }

  #closed(): void {
    const body = this.#body;
    const pending = this.#pendingHold ?? { lungs: 'full' as const, walking: false };
    this.#pendingHold = undefined;
    const segment = this.#segment;
    if (!this.#steered && segment?.kind === 'hold' && segment.durationMs !== 'maximal') {
      this.#segmentEndsMs = this.#nowMs + segment.durationMs;
    }
    const before = this.#holds.at(-1);
    if (before !== undefined) before.fingerUntilMs = this.#nowMs + body.fingerDelayMs;
    this.#openHold = {
      startMs: this.#nowMs,
      lungs: pending.lungs,
      lungVolumeL: body.lungVolumeL,
      walking: pending.walking,
      contractionsMs: [],
      // The display has not yet taken this step; the counterfactual goes on from the next one.
      checkpoint: { body: body.clone(), display: this.#oximeter.display.clone() },
      endMs: undefined,
      endPco2MmHg: 0,
      endAlveolarPo2MmHg: 0,
      endArterialPercent: 0,
      lowestArterialPercent: 100 * body.arterialSaturation,
      lowestArterialAtMs: this.#nowMs,
      lowestFingerPercent: Number.POSITIVE_INFINITY,
      lowestFingerAtMs: this.#nowMs,
      fingerFromMs: this.#nowMs + body.fingerDelayMs + this.person.oximeterAveragingMs,
      fingerUntilMs: Number.POSITIVE_INFINITY,
    };
    this.#openHold.checkpoint.display.push(body.fingerSaturation);
    if (!this.#keepTruth && this.#holds.length > 4) this.#holds.shift();
    this.#holds.push(this.#openHold);
    this.#note('holding');
  }

  #open(): void {
    const hold = this.#openHold;
    if (hold !== undefined) {
      hold.endMs = this.#nowMs;
      hold.endPco2MmHg = this.#body.alveolarPco2MmHg;
      hold.endAlveolarPo2MmHg = this.#body.alveolarPo2MmHg;
      hold.endArterialPercent = 100 * this.#body.arterialSaturation;
      this.#openHold = undefined;
    }
    this.#body.endHold();
    this.#note('recover');
  }

  #steer(): void {
    this.#steered = true;
    this.#segment = undefined;
  }

  #note(activity: string): void {
    if (!this.#keepTruth) return;
    if (this.#activities.at(-1)?.activity === activity) return;
    this.#activities.push({ atMs: monotonicMs(this.#nowMs), activity });
  }
}

function lower(
  lowest: { finger: number; fingerAtMs: number; readonly fingerFromMs: number; arterial: number },
  body: Body,
  display: FingerDisplay,
  nowMs: number,
): void {
  const finger = display.percent;
  if (nowMs >= lowest.fingerFromMs && finger < lowest.finger) {
    lowest.finger = finger;
    lowest.fingerAtMs = nowMs;
  }
  lowest.arterial = Math.min(lowest.arterial, 100 * body.arterialSaturation);
}

/** `shownPercent` stands in for the lowest reading of a hold that has not reached the finger yet. */
function toTrueHold(hold: OpenHold, shownPercent: number): TrueHold {
  return {
    startMs: monotonicMs(hold.startMs),
    endMs: monotonicMs(hold.endMs!),
    lungs: hold.lungs,
    lungVolumeL: hold.lungVolumeL,
    walking: hold.walking,
    contractionsMs: hold.contractionsMs,
    lowestArterialPercent: hold.lowestArterialPercent,
    lowestArterialAtMs: monotonicMs(hold.lowestArterialAtMs),
    lowestFingerPercent: Number.isFinite(hold.lowestFingerPercent) ? hold.lowestFingerPercent : shownPercent,
    lowestFingerAtMs: monotonicMs(hold.lowestFingerAtMs),
    endPco2MmHg: hold.endPco2MmHg,
    endAlveolarPo2MmHg: hold.endAlveolarPo2MmHg,
    endArterialPercent: hold.endArterialPercent,
  };
}

/** Longest a script may run: a maximal hold always ends, but a mistake should not hang a test. */
const longestScriptMs = 24 * 3_600_000;

/**
 * Carries out a whole script at once. The same options give the same session to the last bit.
 * Signals and truth are on the same timeline, from `startAtMs`.
 */
export function simulateSession(
  options: AthleteOptions & { readonly script: SessionScript },
): SimulatedSession {
  const athlete = new SimulatedAthlete({ ...options, loop: false });
  const beats: ReportedBeat[] = [];
  const heartRate: StrapReading[] = [];
  const oximetry: OximeterReading[] = [];
  const startAtMs = options.startAtMs ?? 0;
  while (!athlete.scriptDone && athlete.nowMs - startAtMs < longestScriptMs) {
    const signals = athlete.advanceTo(athlete.nowMs + 1_000);
    beats.push(...signals.beats);
    heartRate.push(...signals.heartRate);
    oximetry.push(...signals.oximetry);
  }
  return {
    person: options.person,
    durationMs: athlete.nowMs - startAtMs,
    truth: athlete.truth(),
    beats,
    heartRate,
    oximetry,
    lowestIfBreathingBegan: (holdIndex, everyMs) => athlete.lowestIfBreathingBegan(holdIndex, everyMs),
  };
}
