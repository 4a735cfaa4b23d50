// Tables of other programs: delimiters, number and time formats, units, and clear words for what cannot be read.

import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { collectRecording, utc } from '../../../src/formats/import-file.ts';
import { readTable } from '../../../src/formats/tables/read-table.ts';
import {
  refuseTableChoice,
  suggestTableChoice,
  type TableChoice,
  tableShapeOf,
} from '../../../src/formats/tables/table-shape.ts';
import { inWords } from '../../support/in-words.ts';

function read(text: string, change: Partial<TableChoice> = {}) {
  const source = { pieces: () => [text] };
  const shape = tableShapeOf(source);
  if (!shape.ok) return { fault: shape.reason };
  const choice = { ...suggestTableChoice(shape.value), ...change };
  const { timeUnit, columns } = choice;
  if (timeUnit === undefined) return { choice };
  const whole = { ...choice, timeColumn: choice.timeColumn, timeUnit, columns };
  expect(refuseTableChoice(shape.value, whole)).toBeUndefined();
  const recording = collectRecording((sink) => readTable(source, shape.value, whole, utc, sink));
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
    expect(recording?.notices.map((notice) => inWords(notice))).toEqual([
      '2 rows have no reading in "SpO2".',
      '1 row has no reading in "Pulse".',
    ]);
  });

  test('intervals in seconds are seen to be', () => {
    expect(rows(read('time,RR\n1,0.95\n2,0.96\n').recording)).toEqual([
      ['rrIntervalMs', 1_000, 950],
      ['rrIntervalMs', 2_000, 960],
    ]);
  });

  test('what is no row is passed over and counted: summaries, headings again, blanks, rows out of order', () => {
    const lines = Array.from({ length: 20 }, (_, s) => `${s};${60 + s};98`);
    [lines[3], lines[4]] = [lines[4]!, lines[3]!];
    lines.splice(8, 0, 'time;HR;SpO2', '', ';;');
    const { recording } = read(`time;HR;SpO2\n${lines.join('\n')}\n\nMean;69,5;98\nMax;79;98\n`);
    expect(rows(recording)?.filter(([channel]) => channel === 'heartRateBpm')).toEqual(
      Array.from({ length: 20 }, (_, s) => ['heartRateBpm', 1_000 * s, 60 + s]),
    );
    expect(recording?.notices.slice(2).map((notice) => inWords(notice))).toEqual([
      'The heading stands 1 more time; passed over.',
      '2 rows without a time were passed over (the first in line 26).',
      '1 row stood after a later time and was put in order.',
    ]);
  });

  test.each([
    ['days first', '13/05/2024 22:00:00', '13/05/2024 22:00:01'],
    ['months first, 12 hours', '5/13/2024 10:00:00 PM', '5/13/2024 10:00:01 PM'],
    ['dots', '13.05.2024 22:00:00', '13.05.2024 22:00:01'],
    ['dots, two digits', '13.05.24 22:00:00', '13.05.24 22:00:01'],
    ['a month by name', '13-May-2024 22:00:00', '13-May-2024 22:00:01'],
    ['French', '13 mai 2024 22:00:00', '13 mai 2024 22:00:01'],
    ['a year first', '2024/05/13 22:00:00', '2024/05/13 22:00:01'],
    ['days of a spreadsheet', '45425.9166666667', '45425.9166782407'],
    ['Unix seconds', '1715637600', '1715637601'],
    ['Unix microseconds', '1715637600000000', '1715637601000000'],
    ['a zone', '2024-05-14T00:00:00+02:00', '2024-05-14T00:00:01+02:00'],
  ])('a date with %s', (_name, first, second) => {
    const { recording } = read(`time;SpO2\n${first};98\n${second};97\n`);
    expect(recording?.startedWallAtMs).toBe(Date.UTC(2024, 4, 13, 22));
    expect(rows(recording)).toEqual([
      ['spo2Percent', 0, 98],
      ['spo2Percent', 1_000, 97],
    ]);
  });

  test('a date that could be either is said to be; one beyond twelve settles it', () => {
    expect(read('time,SpO2\n03/04/2024 10:00:00,98\n03/04/2024 10:00:01,97\n').choice).toMatchObject({
      dateOrderAmbiguous: true,
    });
    const late = read('time,SpO2\n03/04/2024 23:59:59,98\n03/13/2024 00:00:00,97\n').choice;
    expect(late).toMatchObject({ dateOrderAmbiguous: false, dateOrder: 'monthFirst' });
  });

  test('parts of a day are days, not seconds', () => {
    expect(rows(read('elapsed,SpO2\n0,98\n0.0013888889,97\n0.0027777778,96\n').recording)?.at(-1)).toEqual([
      'spo2Percent',
      240_000,
      96,
    ]);
  });

  test.each([
    ['German', 'Zeit (s);Herzfrequenz;Sauerstoffsättigung'],
    ['French', 'Temps (s);Fréquence cardiaque;Saturation'],
    ['Spanish', 'Tiempo (s);Frecuencia cardíaca;Saturación'],
    ['Italian', 'Tempo (s);Frequenza cardiaca;Saturazione'],
    ['short', 't;FC;SpO₂'],
  ])('%s headings', (_name, heading) => {
    expect(rows(read(`${heading}\n0;60,5;98 %\n1;61,5;97 %\n`).recording)).toEqual([
      ['heartRateBpm', 0, 60.5],
      ['spo2Percent', 0, 98],
      ['heartRateBpm', 1_000, 61.5],
      ['spo2Percent', 1_000, 97],
    ]);
  });

  test('a list of beat intervals becomes beats; a rate of respiration does not', () => {
    expect(rows(read('812\n830\n821\n').recording)).toEqual([
      ['rrIntervalMs', 812, 812],
      ['rrIntervalMs', 1_642, 830],
      ['rrIntervalMs', 2_463, 821],
    ]);
    expect(rows(read('time,RR,HR\n0,14,60\n1,15,61\n').recording)).toEqual([
      ['heartRateBpm', 0, 60],
      ['heartRateBpm', 1_000, 61],
    ]);
  });

  test('a wave whose clock knows seconds is spread over them', () => {
    const lines = Array.from({ length: 40 }, (_, i) => `${Math.floor(i / 10)},${i}`);
    const wave = rows(read(`time,pleth\n${lines.join('\n')}\n`).recording);
    expect(wave).toEqual(Array.from({ length: 40 }, (_, i) => ['pleth', 100 * i, i]));
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
    ['time,SpO2\n0,98\n1,98\n2,98\nlate,97\nlater,97\n', 'line 5, column 1: "late" is no time (seconds)'],
    ['time,SpO2\n0,98\n1,good\n', 'line 3, column 2: "good" in "SpO2" is not a number'],
    [
      'time,SpO2\n0,98\n1,97,3\n2,97,3\n3,96\n4,96\n5,97,3\n6,97,3\n7,97\n',
      'line 3, column 3: this row has more cells than the table has columns (2)',
    ],
    [
      'time,SpO2\n0,-98\n1,250\n',
      'line 2, column 2: "-98" in "SpO2" is outside 10 to 100, as are 2 of 2 values: choose another unit',
    ],
    ['time,SpO2\n', 'no table was found'],
  ])('%j', (text, message) => {
    expect(inWords(read(text).fault?.said)).toContain(message);
  });

  test('a wrong unit is said, not stored: intervals read as heart rate, fractions as per cent, seconds as minutes', () => {
    const text = 'time,HR,SpO2\n0,850,0.98\n30000,860,0.97\n';
    const hr = { index: 1, channel: 'heartRateBpm' as const, factor: 1 };
    const spo2 = { index: 2, channel: 'spo2Percent' as const, factor: 1 };
    expect(inWords(read(text, { columns: [hr] }).fault?.said)).toContain('outside 10 to 350');
    expect(inWords(read(text, { columns: [spo2] }).fault?.said)).toContain('outside 10 to 100');
    expect(inWords(read(text, { timeUnit: 'min', columns: [] }).fault?.said)).toContain(
      'is no time (minutes)',
    );
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
        if (fault !== undefined) expect(inWords(fault.said)).toMatch(/^line \d+, column \d+: [^\n]+$/);
        for (const sample of recording?.samples ?? [])
          expect(Number.isFinite(sample.atMs + sample.value)).toBe(true);
      }),
      { numRuns: 500 },
    );
  });
});
