// Sessions of the judging generators (SIMULATED) as draw-judged.ts wrote them: rows of a second, and the true holds.

import { readdirSync, readFileSync } from 'node:fs';
import { monotonicMs } from '../../../shared/units.ts';
import { readWeights, type WeightTable } from '../../../src/holds/hold-network.ts';
import type { SecondRow } from '../../../src/signal/second-rows.ts';
import type { TrueHold } from '../../support/scoring/scored-session.ts';

export interface JudgedSession {
  readonly generator: string;
  readonly seed: number;
  readonly sessionSeed: number;
  readonly kind: string;
  readonly sensors: string;
  readonly holds: readonly TrueHold[];
  readonly rows: readonly SecondRow[];
}

const sources = ['none', 'rr', 'heartRate', 'pulseRate'] as const;

export function readSessions(folder: string): JudgedSession[] {
  const names = readdirSync(folder).filter((name) => name.endsWith('.jsonl'));
  return names.sort().flatMap((name) => {
    const bytes = readFileSync(`${folder}/${name.replace('.jsonl', '.rows')}`);
    const numbers = new Float32Array(bytes.buffer, bytes.byteOffset, bytes.length / 4);
    let at = 0;
    return readFileSync(`${folder}/${name}`, 'utf8')
      .trim()
      .split('\n')
      .map((line) => {
        const said = JSON.parse(line) as Omit<JudgedSession, 'rows'> & { rows: number; firstMs: number };
        const rows = Array.from({ length: said.rows }, (_, i): SecondRow => {
          const row = numbers.subarray(at + 5 * i, at + 5 * i + 5);
          return {
            atMs: monotonicMs(said.firstMs + 1_000 * i),
            heartRateBpm: row[0]!,
            heartRateSource: sources[row[1]!]!,
            spo2Percent: row[2]!,
            plethBreathing: row[3]!,
            plethSwing: row[4]!,
          };
        });
        at += 5 * said.rows;
        return { ...said, rows };
      });
  });
}

/** A network out of a file that train.py wrote, by its path. */
export const readNetwork = (path: string) =>
  readWeights(
    [...readFileSync(path, 'utf8').matchAll(/\[\s*([0-9.e-]+),\s*'([^']+)'/g)].map(
      ([, scale, text]): WeightTable[number] => [Number(scale), text!],
    ),
  );
