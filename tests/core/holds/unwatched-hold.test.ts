// A hold that was found by signals and went on while nobody watched: one hold with its start where it was, live, in a pipeline
// that another process made anew, and afterwards. SIMULATED.

import fc from 'fast-check';
import { beforeAll, expect, test, vi } from 'vitest';
import { initialSettings } from '../../../hub/live/initial-settings.ts';
import { SimulatedAthlete } from '../../../hub/sensors/simulated/athlete.ts';
import { encodeOximeterReading, encodeStrapReading } from '../../../hub/sensors/simulated/encode-readings.ts';
import { scenarioAthletes } from '../../../hub/sensors/simulated/scenario.ts';
import { type MonotonicMs, monotonicMs } from '../../../shared/units.ts';
import { createPipeline, type PipelineEvent } from '../../../src/pipeline.ts';
import { deriveRecording } from '../../../src/sessions/derive-recording.ts';

vi.setConfig({ testTimeout: 120_000, hookTimeout: 120_000 });

type Packet = Extract<PipelineEvent, { type: 'packet' }>;
let packets: Packet[] = [];
let truth: { readonly startMs: MonotonicMs; readonly endMs: number; readonly saidMs: number };
const lastMs = 250_000;

beforeAll(() => {
  const { seed, person, script, faults } = scenarioAthletes(1, 2)[0]!;
  const athlete = new SimulatedAthlete({ seed, person, script, faults, loop: true, keepTruth: false });
  const { heartRate, oximetry } = athlete.advanceTo(lastMs);
  const packet = (sensorId: string, characteristic: string, atMs: number, bytes: Uint8Array): Packet => ({
    type: 'packet',
    atMs: monotonicMs(atMs),
    sensorId,
    characteristic,
    bytes,
  });
  packets = [
    ...heartRate.map((one) => packet('strap', '2a37', one.atMs, encodeStrapReading(one))),
    ...oximetry.map((one) => packet('clip', '2a5f', one.atMs, encodeOximeterReading(one))),
  ].sort((a, b) => a.atMs - b.atMs);
  const pipeline = createPipeline(initialSettings);
  for (const each of packets) pipeline.push(each);
  const hold = pipeline.state.holds.map((live) => live.hold).findLast(({ end }) => end !== undefined)!;
  truth = { startMs: hold.start.atMs, endMs: hold.end!.atMs, saidMs: hold.start.declaredAtMs };
});

test('whenever it was broken off and taken up again', () => {
  // A hold of minutes, or there is nothing to break off.
  expect(truth.endMs - truth.saidMs).toBeGreaterThan(60_000);
  fc.assert(
    fc.property(
      fc.double({ min: 0, max: 1, noNaN: true }),
      fc.integer({ min: 2_000, max: 30_000 }),
      (at, gapMs) => {
        const fromMs = monotonicMs(
          Math.round(truth.saidMs + 1_000 + at * (truth.endMs - truth.saidMs - 45_000)),
        );
        const toMs = monotonicMs(fromMs + gapMs);
        const before = packets.filter(({ atMs }) => atMs <= fromMs);
        const after = packets.filter(({ atMs }) => atMs >= toMs);

        const dying = createPipeline(initialSettings);
        for (const each of before) dying.push(each);
        const { holds, alarms } = dying.state;
        const told = holds.at(-1)!.hold;
        expect(told.end).toBeUndefined();

        const anew = createPipeline(initialSettings, [], { rebuilt: { holdsBefore: 0 } });
        for (const each of before) anew.push(each);
        const known = { settings: initialSettings, holds, alarms, alarmIdPrefix: 'again-1' };
        anew.push({ type: 'unwatched', fromMs, atMs: toMs, known });
        for (const each of after) anew.push(each);
        const live = anew.state.holds.map(({ hold }) => hold);
        const over = live.filter(
          ({ start, end }) => start.atMs < truth.endMs && (end?.atMs ?? lastMs) > truth.startMs,
        );
        expect(over.map(({ holdId, start }) => [holdId, start.atMs])).toEqual([
          [told.holdId, told.start.atMs],
        ]);
        expect(over[0]!.end!.atMs).toBeGreaterThan(toMs);

        const derived = deriveRecording(
          createPipeline(initialSettings),
          [...before, { type: 'unwatched', fromMs, atMs: toMs }, ...after],
          lastMs,
          { unwatched: [{ fromMs, toMs }] },
        );
        const found = derived.holds
          .map(({ hold }) => hold)
          .filter(({ start, end }) => start.atMs < toMs && end!.atMs > fromMs);
        expect(found).toHaveLength(1);
        expect(Math.abs(found[0]!.start.atMs - truth.startMs)).toBeLessThan(6_000);
        expect(found[0]!.end!.atMs).toBeGreaterThan(toMs);
      },
    ),
    { numRuns: 8, examples: [[0, 26_251]] },
  );
});
