// The rows of a table as readings, a row at a time. What is no row (a summary, a heading again, nothing) is skipped
// and counted; what would change the meaning of many rows is refused.

import { type Said, said } from '../../../shared/said.ts';
import type { Channel } from '../../../shared/schema-parts.ts';
import { failed, ok } from '../../result.ts';
import { mostImpossibleShare, possibleValues } from '../../sessions/imported-recording.ts';
import type { ImportFault, ImportSink, LocalTime, ReadResult, TextSource } from '../import-file.ts';
import { numberOf, quote, saysNothing, splitLine } from './cells.ts';
import { type DateOrder, isWallUnit, timeMsOf } from './dates.ts';
import { type LineReader, linesOf, longestLine } from './lines.ts';
import type { TableChoice, TableShape } from './table-shape.ts';

/** Half the resolution of a time written to the millisecond. */
const halfOfMs = 0.499;
/** More rows than this at one time are no wave with a coarse clock. */
const mostAtOneTime = 10_000;
const dayMs = 86_400_000;
/** Clocks are put back by an hour, half an hour on Lord Howe Island. */
const leastPutBackMs = 1_500_000;

interface ColumnState {
  readonly index: number;
  readonly channel: Channel;
  readonly factor: number;
  readonly least: number;
  readonly most: number;
  readonly name: string;
  missing: number;
  unreadable: number;
  impossible: number;
  good: number;
  firstBad: { line: number; cell: string } | undefined;
  firstImpossible: { line: number; cell: string } | undefined;
}

const fault = (line: number, column: number, what: Said): { ok: false; reason: ImportFault } =>
  failed({ said: said('file.atLine', { line, column, what }) });

/** Reads the whole table by `choice`, which `refuseTableChoice` has let pass. */
export function readTable(
  source: TextSource,
  shape: TableShape,
  choice: TableChoice,
  zone: LocalTime,
  sink: ImportSink,
): ReadResult {
  const columns = columnStates(shape, choice);
  const clock = createRowClock(choice, zone);
  const group = createTimeGroup(columns, sink);
  const beatColumn = columns.findIndex(({ channel }) => channel === 'rrIntervalMs');
  const seen = nothingSeen(shape);
  const reader = linesOf(source);
  for (const text of reader) {
    const { line } = reader;
    if (line < shape.firstRowLine || isNoRow(text, shape, seen)) continue;
    const cells = splitLine(text, shape.delimiter);
    if (cells.length < 2 && (cells[0] ?? '') === '') continue;
    const values = valuesOf(columns, shape, cells, line);
    const read = choice.timeUnit === 'beats' ? clock.afterBeat(values[beatColumn]!) : clock.timeOf(cells);
    if (read === undefined) {
      // The row goes as a whole: what its other cells seemed to say does not count.
      takeBack(columns, values);
      noteSkipped(seen, cells, line, choice);
    } else group.take(timeOfRow(seen, cells, line, shape, choice, read), values);
  }
  group.finish();
  const wrong = wrongRows(reader, seen, shape, choice) ?? wrongColumn(columns);
  if (wrong !== undefined) return wrong;
  const isWall = isWallUnit(choice.timeUnit);
  const notices = [
    ...noticesOfColumns(columns),
    ...noticesOfRows(seen.counts, seen.firstSkipped?.line, group.spreadCount()),
    ...clock.notices(),
  ];
  const zero = seen.zeroMs ?? 0;
  if (zero > 0 && !isWall && choice.timeUnit !== 'clock')
    notices.push(said('table.beginsAt', { seconds: zero / 1000 }));
  const isEmptyTable = seen.counts.rows === 0;
  return ok({
    startedWallAtMs: isWall ? zero : statedStart(shape, choice, zone, zero, notices),
    beginMs: isEmptyTable ? 0 : Math.min(0, seen.earliestMs),
    endMs: isEmptyTable ? 0 : seen.latestMs,
    simulated: seen.simulated,
    notices,
  });
}

