// What full, half and emptied lungs change: the forecast against published group courses, what is learnt by state, what
// is inferred when nobody said, and what is said beforehand.

import * as fc from 'fast-check';
import { describe, expect, test, vi } from 'vitest';
import type { HoldLungs } from '../../../shared/schema-parts.ts';
import { monotonicMs } from '../../../shared/units.ts';
import { sayInEnglish } from '../../../shared/words/say.ts';
import {
  type AthletePrior,
  holdPriorOf,
  lungShares,
  populationPrior,
  readAthletePrior,
} from '../../../src/oxygen/athlete-prior.ts';
import { saturationAtPh } from '../../../src/oxygen/dissociation.ts';
import { createForecaster } from '../../../src/oxygen/forecaster.ts';
import { foresee, sayForesight } from '../../../src/oxygen/foresight.ts';
import { HoldPosterior } from '../../../src/oxygen/hold-posterior.ts';
import { holdLungs, lungStates } from '../../../src/oxygen/lung-states.ts';
import { createLungsSaid } from '../../../src/oxygen/lungs-said.ts';
import { type OxygenParameters, populationOxygen } from '../../../src/oxygen/oxygen-parameters.ts';
import { StoreModel } from '../../../src/oxygen/store-model.ts';
import { lagSecondsOf } from '../../../src/oxygen/trait-values.ts';
import { taughtAthlete } from '../../support/taught-athlete.ts';

// Heavy arithmetic, no waiting: a busy machine must not fail it.
vi.setConfig({ testTimeout: 60_000 });

const restS = 60;

interface HoldOptions {
  readonly lungs?: HoldLungs;
  readonly floor?: number;
  readonly prior?: AthletePrior;
}

/** Second of a hold at which the advice comes, or undefined; whole-percent readings at 1 Hz after a minute of rest. */
function advisedS(
  shown: (holdS: number) => number,
  holdS: number,
  options: HoldOptions = {},
): number | undefined {
  const second = adviceThrough(shown, holdS, options).findIndex((advice) => advice !== 'none');
  return second < 0 ? undefined : second;
}

/** What is advised at each second of that hold. */
function adviceThrough(
  shown: (holdS: number) => number,
  holdS: number,
  options: HoldOptions = {},
): ('none' | 'onlyIfEmptied' | 'stop')[] {
  const advice: ('none' | 'onlyIfEmptied' | 'stop')[] = [];
  const forecaster = createForecaster({
    floorSpo2Percent: options.floor ?? 88,
    ...(options.prior !== undefined && { prior: options.prior }),
  });
  for (let second = 0; second < restS + holdS; second++) {
    const atMs = monotonicMs(second * 1000);
    if (second === restS) {
      if (options.lungs !== undefined) forecaster.push({ type: 'lungs', atMs, lungs: options.lungs });
      forecaster.push({ type: 'holdStarted', atMs, start: { atMs, uncertaintyMs: 0 } });
    }
    const spo2Percent = Math.round(shown(second - restS));
    const forecast = forecaster.push({ type: 'spo2', atMs, spo2Percent, quality: 'good' });
    if (second < restS) continue;
    const isAdvised = forecast.known && forecast.stopAdvised;
    advice.push(isAdvised ? (forecast.onlyIfEmptied ? 'onlyIfEmptied' : 'stop') : 'none');
  }
  return advice;
}

/** Straight between the points given. */
function through(points: readonly (readonly [number, number])[]): (second: number) => number {
  return (second) => {
    const after = points.findIndex(([at]) => at > second);
    if (after === -1) return points[points.length - 1]![1];
    if (after === 0) return points[0]![1];
    const [fromS, from] = points[after - 1]!;
    const [toS, to] = points[after]!;
    return from + ((second - fromS) / (toS - fromS)) * (to - from);
  };
}

/** The store model's finger in one hold; `lowestIf` is the truth. */
function modelHold(changes: Partial<OxygenParameters>, holdS: number) {
  const parameters = { ...populationOxygen.parameters, ...changes };
  const run = (stopS: number): number[] => {
    const model = new StoreModel(parameters);
    return Array.from(
      { length: restS + holdS + 90 },
      (_, second) => model.step(second >= restS && second < restS + stopS).readingPercent,
    );
  };
  const readings = run(holdS);
  return {
    readings,
    shown: (second: number): number => readings[restS + second]!,
    lowestIf: (stopS: number): number => Math.min(...run(stopS).slice(restS + 10)),
  };
}

