// The measures beside those of tests/foreign/recompute-measures.py, written from MEASURES.md alone.

import { execFileSync } from 'node:child_process';
import { describe, expect, test } from 'vitest';
import { monotonicMs } from '../../../shared/units.ts';
import type { Hold } from '../../../src/holds/hold.ts';
import type { Sample } from '../../../src/samples/sample.ts';
import { measureHolds } from '../../../src/sessions/derive-recording.ts';
import { createSignalCleaner } from '../../../src/signal/signal-cleaner.ts';
import { createRandom } from '../../support/corpus/seeded-random.ts';
import { sketchPerson, sketchSession } from '../../support/corpus/sketched-athlete.ts';
import { layOut, withFault } from '../../support/corpus/sketched-corpus.ts';

const python = (() => {
  for (const path of ['/usr/bin/python3', 'python3'])
    try {
      execFileSync(path, ['-c', 'import json'], { stdio: 'ignore' });
      return path;
    } catch {
      // The next one.
    }
  return undefined;
})();
const program = new URL('../../foreign/recompute-measures.py', import.meta.url).pathname;
const channelNames: Partial<Record<Sample['channel'], string>> = {
  spo2Percent: 'spo2_percent',
  heartRateBpm: 'heart_rate_bpm',
  pulseRateBpm: 'pulse_rate_bpm',
  rrIntervalMs: 'rr_interval_ms',
};

function recomputed(samples: readonly Sample[], holds: readonly Hold[]): Record<string, number | null>[] {
  const input = JSON.stringify({
    rows: samples.flatMap(({ channel, atMs, value }) => {
      const name = channelNames[channel];
      return name === undefined ? [] : [[atMs / 1_000, name, value]];
    }),
    holds: holds.map(({ start, end }) => ({ start: start.atMs / 1_000, end: end!.atMs / 1_000 })),
  });
  return JSON.parse(execFileSync(python!, [program], { input, encoding: 'utf8', maxBuffer: 1e8 }));
}

const boundary = (atMs: number) => ({
  atMs: monotonicMs(atMs),
  uncertaintyMs: 0,
  declaredAtMs: monotonicMs(atMs),
  source: 'corrected' as const,
  evidence: [],
});

describe.skipIf(python === undefined)('measures worked out from their description alone', () => {
  test.each([
    ['rising', 'none'],
    ['intervals', 'none'],
    ['maximal', 'none'],
    ['rising', 'oximeterOnly'],
    ['rising', 'strapRateOnly'],
    ['intervals', 'strapOnly'],
    ['rising', 'motionDips'],
    ['maximal', 'motionDips'],
  ] as const)('%s, %s', (shape, fault) => {
    const random = createRandom(7);
    const script = layOut(shape, random);
    const cleaner = createSignalCleaner();
    const sent = withFault(sketchSession(7, sketchPerson(random), script), fault, random)
      // As a CSV has them.
      .filter(({ channel, quality }) => channel !== 'pleth' && quality !== 'bad')
      .sort((a, b) => a.atMs - b.atMs);
    const samples = sent.flatMap((sample) => [...cleaner.push(sample)]);
    const holds = script.holds.map(
      ({ startMs, endMs }, index): Hold => ({
        holdId: `h${index}`,
        // Off the second, as a person's marks are.
        start: boundary(startMs + 217),
        end: boundary(endMs - 340),
        contractionsAtMs: [],
      }),
    );
    const ours = measureHolds(holds, samples);
    const theirs = recomputed(sent, holds);
    let compared = 0;
    theirs.forEach((measures, index) => {
      for (const [key, value] of Object.entries(measures)) {
        // Intervals are corrected here, and not there.
        if (key.startsWith('rmssd')) continue;
        const own = ours[index]!.measures[key] ?? null;
        const where = `hold ${index + 1}: ${key}`;
        if (value === null) expect(own, where).toBeNull();
        else expect(own, where).toBeCloseTo(value, 6);
        compared += 1;
      }
      // What the description leaves out as not known, we do not know either.
      for (const key of ['heartRateBackS', 'heartRateHalfBackS', 'spo2BackToBaselineS', 'spo2HalfTimeS'])
        if (!(key in measures)) expect(ours[index]!.measures[key], `hold ${index + 1}: ${key}`).toBeNull();
    });
    expect(compared).toBeGreaterThan(holds.length * 15);
  });

  test('RMSSD and its way back, of intervals without artefacts', () => {
    // Alternating by 40 ms at rest, by 10 ms at first after the end, and by 0.3 ms more each second.
    const samples: Sample[] = [];
    let atMs = 0;
    for (let i = 0; atMs < 420_000; i++) {
      const afterS = (atMs - 260_000) / 1_000;
      const swingMs = afterS < 0 ? 40 : Math.min(40, 10 + 0.3 * afterS);
      const value = 1_000 + ((i % 2 === 0 ? 1 : -1) * swingMs) / 2;
      atMs += value;
      samples.push({
        channel: 'rrIntervalMs',
        atMs: monotonicMs(atMs),
        value,
        sensorId: 's',
        quality: 'good',
        reasons: [],
      });
    }
    const holds = [{ holdId: 'h', start: boundary(200_000), end: boundary(260_000), contractionsAtMs: [] }];
    const own = measureHolds(holds, samples)[0]!.measures;
    const theirs = recomputed(samples, holds)[0]!;
    for (const key of ['rmssdRestMs', 'rmssdRecoveryMs', 'rmssdBackS', 'rmssdHalfBackS']) {
      expect(theirs[key], key).toBeGreaterThan(0);
      expect(own[key], key).toBeCloseTo(theirs[key]!, 6);
    }
    // 32 ms are reached 73 s after the end: the window around it comes within a step or two.
    expect(own['rmssdBackS']).toBeGreaterThan(65);
    expect(own['rmssdBackS']).toBeLessThan(85);
  });
});
