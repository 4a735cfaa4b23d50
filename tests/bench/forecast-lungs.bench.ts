// How well the forecast does by lungs: full, half and emptied, said or not, on three simulators that share nothing: the
// hub's body simulator, the store model, and curves drawn from published group values. SIMULATED data throughout.

import { simulateSession } from '../../hub/sensors/simulated/athlete.ts';
import { ordinaryFaults } from '../../hub/sensors/simulated/faults.ts';
import { personFromSeed } from '../../hub/sensors/simulated/person.ts';
import type { HoldLungs as BodyLungs } from '../../hub/sensors/simulated/session-script.ts';
import type { HoldLungs } from '../../shared/schema-parts.ts';
import { monotonicMs } from '../../shared/units.ts';
import { createForecaster } from '../../src/oxygen/forecaster.ts';
import { plausible, populationOxygen } from '../../src/oxygen/oxygen-parameters.ts';
import { StoreModel } from '../../src/oxygen/store-model.ts';
import { holdsBelowFloor } from '../support/alarm-corpus/alarm-corpus.ts';
import { createRandom, type Random } from '../support/corpus/seeded-random.ts';

const floorPercent = 88;
/** From the advice to the first breath. Our choice, as in alarm.bench.ts. */
const reactionS = 2;
const holdsASession = 4;

export interface ForecastHold {
  readonly startS: number;
  readonly endS: number;
  /** Lowest reading if breathing had begun so many seconds into the hold. */
  readonly lowestIf: (holdS: number) => number;
}

export interface ForecastSession {
  readonly lungs: HoldLungs;
  readonly holds: readonly ForecastHold[];
  readonly readings: readonly { readonly atS: number; readonly percent: number }[];
}

// ---- Generators --------------------------------------------------------------------------------------------------

const bodyLungs: Readonly<Record<HoldLungs, BodyLungs>> = {
  full: 'full',
  half: 'partial',
  emptied: 'relaxed',
};

/** The hub's simulator of a body, its sensors and their faults. */
function bodySession(seed: number, lungs: HoldLungs): ForecastSession {
  const simulated = simulateSession({
    seed,
    person: personFromSeed(seed, { trainedFraction: 0.4 + 0.6 * ((seed % 10) / 10) }),
    script: holdsBelowFloor(bodyLungs[lungs], holdsASession, floorPercent),
    faults: ordinaryFaults,
  });
  return {
    lungs,
    readings: simulated.oximetry.flatMap(({ atMs, spo2Percent, poorSignal }) =>
      spo2Percent === undefined || poorSignal ? [] : [{ atS: atMs / 1000, percent: spo2Percent }],
    ),
    holds: simulated.truth.holds.flatMap(({ startMs, endMs }, index) => {
      const ifStopped = simulated.lowestIfBreathingBegan(index, 1_000);
      if (ifStopped.length === 0) return [];
      return {
        startS: startMs / 1000,
        endS: endMs / 1000,
        lowestIf: (holdS: number) =>
          ifStopped[Math.min(ifStopped.length - 1, Math.max(0, Math.ceil(holdS) - 1))]!.lowestFingerPercent,
      };
    }),
  };
}

const volumeOf = (lungs: HoldLungs, random: Random): number => {
  if (lungs === 'full') return random.between(4.6, 8.2);
  return lungs === 'half' ? random.between(3, 5) : random.between(1.3, 2.6);
};

/** The store model with people drawn evenly over wide ranges, rounded readings and noise. */
function storeSession(seed: number, lungs: HoldLungs): ForecastSession {
  const random = createRandom(seed);
  const parameters = plausible({
    ...populationOxygen.parameters,
    lungVolumeL: volumeOf(lungs, random),
    metabolicRateMlPerMin: random.between(180, 290),
    diveResponseFraction: random.between(0.05, 0.35),
    haemoglobinGPerDl: random.between(12.5, 16.5),
    bloodVolumeL: random.between(4, 6),
    lagS: random.between(14, 36),
    averagingS: random.between(3, 9),
    readingOffsetPercent: random.between(-1, 1),
  });
  const run = (holdS: number, afterS: number): number[] => {
    const model = new StoreModel(parameters);
    return Array.from(
      { length: 60 + holdS + afterS },
      (_, second) => model.step(second >= 60 && second < 60 + holdS).readingPercent,
    );
  };
  const lowestIf = (holdS: number): number => Math.min(...run(Math.round(holdS), 70).slice(70));
  let holdS = 20;
  while (holdS < 500 && lowestIf(holdS) > floorPercent - 6) holdS += 5;
  const shape = run(holdS, 100);
  return drawn(lungs, shape.length, holdS, (second) => shape[second]!, random, lowestIf);
}

