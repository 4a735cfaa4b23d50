// Reads tables made elsewhere: one column of time, one column a signal, any usual delimiter and number format. Tolerant
// of how it is written, strict about what it means: a column is read only as a person has said.

import { failed, ok, type Result } from '../../result.ts';
import {
  type ImportedRecording,
  type ImportedSample,
  importLimits,
  mostImpossibleShare,
  possibleValues,
} from '../../sessions/imported-recording.ts';
import { unixMsOf } from '../civil-date.ts';

export interface WideCsvFault {
  /** From 1. */
  readonly line: number;
  readonly column: number;
  /** One sentence without a full stop that begins with the place. */
  readonly message: string;
}

export interface WideTable {
  readonly delimiter: ',' | ';' | '\t' | '|';
  /** As in the file; "column 3" and so on where the file has no names. */
  readonly names: readonly string[];
  /** Cells of each row, and the line it stands in. */
  readonly rows: readonly { readonly line: number; readonly cells: readonly string[] }[];
  /** SIMULATED stands somewhere before the rows. */
  readonly simulated: boolean;
}

export type TimeUnit = 's' | 'ms' | 'min' | 'clock' | 'dateTime' | 'unixS' | 'unixMs';
export type WideChannel = ImportedSample['channel'];

export interface WideChoice {
  readonly timeColumn: number;
  readonly timeUnit: TimeUnit;
  /** `factor` takes the column's numbers to the channel's unit. */
  readonly columns: readonly {
    readonly index: number;
    readonly channel: WideChannel;
    readonly factor: number;
  }[];
}

const delimiters = [',', ';', '\t', '|'] as const;
const longestLine = 20_000;
const mostColumns = 200;
const mostRows = importLimits.readings;
/** Words that loggers write for "nothing". Zero is judged by channel. */
const nothing = new Set(['', '-', '--', '---', 'na', 'n/a', 'nan', 'null', 'none', 'invalid', '?']);

/** Cuts a text into names and cells. */
export function readWideTable(text: string): Result<WideTable, WideCsvFault> {
  const fault = (line: number, column: number, what: string): Result<never, WideCsvFault> =>
    failed({ line, column, message: `line ${line}, column ${column}: ${what}` });
  const zero = text.indexOf('\0');
  if (zero >= 0) return fault(1, 1, 'this is not a text file');
  const lines = text.replace(/^\uFEFF/, '').split(/\r\n|\n|\r/);
  let simulated = false;
  const content: { line: number; text: string }[] = [];
  for (const [index, line] of lines.entries()) {
    if (line.length > longestLine)
      return fault(index + 1, longestLine + 1, `the line is longer than ${longestLine} characters`);
    if (line.startsWith('#') || line.startsWith('//')) {
      if (line.includes('SIMULATED')) simulated = true;
    } else if (line.trim() !== '') {
      content.push({ line: index + 1, text: line });
    }
  }
  if (content.length > mostRows) return fault(mostRows, 1, `a file may have ${mostRows} rows at most`);
  const found = beginOfTable(content.map(({ text }) => text));
  if (found === undefined)
    return fault(1, 1, 'no table was found: a line of names and lines with a time and values are needed');
  const { first, delimiter, headed, width } = found;
  if (width > mostColumns)
    return fault(content[first]!.line, 1, `a table may have ${mostColumns} columns at most`);
  for (const { text } of content.slice(0, first)) if (text.includes('SIMULATED')) simulated = true;
  const names = headed
    ? splitLine(content[first]!.text, delimiter)
    : Array.from({ length: width }, (_, index) => `column ${index + 1}`);
  const rows: { line: number; cells: readonly string[] }[] = [];
  for (const { line, text } of content.slice(headed ? first + 1 : first)) {
    const cells = splitLine(text, delimiter);
    if (cells.length > names.length && cells.slice(names.length).some((cell) => cell !== ''))
      return fault(line, 1, `this row has ${cells.length} fields, but the table has ${names.length} columns`);
    rows.push({ line, cells });
  }
  if (rows.length === 0) return fault(content[first]!.line, 1, 'the table has names and no rows');
  return ok({ delimiter, names, rows, simulated });
}

