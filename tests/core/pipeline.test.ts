// The pipeline as a whole: the same input in any pieces gives the same output, bytes never make it throw, alarms come
// at the right sample.

import fc from 'fast-check';
import { expect, test } from 'vitest';
import { monotonicMs, percent } from '../../shared/units.ts';
import type { AthleteSettings } from '../../shared/views.ts';
import { createPipeline, type PipelineEvent, type PipelineOutput } from '../../src/pipeline.ts';

const settings: AthleteSettings = {
  floorSpo2Percent: percent(88),
  thresholdsPercent: [percent(95), percent(92)],
  heartRateLowBpm: null,
  heartRateHighBpm: null,
  maxHoldDurationMs: null,
  forecastAlarm: 'medium',
};

/** PLX Continuous (0x2A5F) with two plain SFLOATs of exponent 0. */
const plx = (atMs: number, spo2Percent: number, pulseRateBpm = 60): PipelineEvent => ({
  type: 'packet',
  atMs: monotonicMs(atMs),
  sensorId: 'ox',
  characteristic: '2a5f',
  bytes: Uint8Array.of(0, spo2Percent, 0, pulseRateBpm, 0),
});
const heartRate = (atMs: number, heartRateBpm: number): PipelineEvent => ({
  type: 'packet',
  atMs: monotonicMs(atMs),
  sensorId: 'hr',
  characteristic: '2a37',
  bytes: Uint8Array.of(0x06, heartRateBpm),
});
const advance = (atMs: number): PipelineEvent => ({ type: 'advance', atMs: monotonicMs(atMs) });

function run(events: readonly PipelineEvent[]): PipelineOutput[] {
  const pipeline = createPipeline(settings);
  return events.flatMap((event) => [...pipeline.push(event)]);
}

const arbitraryPacket = fc.record({
  type: fc.constant('packet' as const),
  atMs: fc.integer({ min: 0, max: 120_000 }).map(monotonicMs),
  sensorId: fc.constantFrom('ox', 'hr'),
  characteristic: fc.constantFrom('2a37', '2a5f', '2a5e', '2a60', '2a19', '2a29', 'beef'),
  bytes: fc.uint8Array({ maxLength: 24 }),
});

test('arbitrary bytes never throw; each packet gives samples, a discard, or nothing to measure', () => {
  fc.assert(
    fc.property(fc.array(arbitraryPacket, { maxLength: 60 }), (packets) => {
      const outputs = run([...packets].sort((a, b) => a.atMs - b.atMs));
      for (const output of outputs)
        if (output.type === 'sample') expect(Number.isFinite(output.sample.value)).toBe(true);
    }),
  );
});

test('how often time is told between events changes nothing', () => {
  fc.assert(
    fc.property(
      fc.array(arbitraryPacket, { maxLength: 40 }),
      fc.array(fc.integer({ min: 0, max: 130_000 }), { maxLength: 60 }),
      (packets, tellings) => {
        const ordered = [...packets].sort((a, b) => a.atMs - b.atMs);
        const woven = [...ordered, ...tellings.map(advance)]
          .map((event, index) => ({ event, index }))
          .sort(
            (a, b) =>
              ('atMs' in a.event && 'atMs' in b.event ? a.event.atMs - b.event.atMs : 0) || a.index - b.index,
          )
          .map(({ event }) => event);
        expect(run([...woven, advance(130_000)])).toEqual(run([...ordered, advance(130_000)]));
      },
    ),
  );
});

test('shifting a whole session by a whole number of steps shifts its output and nothing else', () => {
  const events = Array.from({ length: 90 }, (_, second) =>
    plx(second * 1000, second < 40 ? 97 : 97 - Math.min(12, second - 40)),
  );
  const holds = (outputs: PipelineOutput[], shiftMs: number) =>
    outputs
      .filter((o) => o.type === 'threshold')
      .map((o) => [o.atMs - shiftMs, o.thresholdPercent, o.direction]);
  const shifted = events.map(
    (event) => ({ ...event, atMs: monotonicMs((event as { atMs: number }).atMs + 60_000) }) as PipelineEvent,
  );
  expect(holds(run(shifted), 60_000)).toEqual(holds(run(events), 0));
  expect(holds(run(events), 0).length).toBe(2);
});