describe('published group courses, which no simulator here was made from', () => {
  test('from FRC PaO2 falls by 50 mmHg and pH by 0.07 in 35 s (Sasse 1996, reference 2.20), lung to finger 16 s (Zubieta-Calleja 2005, 3.23): said emptied, the advice keeps the floor; the display alone is far too late', () => {
    const arterial = (second: number): number => {
      const share = Math.max(0, Math.min(60, second)) / 35;
      return 100 * saturationAtPh(100 - 50 * share, 7.4 - 0.07 * share);
    };
    let floorS = 0;
    while (arterial(floorS) >= 88) floorS++;
    const shown = (second: number): number => arterial(second - 16);
    const advised = advisedS(shown, 60, { lungs: 'emptied' })!;
    expect(advised + 2).toBeLessThanOrEqual(floorS);
    expect(floorS - advised).toBeLessThan(20);
    // When breathing must begin, the finger still shows its resting value, give or take two points.
    expect(shown(floorS)).toBeGreaterThan(95);
  });

  test('20 divers, dry, full lungs (Perini 2008, reference 3.05): flat for 120 s, 95 % at 165 s, 84 % at 265 s at the oximeter: advised 2 to 30 s before the floor of 88 is lost with a lag of 25 s', () => {
    const shown = through([
      [0, 98],
      [120, 97.5],
      [165, 95],
      [265, 84],
    ]);
    let lostS = 0;
    while (shown(lostS + 25) >= 88) lostS++;
    const advised = advisedS(shown, 260, { lungs: 'full' })!;
    expect(lostS - advised).toBeGreaterThanOrEqual(2);
    expect(lostS - advised).toBeLessThanOrEqual(30);
    // Without a word on the lungs no worse.
    const unsaid = advisedS(shown, 260)!;
    expect(lostS - unsaid).toBeGreaterThanOrEqual(2);
    expect(lostS - unsaid).toBeLessThanOrEqual(32);
  });

  test('18 novices, 111 s, lowest 93.6 % after it (Pernett 2023, reference 2.24): no advice for a floor of 88', () => {
    const shown = through([
      [0, 98],
      [70, 97.5],
      [111, 95.5],
    ]);
    expect(advisedS(shown, 111, { lungs: 'full' })).toBeUndefined();
    expect(advisedS(shown, 111)).toBeUndefined();
  });

  test('15 untrained people, full lungs, 102 s, still 97.6 +/- 0.7 % (Heusser 2009, reference 3.10): no advice', () => {
    expect(advisedS(() => 97.6, 102, { lungs: 'full' })).toBeUndefined();
    expect(advisedS(() => 97.6, 102)).toBeUndefined();
  });

  test('60 % of FVC, 30 and 45 s: saturation falls by 2.8 and 3.2 points in divers, 5.5 and 6.3 in others (Delahoche 2005, reference 3.13): half lungs in the model end between 1 and 6.3', () => {
    const { lowestIf } = modelHold({ lungVolumeL: lungStates.half.volumeL }, 45);
    const rest = modelHold({}, 1).readings[restS - 1]!;
    for (const seconds of [30, 45]) {
      const fall = rest - lowestIf(seconds);
      expect(fall).toBeGreaterThan(0.2);
      expect(fall).toBeLessThan(6.3);
    }
    expect(rest - lowestIf(45)).toBeGreaterThan(1);
  });

  test('10 divers hold 151 s after full exhalation, 289 s after inspiration (Bourdas 2025, reference 3.17): a slow diver is advised early at first, later once known, and keeps the floor each time', () => {
    const diver = { lungVolumeL: 2, metabolicRateMlPerMin: 165, diveResponseFraction: 0.35, lagS: 22 };
    const { readings, shown, lowestIf } = modelHold(diver, 95);
    const first = advisedS(shown, 95, { lungs: 'emptied' })!;
    const recorded = {
      startMs: restS * 1000,
      endMs: (restS + 80) * 1000,
      lungs: 'emptied' as const,
      readings: modelHold(diver, 80).readings.map((spo2Percent, second) => ({
        atMs: second * 1000,
        spo2Percent: Math.round(spo2Percent),
      })),
    };
    expect(readings.length).toBeGreaterThan(0);
    const known = taughtAthlete([recorded, recorded, recorded]);
    const later = advisedS(shown, 95, { lungs: 'emptied', prior: known })!;
    expect(later).toBeGreaterThan(first + 8);
    expect(lowestIf(first + 2)).toBeGreaterThanOrEqual(88);
    expect(lowestIf(later + 2)).toBeGreaterThanOrEqual(88);
  });
});

