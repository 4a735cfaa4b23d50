// What a planned series of holds and rests would do to one person: saturation and carbon dioxide with their
// uncertainty, which holds would cross the floor, and whether the plan stresses carbon dioxide or oxygen.

import { type Said, said } from '../../shared/said.ts';
import type { HoldLungs } from '../../shared/schema-parts.ts';
import type { AthletePrior, LowestSeen } from './athlete-prior.ts';
import { holdLungs } from './lung-states.ts';
import type { AthleteOxygen, OxygenParameterName } from './oxygen-parameters.ts';
import { oxygenParameterTable, plausible } from './oxygen-parameters.ts';
import { halton, haltonNormal } from './quasi-random.ts';
import { StoreModel } from './store-model.ts';
import { knownLungVolumeOf } from './trait-values.ts';

export interface PreviewSegment {
  readonly kind: 'hold' | 'recovery';
  readonly durationMs: number;
  /** Of a hold; absent: not said, and then full, or what this athlete's own holds have been. */
  readonly lungs?: HoldLungs;
}

/** Central value with the central 80 % of what the uncertain parameters give. */
export interface PreviewBand {
  readonly middle: number;
  readonly low: number;
  readonly high: number;
}

export interface PreviewPoint {
  readonly atMs: number;
  readonly readingPercent: PreviewBand;
  readonly arterialPercent: PreviewBand;
  readonly pco2MmHg: PreviewBand;
}

export interface PreviewHold {
  /** Which of the segments, from 0. */
  readonly segmentIndex: number;
  readonly startsAtMs: number;
  readonly endsAtMs: number;
  /** Lowest reading of the hold and the 60 s after it. */
  readonly lowestReadingPercent: PreviewBand;
  readonly endPco2MmHg: PreviewBand;
  /** Share of the sampled possibilities in which the lowest reading falls below the floor, 0..1. */
  readonly floorCrossedProbability: number;
  /** The probability above is at least one half / at least one tenth. */
  readonly crossing: 'likely' | 'possible' | 'unlikely';
  readonly stress: 'carbonDioxide' | 'oxygen' | 'both' | 'neither';
}

export interface PlanPreview {
  /** One point every `everyMs`, from 0 to a minute after the last segment. */
  readonly everyMs: number;
  readonly points: readonly PreviewPoint[];
  readonly holds: readonly PreviewHold[];
  /** Of the whole plan: what most of its holds stress. */
  readonly stress: PreviewHold['stress'];
  /** What the numbers rest on, in words. */
  readonly basis: Said;
  /** What they are not. */
  readonly caution: Said;
}

/** Possibilities sampled. Our choice: 10th and 90th percentile are then 3 samples in from each end. */
const sampleCount = 32;
const everyS = 2;
const afterS = 60;
/** Longest plan that is computed, so that a slip of the pen does not hang the page: six hours. */
const longestS = 6 * 3600;

/** PCO2 rise that counts as stress: contractions begin near 45-60 mmHg (Tetzlaff 2019, reference 2.23). */
const co2StressMmHg = 48;
/** Lowest reading that counts as stress on oxygen: below the usual resting range (our choice). */
const oxygenStressPercent = 92;

const varied: readonly OxygenParameterName[] = [
  'lungVolumeL',
  'metabolicRateMlPerMin',
  'diveResponseFraction',
  'lagS',
  'readingOffsetPercent',
  'restingPco2MmHg',
  'co2StoreMlPerMmHg',
  'haemoglobinGPerDl',
  'bloodVolumeL',
];
const lungsDimension = varied.indexOf('lungVolumeL');
/** Dimension of the quasi-random points that chooses the lungs of a hold of which nobody said. */
const stateDimension = varied.length;

interface Timed {
  readonly kind: PreviewSegment['kind'];
  readonly lungs: HoldLungs | undefined;
  readonly startS: number;
  readonly endS: number;
}

/** All possibilities, second by second. */
interface Courses {
  readonly readings: readonly Float32Array[];
  readonly arterials: readonly Float32Array[];
  readonly pco2s: readonly Float32Array[];
}

/**
 * Previews a plan for one athlete. `segments` in order, durations in ms. Quasi-random and deterministic: the same plan
 * gives the same picture. Bands never leave out the athlete's own lowest reading of such a hold.
 */
