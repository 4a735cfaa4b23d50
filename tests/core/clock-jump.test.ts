// A clock that jumps by days: caught up with in a bounded number of steps, and nothing of what time brings is left out.

import { afterAll, describe, expect, test, vi } from 'vitest';
import { initialSettings } from '../../hub/live/initial-settings.ts';
import { monotonicMs } from '../../shared/units.ts';
import {
  createPipeline,
  type Pipeline,
  type PipelineEvent,
  type PipelineOutput,
} from '../../src/pipeline.ts';

// Files share a process and its modules (tests/vitest.config.ts): the engine is loaded anew to be counted, and again by who comes after.
const counted = vi.hoisted(() => {
  vi.resetModules();
  return { steps: 0 };
});
afterAll(() => {
  vi.doUnmock('../../src/alarms/alarm-engine.ts');
  vi.resetModules();
});
vi.mock(import('../../src/alarms/alarm-engine.ts'), async (load) => {
  const real = await load();
  return {
    ...real,
    stepAlarms(...args) {
      counted.steps += 1;
      return real.stepAlarms(...args);
    },
  };
});

const hourMs = 3_600_000;
const threeDaysMs = 72 * hourMs;
const advance = (atMs: number): PipelineEvent => ({ type: 'advance', atMs: monotonicMs(atMs) });
const oximeter = (atMs: number, spo2Percent: number): PipelineEvent => ({
  type: 'packet',
  atMs: monotonicMs(atMs),
  sensorId: 'ox',
  characteristic: '2a5f',
  bytes: Uint8Array.of(0, spo2Percent, 0, 60, 0),
});
const linked: PipelineEvent = {
  type: 'link',
  atMs: monotonicMs(0),
  sensorId: 'ox',
  measures: ['oximeter'],
  connected: true,
  isNew: true,
};
const holdStart: PipelineEvent = {
  type: 'mark',
  mark: { markId: 'm', kind: 'holdStart', atMs: monotonicMs(30_000) },
};

/** A minute with an oximeter on, and what else is asked for. */
function worn(more: readonly PipelineEvent[] = []): Pipeline {
  const pipeline = createPipeline({ ...initialSettings, maxHoldDurationMs: 300_000 });
  const events = [
    linked,
    ...Array.from({ length: 60 }, (_, second) => oximeter(second * 1_000, 97)),
    ...more,
  ];
  const at = (event: PipelineEvent): number =>
    event.type === 'mark' ? event.mark.atMs : event.type === 'packet' ? event.atMs : 0;
  for (const event of events.toSorted((one, other) => at(one) - at(other))) pipeline.push(event);
  return pipeline;
}

const kindsIn = (outputs: readonly PipelineOutput[]): ReadonlySet<string> =>
  new Set(
    outputs.flatMap((output) => (output.type === 'alarms' ? output.alarms.map(({ kind }) => kind) : [])),
  );

describe('three days at once', () => {
  test('take as many steps as seven minutes, and the sensor that fell silent is an alarm', () => {
    const pipeline = worn();
    counted.steps = 0;
    const outputs = pipeline.push(advance(threeDaysMs));
    expect(counted.steps).toBeLessThan(2_000);
    expect(kindsIn(outputs)).toContain('sensorLost');
    expect(pipeline.state.atMs).toBe(threeDaysMs);
  });

  test('in a hold: its alarm of length comes, its end is found, and the steps stay bounded', () => {
    const pipeline = worn([holdStart]);
    counted.steps = 0;
    const outputs = pipeline.push(advance(threeDaysMs));
    expect(counted.steps).toBeLessThan(20_000);
    expect(kindsIn(outputs)).toContain('maxDuration');
    expect(pipeline.state.holds.at(-1)?.hold.end).toBeDefined();
  });

  test('readings after it alarm as ever', () => {
    const pipeline = worn();
    pipeline.push(advance(threeDaysMs));
    const outputs: PipelineOutput[] = [];
    for (let second = 1; second <= 10; second += 1)
      outputs.push(...pipeline.push(oximeter(threeDaysMs + second * 1_000, 80)));
    expect(kindsIn(outputs)).toContain('floorBreached');
  });
});

test.each([
  ['at rest', []],
  ['in a hold', [holdStart]],
])('whether time is told at once or little by little changes nothing: %s', (_name, more) => {
  const atOnce = worn(more);
  const inParts = worn(more);
  const outputsAtOnce = [...atOnce.push(advance(4 * hourMs)), ...atOnce.push(oximeter(4 * hourMs + 500, 80))];
  const outputsInParts: PipelineOutput[] = [];
  for (let atMs = 61_000; atMs <= 4 * hourMs; atMs += 1_130)
    outputsInParts.push(...inParts.push(advance(atMs)));
  outputsInParts.push(...inParts.push(advance(4 * hourMs)), ...inParts.push(oximeter(4 * hourMs + 500, 80)));
  expect(outputsInParts).toEqual(outputsAtOnce);
  expect(inParts.state).toEqual(atOnce.state);
});
