// Breathing channels for tests: real belts and airway pressures where the datasets lie beside the repository, and holds cut into
// them; and an accelerometer on a chest, SIMULATED.

import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { gunzipSync } from 'node:zlib';
import { monotonicMs } from '../../shared/units.ts';
import type { Sample } from '../../src/samples/sample.ts';
import { createRandom } from './corpus/seeded-random.ts';

const datasets =
  process.env['SLACKWATER_DATASETS'] ?? new URL('../../../shared/datasets', import.meta.url).pathname;
const beltFile = join(datasets, 'ordinary-breathing', 'resting', 'bio_resting_5min_100hz_resp.csv');
const pressureFolder = join(datasets, 'simulated-apnoea', 'Inline_PQ_Data');

export const hasRealBreathing = existsSync(beltFile) && existsSync(pressureFolder);

/** Time in s and value. */
export type Course = readonly (readonly [atS: number, value: number])[];

export const breathingSamples = (course: Course): Sample[] =>
  course.map(([atS, value]) => ({
    channel: 'respirationRaw',
    atMs: monotonicMs(1_000 * atS),
    value,
    sensorId: 'band',
    quality: 'good',
    reasons: [],
  }));

/** A respiration belt at rest, 25 Hz, 5 min (NeuroKit's bio_resting_5min_100hz, MIT). */
export const restingBelt = (): Course =>
  readFileSync(beltFile, 'utf8')
    .trim()
    .split('\n')
    .slice(1)
    .map((line) => line.split(',').map(Number) as [number, number]);

/** The same breathing over and over, joined where it passes its middle on the way up, so that no step is made. */
export function repeated(course: Course, times: number): Course {
  const middle = course.map(([, value]) => value).toSorted((a, b) => a - b)[course.length >> 1]!;
  const rises = course.flatMap((point, i) =>
    i > 0 && course[i - 1]![1] < middle && point[1] >= middle ? [i] : [],
  );
  const piece = course.slice(rises[0], rises.at(-1));
  const lengthS = piece.at(-1)![0] - piece[0]![0] + (piece[1]![0] - piece[0]![0]);
  return Array.from({ length: times }, (_, turn) =>
    piece.map(([atS, value]) => [atS - piece[0]![0] + turn * lengthS, value] as const),
  ).flat();
}

/** What is left of a course when slow breathing is taken out: the person's and the sensor's own stir. */
function stirOf(course: Course): number[] {
  const reach = Math.round(0.3 / (course[1]![0] - course[0]![0]));
  const sums = [0];
  for (const [, value] of course) sums.push(sums.at(-1)! + value);
  return course.map(([, value], i) => {
    const [from, to] = [Math.max(0, i - reach), Math.min(course.length, i + reach + 1)];
    return value - (sums[to]! - sums[from]!) / (to - from);
  });
}

/**
 * Holds cut into a real course: from `fromS` to `toS` it stays where it was, with its own stir and a slow drift, as a chest sinks:
 * a thousandth of its whole range a second.
 */
export function withHolds(course: Course, holds: readonly (readonly [fromS: number, toS: number])[]): Course {
  const stir = stirOf(course);
  const values = course.map(([, value]) => value);
  const range = values.toSorted((a, b) => a - b);
  const drift = 0.001 * (range.at(-1)! - range[0]!);
  const out = [...course];
  for (const [fromS, toS] of holds) {
    const start = course.findIndex(([atS]) => atS >= fromS);
    const base = values[start]! - stir[start]!;
    for (let i = start; i < course.length && course[i]![0] < toS; i += 1)
      out[i] = [course[i]![0], base + stir[i]! - drift * (course[i]![0] - fromS)];
  }
  return out;
}

export interface RealPause {
  readonly name: string;
  readonly isSure: boolean;
  readonly course: Course;
  readonly fromS: number;
  readonly toS: number;
}

/**
 * Real pauses of 10 and 20 s: pressure at the mouth of people at a breathing machine, 50 Hz, each after a minute of their own
 * ordinary breathing at it (Hill et al. 2026, doi:10.13026/s45r-k263, CC BY 4.0; labels by whoever put the set there).
 */