/** Lines before the table (a title, a device) are passed over: the table begins where lines split alike with numbers. */
function beginOfTable(
  lines: readonly string[],
): { first: number; delimiter: (typeof delimiters)[number]; headed: boolean; width: number } | undefined {
  const mostPreamble = 50;
  for (let first = 0; first < Math.min(lines.length, mostPreamble); first += 1) {
    for (const delimiter of delimiters) {
      const head = splitLine(lines[first]!, delimiter);
      if (head.length < 2) continue;
      const next = lines[first + 1];
      const nextCells = next === undefined ? [] : splitLine(next, delimiter);
      const isHead = head.every((cell) => cell === '' || Number.isNaN(numberOf(cell, delimiter)));
      const nextHasNumbers =
        nextCells.length === head.length && nextCells.some((cell) => looksLikeValue(cell, delimiter));
      if (isHead && nextHasNumbers) return { first, delimiter, headed: true, width: head.length };
      if (
        !isHead &&
        looksLikeValue(head[0]!, delimiter) &&
        (next === undefined || nextCells.length === head.length)
      )
        return { first, delimiter, headed: false, width: head.length };
    }
  }
  return undefined;
}

const looksLikeValue = (cell: string, delimiter: string): boolean =>
  !Number.isNaN(numberOf(cell, delimiter)) ||
  clockSecondsOf(cell) !== undefined ||
  dateTimeMsOf(cell) !== undefined;

function splitLine(text: string, delimiter: string): string[] {
  if (!text.includes('"')) return text.split(delimiter).map((cell) => cell.trim());
  const cells: string[] = [];
  let cell = '';
  let quoted = false;
  for (let at = 0; at < text.length; at += 1) {
    const character = text[at]!;
    if (quoted) {
      if (character !== '"') cell += character;
      else if (text[at + 1] === '"') {
        cell += '"';
        at += 1;
      } else quoted = false;
    } else if (character === '"') quoted = true;
    else if (character === delimiter) {
      cells.push(cell.trim());
      cell = '';
    } else cell += character;
  }
  cells.push(cell.trim());
  return cells;
}

/** A decimal comma is one wherever the comma is not the delimiter. NaN for anything else. */
function numberOf(cell: string, delimiter: string): number {
  const text = delimiter === ',' ? cell : cell.replace(',', '.');
  return /^[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,3})?$/.test(text) ? Number(text) : Number.NaN;
}

/** "1:02:03.5" or "02:03". */
function clockSecondsOf(cell: string): number | undefined {
  const parts = /^(?:(\d{1,3}):)?(\d{1,3}):(\d{1,2}(?:[.,]\d+)?)$/.exec(cell);
  if (parts === null) return undefined;
  return Number(parts[1] ?? 0) * 3_600 + Number(parts[2]) * 60 + Number(parts[3]!.replace(',', '.'));
}

/** ISO 8601, with T or a space; without a zone it is taken as UTC, since nothing better is known. */
function dateTimeMsOf(cell: string): number | undefined {
  const parts =
    /^(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})[T ]+(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,](\d{1,9}))?)?\s*(Z|[+-]\d{2}:?\d{2})?$/.exec(
      cell,
    );
  if (parts === null) return undefined;
  const unixMs = unixMsOf({
    year: Number(parts[1]),
    month: Number(parts[2]),
    day: Number(parts[3]),
    hour: Number(parts[4]),
    minute: Number(parts[5]),
    second: Number(parts[6] ?? 0),
    millisecond: parts[7] === undefined ? 0 : Number(`0.${parts[7]}`) * 1000,
  });
  const zone = parts[8];
  if (unixMs === undefined || zone === undefined || zone === 'Z') return unixMs;
  const [hours, minutes] = [Number(zone.slice(1, 3)), Number(zone.slice(-2))];
  return unixMs - (zone.startsWith('-') ? -1 : 1) * (hours * 60 + minutes) * 60_000;
}

