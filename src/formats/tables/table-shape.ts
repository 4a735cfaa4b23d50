// How a table is written, from its first lines: where it begins, what separates columns, what they are named, and what
// each most likely is. Nothing is read by it that a person cannot change.

import { type Said, said } from '../../../shared/said.ts';
import type { Channel } from '../../../shared/schema-parts.ts';
import { failed, ok, type Result } from '../../result.ts';
import type { ImportFault, TextSource } from '../import-file.ts';
import { numberOf, saysNothing, splitLine } from './cells.ts';
import {
  civilMomentOf,
  clockSecondsOf,
  type DateOrder,
  dateOrderOf,
  datePartsOf,
  looksLikeDate,
  type TimeUnit,
} from './dates.ts';
import { bareHeading, channelOfHeading, isTimeHeading, timeUnitOfHeading } from './headings.ts';
import { linesOf, longestLine } from './lines.ts';

export type Delimiter = ',' | ';' | '\t' | '|' | ' ';

export interface TableRow {
  readonly line: number;
  readonly cells: readonly string[];
}

export interface TableShape {
  readonly delimiter: Delimiter;
  /** As in the file; "column 3" and so on where it has no names. After them the variables of a long table. */
  readonly names: readonly string[];
  /** How many columns the file itself has. */
  readonly width: number;
  /** The heading's line as it stands, or null: where it comes again, it is passed over. */
  readonly heading: string | null;
  readonly firstRowLine: number;
  /** The first rows, for looking at. */
  readonly head: readonly TableRow[];
  /** One variable a row: its name in one column, its value in another. */
  readonly long: {
    readonly nameColumn: number;
    readonly valueColumn: number;
    readonly variables: readonly string[];
  } | null;
  /** Said before the table: when it begins, as local time as if UTC, and in which line; time of day may be missing. */
  readonly stated: { readonly civilMs: number; readonly line: number; readonly hasTime: boolean } | null;
  readonly simulated: boolean;
}

export interface TableChoice {
  /** Undefined where the unit is `beats`. */
  readonly timeColumn: number | undefined;
  readonly timeUnit: TimeUnit;
  /** A column of dates beside one of clocks. */
  readonly dateColumn?: number | undefined;
  readonly dateOrder?: DateOrder | undefined;
  /** `factor` takes the column's numbers to the channel's unit. */
  readonly columns: readonly {
    readonly index: number;
    readonly channel: Channel;
    readonly factor: number;
  }[];
}

export interface SuggestedChoice extends Partial<TableChoice> {
  readonly columns: TableChoice['columns'];
  /** Day first or month first: the file does not tell. */
  readonly dateOrderAmbiguous: boolean;
}

const delimiters: readonly Delimiter[] = ['\t', ';', '|', ',', ' '];
const mostColumns = 200;
const headRows = 500;
/** Of a column's cells: the others may be of summaries and blanks. */
const mostly = 0.6;
/** Titles, devices and settings before a table take no more lines than this. */
const mostPreamble = 200;

const looksLikeValue = (cell: string): boolean =>
  !Number.isNaN(numberOf(cell)) || clockSecondsOf(cell) !== undefined || looksLikeDate(cell);

interface HeadLine {
  readonly line: number;
  readonly text: string;
}