describe('beforehand', () => {
  test('emptied: the display is too late for a floor of 88, breathe within 30 s (30 s at low lung volume desaturate severely: Findley 1983, J Appl Physiol 55:1777-1783); full: it is not', () => {
    const emptied = foresee(populationPrior, 'emptied', 88);
    expect(emptied.showsTooLate).toBe(true);
    expect(emptied.breatheByS).toBeLessThanOrEqual(30);
    expect(emptied.breatheByS).toBeGreaterThanOrEqual(10);
    expect(sayInEnglish(sayForesight(emptied)!)).toMatch(
      /^On emptied lungs .* too late\. Hold no longer than 0:\d\d, and less/,
    );
    const full = foresee(populationPrior, 'full', 88);
    expect(full).toEqual({ lungs: 'full', showsTooLate: false, breatheByS: null });
    expect(sayForesight(full)).toBeUndefined();
  });

  test('a higher floor never leaves more time', () => {
    let before = Number.POSITIVE_INFINITY;
    for (let floor = 70; floor <= 95; floor += 5) {
      const { breatheByS } = foresee(populationPrior, 'emptied', floor);
      expect(breatheByS ?? before).toBeLessThanOrEqual(before);
      before = breatheByS ?? before;
    }
  });

  test('the forecast carries it once the lungs are said, and drops it when they are taken back', () => {
    const forecaster = createForecaster({ floorSpo2Percent: 88 });
    const atMs = monotonicMs(1_000);
    expect(forecaster.push({ type: 'lungs', atMs, lungs: 'emptied' }).foresight?.lungs).toBe('emptied');
    expect(forecaster.push({ type: 'lungs', atMs, lungs: undefined }).foresight).toBeUndefined();
  });
});

test('a hold that begins soon after another: the low of the one before is no rest, and nobody is told to stop at once', () => {
  const forecaster = createForecaster({ floorSpo2Percent: 88 });
  const shown = through([
    [55, 97],
    [56, 85],
    [103, 85],
    [107, 97],
  ]);
  let told = false;
  for (let second = 0; second < 130; second++) {
    const atMs = monotonicMs(second * 1000);
    if (second === 120) {
      forecaster.push({ type: 'lungs', atMs, lungs: 'emptied' });
      forecaster.push({ type: 'holdStarted', atMs, start: { atMs, uncertaintyMs: 0 } });
    }
    const spo2Percent = Math.round(shown(second));
    const forecast = forecaster.push({ type: 'spo2', atMs, spo2Percent, quality: 'good' });
    told ||= forecast.known && forecast.stopAdvised;
  }
  expect(told).toBe(false);
});

