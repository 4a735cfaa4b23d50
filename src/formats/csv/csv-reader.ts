// Reads the long text format strictly, in pieces of any size. A fault is named by line and column in one sentence.

import type { Result } from '../../result.ts';
import { failed, ok } from '../../result.ts';
import type { CsvChannelEntry, CsvMark, CsvRow } from './csv-row.ts';
import { csvChannels, csvHeader, csvMarkChannel, csvMarks, csvNoteChannel } from './csv-row.ts';

export interface CsvFault {
  /** Both from 1; the column counts characters and points at the field that is wrong. */
  readonly line: number;
  readonly column: number;
  /** One sentence that begins with the place. */
  readonly message: string;
}

/** What a person should know of a file that was read to its end. */
export interface CsvSummary {
  readonly rowCount: number;
  /** Rows that stood after a later time and were put in order. */
  readonly reorderedCount: number;
  /** One sentence about those, or null. */
  readonly notice: string | null;
  /** A comment line says SIMULATED. */
  readonly simulated: boolean;
}

export interface CsvReader {
  /** Takes the next piece of text; answers with the rows that are final, in time order. */
  push(text: string): Result<readonly CsvRow[], CsvFault>;
  /** Says that the text is at its end; answers with the rest of the rows. */
  finish(): Result<{ readonly rows: readonly CsvRow[]; readonly summary: CsvSummary }, CsvFault>;
}

/** A row may stand this much after a later one (two sensors written by one logger); more is an error. */
export const csvReorderToleranceMs = 2_000;
/** No line of the format is near this long; a longer one is another kind of file. */
const longestLine = 5_000;
/** A week. A greater time is most likely a date, or milliseconds. */
const mostTimeS = 604_800;

