// Tables of other programs: delimiters, number and time formats, units, and clear words for what cannot be read.

import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  readWideTable,
  recordingOfWideTable,
  suggestWideChoice,
  type WideChoice,
} from '../../../src/formats/wide-csv/wide-csv.ts';

function read(text: string, change: Partial<WideChoice> = {}) {
  const table = readWideTable(text);
  if (!table.ok) return { fault: table.reason };
  const choice = { ...suggestWideChoice(table.value), ...change };
  const { timeColumn, timeUnit, columns } = choice;
  if (timeColumn === undefined || timeUnit === undefined || columns === undefined) return { choice };
  const recording = recordingOfWideTable(table.value, { timeColumn, timeUnit, columns });
  return recording.ok ? { choice, recording: recording.value } : { choice, fault: recording.reason };
}
const rows = (recording: ReturnType<typeof read>['recording']) =>
  recording?.samples.map(({ channel, atMs, value }) => [channel, atMs, value]);

describe('as loggers write', () => {
  test.each([
    ['commas, seconds', 'Time (s),HR,SpO2\n0,60,98\n1,61,97\n'],
    ['semicolons, decimal commas', 'Time (s);HR;SpO2\r\n0,0;60,0;98,0\r\n1,0;61,0;97,0\r\n'],
    ['tabs, milliseconds', 'time_ms\theart rate\tO2 Saturation\n0\t60\t98\n1000\t61\t97\n'],
    ['a clock', 'Time,Heart rate [bpm],SpO2 [%]\n23:59:59,60,98\n00:00:00,61,97\n'],
    [
      'date and time, a title before',
      'Night report\nDevice: X1\n\nTimestamp,HR,SpO2\n2024-05-01 10:00:00,60,98\n2024-05-01 10:00:01,61,97\n',
    ],
    [
      'Unix milliseconds, quotes',
      '"timestamp","hr","spo2"\n"1714557600000","60","98"\n"1714557601000","61","97"\n',
    ],
    ['fractions', 't,HR,SpO2\n0,60,0.98\n1,61,0.97\n'],
    ['minutes', 'minutes,HR,SpO2\n0,60,98\n0.016666666667,61,97\n'],
  ])('%s', (_name, text) => {
    const { recording } = read(text);
    expect(rows(recording)).toEqual([
      ['heartRateBpm', 0, 60],
      ['spo2Percent', 0, 98],
      ['heartRateBpm', 1_000, 61],
      ['spo2Percent', 1_000, 97],
    ]);
  });

  test('dates give the start, with their zone', () => {
    const { recording } = read(
      'time,SpO2\n2024-05-01T10:00:00.250+02:00,98\n2024-05-01T10:00:01.250+02:00,97\n',
    );
    expect(recording?.startedWallAtMs).toBe(Date.UTC(2024, 4, 1, 8, 0, 0, 250));
  });

  test('missing cells are passed over and counted', () => {
    const { recording } = read('time,SpO2,Pulse\n0,98,--\n1,,60\n2,0,61\n');
    expect(rows(recording)).toEqual([
      ['spo2Percent', 0, 98],
      ['pulseRateBpm', 1_000, 60],
      ['pulseRateBpm', 2_000, 61],
    ]);
    expect(recording?.notices).toEqual([
      '2 rows have no reading in "SpO2".',
      '1 rows have no reading in "Pulse".',
    ]);
  });

  test('intervals in seconds are seen to be', () => {
    expect(rows(read('time,RR\n1,0.95\n2,0.96\n').recording)).toEqual([
      ['rrIntervalMs', 1_000, 950],
      ['rrIntervalMs', 2_000, 960],
    ]);
  });

  test('SIMULATED is seen', () => {
    expect(read('# SIMULATED\ntime,SpO2\n0,98\n1,98\n').recording?.simulated).toBe(true);
    expect(read('Report, SIMULATED data\ntime,SpO2\n0,98\n1,98\n').recording?.simulated).toBe(true);
  });
});

describe('what cannot be read', () => {
  test.each([
    ['', 'line 1, column 1: no table'],
    ['hello\nworld\n', 'no table was found'],
    ['\0\0\0', 'not a text file'],
    ['time,SpO2\n0,98\nlate,97\n', 'line 3, column 1: "late" is no time (seconds)'],
    ['time,SpO2\n0,98\n2,97\n1,97\n', 'line 4, column 1: the time "1" is before that of the row above'],
    ['time,SpO2\n0,98\n1,good\n', 'line 3, column 2: "good" in "SpO2" is not a number'],
    ['time,SpO2\n0,98\n1,97,3\n', 'line 3, column 1: this row has 3 fields'],
    [
      'time,SpO2\n0,-98\n1,250\n',
      'line 2, column 2: "-98" in "SpO2" is outside 10 to 100, as are 2 of 2 values: choose another unit',
    ],
    ['time,SpO2\n', 'no table was found'],
  ])('%j', (text, message) => {
    expect(read(text).fault?.message).toContain(message);
  });

  test('a wrong unit is said, not stored: intervals read as heart rate, fractions as per cent, seconds as minutes', () => {
    const text = 'time,HR,SpO2\n0,850,0.98\n20000,860,0.97\n';
    const hr = { index: 1, channel: 'heartRateBpm' as const, factor: 1 };
    const spo2 = { index: 2, channel: 'spo2Percent' as const, factor: 1 };
    expect(read(text, { columns: [hr] }).fault?.message).toContain('outside 10 to 350');
    expect(read(text, { columns: [spo2] }).fault?.message).toContain('outside 10 to 100');
    expect(read(text, { timeUnit: 'min', columns: [] }).fault?.message).toContain('is no time (minutes)');
  });

  test('any text ends in rows or in one sentence with its place', () => {
    const cell = fc.oneof(
      fc.constantFrom('time', 'SpO2', 'HR', '"', '98', '1', '2', '', '1:00', '#', 'SIMULATED'),
      fc.string({ maxLength: 6 }),
    );
    const text = fc
      .array(
        fc.array(cell, { maxLength: 5 }).map((cells) => cells.join(',')),
        { maxLength: 12 },
      )
      .map((lines) => lines.join('\n'));
    fc.assert(
      fc.property(text, (any) => {
        const { fault, recording } = read(any);
        if (fault !== undefined) expect(fault.message).toMatch(/^line \d+, column \d+: [^\n]+$/);
        for (const sample of recording?.samples ?? [])
          expect(Number.isFinite(sample.atMs + sample.value)).toBe(true);
      }),
      { numRuns: 500 },
    );
  });
});
