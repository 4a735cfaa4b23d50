// The rows of a table as readings, a row at a time. What is no row (a summary, a heading again, nothing) is passed over
// and counted; what would change the meaning of many rows is refused.

import { type Said, said } from '../../../shared/said.ts';
import type { Channel } from '../../../shared/schema-parts.ts';
import { failed, ok } from '../../result.ts';
import { mostImpossibleShare, possibleValues } from '../../sessions/imported-recording.ts';
import type { ImportFault, ImportSink, LocalTime, ReadResult, TextSource } from '../import-file.ts';
import { numberOf, quote, saysNothing, splitLine } from './cells.ts';
import { type DateOrder, isWallUnit, timeMsOf } from './dates.ts';
import { linesOf, longestLine } from './lines.ts';
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
  const columns = choice.columns.map(({ index, channel, factor }): ColumnState => {
    const [least, most] = possibleValues[channel];
    const name = quote(shape.names[index] ?? String(index + 1));
    const counts = { missing: 0, unreadable: 0, impossible: 0, good: 0 };
    return {
      index,
      channel,
      factor,
      least,
      most,
      name,
      ...counts,
      firstBad: undefined,
      firstImpossible: undefined,
    };
  });
  const clock = createRowClock(choice, zone);
  const group = createTimeGroup(columns, sink);
  const beatColumn = columns.findIndex(({ channel }) => channel === 'rrIntervalMs');
  const counts = { rows: 0, heading: 0, skipped: 0, late: 0, long: 0 };
  let firstLong = 0;
  let firstSkipped: { line: number; cell: string } | undefined;
  let simulated = shape.simulated;
  let zeroMs: number | undefined;
  let latestMs = Number.NEGATIVE_INFINITY;
  let earliestMs = Number.POSITIVE_INFINITY;
  const reader = linesOf(source);
  for (const text of reader) {
    const { line } = reader;
    if (line < shape.firstRowLine || text === '') continue;
    if (text.startsWith('#') || text.startsWith('//')) {
      if (text.includes('SIMULATED')) simulated = true;
      continue;
    }
    if (text === shape.heading) {
      counts.heading += 1;
      continue;
    }
    const cells = splitLine(text, shape.delimiter);
    if (cells.length < 2 && (cells[0] ?? '') === '') continue;
    const values = valuesOf(columns, shape, cells, line);
    const read = choice.timeUnit === 'beats' ? clock.afterBeat(values[beatColumn]!) : clock.timeOf(cells);
    if (read === undefined) {
      // The row goes as a whole: what its other cells seemed to say does not count.
      takeBack(columns, values);
      if (isEmpty(cells)) continue;
      counts.skipped += 1;
      firstSkipped ??= { line, cell: cells[choice.timeColumn ?? 0] ?? '' };
      continue;
    }
    counts.rows += 1;
    if (cells.length > shape.width && !isEmpty(cells.slice(shape.width))) {
      counts.long += 1;
      if (firstLong === 0) firstLong = line;
    }
    zeroMs ??= zeroOf(read, choice);
    const atMs = Math.round((read - zeroMs) * 1_000) / 1_000;
    if (atMs < latestMs) counts.late += 1;
    else latestMs = atMs;
    if (atMs < earliestMs) earliestMs = atMs;
    group.take(atMs, values);
  }
  group.finish();
  if (reader.tooLong)
    return fault(reader.line, longestLine + 1, said('file.longLine', { most: longestLine }));
  if (firstSkipped !== undefined && isTooMany(counts.skipped, counts.rows))
    return fault(
      firstSkipped.line,
      (choice.timeColumn ?? 0) + 1,
      said('table.noTime', { found: quote(firstSkipped.cell), unit: said(`table.unit.${choice.timeUnit}`) }),
    );
  if (isTooMany(counts.long, counts.rows))
    return fault(firstLong, shape.width + 1, said('table.longRow', { width: shape.width }));
  const wrong = wrongColumn(columns);
  if (wrong !== undefined) return wrong;
  const isWall = isWallUnit(choice.timeUnit);
  const notices = [
    ...noticesOfColumns(columns),
    ...noticesOfRows(counts, firstSkipped?.line, group.spreadCount()),
    ...clock.notices(),
  ];
  const zero = zeroMs ?? 0;
  if (zero > 0 && !isWall && choice.timeUnit !== 'clock')
    notices.push(said('table.beginsAt', { seconds: zero / 1000 }));
  const begin = counts.rows === 0 ? 0 : Math.min(0, earliestMs);
  return ok({
    startedWallAtMs: isWall ? zero : statedStart(shape, choice, zone, zero, notices),
    beginMs: begin,
    endMs: counts.rows === 0 ? 0 : latestMs,
    simulated,
    notices,
  });
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
