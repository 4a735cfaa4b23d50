// What a planned series of holds and rests would do to one person: saturation and carbon dioxide with their
// uncertainty, which holds would cross the floor, and whether the plan stresses carbon dioxide or oxygen.

import { type Said, said } from '../../shared/said.ts';
import type { AthleteOxygen, OxygenParameterName, OxygenParameters } from './oxygen-parameters.ts';
import { plausible, populationOxygen } from './oxygen-parameters.ts';
import { haltonNormal } from './quasi-random.ts';
import { StoreModel } from './store-model.ts';

export interface PreviewSegment {
  readonly kind: 'hold' | 'recovery';
  readonly durationMs: number;
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

/**
 * Previews a plan for one athlete. `segments` in order, durations in ms; a hold begins with full lungs of the
 * athlete's volume. Quasi-random and deterministic: the same plan gives the same picture.
 */
export function previewPlan(
  segments: readonly PreviewSegment[],
  athlete: AthleteOxygen | OxygenParameters,
  floorPercent: number,
): PlanPreview {
  const person: AthleteOxygen =
    'parameters' in athlete
      ? athlete
      : { parameters: athlete, spreads: populationOxygen.spreads, holdCount: 0 };
  const plan: { readonly kind: PreviewSegment['kind']; readonly startS: number; readonly endS: number }[] =
    [];
  let totalS = 0;
  for (const segment of segments) {
    const endS = Math.min(longestS, totalS + Math.max(0, Math.round(segment.durationMs / 1000)));
    plan.push({ kind: segment.kind, startS: totalS, endS });
    totalS = endS;
  }
  const lengthS = plan.length === 0 ? 0 : totalS + afterS;

  const readings: Float32Array[] = [];
  const arterials: Float32Array[] = [];
  const pco2s: Float32Array[] = [];
  for (let sample = 0; sample < sampleCount; sample++) {
    const parameters: Record<OxygenParameterName, number> = { ...person.parameters };
    varied.forEach((name, dimension) => {
      parameters[name] += person.spreads[name] * haltonNormal(sample, dimension);
    });
    const model = new StoreModel(plausible(parameters));
    const reading = new Float32Array(lengthS);
    const arterial = new Float32Array(lengthS);
    const pco2 = new Float32Array(lengthS);
    let index = 0;
    for (let second = 0; second < lengthS; second++) {
      while (index < plan.length && second >= plan[index]!.endS) index++;
      const state = model.step(plan[index]?.kind === 'hold');
      reading[second] = state.readingPercent;
      arterial[second] = state.arterialPercent;
      pco2[second] = state.alveolarPco2MmHg;
    }
    readings.push(reading);
    arterials.push(arterial);
    pco2s.push(pco2);
  }

  const points: PreviewPoint[] = [];
  for (let second = 0; second < lengthS; second += everyS) {
    points.push({
      atMs: second * 1000,
      readingPercent: bandOf(readings.map((series) => series[second]!)),
      arterialPercent: bandOf(arterials.map((series) => series[second]!)),
      pco2MmHg: bandOf(pco2s.map((series) => series[second]!)),
    });
  }
  const holds: PreviewHold[] = [];
  plan.forEach(({ kind, startS, endS }, segmentIndex) => {
    if (kind !== 'hold' || endS <= startS) return;
    const next = plan.find((other, index) => index > segmentIndex && other.kind === 'hold');
    // The finger still falls after the hold; the next hold's own fall does not belong to this one.
    const untilS = Math.min(lengthS, endS + afterS, (next?.startS ?? lengthS) + 15);
    const lowest = readings.map((series) => least(series, startS, untilS));
    const endPco2 = pco2s.map((series) => series[endS - 1]!);
    const crossed = lowest.filter((value) => value < floorPercent).length / sampleCount;
    const lowestBand = bandOf(lowest);
    const pco2Band = bandOf(endPco2);
    holds.push({
      segmentIndex,
      startsAtMs: startS * 1000,
      endsAtMs: endS * 1000,
      lowestReadingPercent: lowestBand,
      endPco2MmHg: pco2Band,
      floorCrossedProbability: crossed,
      crossing: crossed >= 0.5 ? 'likely' : crossed >= 0.1 ? 'possible' : 'unlikely',
      stress: stressOf(pco2Band.middle >= co2StressMmHg, lowestBand.middle < oxygenStressPercent),
    });
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