test('a reading below the floor raises the alarm, which stays until it is acknowledged and the reading is back', () => {
  const pipeline = createPipeline(settings);
  const push = (event: PipelineEvent) => pipeline.push(event);
  push({ type: 'link', atMs: monotonicMs(0), sensorId: 'ox', measures: ['oximeter'], connected: true });
  for (let second = 1; second <= 20; second += 1) push(plx(second * 1000, 96));
  expect(pipeline.state.alarms.filter((a) => a.kind === 'floorBreached')).toEqual([]);
  for (let second = 21; second <= 26; second += 1) push(plx(second * 1000, 86));
  const raised = pipeline.state.alarms.find((a) => a.kind === 'floorBreached');
  expect(raised).toMatchObject({ priority: 'high', conditionPresent: true, acknowledged: false, value: 86 });
  expect(raised!.raisedAtMs).toBeLessThanOrEqual(24_000);
  expect(pipeline.state.sound.priority).toBe('high');
  for (let second = 27; second <= 60; second += 1) push(plx(second * 1000, 96));
  expect(pipeline.state.alarms.find((a) => a.kind === 'floorBreached')).toMatchObject({
    conditionPresent: false,
  });
  push({ type: 'acknowledge', atMs: monotonicMs(60_500) });
  push(plx(61_000, 96));
  expect(pipeline.state.alarms.find((a) => a.kind === 'floorBreached')).toBeUndefined();
});

test('a marked hold begins and ends where the marks are, and keeps its lowest reading from after the end', () => {
  const pipeline = createPipeline(settings);
  for (let second = 1; second <= 150; second += 1) {
    const atMs = monotonicMs(second * 1000);
    if (second === 30) pipeline.push({ type: 'mark', mark: { markId: 'm1', kind: 'holdStart', atMs } });
    if (second === 90) pipeline.push({ type: 'mark', mark: { markId: 'm2', kind: 'holdEnd', atMs } });
    const spo2 = second < 85 ? 98 : second < 110 ? 92 : 97;
    pipeline.push(plx(atMs, spo2));
    pipeline.push(heartRate(atMs, 62));
  }
  const marked = pipeline.state.holds.filter((live) => live.hold.start.source === 'mark');
  expect(marked).toHaveLength(1);
  expect(marked[0]?.hold.start.atMs).toBe(30_000);
  expect(marked[0]?.hold.end?.atMs).toBe(90_000);
  expect(marked[0]?.lowestSpo2?.value).toBe(92);
});

test('silence of a connected oximeter during a hold is an alarm, never silence', () => {
  const pipeline = createPipeline(settings);
  pipeline.push({
    type: 'link',
    atMs: monotonicMs(0),
    sensorId: 'ox',
    measures: ['oximeter'],
    connected: true,
  });
  for (let second = 1; second <= 40; second += 1) pipeline.push(plx(second * 1000, 98));
  pipeline.push({ type: 'mark', mark: { markId: 'm1', kind: 'holdStart', atMs: monotonicMs(41_000) } });
  pipeline.push(advance(47_000));
  expect(pipeline.state.alarms.map((alarm) => alarm.kind)).toContain('readingsStale');
  expect(pipeline.state.sound.priority).not.toBeNull();
  pipeline.push(advance(55_000));
  // Once, as the oximeter's: there is no heart rate sensor that could be lost.
  expect(pipeline.state.alarms.map((alarm) => alarm.kind)).toEqual(['sensorLost']);
  expect(pipeline.state.sound.priority).not.toBeNull();
});

test('the signals scope gives the same samples, gaps and discards, and nothing else', () => {
  fc.assert(
    fc.property(fc.array(arbitraryPacket, { maxLength: 40 }), (packets) => {
      const ordered = [...packets].sort((a, b) => a.atMs - b.atMs);
      const ofSignals = (outputs: readonly PipelineOutput[]) =>
        outputs.filter(({ type }) => ['sample', 'gap', 'discarded', 'battery', 'threshold'].includes(type));
      const whole = createPipeline(settings);
      const signals = createPipeline(settings, [], { scope: 'signals' });
      const all = ordered.map((event) => ofSignals(whole.push(event)));
      expect(ordered.map((event) => [...signals.push(event)])).toEqual(all);
    }),
    { numRuns: 40 },
  );
});

test('a mark of emptied lungs brings the forecast alarm before the display has fallen; taking it back brings none', () => {
  const alarmsWith = (mark: boolean, takenBack = false): number[] => {
    const pipeline = createPipeline({ ...settings, forecastAlarm: 'high' });
    const times: number[] = [];
    const push = (event: PipelineEvent): void => {
      for (const output of pipeline.push(event))
        if (output.type === 'alarms' && output.alarms.some(({ kind }) => kind === 'floorForecast'))
          times.push(output.atMs);
    };
    for (let second = 0; second <= 110; second++) {
      const atMs = monotonicMs(second * 1000);
      if (second === 50 && mark) push({ type: 'mark', mark: { markId: 'l', kind: 'lungsEmptied', atMs } });
      if (second === 55 && takenBack) push({ type: 'markRemoved', markId: 'l', atMs });
      if (second === 60) push({ type: 'mark', mark: { markId: 's', kind: 'holdStart', atMs } });
      push(plx(second * 1000 + 100, 98));
    }
    return times;
  };
  const [first] = alarmsWith(true);
  expect(first).toBeGreaterThan(75_000);
  expect(first).toBeLessThan(105_000);
  expect(alarmsWith(true, true)).toEqual([]);
  expect(alarmsWith(false)).toEqual([]);
});