/** Reads the first lines. The reason begins with a place in the file. */
export function tableShapeOf(source: TextSource): Result<TableShape, ImportFault> {
  const fault = (line: number, column: number, what: Said): Result<never, ImportFault> =>
    failed({ said: said('file.atLine', { line, column, what }) });
  const lines: HeadLine[] = [];
  let simulated = false;
  const reader = linesOf(source);
  for (const text of reader) {
    if (controlCharacter.test(text)) return fault(reader.line, 1, said('table.notText'));
    if (text.startsWith('#') || text.startsWith('//') || text.startsWith('%')) {
      if (text.includes('SIMULATED')) simulated = true;
      // A heading behind a comment sign is a heading all the same, where no other comes.
      if (lines.length === 0 || !isRow(lines.at(-1)!.text)) lines.push({ line: reader.line, text });
    } else if (text.trim() !== '') lines.push({ line: reader.line, text });
    if (lines.length >= headRows + mostPreamble) break;
  }
  if (reader.tooLong)
    return fault(reader.line, longestLine + 1, said('file.longLine', { most: longestLine }));
  const found = beginOfTable(lines.slice(0, headRows + mostPreamble));
  if (found === undefined) return fault(1, 1, said('table.none'));
  const { first, delimiter, width, names, heading } = found;
  if (width > mostColumns) return fault(lines[first]!.line, 1, said('table.tooWide', { most: mostColumns }));
  for (const { text } of lines.slice(0, first)) if (text.includes('SIMULATED')) simulated = true;
  const head = lines
    .slice(first)
    .map(({ line, text }) => ({ line, cells: splitLine(text, delimiter) }))
    .slice(0, headRows);
  const long = longFormOf(names, width, head);
  return ok({
    delimiter,
    names: long === null ? names : [...names, ...long.variables],
    width,
    heading,
    firstRowLine: lines[first]!.line,
    head,
    long,
    stated: statedBegin(lines.slice(0, first)),
    simulated,
  });
}

/** All but tab; a vertical tab or a form feed is nobody's delimiter either. */
const controlCharacter = /[^\P{Cc}\t\r]/u;

const isRow = (text: string): boolean => /^\s*"?[\d+-]/.test(text);

interface TableBegin {
  readonly first: number;
  readonly delimiter: Delimiter;
  readonly width: number;
  readonly names: readonly string[];
  readonly heading: string | null;
}

/** The delimiter by which most lines fall into the same number of cells with values in them. */
function beginOfTable(lines: readonly HeadLine[]): TableBegin | undefined {
  let best: { score: number; begin: TableBegin } | undefined;
  for (const delimiter of delimiters) {
    const cells = lines.map(({ text }) => (text.startsWith('#') ? [] : splitLine(text, delimiter)));
    const counts = new Map<number, number>();
    for (const row of cells)
      if (row.length > 1 && row.some(looksLikeValue))
        counts.set(row.length, (counts.get(row.length) ?? 0) + 1);
    let width = 0;
    for (const [length, count] of counts) if (count > (counts.get(width) ?? 0)) width = length;
    if (width < 2) continue;
    const first = cells.findIndex(
      (row) =>
        row.length === width &&
        row.filter(looksLikeValue).length >= Math.min(2, row.length) / 2 &&
        !isHeading(row),
    );
    if (first < 0 || first > mostPreamble) continue;
    // Spaces also stand inside dates and names: only where nothing else separates.
    const score = counts.get(width)! * (delimiter === ' ' ? 0.4 : 1);
    if (best !== undefined && score <= best.score) continue;
    best = {
      score,
      begin: { first, delimiter, width, ...headingBefore(lines, cells, first, width, delimiter) },
    };
  }
  if (best !== undefined) return best.begin;
  return singleColumn(lines);
}

/** A heading has no numbers; at most a word for nothing or an index. */
const isHeading = (row: readonly string[]): boolean =>
  !row.some(
    (cell) => !Number.isNaN(numberOf(cell)) || clockSecondsOf(cell) !== undefined || looksLikeDate(cell),
  );

const unitCell =
  /^[[(]?(s|sec|ms|min|bpm|%|1\/min|\/min|n\/?a|hz|mv|au|a\.u\.|-|hh:mm:ss\S*|dd\S+|yyyy\S+|)[\])]?$/i;