const columnStates = (shape: TableShape, choice: TableChoice): ColumnState[] =>
  choice.columns.map(({ index, channel, factor }) => {
    const [least, most] = possibleValues[channel];
    return {
      index,
      channel,
      factor,
      least,
      most,
      name: quote(shape.names[index] ?? String(index + 1)),
      missing: 0,
      unreadable: 0,
      impossible: 0,
      good: 0,
      firstBad: undefined,
      firstImpossible: undefined,
    };
  });

/** What the lines so far were. */
interface RowsSeen {
  readonly counts: { rows: number; heading: number; skipped: number; late: number; long: number };
  firstLong: number;
  firstSkipped: { readonly line: number; readonly cell: string } | undefined;
  simulated: boolean;
  zeroMs: number | undefined;
  latestMs: number;
  earliestMs: number;
}

const nothingSeen = ({ simulated }: TableShape): RowsSeen => ({
  counts: { rows: 0, heading: 0, skipped: 0, late: 0, long: 0 },
  firstLong: 0,
  firstSkipped: undefined,
  simulated,
  zeroMs: undefined,
  latestMs: Number.NEGATIVE_INFINITY,
  earliestMs: Number.POSITIVE_INFINITY,
});

/** Nothing, a remark, or the heading again. */
function isNoRow(text: string, { heading }: TableShape, seen: RowsSeen): boolean {
  if (text === '') return true;
  if (text.startsWith('#') || text.startsWith('//')) {
    if (text.includes('SIMULATED')) seen.simulated = true;
    return true;
  }
  if (text !== heading) return false;
  seen.counts.heading += 1;
  return true;
}

function noteSkipped(
  seen: RowsSeen,
  cells: readonly string[],
  line: number,
  { timeColumn }: TableChoice,
): void {
  if (isEmpty(cells)) return;
  seen.counts.skipped += 1;
  seen.firstSkipped ??= { line, cell: cells[timeColumn ?? 0] ?? '' };
}

/** Counts a row and says its time since the recording's beginning. */
function timeOfRow(
  seen: RowsSeen,
  cells: readonly string[],
  line: number,
  { width }: TableShape,
  choice: TableChoice,
  readMs: number,
): number {
  const { counts } = seen;
  counts.rows += 1;
  if (cells.length > width && !isEmpty(cells.slice(width))) {
    counts.long += 1;
    if (seen.firstLong === 0) seen.firstLong = line;
  }
  seen.zeroMs ??= zeroOf(readMs, choice);
  const atMs = Math.round((readMs - seen.zeroMs) * 1_000) / 1_000;
  if (atMs < seen.latestMs) counts.late += 1;
  else seen.latestMs = atMs;
  if (atMs < seen.earliestMs) seen.earliestMs = atMs;
  return atMs;
}

/** Why the rows as a whole cannot be meant. */
function wrongRows(
  reader: LineReader,
  { counts, firstSkipped, firstLong }: RowsSeen,
  { width }: TableShape,
  { timeColumn, timeUnit }: TableChoice,
): ReturnType<typeof fault> | undefined {
  if (reader.tooLong)
    return fault(reader.line, longestLine + 1, said('file.longLine', { most: longestLine }));
  if (firstSkipped !== undefined && isTooMany(counts.skipped, counts.rows))
    return fault(
      firstSkipped.line,
      (timeColumn ?? 0) + 1,
      said('table.noTime', { found: quote(firstSkipped.cell), unit: said(`table.unit.${timeUnit}`) }),
    );
  if (isTooMany(counts.long, counts.rows))
    return fault(firstLong, width + 1, said('table.longRow', { width }));
  return undefined;
}

/** Times of the calendar and clocks begin at the first row; others at 0, or where the file begins much later. */
function zeroOf(firstMs: number, { timeUnit }: TableChoice): number {
  return isWallUnit(timeUnit) || timeUnit === 'clock' || (firstMs > 5_000 && timeUnit !== 'beats')
    ? firstMs
    : 0;
}

function statedStart(
  { stated }: TableShape,
  { timeUnit }: TableChoice,
  zone: LocalTime,
  zeroMs: number,
  notices: Said[],
): number | null {
  if (stated === null || (!stated.hasTime && timeUnit !== 'clock')) return null;
  notices.push(said('table.statedBegin', { line: stated.line }));
  if (timeUnit !== 'clock') return zone.unixMsOf(stated.civilMs);
  return zone.unixMsOf(Math.floor(stated.civilMs / dayMs) * dayMs + (zeroMs % dayMs));
}

