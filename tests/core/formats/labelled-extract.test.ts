// A labelled extract: only what a person marked is a label, nothing that names anybody gets in, and the bench reads it back.

import { expect, test } from 'vitest';
import { labelledExtractSchema } from '../../../shared/labelled-extract.ts';
import { monotonicMs } from '../../../shared/units.ts';
import { extractOfRecording } from '../../../src/formats/labelled-extract/extract-of-recording.ts';
import type { Boundary, Hold } from '../../../src/holds/hold.ts';
import type { Sample } from '../../../src/samples/sample.ts';
import { sessionOfExtract } from '../../support/scoring/labelled-extracts.ts';

const sample = (
  channel: Sample['channel'],
  atMs: number,
  value: number,
  sensorId: string,
  quality: Sample['quality'] = 'good',
): Sample => ({ channel, atMs: monotonicMs(atMs), value, sensorId, quality, reasons: [] });
const boundary = (atMs: number, source: Boundary['source']): Boundary => ({
  atMs: monotonicMs(atMs),
  uncertaintyMs: 0,
  declaredAtMs: monotonicMs(atMs),
  source,
  evidence: ['said Mira Holm'],
});
const hold = (holdId: string, start: Boundary, end?: Boundary): Hold => ({
  holdId,
  start,
  ...(end !== undefined && { end }),
  contractionsAtMs: [],
});

const extract = extractOfRecording({
  simulated: false,
  durationMs: 300_000.4,
  samples: [
    sample('spo2Percent', 1_000.4, 97, 'aa:bb:cc:dd:ee:ff'),
    sample('rrIntervalMs', 1_500, 812, 'strap of Mira Holm'),
    sample('spo2Percent', 2_000, 0, 'aa:bb:cc:dd:ee:ff', 'bad'),
    sample('spo2Percent', 3_000, 96, 'aa:bb:cc:dd:ee:ff'),
  ],
  holds: [
    hold('found', boundary(10_000, 'detected'), boundary(40_000, 'detected')),
    hold('half-found', boundary(50_000, 'mark'), boundary(80_000, 'detected')),
    hold('marked', boundary(100_000, 'mark'), boundary(160_000, 'corrected')),
    hold('running', boundary(200_000, 'mark')),
  ],
  marks: [
    { kind: 'note', atMs: 5_000 },
    { kind: 'contraction', atMs: 130_000 },
  ],
});

test('holds marked at both ends are labels, and nothing else is', () => {
  expect(extract.holds).toEqual([{ startMs: 100_000, endMs: 160_000, lungs: null }]);
  expect(extract.contractionsMs).toEqual([130_000]);
});

test('sensors are numbers, bad readings are left out, and no name gets in', () => {
  expect(extract.series).toEqual([
    { channel: 'spo2Percent', sensor: 1, timesMs: [1_000, 3_000], values: [97, 96] },
    { channel: 'rrIntervalMs', sensor: 2, timesMs: [1_500], values: [812] },
  ]);
  expect(JSON.stringify(extract)).not.toMatch(/Mira|aa:bb/);
});

test('the schema takes it, and refuses more fields, falling times, and holds that overlap', () => {
  expect(labelledExtractSchema.safeParse(extract).success).toBe(true);
  const refused = (change: object): boolean =>
    !labelledExtractSchema.safeParse({ ...extract, ...change }).success;
  expect(refused({ athleteName: 'Mira' })).toBe(true);
  expect(refused({ startedWallAtMs: 0 })).toBe(true);
  expect(refused({ series: [{ ...extract.series[0]!, name: 'x' }] })).toBe(true);
  expect(refused({ series: [{ ...extract.series[0]!, timesMs: [3_000, 1_000] }] })).toBe(true);
  expect(refused({ series: [{ ...extract.series[0]!, timesMs: [1] }] })).toBe(true);
  const [marked] = extract.holds;
  expect(refused({ holds: [marked, { ...marked!, startMs: 150_000, endMs: 170_000 }] })).toBe(true);
  expect(refused({ holds: [{ ...marked!, endMs: 100_000 }] })).toBe(true);
});

test('the bench reads it back in time order, with its labels', () => {
  const session = sessionOfExtract('one.json', {
    ...extract,
    holds: [{ ...extract.holds[0]!, lungs: 'emptied' }],
  });
  expect(session.events.map((event) => (event.type === 'sample' ? event.sample.atMs : null))).toEqual([
    1_000, 1_500, 3_000,
  ]);
  expect(session.conditions['sensors']).toBe('beats and oximetry');
  expect(session.holds).toEqual([{ startMs: 100_000, endMs: 160_000, lungs: 'emptied' }]);
});