export function previewPlan(
  segments: readonly PreviewSegment[],
  person: AthleteOxygen,
  floorPercent: number,
): PlanPreview {
  const { plan, totalS } = timed(segments);
  const lengthS = plan.length === 0 ? 0 : totalS + afterS;
  const courses = coursesOf(plan, lengthS, person);
  const points: PreviewPoint[] = [];
  for (let second = 0; second < lengthS; second += everyS) {
    points.push({
      atMs: second * 1000,
      readingPercent: bandOf(courses.readings.map((series) => series[second]!)),
      arterialPercent: bandOf(courses.arterials.map((series) => series[second]!)),
      pco2MmHg: bandOf(courses.pco2s.map((series) => series[second]!)),
    });
  }
  const holds: PreviewHold[] = [];
  plan.forEach((segment, segmentIndex) => {
    const { kind, startS, endS } = segment;
    if (kind !== 'hold' || endS <= startS) return;
    const next = plan.find((other, index) => index > segmentIndex && other.kind === 'hold');
    // The finger still falls after the hold; the next hold's own fall does not belong to this one.
    const untilS = Math.min(lengthS, endS + afterS, (next?.startS ?? lengthS) + 15);
    const hold = previewHold(courses, { startS, endS, untilS }, floorPercent);
    const seen = lowestSeenOf(person.prior, segment);
    holds.push({
      segmentIndex,
      startsAtMs: startS * 1000,
      endsAtMs: endS * 1000,
      ...(seen === undefined ? hold : reachingTo(hold, seen.percent, floorPercent)),
    });
    if (seen !== undefined && seen.percent < hold.lowestReadingPercent.low)
      reachDown(points, { startS, endS, untilS }, seen.percent);
  });
  return {
    everyMs: everyS * 1000,
    points,
    holds,
    stress: planStress(holds),
    basis:
      person.holdCount === 0
        ? said('plan.preview.ofPeople')
        : said('plan.preview.ofAthlete', { holds: person.holdCount }),
    caution: said('plan.preview.caution'),
  };
}

/** Segments by the second, from 0. */
function timed(segments: readonly PreviewSegment[]): {
  readonly plan: readonly Timed[];
  readonly totalS: number;
} {
  const plan: Timed[] = [];
  let totalS = 0;
  for (const segment of segments) {
    const endS = Math.min(longestS, totalS + Math.max(0, Math.round(segment.durationMs / 1000)));
    plan.push({ kind: segment.kind, lungs: segment.lungs, startS: totalS, endS });
    totalS = endS;
  }
  return { plan, totalS };
}

/**
 * Alveolar PCO2 in the last second of each hold, mmHg, and nothing else of a preview. Yields after each of the sampled
 * possibilities, so that whoever asks can do something else between; an hour takes some milliseconds each.
 */
export function* endPco2InSteps(
  segments: readonly PreviewSegment[],
  person: AthleteOxygen,
): Generator<undefined, PreviewBand[]> {
  const { plan, totalS } = timed(segments);
  const ends = plan
    .filter(({ kind, startS, endS }) => kind === 'hold' && endS > startS)
    .map(({ endS }) => endS);
  const atEnds: number[][] = ends.map(() => []);
  for (let sample = 0; sample < sampleCount; sample++) {
    const { pco2 } = courseOf(plan, totalS, person, sample);
    ends.forEach((endS, index) => {
      atEnds[index]!.push(pco2[endS - 1]!);
    });
    yield;
  }
  return atEnds.map(bandOf);
}

function coursesOf(plan: readonly Timed[], lengthS: number, person: AthleteOxygen): Courses {
  const all = Array.from({ length: sampleCount }, (_, sample) => courseOf(plan, lengthS, person, sample));
  return {
    readings: all.map(({ reading }) => reading),
    arterials: all.map(({ arterial }) => arterial),
    pco2s: all.map(({ pco2 }) => pco2),
  };
}

/** One possibility, second by second. */
interface Course {
  readonly reading: Float32Array;
  readonly arterial: Float32Array;
  readonly pco2: Float32Array;
}

function courseOf(plan: readonly Timed[], lengthS: number, person: AthleteOxygen, sample: number): Course {
  const parameters: Record<OxygenParameterName, number> = { ...person.parameters };
  varied.forEach((name, dimension) => {
    parameters[name] += person.spreads[name] * haltonNormal(sample, dimension);
  });
  const model = new StoreModel(plausible(parameters));
  const deviation = haltonNormal(sample, lungsDimension);
  const { least } = oxygenParameterTable.lungVolumeL;
  const unsaid = stateAt(unsaidShares(person.prior), halton(sample, stateDimension));
  const volumeOf = (lungs: HoldLungs): number =>
    lungs === 'full'
      ? plausible(parameters).lungVolumeL
      : Math.max(least, knownLungVolumeOf(person.prior, lungs, deviation));
  const volumesL = plan.map(({ lungs }) => volumeOf(lungs ?? unsaid));
  const reading = new Float32Array(lengthS);
  const arterial = new Float32Array(lengthS);
  const pco2 = new Float32Array(lengthS);
  let index = 0;
  for (let second = 0; second < lengthS; second++) {
    while (index < plan.length && second >= plan[index]!.endS) index++;
    const state = model.step(plan[index]?.kind === 'hold', volumesL[index]);
    reading[second] = state.readingPercent;
    arterial[second] = state.arterialPercent;
    pco2[second] = state.alveolarPco2MmHg;
  }
  return { reading, arterial, pco2 };
}

/**
 * Where a plan does not say: full, and other states as often as this athlete's own holds began with them. A planned
 * length is mostly of full lungs, so people in general's small holds are left out. Five holds' weight: our choice.
 */
function unsaidShares({ holdCountByLungs }: AthletePrior): Readonly<Record<HoldLungs, number>> {
  const { full, half, emptied } = holdCountByLungs;
  const all = 5 + full + half + emptied;
  return { full: (5 + full) / all, half: half / all, emptied: emptied / all };
}