const numberPattern = /^[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?$/;

interface Field {
  readonly text: string;
  /** From 1. */
  readonly column: number;
}

/**
 * A reader. After a fault every later call gives the same fault. The rows of `push` and `finish` put together, and
 * the fault, do not depend on how the text was cut. Tolerated: a byte-order mark, CRLF, quoted fields, comment lines
 * that begin with #, blank lines at the end, spaces around a field.
 */
export function createCsvReader(): CsvReader {
  const channelOf = new Map<string, CsvChannelEntry>(csvChannels.map((entry) => [entry.name, entry]));
  const markOf = new Map<string, CsvMark>(csvMarks.map((entry) => [entry.name, entry.mark]));
  let carry = '';
  let line = 0;
  let fault: CsvFault | undefined;
  let headerSeen = false;
  let blankLine = 0;
  let simulated = false;
  let rowCount = 0;
  let reorderedCount = 0;
  let firstReorderedLine = 0;
  let latestMs = Number.NEGATIVE_INFINITY;
  let latestLine = 0;
  /** Rows not yet final, in time order. */
  let waiting: CsvRow[] = [];

  const fail = (column: number, text: string): void => {
    fault ??= { line, column, message: `line ${line}, column ${column}: ${text}` };
  };

  function takeLine(raw: string): void {
    line += 1;
    let text = raw;
    if (line === 1 && text.startsWith('\uFEFF')) text = text.slice(1);
    if (text.endsWith('\r')) text = text.slice(0, -1);
    if (text.length > longestLine) {
      fail(longestLine + 1, `the line is longer than ${longestLine} characters`);
      return;
    }
    if (text.trim() === '') {
      if (blankLine === 0) blankLine = line;
      return;
    }
    if (text.startsWith('#')) {
      if (text.includes('SIMULATED')) simulated = true;
      return;
    }
    if (blankLine > 0) {
      fault ??= {
        line: blankLine,
        column: 1,
        message: `line ${blankLine}, column 1: a blank line stands before more rows (line ${line})`,
      };
      return;
    }
    const fields = splitFields(text);
    if (fields === undefined) return;
    if (!headerSeen) {
      takeHeader(fields);
      return;
    }
    takeRow(fields);
  }

  function takeHeader(fields: readonly Field[]): void {
    const expected = csvHeader.split(',');
    for (let i = 0; i < Math.max(expected.length, fields.length); i += 1) {
      const field = fields[i];
      if (field?.text === expected[i]) continue;
      const found = field === undefined ? 'nothing' : quote(field.text);
      const column = field?.column ?? (fields.at(-1)?.column ?? 1) + (fields.at(-1)?.text.length ?? 0);
      fail(column, `the header must be "${csvHeader}", but ${found} was found`);
      return;
    }
    headerSeen = true;
  }

  function takeRow(fields: readonly Field[]): void {
    const [time, channel, value] = fields;
    if (time === undefined || channel === undefined || value === undefined || fields.length > 3) {
      const column = fields[3]?.column ?? 1;
      fail(column, `a row has 3 fields (${csvHeader}), but ${fields.length} were found`);
      return;
    }
    const timeS = numberOf(time.text);
    if (timeS === undefined) {
      fail(time.column, `the time must be a number of seconds, but ${quote(time.text)} was found`);
      return;
    }
    if (timeS < 0 || timeS > mostTimeS) {
      fail(time.column, `the time must be from 0 to ${mostTimeS} s, but ${quote(time.text)} was found`);
      return;
    }
    // To a thousandth of a millisecond, which undoes the rounding of binary fractions.
    const timeMs = Math.round(timeS * 1e6) / 1e3;
    const row =
      channel.text === csvMarkChannel
        ? markRow(timeMs, value)
        : channel.text === csvNoteChannel
          ? ({ kind: 'note', timeMs, text: value.text } as const)
          : sampleRow(timeMs, channel, value);
    if (row !== undefined) place(row, time);
  }

  function markRow(timeMs: number, value: Field): CsvRow | undefined {
    const mark = markOf.get(value.text);
    if (mark === undefined) {
      const known = csvMarks.map((entry) => entry.name).join(', ');
      fail(value.column, `a mark is one of ${known}, but ${quote(value.text)} was found`);
      return undefined;
    }
    return { kind: 'mark', timeMs, mark };
  }

  function sampleRow(timeMs: number, channel: Field, value: Field): CsvRow | undefined {
    const entry = channelOf.get(channel.text);
    if (entry === undefined) {
      const known = [...csvChannels.map(({ name }) => name), csvMarkChannel, csvNoteChannel].join(', ');
      fail(channel.column, `a channel is one of ${known}, but ${quote(channel.text)} was found`);
      return undefined;
    }
    const number = numberOf(value.text);
    if (number === undefined) {
      fail(value.column, `${entry.name} must be a number, but ${quote(value.text)} was found`);
      return undefined;
    }
    if (number < entry.least || number > entry.most) {
      fail(
        value.column,
        `${entry.name} must be from ${entry.least} to ${entry.most}, but ${quote(value.text)} was found`,
      );
      return undefined;
    }
    return { kind: 'sample', timeMs, channel: entry.channel, value: number };
  }

  /** Puts a row in its place among those not yet final. */
  function place(row: CsvRow, time: Field): void {
    rowCount += 1;
    if (row.timeMs >= latestMs) {
      latestMs = row.timeMs;
      latestLine = line;
      waiting.push(row);
      return;
    }
    if (row.timeMs < latestMs - csvReorderToleranceMs) {
      fail(
        time.column,
        `the time ${quote(time.text)} is more than ${csvReorderToleranceMs / 1000} s before that of line ${latestLine}; rows must be in order of time`,
      );
      return;
    }
    reorderedCount += 1;
    if (firstReorderedLine === 0) firstReorderedLine = line;
    let index = waiting.length;
    while (index > 0 && waiting[index - 1]!.timeMs > row.timeMs) index -= 1;
    waiting.splice(index, 0, row);
  }

  function splitFields(text: string): Field[] | undefined {
    if (!text.includes('"')) {
      const fields: Field[] = [];
      let from = 0;
      for (;;) {
        const comma = text.indexOf(',', from);
        const raw = comma < 0 ? text.slice(from) : text.slice(from, comma);
        const field = raw.trim();
        fields.push({ text: field, column: from + 1 + (field === '' ? 0 : raw.indexOf(field)) });
        if (comma < 0) return fields;
        from = comma + 1;
      }
    }
    return splitQuotedFields(text);
  }

  function splitQuotedFields(text: string): Field[] | undefined {
    const fields: Field[] = [];
    let at = 0;
    for (;;) {
      while (text[at] === ' ' || text[at] === '\t') at += 1;
      const column = at + 1;
      let field = '';
      if (text[at] === '"') {
        at += 1;
        for (;;) {
          const end = text.indexOf('"', at);
          if (end < 0) {
            fail(column, 'a quoted field is not closed on its line');
            return undefined;
          }
          field += text.slice(at, end);
          at = end + 1;
          if (text[at] !== '"') break;
          field += '"';
          at += 1;
        }
        while (text[at] === ' ' || text[at] === '\t') at += 1;
        if (at < text.length && text[at] !== ',') {
          fail(at + 1, 'only a comma may follow a quoted field');
          return undefined;
        }
      } else {
        const comma = text.indexOf(',', at);
        const end = comma < 0 ? text.length : comma;
        field = text.slice(at, end).trim();
        const stray = field.indexOf('"');
        if (stray >= 0) {
          fail(column + stray, 'a quote stands inside a field that does not begin with one');
          return undefined;
        }
        at = end;
      }
      fields.push({ text: field, column });
      if (at >= text.length) return fields;
      at += 1;
    }
  }

  /** Takes the rows that no later line can come before. */
  function takeFinal(): CsvRow[] {
    const before = latestMs - csvReorderToleranceMs;
    let count = 0;
    while (count < waiting.length && waiting[count]!.timeMs < before) count += 1;
    const rows = waiting.slice(0, count);
    waiting = waiting.slice(count);
    return rows;
  }

  return {
    push(text) {
      if (fault !== undefined) return failed(fault);
      carry = carry === '' ? text : carry + text;
      let from = 0;
      for (;;) {
        const end = carry.indexOf('\n', from);
        if (end < 0) break;
        takeLine(carry.slice(from, end));
        if (fault !== undefined) return failed(fault);
        from = end + 1;
      }
      carry = carry.slice(from);
      // Longer than a line with its byte-order mark and carriage return can be: the fault is certain already.
      if (carry.length > longestLine + 2) takeLine(carry);
      return fault === undefined ? ok(takeFinal()) : failed(fault);
    },
    finish() {
      if (fault === undefined && carry !== '') takeLine(carry);
      carry = '';
      if (fault === undefined && !headerSeen) {
        line = Math.max(1, line);
        fail(1, `the file has no header; its first line must be "${csvHeader}"`);
      }
      if (fault !== undefined) return failed(fault);
      const rows = waiting;
      waiting = [];
      const notice =
        reorderedCount === 0
          ? null
          : `${reorderedCount} ${reorderedCount === 1 ? 'row was' : 'rows were'} out of order by less than ${csvReorderToleranceMs / 1000} s (the first in line ${firstReorderedLine}) and put in order.`;
      return ok({ rows, summary: { rowCount, reorderedCount, notice, simulated } });
    },
  };
}

function numberOf(text: string): number | undefined {
  if (!numberPattern.test(text)) return undefined;
  const value = Number(text);
  return Number.isFinite(value) ? value : undefined;
}

/** A piece of someone's file, short and without control characters. */
function quote(text: string): string {
  const shown = text.replace(/\p{C}/gu, '?');
  return `"${shown.length > 40 ? `${shown.slice(0, 40)}...` : shown}"`;
}
