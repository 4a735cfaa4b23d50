// Files made to be hard to read: each ends in one clear sentence, in bounded time, with nothing stored.

import { describe, expect, test } from 'vitest';
import { createLocalTime } from '../../../hub/base/local-time.ts';
import { createCheckedSink, ImportRefused } from '../../../hub/recordings/import/checked-sink.ts';
import { sourceOfBytes } from '../../../hub/recordings/import/file-source.ts';
import { openImport } from '../../../hub/recordings/import/open-import.ts';

const zone = createLocalTime('Europe/Berlin');

/** Reads it as an import would, up to what would be stored. */
function read(name: string, bytes: Uint8Array): string {
  try {
    const opened = openImport(name, sourceOfBytes(bytes), zone);
    const sink = createCheckedSink(name);
    sink.checked(opened.read({}, sink, 'store'));
    return 'accepted';
  } catch (error) {
    if (error instanceof ImportRefused) return error.message;
    throw error;
  }
}

const text = (value: string): Uint8Array => Buffer.from(value, 'utf8');
const lines = (count: number, line: (i: number) => string): string =>
  Array.from({ length: count }, (_, i) => `${line(i)}\n`).join('');

/** The header of an EDF file of one signal with fields changed, and its records. */
function edf(changes: Readonly<Record<number, string>> = {}, records = 4): Uint8Array {
  const pad = (value: string | number, width: number): string => String(value).padEnd(width);
  const head =
    `${pad(0, 8)}${pad('X X X X', 80)}${pad('lab', 80)}13.05.2421.00.00${pad(512, 8)}${pad('', 44)}${pad(records, 8)}${pad(1, 8)}${pad(1, 4)}` +
    `${pad('SpO2', 16)}${pad('', 80)}${pad('%', 8)}${pad(0, 8)}${pad(100, 8)}${pad(0, 8)}${pad(1000, 8)}${pad('', 80)}${pad(1, 8)}${pad('', 32)}`;
  const bytes = Buffer.concat([Buffer.from(head, 'latin1'), Buffer.alloc(2 * records, 0x03)]);
  for (const [at, value] of Object.entries(changes)) bytes.write(value, Number(at), 'latin1');
  return bytes;
}