/** The state whose part of 0..1 `place` falls in. */
function stateAt(shares: Readonly<Record<HoldLungs, number>>, place: number): HoldLungs {
  let rest = place;
  for (const lungs of holdLungs) {
    rest -= shares[lungs];
    if (rest < 0) return lungs;
  }
  return 'full';
}

function previewHold(
  { readings, pco2s }: Courses,
  { startS, endS, untilS }: { readonly startS: number; readonly endS: number; readonly untilS: number },
  floorPercent: number,
): Omit<PreviewHold, 'segmentIndex' | 'startsAtMs' | 'endsAtMs'> {
  const lowest = readings.map((series) => least(series, startS, untilS));
  const crossed = lowest.filter((value) => value < floorPercent).length / sampleCount;
  const lowestBand = bandOf(lowest);
  const pco2Band = bandOf(pco2s.map((series) => series[endS - 1]!));
  return {
    lowestReadingPercent: lowestBand,
    endPco2MmHg: pco2Band,
    floorCrossedProbability: crossed,
    crossing: crossingOf(crossed),
    stress: stressOf(pco2Band.middle >= co2StressMmHg, lowestBand.middle < oxygenStressPercent),
  };
}

const crossingOf = (share: number): PreviewHold['crossing'] =>
  share >= 0.5 ? 'likely' : share >= 0.1 ? 'possible' : 'unlikely';

/** The athlete's own lowest reading of a hold no longer than this one, with such lungs or, where none were said, any. */
function lowestSeenOf(prior: AthletePrior, { lungs, startS, endS }: Timed): LowestSeen | undefined {
  let lowest: LowestSeen | undefined;
  for (const state of lungs === undefined ? holdLungs : [lungs]) {
    const seen = prior.lowestSeen[state];
    if (seen === undefined || seen.holdDurationMs > (endS - startS) * 1000) continue;
    if (lowest === undefined || seen.percent < lowest.percent) lowest = seen;
  }
  return lowest;
}

/** The hold with its band reaching down to what has been seen; what crossed the floor once can do so again. */
function reachingTo<Hold extends Omit<PreviewHold, 'segmentIndex' | 'startsAtMs' | 'endsAtMs'>>(
  hold: Hold,
  seenPercent: number,
  floorPercent: number,
): Hold {
  const { low } = hold.lowestReadingPercent;
  const hasCrossed = seenPercent < floorPercent && hold.crossing === 'unlikely';
  return {
    ...hold,
    lowestReadingPercent: { ...hold.lowestReadingPercent, low: Math.min(low, seenPercent) },
    floorCrossedProbability: hasCrossed ? 0.1 : hold.floorCrossedProbability,
    crossing: hasCrossed ? 'possible' : hold.crossing,
  };
}

/** Lets the low edge of the points of a hold reach `toPercent` from its end to the lowest reading, and bend there. */
function reachDown(
  points: PreviewPoint[],
  { startS, endS, untilS }: { readonly startS: number; readonly endS: number; readonly untilS: number },
  toPercent: number,
): void {
  const lowestUntilS = Math.min(untilS, endS + oxygenParameterTable.lagS.mean);
  for (let index = Math.ceil(startS / everyS); index * everyS < untilS; index++) {
    const point = points[index];
    if (point === undefined || point.readingPercent.low <= toPercent) continue;
    const atS = index * everyS;
    // The fall of a hold quickens, its recovery slows: squares stand for both.
    const share =
      atS <= endS
        ? ((atS - startS) / (endS - startS)) ** 2
        : atS <= lowestUntilS
          ? 1
          : ((untilS - atS) / (untilS - lowestUntilS)) ** 2;
    const low = point.readingPercent.low + share * (toPercent - point.readingPercent.low);
    points[index] = { ...point, readingPercent: { ...point.readingPercent, low } };
  }
}

function stressOf(co2: boolean, oxygen: boolean): PreviewHold['stress'] {
  if (co2 && oxygen) return 'both';
  return co2 ? 'carbonDioxide' : oxygen ? 'oxygen' : 'neither';
}

function planStress(holds: readonly PreviewHold[]): PreviewHold['stress'] {
  const half = holds.length / 2;
  const co2 = holds.filter((hold) => hold.stress === 'carbonDioxide' || hold.stress === 'both').length;
  const oxygen = holds.filter((hold) => hold.stress === 'oxygen' || hold.stress === 'both').length;
  return stressOf(co2 > 0 && co2 >= half, oxygen > 0 && oxygen >= half);
}

function least(series: Float32Array, fromS: number, untilS: number): number {
  let lowest = Number.POSITIVE_INFINITY;
  for (let second = fromS; second < untilS; second++) lowest = Math.min(lowest, series[second]!);
  return lowest;
}

function bandOf(values: number[]): PreviewBand {
  values.sort((one, other) => one - other);
  const at = (share: number): number => values[Math.round(share * (values.length - 1))]!;
  return { middle: at(0.5), low: at(0.1), high: at(0.9) };
}