describe('nobody said', () => {
  test.each([
    ['full', 6.3, 185],
    ['emptied', 1.8, 55],
  ] as const)('lungs that were %s are told from the fall', (lungs, lungVolumeL, holdS) => {
    const { readings } = modelHold({ lungVolumeL }, holdS);
    const posterior = new HoldPosterior({
      prior: populationPrior,
      restPercent: readings[restS - 1]!,
      startUncertaintyS: 0,
    });
    expect(posterior.lungs.likeliest).toBe('full');
    for (let second = 0; second < holdS; second++)
      posterior.push(second, Math.round(readings[restS + second]!), 1);
    expect(posterior.lungs.likeliest).toBe(lungs);
    expect(posterior.lungs.chance).toBeGreaterThan(0.5);
  });

  // Emptied lungs would have begun to show: a display that stays is no evidence of them.
  test.each([97, 98, 99])('a display that stays at %d for 40 s is of full lungs', (shown) => {
    const posterior = new HoldPosterior({
      prior: populationPrior,
      restPercent: shown,
      startUncertaintyS: 0,
    });
    for (let second = 0; second < 40; second++) posterior.push(second, shown, 1);
    expect(posterior.lungs.likeliest).toBe('full');
  });

  /** Falls early and then slowly: as emptied lungs begin, and as lungs that are not emptied go on. */
  const shallow = through([
    [0, 98],
    [20, 97],
    [30, 96],
    [60, 95.4],
    [111, 94.4],
  ]);

  test('an advice that only emptied lungs would need says so, until others would need it too; of lungs that were said never', () => {
    const falling = through([
      [0, 98],
      [45, 97],
      [60, 95],
      [100, 84],
    ]);
    for (const shown of [shallow, falling]) {
      const advice = adviceThrough(shown, 100);
      expect(advice.lastIndexOf('onlyIfEmptied')).toBeLessThan((advice.indexOf('stop') + 1 || 101) - 1);
      for (const lungs of holdLungs)
        expect(adviceThrough(shown, 100, { lungs })).not.toContain('onlyIfEmptied');
    }
    expect(adviceThrough(falling, 100)).toContain('stop');
    expect(adviceThrough(shallow, 100, { lungs: 'full' })).not.toContain('stop');
    expect(adviceThrough(shallow, 100)).toContain('onlyIfEmptied');
  });

  test("an athlete's own habit outweighs the population's", () => {
    const shares = lungShares({ ...populationPrior, holdCountByLungs: { full: 2, half: 0, emptied: 30 } });
    expect(shares.emptied).toBeGreaterThan(0.7);
    expect(shares.full + shares.half + shares.emptied).toBeCloseTo(1, 9);
  });
});

describe('what is learnt', () => {
  const recorded = (lungs: HoldLungs, lungVolumeL: number, lagS: number, holdS: number) => ({
    startMs: restS * 1000,
    endMs: (restS + holdS) * 1000,
    lungs,
    readings: modelHold({ lungVolumeL, lagS }, holdS).readings.map((spo2Percent, second) => ({
      atMs: second * 1000,
      spo2Percent: Math.round(spo2Percent),
    })),
  });

  test.each([12, 20, 34])(
    'one hold on emptied lungs teaches a lag of %d s within 5 s, for full lungs too',
    (lagS) => {
      const taught = taughtAthlete([recorded('emptied', 1.8, lagS, 50)]);
      expect(taught.holdCountByLungs).toEqual({ full: 0, half: 0, emptied: 1 });
      for (const lungs of holdLungs)
        expect(Math.abs(lagSecondsOf(holdPriorOf(taught, lungs).mean[5]!) - lagS)).toBeLessThan(5);
    },
  );

  test('the lungs of one state say little of another state, the lowest reading is kept by state', () => {
    const hold = recorded('emptied', 2.4, 22, 70);
    const taught = taughtAthlete([hold, hold]);
    const emptied = holdPriorOf(taught, 'emptied').mean[0]!;
    const full = holdPriorOf(taught, 'full').mean[0]!;
    expect(Math.abs(full)).toBeLessThan(Math.abs(emptied) + 1e-9);
    expect(taught.lowestSeen.full).toBeUndefined();
    expect(taught.lowestSeen.emptied!.holdDurationMs).toBe(70_000);
    const lowest = Math.min(...hold.readings.map(({ spo2Percent }) => spo2Percent));
    expect(taught.lowestSeen.emptied!.percent).toBeLessThanOrEqual(lowest + 1);
  });

  test('a prior survives storing; one of six traits from before is read as that of full lungs', () => {
    const taught = taughtAthlete([recorded('half', 4, 20, 110), recorded('full', 7, 20, 170)]);
    expect(readAthletePrior(JSON.parse(JSON.stringify(taught)))).toEqual(taught);
    const old = {
      mean: [0.5, -1, 0, 0.2, 0, 1.2],
      covariance: Array.from({ length: 36 }, (_, index) => (index % 7 === 0 ? 0.4 : 0)),
      holdCount: 3,
    };
    const read = readAthletePrior(old)!;
    expect(holdPriorOf(read, 'full')).toMatchObject({ mean: old.mean, covariance: old.covariance });
    expect(read.holdCountByLungs).toEqual({ full: 3, half: 0, emptied: 0 });
    // Shared traits are known for emptied lungs too, their volume hardly.
    const emptied = holdPriorOf(read, 'emptied');
    expect(emptied.mean[5]).toBeCloseTo(1.2, 9);
    expect(emptied.covariance[0]).toBeGreaterThan(0.8);
  });

  test.each([
    ['no object', 3],
    ['too few numbers', { mean: [0], covariance: [1], holdCount: 1 }],
    [
      'a negative variance',
      { ...populationPrior, covariance: populationPrior.covariance.map((one) => -one) },
    ],
    ['half a hold', { ...populationPrior, holdCount: 0.5 }],
  ])('%s is no prior', (_, value) => {
    expect(readAthletePrior(value)).toBeUndefined();
  });
});

