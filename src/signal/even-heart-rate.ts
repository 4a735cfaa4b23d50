// Heart rate from RR intervals at even steps of time, artefacts corrected: what a filter or a spectrum needs.

import type { Sample } from '../samples/sample.ts';
import { correctRr } from './rr-artefacts.ts';

/** Beats missing for longer than this end the attempt, s. A breath is about as long. */
const longestGapS = 3;

export interface EvenHeartRate {
  /** One value a step from `fromMs` on. */
  readonly bpm: readonly number[];
  /** Share of the beats that had to be corrected. */
  readonly correctedShare: number;
}

/** `samples` in time order; undefined where beats are missing for more than 3 s. */
export function evenHeartRate(
  samples: readonly Sample[],
  fromMs: number,
  toMs: number,
  perSecond: number,
): EvenHeartRate | undefined {
  const stepMs = 1_000 / perSecond;
  const values = new Array<number>(Math.max(0, Math.floor((toMs - fromMs) / stepMs))).fill(Number.NaN);
  const beats = samples.filter(
    (sample) => sample.channel === 'rrIntervalMs' && sample.atMs > fromMs && sample.atMs <= toMs + 3_000,
  );
  let run: Sample[] = [];
  let corrected = 0;
  const write = (): void => {
    let endMs = (run[0]?.atMs ?? 0) - (run[0]?.value ?? 0);
    const { correctedMs, touched } = correctRr(run.map((beat) => beat.value));
    corrected += touched.filter(Boolean).length;
    for (const rrMs of correctedMs) {
      const first = Math.max(0, Math.ceil((endMs - fromMs) / stepMs));
      endMs += rrMs;
      for (let i = first; i < values.length && fromMs + i * stepMs <= endMs; i++) {
        values[i] = 60_000 / rrMs;
      }
    }
    run = [];
  };
  for (const beat of beats) {
    const last = run.at(-1);
    if (last !== undefined && beat.atMs - beat.value - last.atMs > longestGapS * 1_000) {
      write();
    }
    run.push(beat);
  }
  write();
  const bpm = bridgeGaps(values, longestGapS * perSecond);
  return bpm && { bpm, correctedShare: corrected / Math.max(1, beats.length) };
}

/** Straight lines over gaps (NaN) of up to `longest` values; undefined when one is longer or nothing is there. */
export function bridgeGaps(values: readonly number[], longest: number): number[] | undefined {
  const out = [...values];
  let known = -1;
  for (let i = 0; i <= out.length; i++) {
    if (i < out.length && Number.isNaN(out[i]!)) {
      continue;
    }
    if (i - known - 1 > longest || (i === out.length && known < 0)) {
      return undefined;
    }
    const right = i < out.length ? out[i]! : out[known]!;
    const left = known >= 0 ? out[known]! : right;
    for (let k = known + 1; k < i; k++) {
      out[k] = left + ((right - left) * (k - known)) / (i - known);
    }
    known = i;
  }
  return out;
}
