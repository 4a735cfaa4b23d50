// The example sensor through the whole pipeline: its capture becomes saturation, pulse and waveform samples.

import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { expect, test } from 'vitest';
import { monotonicMs, percent } from '../../../shared/units.ts';
import { createPipeline, type PipelineOutput } from '../../../src/pipeline.ts';
import { parseCapture } from '../../../src/profiles/capture-file.ts';
import { parseProfile } from '../../../src/profiles/profile-file.ts';

const read = (name: string): string =>
  readFileSync(fileURLToPath(new URL(`../../../fixtures/profiles/${name}`, import.meta.url)), 'utf8');

test('a profile sensor is read by its profile, everything else by the standard', () => {
  const profile = parseProfile(read('lantern-clip.json'));
  const capture = parseCapture(read('lantern-clip.capture.txt'));
  if (!profile.ok || !capture.ok) throw new Error('the example is broken');
  const pipeline = createPipeline(
    {
      floorSpo2Percent: percent(88),
      thresholdsPercent: [],
      heartRateLowBpm: null,
      heartRateHighBpm: null,
      maxHoldDurationMs: null,
      forecastAlarm: 'high',
    },
    [profile.value],
  );
  const outputs: PipelineOutput[] = [];
  for (const { atMs, characteristic, bytes } of capture.value) {
    outputs.push(
      ...pipeline.push({
        type: 'packet',
        atMs: monotonicMs(10_000 + atMs),
        sensorId: 'bt:lantern',
        characteristic,
        bytes,
      }),
    );
  }
  const samples = outputs.flatMap((output) => (output.type === 'sample' ? [output.sample] : []));
  const saturations = samples.filter(({ channel }) => channel === 'spo2Percent');
  expect(saturations.length).toBeGreaterThan(50);
  expect(Math.min(...saturations.map(({ value }) => value))).toBe(93);
  expect(samples.some(({ channel }) => channel === 'pulseRateBpm')).toBe(true);
  expect(samples.filter(({ channel }) => channel === 'pleth').length).toBe(238);
  expect(outputs).toContainEqual(expect.objectContaining({ type: 'battery', batteryPercent: 75 }));
  expect(outputs).toContainEqual(
    expect.objectContaining({ type: 'discarded', reason: 'damagedFrames', sensorId: 'bt:lantern' }),
  );
});