function headingBefore(
  lines: readonly HeadLine[],
  cells: readonly (readonly string[])[],
  first: number,
  width: number,
  delimiter: Delimiter,
): { names: readonly string[]; heading: string | null } {
  const unnamed = Array.from({ length: width }, (_, index) => `column ${index + 1}`);
  const rowAt = (index: number): readonly string[] => {
    const text = lines[index]?.text ?? '';
    return text.startsWith('#') ? splitLine(text.replace(/^#+\s*/, ''), delimiter) : (cells[index] ?? []);
  };
  const fits = (row: readonly string[]): boolean => row.length > 1 && Math.abs(row.length - width) <= 1;
  let at = first - 1;
  let units: readonly string[] = [];
  if (at > 0 && rowAt(at).length === width && rowAt(at).every((cell) => unitCell.test(cell))) {
    units = rowAt(at);
    at -= 1;
  }
  const row = at >= 0 ? rowAt(at) : [];
  if (!fits(row) || !isHeading(row)) return { names: unnamed, heading: null };
  // R leaves the heading of its row numbers out.
  const shifted = row.length === width - 1 && row.at(-1) !== '' ? ['', ...row] : row;
  const names = unnamed.map((name, index) => {
    const own = (shifted[index] ?? '') || name;
    const unit = units[index] ?? '';
    return unit === '' || unit === '-' ? own : `${own} (${unit.replaceAll(/[[\]()]/g, '')})`;
  });
  return { names, heading: lines[at]!.text };
}

/** A list of numbers, one a line: beat intervals, the usual export of programs for heart rate variability. */
function singleColumn(lines: readonly HeadLine[]): TableBegin | undefined {
  const first = lines.findIndex(({ text }) => !Number.isNaN(numberOf(text.trim())));
  if (first < 0 || first > mostPreamble) return undefined;
  const rows = lines.slice(first);
  const numbers = rows.filter(({ text }) => !Number.isNaN(numberOf(text.trim())));
  if (numbers.length < 2 || numbers.length < 0.8 * rows.length) return undefined;
  const before = lines[first - 1]?.text ?? '';
  const isNamed = channelOfHeading(before.replace(/^#+/, '')) === 'rrIntervalMs';
  const values = numbers.map(({ text }) => numberOf(text.trim())).sort((a, b) => a - b);
  const middle = values[values.length >> 1]!;
  // Without a heading, only numbers that beats can be apart are taken for beats: 250 to 2500 ms, or as seconds.
  if (!isNamed && !((middle > 250 && middle < 2_500) || (middle > 0.25 && middle < 2.5))) return undefined;
  return {
    first,
    delimiter: ';',
    width: 1,
    names: [isNamed ? before.replace(/^#+\s*/, '').trim() : 'beat intervals'],
    heading: first > 0 ? before : null,
  };
}

function longFormOf(names: readonly string[], width: number, head: readonly TableRow[]): TableShape['long'] {
  if (width < 3) return null;
  for (let nameColumn = 0; nameColumn < width; nameColumn += 1) {
    const variables = new Set<string>();
    for (const { cells } of head) {
      const cell = cells[nameColumn] ?? '';
      if (cell !== '' && !Number.isNaN(numberOf(cell))) variables.add('').add(' ');
      else if (cell.length > 40) variables.add('');
      else if (cell !== '') variables.add(cell);
    }
    if (variables.has('') || variables.size === 0 || variables.size > 30) continue;
    if (![...variables].some((variable) => channelOfHeading(variable) !== undefined)) continue;
    const isNumeric = (index: number): boolean =>
      head.filter(({ cells }) => !Number.isNaN(numberOf(cells[index] ?? ''))).length > 0.7 * head.length;
    const columns = names
      .map((_, index) => index)
      .filter((index) => index !== nameColumn && isNumeric(index));
    const valueColumn =
      columns.find((index) =>
        /value|wert|valeur|valor|valore|reading|measure/.test(bareHeading(names[index]!)),
      ) ?? columns.findLast((index) => !isTimeHeading(names[index]!));
    if (valueColumn !== undefined) return { nameColumn, valueColumn, variables: [...variables] };
  }
  return null;
}

const dateInText =
  /(\d{4}[-/.]\d{1,2}[-/.]\d{1,2}|\d{1,2}[-/.]\d{1,2}[-/.]\d{2,4})(?:[T ,;\t]+(?:\D{0,12}\s)?(\d{1,2}:\d{2}(?::\d{2}(?:[.,]\d+)?)?\s?(?:[AaPp][Mm])?))?/;

/** "Start time: 2024-05-01 10:00:00" before the table. */
function statedBegin(lines: readonly HeadLine[]): TableShape['stated'] {
  for (const { line, text } of lines) {
    const found = dateInText.exec(text);
    if (found === null) continue;
    const { order, ambiguous } = dateOrderOf([found[1]!]);
    if (ambiguous) continue;
    const cell = found[2] === undefined ? found[1]! : `${found[1]} ${found[2]}`;
    const moment = civilMomentOf(cell, order);
    if (moment !== undefined) return { civilMs: moment.civilMs, line, hasTime: found[2] !== undefined };
  }
  return null;
}

const cellsOf = (shape: TableShape, index: number): string[] => {
  const { long, width } = shape;
  if (long !== null && index >= width) {
    const variable = long.variables[index - width];
    return shape.head.flatMap(({ cells }) =>
      cells[long.nameColumn] === variable ? [cells[long.valueColumn] ?? ''] : [],
    );
  }
  return shape.head.map(({ cells }) => cells[index] ?? '').filter((cell) => !saysNothing(cell));
};

/** The first values of a column as they stand. */
export const examplesOf = (shape: TableShape, index: number, count: number): string[] =>
  cellsOf(shape, index)
    .slice(0, count)
    .map((cell) => cell.slice(0, 40));

/** What a person would most likely choose; `columns` and even the time may be missing. */
export function suggestTableChoice(shape: TableShape): SuggestedChoice {
  const isWave = shape.names.some((name) => channelOfHeading(name) === 'pleth');
  const units = Array.from({ length: shape.width }, (_, index) => timeUnitOf(shape, index, isWave));
  const dateColumn = units.indexOf('date');
  const clockColumn = units.indexOf('clock');
  let timeColumn: number | undefined;
  let timeUnit: TimeUnit | undefined;
  const wall = units.findIndex(
    (unit) => unit === 'dateTime' || unit === 'serialDays' || unit?.startsWith('unix'),
  );
  if (wall >= 0) timeColumn = wall;
  else if (clockColumn >= 0) timeColumn = clockColumn;
  else {
    const is = (unit: TimeUnit | 'date' | undefined): boolean => unit !== undefined && unit !== 'date';
    // A first column without a name may be the numbers of the rows.
    const named = units.findIndex((unit, index) => is(unit) && shape.names[index] !== 'column 1');
    const any = named >= 0 ? named : units.findIndex(is);
    if (any >= 0) timeColumn = any;
  }
  if (timeColumn !== undefined) timeUnit = units[timeColumn] as TimeUnit;
  const withDate = timeUnit === 'clock' && dateColumn >= 0;
  if (withDate) timeUnit = 'dateTime';
  const taken = new Set<Channel>();
  const columns = shape.names.flatMap((name, index) => {
    const isOwn =
      index === timeColumn ||
      (shape.long !== null && (index === shape.long.nameColumn || index === shape.long.valueColumn));
    const suggested = isOwn ? undefined : channelOfColumn(shape, name, index);
    if (suggested === undefined || taken.has(suggested.channel)) return [];
    taken.add(suggested.channel);
    return [{ index, ...suggested }];
  });
  if (timeColumn === undefined && taken.has('rrIntervalMs')) timeUnit = 'beats';
  const dates =
    timeUnit === 'dateTime' ? dateOrderOf(cellsOf(shape, withDate ? dateColumn : timeColumn!)) : undefined;
  return {
    columns,
    ...(timeColumn !== undefined && { timeColumn }),
    ...(timeUnit !== undefined && { timeUnit }),
    ...(withDate && { dateColumn }),
    ...(dates !== undefined && { dateOrder: dates.order }),
    dateOrderAmbiguous: dates?.ambiguous ?? false,
  };
}

function timeUnitOf(shape: TableShape, index: number, isWave: boolean): TimeUnit | 'date' | undefined {
  const name = shape.names[index]!;
  const cells = cellsOf(shape, index).slice(0, 60);
  if (cells.length === 0) return undefined;
  const most = (is: (cell: string) => boolean): boolean => cells.filter(is).length > mostly * cells.length;
  if (most((cell) => looksLikeDate(cell) && !Number.isFinite(Number(cell))))
    return most((cell) => datePartsOf(cell)?.rest.trim() === '') ? 'date' : 'dateTime';
  if (most((cell) => clockSecondsOf(cell) !== undefined)) return 'clock';
  const numbers = cells.map(numberOf).filter((value) => !Number.isNaN(value));
  const isFirstUnnamed = index === 0 && name === 'column 1';
  if (numbers.length < mostly * cells.length || channelOfHeading(name) !== undefined) return undefined;
  if (!isTimeHeading(name) && !isFirstUnnamed) return undefined;
  const value = numbers[0]!;
  if (value > 1e14) return 'unixUs';
  if (value > 1e11) return 'unixMs';
  if (value > 6e8) return 'unixS';
  const said = timeUnitOfHeading(name);
  if (said !== undefined) return said;
  const steps = numbers
    .slice(1)
    .map((each, i) => each - numbers[i]!)
    .filter((step) => step > 0)
    .sort((a, b) => a - b);
  const step = steps[steps.length >> 1] ?? 1;
  // A second is 1.2e-5 days; as seconds such steps would be those of a wave faster than any sensor's.
  if (step < (isWave ? 2e-4 : 2e-2)) {
    if (value >= 20_000 && value < 80_000) return 'serialDays';
    if (value >= 0 && value < 1.5) return 'days';
  }
  return step >= 100 ? 'ms' : 's';
}

function channelOfColumn(
  shape: TableShape,
  name: string,
  index: number,
): { channel: Channel; factor: number } | undefined {
  const channel = channelOfHeading(name) ?? (name === 'beat intervals' ? 'rrIntervalMs' : undefined);
  if (channel === undefined) return undefined;
  const values = cellsOf(shape, index)
    .map(numberOf)
    .filter((value) => value > 0)
    .sort((a, b) => a - b);
  const middle = values[Math.floor(values.length / 2)] ?? 0;
  if (channel === 'spo2Percent') return { channel, factor: middle > 0 && middle <= 1 ? 100 : 1 };
  if (channel === 'rrIntervalMs') {
    // Breaths a minute stand under the same letters.
    if (middle >= 4 && middle < 100) return undefined;
    return { channel, factor: middle > 0 && middle < 4 ? 1_000 : 1 };
  }
  if (channel === 'heartRateBpm' || channel === 'pulseRateBpm')
    return { channel, factor: /\bhz\b/i.test(name) ? 60 : 1 };
  return { channel, factor: 1 };
}

/** Why a choice cannot be read; undefined where it can. */
export function refuseTableChoice(shape: TableShape, choice: TableChoice): Said | undefined {
  const columns = [choice.timeColumn, choice.dateColumn, ...choice.columns.map(({ index }) => index)];
  const unknown = columns.find((index) => index !== undefined && index >= shape.names.length);
  if (unknown !== undefined) return said('table.noColumn', { index: unknown });
  if (choice.timeColumn === undefined && choice.timeUnit !== 'beats') return said('table.chooseTime');
  if (choice.timeUnit === 'beats' && !choice.columns.some(({ channel }) => channel === 'rrIntervalMs'))
    return said('table.beatsNeedIntervals');
  return undefined;
}