/** A few lines below a short table are its summary; a tenth of a long one, or a third of any, is another unit or column. */
const isTooMany = (skipped: number, rows: number): boolean =>
  skipped > mostImpossibleShare * (rows + skipped) && (skipped > 3 || skipped * 2 > rows);

const isEmpty = (cells: readonly string[]): boolean => cells.every((cell) => cell === '');

/** NaN where a column has no reading in this row. */
function valuesOf(
  columns: readonly ColumnState[],
  { long, width }: TableShape,
  cells: readonly string[],
  line: number,
): Float64Array {
  const values = new Float64Array(columns.length);
  for (let i = 0; i < columns.length; i += 1) {
    const column = columns[i]!;
    let cell: string;
    if (long !== null && column.index >= width) {
      if (cells[long.nameColumn] !== long.variables[column.index - width]) {
        values[i] = Number.NaN;
        continue;
      }
      cell = cells[long.valueColumn] ?? '';
    } else cell = cells[column.index] ?? '';
    values[i] = valueOfCell(column, cell, line);
  }
  return values;
}

function valueOfCell(column: ColumnState, cell: string, line: number): number {
  const number = numberOf(cell);
  if (Number.isNaN(number)) {
    if (saysNothing(cell)) column.missing += 1;
    else {
      column.unreadable += 1;
      column.firstBad ??= { line, cell };
    }
    return Number.NaN;
  }
  const value = column.factor === 1 ? number : Number((number * column.factor).toPrecision(12));
  if (value === 0 && column.channel !== 'pleth') {
    column.missing += 1;
    return Number.NaN;
  }
  if (!(value >= column.least && value <= column.most)) {
    column.impossible += 1;
    column.firstImpossible ??= { line, cell };
    return Number.NaN;
  }
  column.good += 1;
  return value;
}

function takeBack(columns: readonly ColumnState[], values: Float64Array): void {
  columns.forEach((column, i) => {
    if (!Number.isNaN(values[i]!)) column.good -= 1;
  });
}

/** Moments of rows by the choice; keeps what a clock needs to know of the rows before. */
function createRowClock(choice: TableChoice, zone: LocalTime) {
  const { timeUnit, timeColumn, dateColumn } = choice;
  const order: DateOrder = choice.dateOrder ?? 'dayFirst';
  const isLocal = timeUnit === 'dateTime' || timeUnit === 'serialDays';
  let beforeMs: number | undefined;
  let dayShiftMs = 0;
  let putBack = false;
  let sumMs = 0;
  const local = (cell: string): number | undefined => {
    if (beforeMs === undefined) return timeMsOf(cell, timeUnit, order, zone);
    if (putBack) return timeMsOf(cell, timeUnit, order, zone, beforeMs - 600_000);
    const first = timeMsOf(cell, timeUnit, order, zone);
    if (first === undefined || first > beforeMs - leastPutBackMs) return first;
    const second = timeMsOf(cell, timeUnit, order, zone, beforeMs - 600_000);
    if (second !== undefined && second > first && second < beforeMs + leastPutBackMs) {
      putBack = true;
      return second;
    }
    return first;
  };
  return {
    timeOf(cells: readonly string[]): number | undefined {
      const own = cells[timeColumn ?? 0] ?? '';
      if (own === '') return undefined;
      const cell = dateColumn === undefined ? own : `${cells[dateColumn] ?? ''} ${own}`;
      let atMs = isLocal ? local(cell) : timeMsOf(cell, timeUnit, order, zone);
      if (atMs === undefined) return undefined;
      if (timeUnit === 'clock') {
        atMs += dayShiftMs;
        // A clock that passes midnight begins again at 0.
        if (beforeMs !== undefined && atMs < beforeMs - dayMs / 2) {
          dayShiftMs += dayMs;
          atMs += dayMs;
        }
      }
      if (beforeMs === undefined || atMs > beforeMs) beforeMs = atMs;
      return atMs;
    },
    /** A beat ends an interval: it comes that much after the one before. */
    afterBeat(intervalMs: number): number | undefined {
      if (Number.isNaN(intervalMs)) return undefined;
      sumMs = Math.round((sumMs + intervalMs) * 1e3) / 1e3;
      return sumMs;
    },
    notices: (): Said[] => (putBack ? [said('table.clocksPutBack', { zone: zone.name })] : []),
  };
}