/** Curves drawn from published group values, without physiology: plateau, accelerating fall, lag, averaging. */
function drawnSession(seed: number, lungs: HoldLungs): ForecastSession {
  const random = createRandom(seed + 77);
  const top = random.between(96.5, 99);
  // Full: flat for 50-140 s, then 0.06-0.25 %/s (reference 3.05, 3.11, 3.30). Emptied: 85 % arterial at 35 s in
  // untrained people from FRC (3.x Sasse 1996, reference 2.20) to holds of 151 s in divers (3.17). Half: between.
  const flatS = {
    full: random.between(50, 140),
    half: random.between(25, 60),
    emptied: random.between(6, 22),
  }[lungs];
  const slope = {
    full: random.between(0.06, 0.25),
    half: random.between(0.1, 0.35),
    emptied: random.between(0.2, 0.6),
  }[lungs];
  const bendS = { full: 40, half: 25, emptied: 12 }[lungs];
  const lagS = Math.round(random.between(12, 32));
  const averagingS = Math.round(random.between(3, 9));
  const arterial = (second: number): number =>
    second < flatS ? top : top - slope * (second - flatS - bendS * (1 - Math.exp(-(second - flatS) / bendS)));
  const fingerIf = (holdS: number, second: number): number => {
    let sum = 0;
    for (let back = 0; back < averagingS; back++) {
      const at = second - lagS + 4 - back;
      const over = at - holdS;
      sum += over <= 0 ? arterial(Math.max(0, at)) : top - (top - arterial(holdS)) * Math.exp(-over / 5);
    }
    return sum / averagingS;
  };
  const lowestIf = (holdS: number): number => {
    let lowest = 100;
    for (let second = 0; second < holdS + 60; second++) lowest = Math.min(lowest, fingerIf(holdS, second));
    return lowest;
  };
  let holdS = 20;
  while (holdS < 500 && lowestIf(holdS) > floorPercent - 6) holdS += 5;
  return drawn(lungs, 60 + holdS + 100, holdS, (second) => fingerIf(holdS, second - 60), random, lowestIf);
}

function drawn(
  lungs: HoldLungs,
  lengthS: number,
  holdS: number,
  shape: (second: number) => number,
  random: Random,
  lowestIf: (holdS: number) => number,
): ForecastSession {
  const noise = random.between(0.1, 0.45);
  const readings = Array.from({ length: lengthS * holdsASession }, (_, second) => ({
    atS: second,
    percent: Math.min(100, Math.round(shape(second % lengthS) + noise * random.normal())),
  }));
  const holds = Array.from({ length: holdsASession }, (_, index) => ({
    startS: index * lengthS + 60,
    endS: index * lengthS + 60 + holdS,
    lowestIf,
  }));
  return { lungs, readings, holds };
}

// ---- Judging -----------------------------------------------------------------------------------------------------

export interface LungsTally {
  holds: number;
  kept: number;
  readonly givenUpS: number[];
  readonly firstGivenUpS: number[];
  firstHolds: number;
  firstKept: number;
}

const emptyTally = (): LungsTally => ({
  holds: 0,
  kept: 0,
  givenUpS: [],
  firstGivenUpS: [],
  firstHolds: 0,
  firstKept: 0,
});

function judge(session: ForecastSession, isSaid: boolean, tally: LungsTally): void {
  const forecaster = createForecaster({ floorSpo2Percent: floorPercent });
  let at = 0;
  const feed = (untilS: number, each: (atS: number) => void = () => {}): void => {
    for (; at < session.readings.length && session.readings[at]!.atS < untilS; at++) {
      const { atS, percent } = session.readings[at]!;
      forecaster.push({ type: 'spo2', atMs: monotonicMs(atS * 1000), spo2Percent: percent, quality: 'good' });
      each(atS);
    }
  };
  session.holds.forEach(({ startS, endS, lowestIf }, index) => {
    feed(startS);
    const atMs = monotonicMs(startS * 1000);
    if (isSaid) forecaster.push({ type: 'lungs', atMs, lungs: session.lungs });
    forecaster.push({ type: 'holdStarted', atMs, start: { atMs, uncertaintyMs: 0 } });
    let advisedS: number | undefined;
    feed(endS, (atS) => {
      const { forecast } = forecaster;
      if (forecast.known && forecast.stopAdvised) advisedS ??= atS - startS;
    });
    const endedAtMs = monotonicMs(endS * 1000);
    forecaster.push({ type: 'holdEnded', atMs: endedAtMs, endedAtMs });
    const lastS = endS - startS;
    if (lowestIf(lastS) >= floorPercent) return;
    let perfectS = 0;
    for (let least = 1, most = lastS; least < most; ) {
      const middle = (least + most) / 2;
      if (lowestIf(middle) >= floorPercent) perfectS = least = middle;
      else most = middle;
      if (most - least < 0.5) break;
    }
    const stoppedS = Math.min(lastS, (advisedS ?? lastS) + reactionS);
    const isKept = lowestIf(stoppedS) >= floorPercent;
    tally.holds++;
    tally.givenUpS.push(perfectS - stoppedS);
    if (isKept) tally.kept++;
    if (index > 0) return;
    tally.firstHolds++;
    tally.firstGivenUpS.push(perfectS - stoppedS);
    if (isKept) tally.firstKept++;
  });
}

const quantile = (values: readonly number[], share: number): string =>
  ([...values].sort((one, other) => one - other)[Math.floor(share * values.length)] ?? Number.NaN).toFixed(0);

const sessionCount = Number(process.argv[2] ?? 40);
for (const [name, make] of [
  ['body', bodySession],
  ['store', storeSession],
  ['drawn', drawnSession],
] as const) {
  for (const lungs of ['full', 'half', 'emptied'] as const) {
    const sessions = Array.from({ length: sessionCount }, (_, index) => make(5_000 + index, lungs));
    for (const isSaid of [true, false]) {
      const tally = emptyTally();
      for (const session of sessions) judge(session, isSaid, tally);
      const share = (kept: number, of: number): string => ((100 * kept) / of).toFixed(0).padStart(3);
      console.log(
        `${name.padEnd(6)} ${lungs.padEnd(8)} ${isSaid ? 'said  ' : 'unsaid'} ` +
          `kept ${share(tally.kept, tally.holds)} % of ${tally.holds}, given up median ${quantile(tally.givenUpS, 0.5)} s ` +
          `(10-90 %: ${quantile(tally.givenUpS, 0.1)} to ${quantile(tally.givenUpS, 0.9)}); ` +
          `first holds kept ${share(tally.firstKept, tally.firstHolds)} %, ${quantile(tally.firstGivenUpS, 0.5)} s`,
      );
    }
  }
}