const table = 'time,SpO2\n';
const long = 'time_s,channel,value\n';
const magic: readonly (readonly [string, string])[] = [
  ['an xlsx', 'PK\u0003\u0004'],
  ['an old spreadsheet', '\u00d0\u00cf\u0011\u00e0'],
  ['a PDF', '%PDF-1.7\n'],
  ['a Parquet file', 'PAR1'],
  ['HDF5', '\u0089HDF\r\n\u001a\n'],
  ['SQLite', 'SQLite format 3\0'],
  ['gzip', '\u001f\u008b\u0008'],
  ['XML', '<?xml version="1.0"?><a/>'],
  ['HTML', '<!DOCTYPE html><html></html>'],
  ['JSON', '{"resourceType": "Bundle"}'],
  ['a JSON list', '[{"hr": 60}]'],
  ['PNG', '\u0089PNG\r\n\u001a\n\0\0\0\rIHDR'],
  ['JPEG', '\u00ff\u00d8\u00ff\u00e0\0\u0010JFIF\0'],
  ['GIF', 'GIF89a\u0001\0\u0001\0\0\0\0'],
  ['MP3', 'ID3\u0003\0\0\0\0\0'],
  ['WAV', 'RIFF\u0024\0\0\0WAVEfmt '],
  ['ELF', '\u007fELF\u0002\u0001\u0001\0'],
  ['FIT', '\u000e\u0010\u00d9\u0007\0\0\0\0.FIT'],
  ['BioSemi half', '\u00ffBIOS'],
  ['zeros', '\0'.repeat(1_000)],
];
const headerFields: readonly (readonly [string, number, string])[] = [
  ['no magic', 0, '1'],
  ['header size of letters', 184, 'abcdefgh'],
  ['header size 0', 184, '0       '],
  ['header size negative', 184, '-512    '],
  ['header size huge', 184, '99999999'],
  ['no signals', 252, '0   '],
  ['signals of letters', 252, 'many'],
  ['too many signals', 252, '9999'],
  ['more signals than there are', 252, '2   '],
  ['negative signals', 252, '-1  '],
  ['duration of letters', 244, 'long    '],
  ['duration 0', 244, '0       '],
  ['duration negative', 244, '-1      '],
  ['duration infinite', 244, '1e999   '],
  ['duration a year', 244, '31536000'],
  ['no records', 236, '0       '],
  ['physical minimum of letters', 360, 'low     '],
  ['physical maximum of letters', 368, 'high    '],
  ['physical maximum infinite', 368, '1e999   '],
  ['digital minimum of letters', 376, 'x       '],
  ['digital minimum beyond 16 bits', 376, '-99999  '],
  ['digital maximum beyond 16 bits', 384, '99999   '],
  ['digital maximum a fraction', 384, '1.5     '],
  ['samples of letters', 472, 'x       '],
  ['no samples a record', 472, '0       '],
  ['negative samples', 472, '-5      '],
  ['samples without end', 472, '99999999'],
  ['more samples than bytes', 472, '9999999 '],
  ['a pressure for a saturation', 352, 'mmHg    '],
  ['a label nobody knows', 256, 'EEG Fpz-Cz      '],
];
const tables: readonly (readonly [string, string])[] = [
  ['one word', 'hello'],
  ['prose', 'Dear coach,\nthis went well today.\nRegards\n'],
  ['a heading alone', 'time,SpO2\n'],
  ['a heading and blanks', `time,SpO2\n${'\n'.repeat(50)}`],
  ['commas alone', ',,,,\n'.repeat(20)],
  ['semicolons alone', ';;;;\n'.repeat(20)],
  ['tabs alone', '\t\t\t\n'.repeat(20)],
  ['quotes alone', '"\n'.repeat(20)],
  ['comments alone', '# a\n'.repeat(50)],
  ['carriage returns alone', '\r'.repeat(5_000)],
  ['line ends of every kind', '\n\r\r\n\n\r'.repeat(500)],
  ['spaces', ' '.repeat(10_000)],
  ['a line of a megabyte', `time,SpO2\n0,${'9'.repeat(2 ** 20)}\n`],
  ['a heading of a megabyte', `${'x,'.repeat(2 ** 19)}\n1,2\n`],
  [
    'three hundred columns',
    `${Array.from({ length: 300 }, (_, i) => `c${i}`).join()}\n${'1,'.repeat(299)}1\n`,
  ],
  ['NUL inside', 'time,SpO2\n0,98\n1,\u000097\n'],
  ['control characters', `time,SpO2\n${'\u0001\u0002,\u0003\n'.repeat(20)}`],
  ['words for times', `${table}${lines(20, () => 'now,98')}`],
  ['times that go nowhere', `${table}${lines(20, () => 'NaN,98')}`],
  ['infinite times', `${table}${lines(20, () => 'Infinity,98')}`],
  ['negative times', `${table}${lines(20, (i) => `${-5 - i},98`)}`],
  ['times of ages', `${table}${lines(20, (i) => `${1e8 * i},98`)}`],
  ['weeks', `time (s),SpO2\n${lines(20, (i) => `${60_000 * i},98`)}`],
  ['dates that are none', `${table}${lines(20, () => '31.02.2024 10:00:00,98')}`],
  ['dates of two kinds', `${table}${lines(20, (i) => (i % 2 === 0 ? '2024-05-01 10:00:00,98' : 'May,98'))}`],
  ['ambiguous dates', `${table}${lines(20, (i) => `03/04/2024 10:00:${String(i).padStart(2, '0')},98`)}`],
  ['clocks beyond sixty', `${table}${lines(20, () => '10:99:99,98')}`],
  ['no reading known', `time,voltage\n${lines(20, (i) => `${i},3`)}`],
  ['readings of words', `${table}${lines(20, (i) => `${i},fine`)}`],
  ['readings of nothing', `${table}${lines(20, (i) => `${i},`)}`],
  ['readings of zero', `${table}${lines(20, (i) => `${i},0`)}`],
  ['negative saturation', `${table}${lines(20, (i) => `${i},-98`)}`],
  ['saturation of thousands', `${table}${lines(20, (i) => `${i},9800`)}`],
  ['heart rates of thousands', `time,HR\n${lines(20, (i) => `${i},6000`)}`],
  ['heart rates of hex', `time,HR\n${lines(20, (i) => `${i},0x3C`)}`],
  ['infinite heart rates', `time,HR\n${lines(20, (i) => `${i},1e999`)}`],
  ['formulas', `time,HR\n${lines(20, (i) => `${i},=A1+1`)}`],
  ['scripts', `time,HR\n${lines(20, (i) => `${i},<script>`)}`],
  ['rows that grow', `time,HR\n${lines(40, (i) => `${i},60${',1'.repeat(i + 1)}`)}`],
  ['single numbers that are no beats', lines(50, (i) => String(i * 1e6))],
  ['beats of words', `RR\n${lines(50, () => 'beat')}`],
  ['beats of zero', `RR (ms)\n${lines(50, () => '0')}`],
  ['beats too long', `RR (ms)\n${lines(50, () => '99999')}`],
  ['days of a spreadsheet before it', `time,HR\n${lines(20, (i) => `-4000${i}.5,60`)}`],
  ['emoji', `🫁,🫀\n${lines(20, () => '🙂,🙃')}`],
  ['right to left', `זמן,דופק\n${lines(20, () => 'א,ב')}`],
];
const longs: readonly (readonly [string, string])[] = [
  ['two fields', `${long}1,spo2_percent\n`],
  ['four fields', `${long}1,spo2_percent,97,1\n`],
  ['an unknown channel', `${long}1,etco2,5\n`],
  ['an unknown mark', `${long}1,mark,nap\n`],
  ['a value of words', `${long}1,spo2_percent,ok\n`],
  ['a value beyond', `${long}1,spo2_percent,101\n`],
  ['a negative time', `${long}-1,spo2_percent,97\n`],
  ['a time beyond', `${long}9999999,spo2_percent,97\n`],
  ['an infinite time', `${long}1e999,spo2_percent,97\n`],
  ['hours of disorder', `${long}9000,spo2_percent,97\n1,spo2_percent,97\n`],
  ['a blank between', `${long}1,spo2_percent,97\n\n2,spo2_percent,97\n`],
  ['an open quote', `${long}1,"spo2_percent,97\n`],
  ['a stray quote', `${long}1,spo2"percent,97\n`],
  ['text after a quote', `${long}1,"spo2_percent"x,97\n`],
  ['a long line', `${long}1,spo2_percent,${'9'.repeat(6_000)}\n`],
  ['a week', `${long}0,spo2_percent,97\n604800,spo2_percent,97\n`],
  ['no rows', long],
  ['marks alone', `${long}1,mark,hold_start\n`],
];
const cuts: readonly (readonly [string, Uint8Array])[] = [0, 1, 7, 100, 255, 256, 300, 511, 512, 513].map(
  (length) => [`an EDF cut at ${length}`, edf().subarray(0, length)],
);

