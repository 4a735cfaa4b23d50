import { mkdtempSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { runAnalyze } from '../../hub/commands/analyze/analyze.ts';
import { measureName } from '../../hub/recordings/export/measure-text.ts';
import { createRandom } from '../support/corpus/seeded-random.ts';
import { sketchPerson, sketchSession } from '../support/corpus/sketched-athlete.ts';

const folder = mkdtempSync(join(tmpdir(), 'analyze-'));
const names: Record<string, string> = {
  heartRateBpm: 'heart_rate_bpm',
  rrIntervalMs: 'rr_interval_ms',
  spo2Percent: 'spo2_percent',
  pulseRateBpm: 'pulse_rate_bpm',
};
let fileCount = 0;
const fileOf = (text: string): string => {
  fileCount += 1;
  const path = join(folder, `${fileCount}.csv`);
  writeFileSync(path, text);
  return path;
};
async function run(...argv: string[]) {
  let out = '';
  let err = '';
  const status = await runAnalyze(argv, {
    stdout: { write: (text) => (out += text) },
    stderr: { write: (text) => (err += text) },
  });
  return { status, out, err };
}

// One hold of 200 s that takes saturation well below 88 %. SIMULATED.
const person = sketchPerson(createRandom(11), {
  rsaBpm: 6,
  fallFraction: 0.25,
  startRiseBpm: 4,
  plateauS: 60,
  slopePercentPerS: 0.15,
  lagS: 18,
  backTauS: 2.5,
});
const truth = { startMs: 200_000, endMs: 400_000 };
const rows = sketchSession(11, person, { holds: [truth], durationMs: 560_000 }).map(
  (sample) => `${(sample.atMs / 1_000).toFixed(3)},${names[sample.channel]},${sample.value.toFixed(2)}`,
);
const recording = fileOf(`time_s,channel,value\n${rows.join('\n')}\n`);

describe('slackwater analyze', { timeout: 60_000 }, () => {
  test('prints holds with measures and alarms in the stated shape', async () => {
    const { status, out, err } = await run(recording, '--floor', '88');
    expect(status).toBe(0);
    expect(err).toBe('');
    const analysis = JSON.parse(out);
    expect(Object.keys(analysis)).toEqual(['holds', 'alarms']);
    expect(analysis.holds.length).toBe(1);
    const [hold] = analysis.holds;
    expect(Object.keys(hold)).toEqual([
      'start_s',
      'end_s',
      'start_uncertainty_s',
      'end_uncertainty_s',
      'start_declared_at_s',
      'end_declared_at_s',
      'source',
      'confidence',
      'measures',
    ]);
    expect(Math.abs(hold.start_s - 200)).toBeLessThan(5);
    expect(Math.abs(hold.end_s - 400)).toBeLessThan(5);
    expect(hold.end_declared_at_s).toBeGreaterThan(400);
    expect(hold.measures.spo2_lowest_percent).toBeLessThan(88);
    expect(hold.measures.contraction_count).toBeNull();
    const floor = analysis.alarms.find((alarm: { kind: string }) => alarm.kind === 'floor_breached');
    expect(floor.value).toBeLessThanOrEqual(88);
    expect(floor.at_s).toBeGreaterThan(hold.start_s);
  });

  test('marks in the file win', async () => {
    const text = `time_s,channel,value\n${[
      ...rows,
      '203.5,mark,hold_start',
      '300,mark,contraction',
      '398,mark,hold_end',
    ]
      .sort((a, b) => Number(a.split(',')[0]) - Number(b.split(',')[0]))
      .join('\n')}\n`;
    const { out } = await run(fileOf(text));
    const [hold] = JSON.parse(out).holds;
    expect(hold).toMatchObject({
      start_s: 203.5,
      end_s: 398,
      source: 'mark',
      start_uncertainty_s: 0,
      start_declared_at_s: 203.5,
    });
    expect(hold.measures.contraction_count).toBe(1);
  });

  test('a table names measures and what is not known', async () => {
    const { status, out } = await run(recording, '--format', 'table');
    expect(status).toBe(0);
    expect(out).toContain('Lowest SpO2');
    expect(out).toContain('not known');
    // Values stand below their hold's number, whatever the length of a label.
    const from = out.indexOf('measure ');
    const lines = out.slice(from, out.indexOf('\n\n', from)).split('\n');
    expect(new Set(lines.map((line) => line.length)).size).toBe(1);
  });

  test.each([
    ['time_s,channel,value\n1,spo2_percent,97\n2,spo2_percent,many\n', 'line 3, column 16'],
    ['time_s,channel,value\n1,saturation,97\n', 'line 2, column 3'],
    ['time,channel,value\n', 'line 1, column 1'],
  ])('bad input names its place: %j', async (text, place) => {
    const { status, out, err } = await run(fileOf(text));
    expect(status).toBe(2);
    expect(out).toBe('');
    expect(err).toContain(place);
  });

  test('bad options and missing files are one sentence', async () => {
    expect((await run()).status).toBe(2);
    expect((await run(recording, '--floor', '40')).err).toContain('--floor');
    expect((await run(recording, '--format', 'xml')).err).toContain('--format');
    expect((await run(join(folder, 'none.csv'))).err).toContain('no such file');
    expect((await run(folder, '--format', 'table')).err).toContain('csv or jsonl');
    expect((await run(mkdtempSync(join(tmpdir(), 'analyze-none-')))).err).toContain(
      'no CSV, text or EDF files',
    );
  });

  test('a folder becomes a table in the order of its names, whatever cannot be read beside it', async () => {
    const many = mkdtempSync(join(tmpdir(), 'analyze-many-'));
    const csv = `time_s,channel,value\n${rows.join('\n')}\n`;
    writeFileSync(join(many, 'b.csv'), csv);
    writeFileSync(join(many, 'a.csv'), 'time,HR,SpO2\n0,60,98\n1,61,98\n2,61,98\n');
    writeFileSync(join(many, 'c.txt'), 'no table');
    writeFileSync(join(many, 'ignored.png'), 'x');
    const table = await run(many, '--floor', '88', '--jobs', '2');
    expect(table.status).toBe(2);
    expect(table.err).toContain('c.txt, line 1, column 1: no table was found');
    expect(table.err).toContain('2 of 3 files were analysed, 1 could not be read.');
    const [head, ...lines] = table.out
      .trim()
      .split('\n')
      .map((line) => line.split(','));
    expect(lines.map(([file, , , hold]) => [file, hold])).toEqual([
      ['a.csv', '0'],
      ['b.csv', '1'],
    ]);
    const alone = JSON.parse((await run(join(many, 'b.csv'), '--floor', '88')).out);
    expect(Number(lines[1]![head!.indexOf('start_s')])).toBe(alone.holds[0].start_s);
    const json = (await run(many, '--format', 'jsonl')).out
      .trim()
      .split('\n')
      .map((line) => JSON.parse(line));
    expect(json.map(({ file, error }) => [file, typeof error])).toEqual([
      ['a.csv', 'undefined'],
      ['b.csv', 'undefined'],
      ['c.txt', 'string'],
    ]);
  });

  test('an EDF file and a table are analysed like the long format, saying how they were read', async () => {
    const { status, err } = await run(
      join(import.meta.dirname, '../../fixtures/imports/written-by-libedf.edf'),
    );
    expect(status).toBe(0);
    expect(err).toContain('was read as an EDF file: SpO2 as spo2Percent, Pulse as pulseRateBpm.');
  });

  test('an empty recording has nothing in it', async () => {
    const { status, out } = await run(fileOf('time_s,channel,value\n'));
    expect(status).toBe(0);
    expect(JSON.parse(out)).toEqual({ holds: [], alarms: [] });
  });
});

test('names in snake case', () => {
  expect(measureName('floorBreached')).toBe('floor_breached');
  expect(measureName('timeBelow90S')).toBe('time_below_90_s');
  expect(measureName('timeBackTo95S')).toBe('time_back_to_95_s');
  expect(measureName('spo2AtStartPercent')).toBe('spo2_at_start_percent');
  expect(measureName('durationTrendSPerHold')).toBe('duration_trend_s_per_hold');
});
