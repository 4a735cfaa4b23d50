// Reads the open recordings of people who breathe throughout (folder `ordinary-breathing` and its neighbours), split by
// subject into two halves, so that each is scored by networks that have not met it. Every hold found in them is false.

import { existsSync, readdirSync, readFileSync } from 'node:fs';
import type { Channel } from '../../shared/schema-parts.ts';
import { monotonicMs } from '../../shared/units.ts';
import type { Sample } from '../../src/samples/sample.ts';
import { breathingPeople } from './breathing-series.ts';

export interface BreathingRecording {
  readonly set: string;
  readonly name: string;
  /** Whose fold leaves it out; `unseen` by every network. */
  readonly part: 0 | 1 | 'unseen';
  readonly samples: readonly Sample[];
}

const channels: Readonly<Record<string, readonly [Channel, string]>> = {
  rr_interval_ms: ['rrIntervalMs', 'strap'],
  heart_rate_bpm: ['heartRateBpm', 'strap'],
  spo2_percent: ['spo2Percent', 'finger'],
  pulse_rate_bpm: ['pulseRateBpm', 'finger'],
  pleth: ['pleth', 'finger'],
};

function samplesOf(path: string): Sample[] {
  const samples: Sample[] = [];
  for (const line of readFileSync(path, 'utf8').trim().split('\n').slice(1)) {
    const [time, name, value] = line.split(',');
    const known = channels[name ?? ''];
    if (known !== undefined) {
      samples.push({
        channel: known[0],
        atMs: monotonicMs(Math.max(0, Math.round(1_000 * Number(time)))),
        value: Number(value),
        sensorId: known[1],
        quality: 'good',
        reasons: [],
      });
    }
  }
  return samples;
}

/** Subjects of each set's first half, taken by number; `undefined`: no training sees the set. */
const firstHalf: Readonly<Record<string, RegExp | undefined>> = {
  noneeg: /subject(01|05|09|13|17)/,
  bidmc: /bidmc_(01|05|09|13|17|21|25|29|33|37|43|47|51)/,
  'cold-face': /Vp(01|07|18)_/,
  stress: /S(01|05|09)/,
  'normal-nights': /c03/,
  resting: undefined,
};

/** Everything present under `folder` (…/datasets), one recording at a time. */
export function* breathingRecordings(folder: string): Generator<BreathingRecording> {
  for (const [set, first] of Object.entries(firstHalf)) {
    const path = `${folder}/ordinary-breathing/${set}`;
    if (!existsSync(path)) {
      console.error(`*** SKIPPED: no ${path} ***`);
      continue;
    }
    for (const file of readdirSync(path).sort()) {
      if (!file.endsWith('.csv') || /conditions|breath_gaps|_resp/.test(file)) continue;
      yield {
        set,
        name: file.replace('.csv', ''),
        part: first === undefined ? 'unseen' : first.test(file) ? 0 : 1,
        samples: samplesOf(`${path}/${file}`),
      };
    }
  }
  for (const { name, conditions, samples } of breathingPeople(folder)) {
    const isOximetry = conditions['what'] === 'breathing thin air';
    yield {
      set: isOximetry ? 'slow desaturation' : 'beat series',
      name,
      part: !isOximetry ? 'unseen' : name.startsWith('100001') ? 0 : 1,
      samples,
    };
  }
}