const hostile: readonly (readonly [string, Uint8Array])[] = [
  ...magic.map(([name, value]) => [name, Buffer.from(value, 'latin1')] as const),
  ...headerFields.map(([name, at, value]) => [`an EDF with ${name}`, edf({ [at]: value })] as const),
  ...tables.map(([name, value]) => [`a table with ${name}`, text(value)] as const),
  ...longs.map(([name, value]) => [`the long format with ${name}`, text(value)] as const),
  ...cuts,
];

describe('hostile files', () => {
  test('are a hundred and twenty at least, each of its own', () => {
    expect(hostile.length).toBeGreaterThanOrEqual(120);
    expect(new Set(hostile.map(([name]) => name)).size).toBe(hostile.length);
    // The same file unharmed is read: what is refused below is refused for its harm.
    expect(read('good.edf', edf())).toBe('accepted');
    expect(read('good.csv', text(`${table}${lines(20, (i) => `${i},98`)}`))).toBe('accepted');
    expect(read('good.csv', text(`${long}1,spo2_percent,97\n`))).toBe('accepted');
  });

  test.each(hostile)('%s', { timeout: 5_000 }, (_name, bytes) => {
    const begun = performance.now();
    const said = read('file.csv', bytes);
    expect(said).toMatch(/^file\.csv[ ,:][^\n\p{Cc}]{8,400}\.$/u);
    expect(performance.now() - begun).toBeLessThan(4_000);
  });
});