/** What a person would most likely choose; `columns` and even the time may be missing. */
export function suggestWideChoice(table: WideTable): Partial<WideChoice> {
  const taken = new Set<WideChannel>();
  const timeColumn = table.names.findIndex(
    (name, index) => suggestTimeUnit(table, name, index) !== undefined,
  );
  const columns = table.names.flatMap((name, index) => {
    const channel = index === timeColumn ? undefined : channelOfName(name);
    if (channel === undefined || taken.has(channel)) return [];
    taken.add(channel);
    return [{ index, channel, factor: suggestFactor(table, name, index, channel) }];
  });
  const timeUnit = timeColumn < 0 ? undefined : suggestTimeUnit(table, table.names[timeColumn]!, timeColumn);
  return { columns, ...(timeUnit !== undefined && { timeColumn, timeUnit }) };
}

function suggestTimeUnit(table: WideTable, name: string, index: number): TimeUnit | undefined {
  const isNamed = /time|date|stamp|elapsed|zeit|^min|^t$|^t[_ (]|^s(ec)?$|second/i.test(name);
  const cell = table.rows[0]?.cells[index] ?? '';
  if (dateTimeMsOf(cell) !== undefined) return 'dateTime';
  if (clockSecondsOf(cell) !== undefined) return 'clock';
  const value = numberOf(cell, table.delimiter);
  if (Number.isNaN(value) || (!isNamed && !(index === 0 && /^column 1$/.test(name)))) return undefined;
  if (value > 1e11) return 'unixMs';
  if (value > 1e8) return 'unixS';
  if (/ms|milli/i.test(name)) return 'ms';
  if (/min/i.test(name)) return 'min';
  return 's';
}

function channelOfName(name: string): WideChannel | undefined {
  if (/pleth|\bppg\b/i.test(name)) return 'pleth';
  if (/sp?o2|sao2|saturation|oxygen|\bsat\b/i.test(name)) return 'spo2Percent';
  if (/perfusion|\bpi\b/i.test(name)) return 'perfusionIndexPercent';
  if (/puls|(^|[^a-z])pr([^a-z]|$)/i.test(name)) return 'pulseRateBpm';
  if (/(^|[^a-z])rr|r-r|\bibi\b|interval/i.test(name)) return 'rrIntervalMs';
  if (/(^|[^a-z])hr([^a-z]|$)|heart|bpm/i.test(name)) return 'heartRateBpm';
  return undefined;
}

function suggestFactor(table: WideTable, name: string, index: number, channel: WideChannel): number {
  const values = table.rows
    .slice(0, 500)
    .map(({ cells }) => numberOf(cells[index] ?? '', table.delimiter))
    .filter((value) => value > 0)
    .sort((a, b) => a - b);
  const middle = values[Math.floor(values.length / 2)] ?? 0;
  if (channel === 'spo2Percent') return middle > 0 && middle <= 1 ? 100 : 1;
  if (channel === 'rrIntervalMs') return middle > 0 && middle < 10 ? 1_000 : 1;
  if ((channel === 'heartRateBpm' || channel === 'pulseRateBpm') && /hz/i.test(name)) return 60;
  return 1;
}

/** The chosen columns of a table as a recording. */
export function recordingOfWideTable(
  table: WideTable,
  choice: WideChoice,
): Result<ImportedRecording, WideCsvFault> {
  const fault = (line: number, column: number, what: string): Result<never, WideCsvFault> =>
    failed({ line, column, message: `line ${line}, column ${column}: ${what}` });
  const notices: string[] = [];
  const times: number[] = [];
  let dayShiftMs = 0;
  for (const { line, cells } of table.rows) {
    const cell = cells[choice.timeColumn] ?? '';
    const read = timeMsOf(cell, choice.timeUnit, table.delimiter);
    if (read === undefined)
      return fault(
        line,
        choice.timeColumn + 1,
        `${quote(cell)} is no time (${timeUnitWords[choice.timeUnit]})`,
      );
    let timeMs = read + dayShiftMs;
    const before = times.at(-1) ?? timeMs;
    // A clock that passes midnight begins again at 0.
    if (choice.timeUnit === 'clock' && timeMs < before - 43_200_000) {
      dayShiftMs += 86_400_000;
      timeMs += 86_400_000;
    }
    if (timeMs < before)
      return fault(line, choice.timeColumn + 1, `the time ${quote(cell)} is before that of the row above`);
    times.push(timeMs);
  }
  const firstMs = times[0] ?? 0;
  const isWall = choice.timeUnit === 'dateTime' || choice.timeUnit.startsWith('unix');
  const startMs = isWall || choice.timeUnit === 'clock' || firstMs > 5_000 ? firstMs : 0;
  if (startMs > 0 && !isWall)
    notices.push(`The file begins at ${startMs / 1000} s; the recording begins there.`);
  const samples: ImportedSample[] = [];
  for (const { index, channel, factor } of choice.columns) {
    const [least, most] = possibleValues[channel];
    const name = quote(table.names[index] ?? `column ${index + 1}`);
    let missing = 0;
    let impossible = 0;
    let good = 0;
    let firstImpossible: { line: number; cell: string } | undefined;
    for (const [row, { line, cells }] of table.rows.entries()) {
      const cell = cells[index] ?? '';
      if (nothing.has(cell.toLowerCase())) {
        missing += 1;
        continue;
      }
      const number = numberOf(cell, table.delimiter);
      if (Number.isNaN(number)) return fault(line, index + 1, `${quote(cell)} in ${name} is not a number`);
      const value = Number((number * factor).toPrecision(9));
      if (value === 0 && channel !== 'pleth') {
        missing += 1;
        continue;
      }
      if (value < least || value > most) {
        impossible += 1;
        firstImpossible ??= { line, cell };
        continue;
      }
      good += 1;
      const atMs = Math.round((times[row]! - startMs) * 1_000) / 1_000;
      samples.push({
        channel,
        atMs,
        earliestMs: atMs - 0.499,
        latestMs: atMs + 0.499,
        value,
        quality: 'good',
      });
    }
    if (firstImpossible !== undefined && impossible > mostImpossibleShare * (impossible + good))
      return fault(
        firstImpossible.line,
        index + 1,
        `${quote(firstImpossible.cell)} in ${name} is outside ${least} to ${most}, as are ${impossible} of ${impossible + good} values: choose another unit or column`,
      );
    if (impossible > 0) notices.push(`${impossible} impossible values in ${name} were left out.`);
    if (missing > 0) notices.push(`${missing} rows have no reading in ${name}.`);
  }
  samples.sort((a, b) => a.atMs - b.atMs);
  return ok({
    samples,
    marks: [],
    startedWallAtMs: isWall ? startMs : null,
    durationMs: Math.ceil((times.at(-1) ?? 0) - startMs),
    simulated: table.simulated,
    notices,
  });
}

const timeUnitWords: Readonly<Record<TimeUnit, string>> = {
  s: 'seconds',
  ms: 'milliseconds',
  min: 'minutes',
  clock: 'hours:minutes:seconds',
  dateTime: 'date and time',
  unixS: 'Unix seconds',
  unixMs: 'Unix milliseconds',
};

function timeMsOf(cell: string, unit: TimeUnit, delimiter: string): number | undefined {
  if (unit === 'dateTime') return dateTimeMsOf(cell);
  if (unit === 'clock') {
    const seconds = clockSecondsOf(cell);
    return seconds === undefined ? undefined : seconds * 1_000;
  }
  const value = numberOf(cell, delimiter);
  const timeMs = value * (unit === 's' || unit === 'unixS' ? 1_000 : unit === 'min' ? 60_000 : 1);
  const isUnix = unit === 'unixS' || unit === 'unixMs';
  // A week for times from the start; 1990 to 2100 for dates: outside of it another unit was meant.
  const [least, most] = isUnix ? [631_152_000_000, 4_102_444_800_000] : [0, 604_800_000];
  return timeMs >= least && timeMs <= most ? timeMs : undefined;
}

/** A piece of someone's file, short and without control characters. */
function quote(text: string): string {
  const shown = text.replaceAll(/\p{C}/gu, '?');
  return `"${shown.length > 40 ? `${shown.slice(0, 40)}...` : shown}"`;
}