export function realPauses(): RealPause[] {
  const labels = readFileSync(join(datasets, 'simulated-apnoea', 'hold_labels_derived.csv'), 'utf8');
  return labels
    .trim()
    .split('\n')
    .slice(1)
    .flatMap((line) => {
      const [subject, trial, , from, to, , , confidence] = line.split(',');
      const folder = join(pressureFolder, `Subject${subject}`);
      const file = (name: string): string => join(folder, `Subject${subject}_${name}.csv.gz`);
      if (!existsSync(file(trial!)) || !existsSync(file('8cmH2O_normal'))) return [];
      const before = pressure(file('8cmH2O_normal'));
      const pause = pressure(file(trial!));
      const shift = middleOf(pause) - middleOf(before);
      const startS = before.at(-1)![0] + 0.02;
      return [
        {
          name: `${subject} ${trial}`,
          isSure: confidence === 'ok',
          course: [
            ...before.map(([atS, value]) => [atS, value + shift] as const),
            ...pause.map(([atS, value]) => [startS + atS, value] as const),
          ],
          fromS: startS + Number(from),
          toS: startS + Number(to),
        },
      ];
    });
}

/** Everybody's ordinary breathing at the machine, a minute each. */
export const ordinaryPressures = (): Course[] =>
  readdirSync(pressureFolder).flatMap((subject) => {
    const path = join(pressureFolder, subject, `${subject}_8cmH2O_normal.csv.gz`);
    return existsSync(path) ? [pressure(path)] : [];
  });

const middleOf = (course: Course): number =>
  course.map(([, value]) => value).toSorted((a, b) => a - b)[course.length >> 1]!;

function pressure(path: string): Course {
  const course: [number, number][] = [];
  let lastS = -1;
  for (const line of gunzipSync(readFileSync(path)).toString().trim().split('\n').slice(1)) {
    const [atS, value] = line.split(',').map(Number) as [number, number];
    // The recorder's last rows are empty.
    if (atS < lastS) break;
    lastS = atS;
    if (course.length === 0 || atS >= course.at(-1)![0] + 0.0199) course.push([atS, value]);
  }
  return course;
}

export interface ChestScript {
  /** Depth of the breath at this second, 1 for an ordinary one, 0 in a hold. */
  readonly depth: (atS: number) => number;
  readonly breathsPerMin?: (atS: number) => number;
  /** Size of movements of the trunk, g. */
  readonly motionG?: (atS: number) => number;
  /** The sensor lies beside the person. */
  readonly isOff?: (atS: number) => boolean;
}

/**
 * SIMULATED: an accelerometer on a breastbone, g, `rateHz` samples a second. Breathing tilts it by 2.5 degrees, as chest
 * accelerometers show it (0.02 to 0.1 g; A. Bates et al., BSN 2010, from memory); each heart beat shakes it by up to 9 mg
 * for a tenth of a second, as in seismocardiograms, which have some to tens of mg (from memory); 0.5 mg of noise, as 150 µg a root of hertz over this band.
 */
export function chestAcceleration(
  seconds: number,
  script: ChestScript,
  rateHz = 25,
  seed = 1,
): readonly (readonly [atS: number, axes: readonly [number, number, number]])[] {
  const random = createRandom(seed);
  const noise = (): number => random.normal();
  const tilt = 0.7;
  let [phase, drift, lastBeat] = [0, 0, 0];
  return Array.from({ length: seconds * rateHz }, (_, i) => {
    const atS = i / rateHz;
    phase += (2 * Math.PI * (script.breathsPerMin?.(atS) ?? 13)) / 60 / rateHz;
    if (atS - lastBeat > 0.95) lastBeat = atS;
    const since = atS - lastBeat;
    const beat = 0.015 * Math.exp(-since / 0.08) * Math.sin(2 * Math.PI * 9 * since);
    const motion = script.motionG?.(atS) ?? 0;
    drift = 0.98 * drift + 0.2 * motion * noise();
    if (script.isOff?.(atS) === true)
      return [atS, [0.0005 * noise(), 0.0005 * noise(), 1 + 0.0005 * noise()]] as const;
    const angle = tilt + 0.022 * script.depth(atS) * Math.sin(phase) + drift;
    return [
      atS,
      [
        0.1 + 0.3 * beat + 0.0005 * noise() + motion * noise(),
        Math.sin(angle) + 0.0005 * noise() + motion * noise(),
        Math.cos(angle) + beat + 0.0005 * noise() + motion * noise(),
      ],
    ] as const;
  });
}
