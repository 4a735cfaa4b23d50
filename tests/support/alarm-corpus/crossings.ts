// Falls of saturation below a floor, as clean readings once a second: of the independent simulator and of real people
// whose oxygen was lowered in a laboratory. What fault sequences are laid over.

import { readFileSync } from 'node:fs';
import { simulateSession } from '../../../hub/sensors/simulated/athlete.ts';
import { noFaults } from '../../../hub/sensors/simulated/faults.ts';
import { personFromSeed } from '../../../hub/sensors/simulated/person.ts';

export interface CleanReading {
  /** Seconds from the beginning. */
  readonly atS: number;
  readonly spo2: number;
  readonly pulse: number;
}

/** One fall; the clean display lies below the floor from `lowFromS` to `lowToS`, 3 s or more. */
export interface Crossing {
  readonly name: string;
  readonly floorPercent: number;
  readonly readings: readonly CleanReading[];
  /** Where a hold begins, or where one is taken to begin in somebody who breathes. */
  readonly holdStartS: number;
  readonly lowFromS: number;
  readonly lowToS: number;
}

const beforeS = 75;
const afterS = 45;
/** A person holds no longer than this below the floor; the laboratory kept some there for minutes. */
const longestLowS = 60;

/** The first stretch of 3 s and more below the floor after `fromS`, cut out with what lies about it. */
function crossingIn(
  name: string,
  readings: readonly CleanReading[],
  floorPercent: number,
  holdStartS?: number,
): Crossing | undefined {
  let lowFromS: number | undefined;
  let lowToS = 0;
  for (const { atS, spo2 } of readings) {
    if (spo2 < floorPercent) {
      lowFromS ??= atS;
      lowToS = atS;
    } else if (lowFromS !== undefined) {
      if (lowToS - lowFromS >= 3) break;
      lowFromS = undefined;
    }
  }
  if (lowFromS === undefined || lowToS - lowFromS < 3) return undefined;
  lowToS = Math.min(lowToS, lowFromS + longestLowS);
  const firstS = Math.max(readings[0]!.atS, (holdStartS ?? lowFromS - beforeS + 15) - 15);
  const cut = readings.filter(({ atS }) => atS >= firstS && atS <= lowToS + afterS);
  return {
    name,
    floorPercent,
    readings: cut.map((one) => ({ ...one, atS: one.atS - firstS + 1 })),
    holdStartS: Math.max(2, (holdStartS ?? lowFromS - beforeS + 15) - firstS + 1),
    lowFromS: lowFromS - firstS + 1,
    lowToS: lowToS - firstS + 1,
  };
}

/** SIMULATED: one crossing a seed, at most, of a floor of 88 %. */
export function simulatedCrossings(seeds: readonly number[]): Crossing[] {
  return seeds.flatMap((seed) => {
    const simulated = simulateSession({
      seed,
      person: personFromSeed(seed),
      faults: noFaults,
      script: [
        { kind: 'rest', durationMs: 60_000 },
        { kind: 'hold', durationMs: 'maximal', lungs: 'full', endAtReadingPercent: 83 },
        { kind: 'recover', durationMs: 100_000 },
      ],
    });
    const hold = simulated.truth.holds[0];
    if (hold === undefined) return [];
    let pulse = 60;
    const readings = simulated.oximetry.flatMap(({ atMs, spo2Percent, pulseRateBpm }) => {
      pulse = pulseRateBpm ?? pulse;
      return spo2Percent === undefined
        ? []
        : [{ atS: Math.round(atMs / 1_000), spo2: spo2Percent, pulse: Math.round(pulse) }];
    });
    return crossingIn(`SIMULATED ${seed}`, readings, 88, Math.round(hold.startMs / 1_000)) ?? [];
  });
}

const extracts = [
  ['subject-1-oximeter-a', 88],
  ['subject-1-oximeter-b', 88],
  ['subject-2-oximeter-a', 88],
  ['subject-2-oximeter-a', 80],
  ['subject-4-slot-2', 82],
  ['subject-4-slot-2', 79],
] as const;

/** From the extracts in fixtures/controlled-desaturation. Nobody holds their breath in them; a hold is taken to. */
export function realCrossings(): Crossing[] {
  return extracts.flatMap(([file, floorPercent]) => {
    const bySecond = new Map<number, { spo2?: number; pulse?: number }>();
    const path = new URL(`../../../fixtures/controlled-desaturation/${file}.csv`, import.meta.url);
    for (const line of readFileSync(path, 'utf8').split('\n')) {
      const [time, name, value] = line.split(',');
      if (name !== 'spo2_percent' && name !== 'pulse_rate_bpm') continue;
      const row = bySecond.get(Number(time)) ?? {};
      row[name === 'spo2_percent' ? 'spo2' : 'pulse'] = Number(value);
      bySecond.set(Number(time), row);
    }
    const readings = [...bySecond].flatMap(([atS, { spo2, pulse }]) =>
      spo2 === undefined || pulse === undefined ? [] : [{ atS, spo2, pulse }],
    );
    return crossingIn(`${file}, floor ${floorPercent}`, readings, floorPercent) ?? [];
  });
}
