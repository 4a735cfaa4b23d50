import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { createCsvReader } from '../../../src/formats/csv/csv-reader.ts';
import type { CsvRow } from '../../../src/formats/csv/csv-row.ts';
import { csvChannels, csvMarks } from '../../../src/formats/csv/csv-row.ts';
import { csvLines, csvPreamble } from '../../../src/formats/csv/csv-writer.ts';
import { inWords } from '../../support/in-words.ts';

function read(pieces: readonly string[]) {
  const reader = createCsvReader();
  const rows: CsvRow[] = [];
  for (const piece of pieces) {
    const result = reader.push(piece);
    if (!result.ok) return { rows, fault: result.reason };
    rows.push(...result.value);
  }
  const end = reader.finish();
  if (!end.ok) return { rows, fault: end.reason };
  rows.push(...end.value.rows);
  return { rows, summary: end.value.summary };
}

const header = 'time_s,channel,value\n';

describe('reading', () => {
  it('reads every channel and mark', () => {
    const { rows } = read([
      `${header}0,heart_rate_bpm,61\n0.5,rr_interval_ms,983.4\n1,spo2_percent,97\n1,pulse_rate_bpm,60\n1.01,pleth,-0.25\n2,mark,hold_start\n30,mark,contraction\n60.125,mark,hold_end\n`,
    ]);
    expect(rows).toEqual([
      { kind: 'sample', timeMs: 0, channel: 'heartRateBpm', value: 61 },
      { kind: 'sample', timeMs: 500, channel: 'rrIntervalMs', value: 983.4 },
      { kind: 'sample', timeMs: 1000, channel: 'spo2Percent', value: 97 },
      { kind: 'sample', timeMs: 1000, channel: 'pulseRateBpm', value: 60 },
      { kind: 'sample', timeMs: 1010, channel: 'pleth', value: -0.25 },
      { kind: 'mark', timeMs: 2000, mark: 'holdStart' },
      { kind: 'mark', timeMs: 30_000, mark: 'contraction' },
      { kind: 'mark', timeMs: 60_125, mark: 'holdEnd' },
    ]);
  });

  it('tolerates a byte-order mark, CRLF, comments, quotes, spaces, no last newline and blank lines at the end', () => {
    const plain = read([`${header}1,spo2_percent,97\n2,spo2_percent,96\n`]);
    const odd = read([
      '\uFEFF# SIMULATED, course of spring\r\ntime_s, channel ,value\r\n"1","spo2_percent",97\r\n# note\r\n2 , spo2_percent, 96\r\n\r\n\n',
    ]);
    expect(odd.rows).toEqual(plain.rows);
    expect(odd.summary?.simulated).toBe(true);
    expect(plain.summary?.simulated).toBe(false);
    expect(read([`${header}1,spo2_percent,97`]).rows).toHaveLength(1);
    expect(read([header]).rows).toEqual([]);
  });

  it('puts small disorder in order and says so', () => {
    const { rows, summary } = read([
      `${header}1,spo2_percent,97\n3,spo2_percent,96\n1.5,rr_interval_ms,900\n2,rr_interval_ms,910\n`,
    ]);
    expect(rows.map(({ timeMs }) => timeMs)).toEqual([1000, 1500, 2000, 3000]);
    expect(inWords(summary?.notice)).toBe(
      '2 rows were out of order by less than 2 s (the first in line 4) and put in order.',
    );
  });

  it.each([
    ['', 1, 1, 'the file has no header'],
    ['# only a comment\n', 1, 1, 'the file has no header'],
    ['time,channel,value\n', 1, 1, 'the header must be "time_s,channel,value", but "time" was found'],
    ['time_s,channel\n', 1, 15, 'but nothing was found'],
    [`${header}1,spo2_percent\n`, 2, 1, 'a row has 3 fields (time_s,channel,value), but 2 were found'],
    [`${header}1,spo2_percent,97,good\n`, 2, 19, 'but 4 were found'],
    [`${header}one,spo2_percent,97\n`, 2, 1, 'a number of seconds, but "one" was found'],
    [`${header}-1,spo2_percent,97\n`, 2, 1, 'from 0 to 604800 s, but "-1" was found'],
    [`${header}1700000000,spo2_percent,97\n`, 2, 1, 'from 0 to 604800 s'],
    [`${header}1,spo2,97\n`, 2, 3, 'a channel is one of heart_rate_bpm,'],
    [`${header}1,spo2_percent,n/a\n`, 2, 16, 'spo2_percent must be a number, but "n/a" was found'],
    [`${header}1,spo2_percent,\n`, 2, 16, 'must be a number, but "" was found'],
    [`${header}1,spo2_percent,101\n`, 2, 16, 'must be from 0 to 100, but "101" was found'],
    [`${header}1,spo2_percent,0x5f\n`, 2, 16, 'must be a number'],
    [`${header}1,spo2_percent,1e999\n`, 2, 16, 'must be a number'],
    [`${header}1,mark,start\n`, 2, 8, 'a mark is one of hold_start, hold_end, contraction'],
    [`${header}10,spo2_percent,97\n7.9,spo2_percent,97\n`, 3, 1, 'more than 2 s before that of line 2'],
    [`${header}\n1,spo2_percent,97\n`, 2, 1, 'a blank line stands before more rows (line 3)'],
    [`${header}1,"spo2_percent,97\n`, 2, 3, 'a quoted field is not closed'],
    [`${header}1,"spo2_percent"x,97\n`, 2, 17, 'only a comma may follow'],
    [`${header}1,spo2"_percent,97\n`, 2, 7, 'a quote stands inside'],
    [`${header}${'9'.repeat(5_200)}`, 2, 5_001, 'longer than 5000 characters'],
    ['\u0000\u0001PK\u0003\n', 1, 1, 'the header must be'],
  ])('%j: line %i, column %i', (text, line, column, message) => {
    const { fault } = read([text]);
    expect(fault).toMatchObject({ line, column });
    expect(inWords(fault!.said)).toContain(message);
    expect(inWords(fault!.said)).toMatch(new RegExp(`^line ${line}, column ${column}: `));
    expect(inWords(fault!.said).match(/\p{Cc}/u)).toBe(null);
  });

  it('keeps to its first fault', () => {
    const reader = createCsvReader();
    const first = reader.push('nonsense\n');
    expect(reader.push(header)).toEqual(first);
    expect(reader.finish()).toEqual(first);
  });
});

