// Real people who breathe throughout, so that every hold found is a false one: RR series (github.com/rhenanbartels/hrv,
// BSD-3-Clause) and pulse oximetry in slow induced hypoxaemia (Hoffman JS et al., npj Digit Med 2022;5:146, MIT).

import { existsSync, readFileSync } from 'node:fs';
import { monotonicMs } from '../../shared/units.ts';
import type { Sample } from '../../src/samples/sample.ts';
import type { CorpusSession } from '../support/corpus/corpus-session.ts';

const sampleOf = (channel: Sample['channel'], atMs: number, value: number, sensorId: string): Sample => ({
  channel,
  atMs: monotonicMs(atMs),
  value,
  sensorId,
  quality: 'good',
  reasons: [],
});

const rrFiles = [
  ['rest_rri.txt', 'rest'],
  ['real_rri.txt', 'rest'],
  ['exercise_rri.hrm', 'exercise'],
  ['noisy_rri.hrm', 'noisy beats'],
] as const;

function rrSession(path: string, name: string, what: string): CorpusSession {
  const text = readFileSync(path, 'utf8');
  const numbers = text
    .slice(text.includes('[HRData]') ? text.indexOf('[HRData]') + 8 : 0)
    .trim()
    .split(/\s+/)
    .map(Number);
  let atMs = 0;
  const samples = numbers.map((rr) => {
    atMs += rr;
    return sampleOf('rrIntervalMs', atMs, rr, 'strap');
  });
  return { name, conditions: { what }, durationMs: atMs, samples, holds: [] };
}

/** Columns of saturation and pulse of the four oximeters; a fifth slot is empty. */
const oximeters = [1, 2, 4, 5] as const;

function* oximetrySessions(path: string, name: string): Generator<CorpusSession> {
  const rows = readFileSync(path, 'utf8')
    .trim()
    .split('\n')
    .slice(1)
    .map((line) => line.split(',').map(Number));
  for (const oximeter of oximeters) {
    const samples = rows.flatMap((row, second) => {
      const spo2Percent = row[oximeter]!;
      const pulseRateBpm = row[oximeter + 5]!;
      return [
        ...(spo2Percent > 0 ? [sampleOf('spo2Percent', 1_000 * second, spo2Percent, 'finger')] : []),
        ...(pulseRateBpm > 0 ? [sampleOf('pulseRateBpm', 1_000 * second, pulseRateBpm, 'finger')] : []),
      ];
    });
    yield {
      name: `${name}, oximeter ${oximeter}`,
      conditions: { what: 'breathing thin air' },
      durationMs: 1_000 * rows.length,
      samples,
      holds: [],
    };
  }
}

/** Everything present under the folder that holds both datasets. */
export function* breathingPeople(folder: string): Generator<CorpusSession> {
  for (const [file, what] of rrFiles) {
    const path = `${folder}/rr-intervals/${file}`;
    if (existsSync(path)) {
      yield rrSession(path, file, what);
    }
  }
  for (const subject of ['100001', '100003', '100005']) {
    const path = `${folder}/controlled-desaturation/gt/${subject}.csv`;
    if (existsSync(path)) {
      yield* oximetrySessions(path, subject);
    }
  }
}