test('what is said of the lungs is of the hold under way, else of the next, and of no other', () => {
  const said = createLungsSaid();
  expect(said.next(0)).toBeUndefined();
  said.say(1_000, 'emptied');
  expect(said.next(2_000)).toBe('emptied');
  expect(said.of(5_000, 8_000)).toBe('emptied');
  said.ended(9_000);
  expect(said.next(10_000)).toBeUndefined();
  // Said while the end of the former hold was not known yet: it is of the next one.
  said.say(12_000, 'half');
  said.ended(11_000);
  expect(said.next(13_000)).toBe('half');
  // Of a fall that nobody names for ten minutes only, of a hold that is named for longer.
  expect(said.ofFall(612_000, 620_000)).toBe('half');
  expect(said.ofFall(612_001, 620_000)).toBeUndefined();
  expect(said.of(612_001, 620_000)).toBe('half');
  said.say(14_000, undefined);
  expect(said.next(15_000)).toBeUndefined();
  expect(said.ofFall(15_000, 15_000)).toBeUndefined();
  fc.assert(
    fc.property(
      fc.array(fc.tuple(fc.nat(100_000), fc.constantFrom(...holdLungs, undefined)), { maxLength: 30 }),
      (sayings) => {
        const again = createLungsSaid();
        for (const [atMs, lungs] of sayings.toSorted(([one], [other]) => one - other)) again.say(atMs, lungs);
        again.ended(100_001);
        expect(again.next(100_002)).toBeUndefined();
      },
    ),
  );
});

describe('a fall that nobody and no detector names', () => {
  /** Second at which the advice comes; nobody marks a start. */
  const advisedUnnamedS = (shown: readonly number[], lungs?: HoldLungs, floor = 88): number | undefined => {
    const forecaster = createForecaster({ floorSpo2Percent: floor });
    if (lungs !== undefined) forecaster.push({ type: 'lungs', atMs: monotonicMs(0), lungs });
    for (const [second, spo2Percent] of shown.entries()) {
      const atMs = monotonicMs(second * 1000);
      const forecast = forecaster.push({ type: 'spo2', atMs, spo2Percent, quality: 'good' });
      if (forecast.known && forecast.stopAdvised) return second;
    }
    return undefined;
  };
  const rest = (seconds: number, percent: number): number[] => new Array<number>(seconds).fill(percent);
  const shown = (holdS: number, lungVolumeL: number): number[] => {
    const displayed = modelHold({ lungVolumeL }, holdS).readings.slice(restS, restS + holdS);
    return [...rest(180, 97), ...displayed.map((value) => Math.round(value - displayed[0]! + 97))];
  };

  test('is heeded sooner where somebody said how full the lungs are', () => {
    const course = shown(260, 6);
    const unsaid = advisedUnnamedS(course)!;
    const said = advisedUnnamedS(course, 'full')!;
    expect(said).toBeLessThanOrEqual(unsaid);
    // Both before the display shows the floor.
    expect(unsaid).toBeLessThan(course.findIndex((value, second) => second > 180 && value < 88));
  });

  test('is none where the saturation has only risen for half a minute and fallen back (a person at rest, noneeg)', () => {
    const back = [98, 98, 97, 97, 97, 96, 96, 96, 95, 95, 95, 94, 94, 94, 94, 94, 93, 93, 93, 93, 93, 93, 93];
    const course = [...rest(240, 96), ...rest(10, 97), ...rest(24, 98), ...back, ...rest(60, 94)];
    expect(advisedUnnamedS(course)).toBeUndefined();
  });

  test('is called before a high floor is reached', () => {
    const course = shown(260, 6);
    const floor = 94;
    expect(advisedUnnamedS(course, undefined, floor)).toBeLessThanOrEqual(
      course.findIndex((value, second) => second > 180 && value < floor),
    );
  });
});