const anyRow: fc.Arbitrary<CsvRow> = fc.oneof(
  fc
    .record({
      timeUs: fc.integer({ min: 0, max: 28_800_000_000 }),
      entry: fc.constantFrom(...csvChannels),
      part: fc.double({ min: 0, max: 1, noNaN: true }),
    })
    .map(({ timeUs, entry, part }) => ({
      kind: 'sample' as const,
      timeMs: timeUs / 1000,
      channel: entry.channel,
      value: entry.least + part * (entry.most - entry.least) + 0,
    })),
  fc
    .record({ timeUs: fc.integer({ min: 0, max: 28_800_000_000 }), entry: fc.constantFrom(...csvMarks) })
    .map(({ timeUs, entry }) => ({ kind: 'mark' as const, timeMs: timeUs / 1000, mark: entry.mark })),
);

/** Cuts a text at the given places. */
function cut(text: string, places: readonly number[]): string[] {
  const at = [...new Set(places.map((place) => place % (text.length + 1)))].sort((a, b) => a - b);
  const pieces: string[] = [];
  let from = 0;
  for (const place of [...at, text.length]) {
    pieces.push(text.slice(from, place));
    from = place;
  }
  return pieces;
}

describe('properties', () => {
  it('what is written is read back the same', () => {
    fc.assert(
      fc.property(fc.array(anyRow, { maxLength: 60 }), (unsorted) => {
        const rows = [...unsorted].sort((a, b) => a.timeMs - b.timeMs);
        const text = csvPreamble(['SIMULATED\nsecond line']) + csvLines(rows);
        const result = read([text]);
        expect(result.fault).toBe(undefined);
        expect(result.rows).toEqual(rows);
        expect(result.summary).toMatchObject({ rowCount: rows.length, reorderedCount: 0, simulated: true });
      }),
    );
  });

  it('any cut of any text gives the same rows or the same fault', () => {
    const line = fc.oneof(
      fc.constantFrom(
        'time_s,channel,value',
        '1,spo2_percent,97',
        '2.5,mark,hold_start',
        '"3",rr_interval_ms,900.5',
        '1.9,pleth,0.1',
        '# note',
        '',
        '4,spo2_percent,',
        'x',
        '9'.repeat(5_001),
        '9'.repeat(5_003),
      ),
      fc.string({ maxLength: 12 }),
    );
    fc.assert(
      fc.property(
        fc.boolean(),
        fc.array(line, { maxLength: 12 }),
        fc.constantFrom('\n', '\r\n'),
        fc.array(fc.nat(), { maxLength: 12 }),
        (withHeader, lines, newline, places) => {
          const text = [...(withHeader ? ['time_s,channel,value'] : []), ...lines].join(newline);
          const whole = read([text]);
          const pieces = read(cut(text, places));
          expect(pieces.fault).toEqual(whole.fault);
          expect(pieces.summary).toEqual(whole.summary);
          if (whole.fault === undefined) expect(pieces.rows).toEqual(whole.rows);
        },
      ),
      { numRuns: 600 },
    );
  });

  it('disorder within the tolerance is sorted without losing or inventing a row', () => {
    fc.assert(
      fc.property(fc.array(fc.integer({ min: 0, max: 999 }), { minLength: 1, maxLength: 80 }), (jitter) => {
        // Each row at i seconds, early or late by less than a second.
        const rows = jitter.map((ms, i) => ({
          kind: 'sample' as const,
          timeMs: i * 1000 + ms,
          channel: 'spo2Percent' as const,
          value: i % 100,
        }));
        const shuffled = rows.toSorted(
          (a, b) => Math.floor(a.timeMs / 2000) - Math.floor(b.timeMs / 2000) || b.timeMs - a.timeMs,
        );
        const result = read([header + csvLines(shuffled)]);
        expect(result.fault).toBe(undefined);
        expect(result.rows).toEqual(rows);
      }),
    );
  });
});