/**
 * Rows of one time: where a column has several values at it, the clock was coarser than the rows, and they are spread
 * evenly to the next time.
 */
function createTimeGroup(columns: readonly ColumnState[], sink: ImportSink) {
  let groupMs: number | undefined;
  let rows: Float64Array[] = [];
  let stepMs = 0;
  let spread = 0;
  const emit = (column: ColumnState, atMs: number, value: number): void =>
    sink.sample(column.channel, atMs, atMs - halfOfMs, atMs + halfOfMs, value, 'good');
  function send(nextMs: number | undefined): void {
    if (groupMs === undefined) return;
    const toNextMs = nextMs === undefined ? stepMs : nextMs - groupMs;
    if (toNextMs > 0 && (stepMs === 0 || toNextMs < stepMs * 1.5)) stepMs = toNextMs;
    for (let i = 0; i < columns.length; i += 1) {
      if (rows.length === 1) {
        const value = rows[0]![i]!;
        if (!Number.isNaN(value)) emit(columns[i]!, groupMs, value);
        continue;
      }
      const own = rows.map((values) => values[i]!).filter((value) => !Number.isNaN(value));
      if (own.length > 1) spread += own.length;
      own.forEach((value, k) => {
        emit(columns[i]!, Math.round((groupMs! + (k * stepMs) / own.length) * 1e3) / 1e3, value);
      });
    }
    rows = [];
  }
  return {
    take(atMs: number, values: Float64Array): void {
      if (atMs !== groupMs || rows.length >= mostAtOneTime) {
        send(atMs);
        groupMs = atMs;
      }
      rows.push(values);
    },
    finish: () => send(undefined),
    spreadCount: () => spread,
  };
}

function wrongColumn(columns: readonly ColumnState[]): ReturnType<typeof fault> | undefined {
  for (const {
    firstImpossible,
    firstBad,
    impossible,
    unreadable,
    good,
    index,
    name,
    least,
    most,
  } of columns) {
    if (firstImpossible !== undefined && impossible > mostImpossibleShare * (impossible + good))
      return fault(
        firstImpossible.line,
        index + 1,
        said('table.impossible', {
          found: quote(firstImpossible.cell),
          column: name,
          least,
          most,
          count: impossible,
          of: impossible + good,
        }),
      );
    if (firstBad !== undefined && unreadable > mostImpossibleShare * (unreadable + good))
      return fault(
        firstBad.line,
        index + 1,
        said('table.notNumber', { found: quote(firstBad.cell), column: name }),
      );
  }
  return undefined;
}

function noticesOfColumns(columns: readonly ColumnState[]): Said[] {
  return columns.flatMap(({ impossible, missing, unreadable, firstBad, name: column }) => [
    ...(impossible > 0 ? [said('table.impossibleLeftOut', { count: impossible, column })] : []),
    ...(unreadable > 0
      ? [said('table.unreadableLeftOut', { count: unreadable, column, line: firstBad?.line ?? 0 })]
      : []),
    ...(missing > 0 ? [said('table.noReadings', { count: missing, column })] : []),
  ]);
}

function noticesOfRows(
  { heading, skipped, late, long }: { heading: number; skipped: number; late: number; long: number },
  firstSkippedLine: number | undefined,
  spread: number,
): Said[] {
  return [
    ...(heading > 0 ? [said('table.headingAgain', { count: heading })] : []),
    ...(skipped > 0 ? [said('table.rowsWithoutTime', { count: skipped, line: firstSkippedLine ?? 0 })] : []),
    ...(long > 0 ? [said('table.longRows', { count: long })] : []),
    ...(late > 0 ? [said('table.lateRows', { count: late })] : []),
    ...(spread > 0 ? [said('table.spread', { count: spread })] : []),
  ];
}
