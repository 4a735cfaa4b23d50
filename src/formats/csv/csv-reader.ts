// Reads the long text format strictly, in pieces of any size. A fault is named by line and column.

import { type Said, said } from '../../../shared/said.ts';
import { qualitySchema } from '../../../shared/schema-parts.ts';
import type { Result } from '../../result.ts';
import { failed, ok } from '../../result.ts';
import type { CsvChannelEntry, CsvMark, CsvRow } from './csv-row.ts';
import {
  csvChannels,
  csvHeader,
  csvHeaderWithQuality,
  csvMarkChannel,
  csvMarks,
  csvNoteChannel,
} from './csv-row.ts';

export interface CsvFault {
  /** Both from 1; the column counts characters and points at the field that is wrong. */
  readonly line: number;
  readonly column: number;
  /** Begins with the place. */
  readonly said: Said;
}

/** What a person should know of a file that was read to its end. */
export interface CsvSummary {
  readonly rowCount: number;
  /** Rows that stood after a later time and were put in order. */
  readonly reorderedCount: number;
  /** What to say of those, or null. */
  readonly notice: Said | null;
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
const csvReorderToleranceMs = 2_000;
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
export const createCsvReader = (): CsvReader => new LongCsvReader();

class LongCsvReader implements CsvReader {
  readonly #channelOf = new Map<string, CsvChannelEntry>(csvChannels.map((entry) => [entry.name, entry]));
  readonly #markOf = new Map<string, CsvMark>(csvMarks.map((entry) => [entry.name, entry.mark]));
  #carry = '';
  #line = 0;
  #fault: CsvFault | undefined;
  #headerSeen = false;
  #columnCount = csvHeader.split(',').length;
  #blankLine = 0;
  #simulated = false;
  #rowCount = 0;
  #reorderedCount = 0;
  #firstReorderedLine = 0;
  #latestMs = Number.NEGATIVE_INFINITY;
  #latestLine = 0;
  /** Rows not yet final, in time order. */
  #waiting: CsvRow[] = [];

  #fail(column: number, what: Said): void {
    const line = this.#line;
    this.#fault ??= { line, column, said: said('file.atLine', { line, column, what }) };
  }

  #takeLine(raw: string): void {
    this.#line += 1;
    const line = this.#line;
    let text = raw;
    if (line === 1 && text.startsWith('\uFEFF')) text = text.slice(1);
    if (text.endsWith('\r')) text = text.slice(0, -1);
    if (text.length > longestLine) {
      this.#fail(longestLine + 1, said('file.longLine', { most: longestLine }));
      return;
    }
    if (text.trim() === '') {
      if (this.#blankLine === 0) this.#blankLine = line;
      return;
    }
    if (text.startsWith('#')) {
      if (text.includes('SIMULATED')) this.#simulated = true;
      return;
    }
    if (this.#blankLine > 0) {
      this.#fault ??= {
        line: this.#blankLine,
        column: 1,
        said: said('file.atLine', {
          line: this.#blankLine,
          column: 1,
          what: said('csv.blankLine', { line }),
        }),
      };
      return;
    }
    const fields = this.#splitFields(text);
    if (fields === undefined) return;
    if (!this.#headerSeen) {
      this.#takeHeader(fields);
      return;
    }
    this.#takeRow(fields);
  }

  #takeHeader(fields: readonly Field[]): void {
    const withQuality = csvHeaderWithQuality.split(',');
    const expected = fields.length === withQuality.length ? withQuality : csvHeader.split(',');
    this.#columnCount = expected.length;
    for (let i = 0; i < Math.max(expected.length, fields.length); i += 1) {
      const field = fields[i];
      if (field?.text === expected[i]) continue;
      const column = field?.column ?? (fields.at(-1)?.column ?? 1) + (fields.at(-1)?.text.length ?? 0);
      this.#fail(
        column,
        field === undefined
          ? said('csv.headerEnds', { header: csvHeader })
          : said('csv.header', { header: csvHeader, found: quote(field.text) }),
      );
      return;
    }
    this.#headerSeen = true;
  }

  #takeRow(fields: readonly Field[]): void {
    const [time, channel, value, quality] = fields;
    if (
      time === undefined ||
      channel === undefined ||
      value === undefined ||
      fields.length > this.#columnCount
    ) {
      const column = fields[this.#columnCount]?.column ?? 1;
      this.#fail(column, said('csv.fieldCount', { header: csvHeader, count: fields.length }));
      return;
    }
    const timeS = numberOf(time.text);
    if (timeS === undefined) {
      this.#fail(time.column, said('csv.timeNotNumber', { found: quote(time.text) }));
      return;
    }
    if (timeS < 0 || timeS > mostTimeS) {
      this.#fail(time.column, said('csv.timeRange', { most: mostTimeS, found: quote(time.text) }));
      return;
    }
    // To a thousandth of a millisecond, which undoes the rounding of binary fractions.
    const timeMs = Math.round(timeS * 1e6) / 1e3;
    const row =
      channel.text === csvMarkChannel
        ? this.#markRow(timeMs, value)
        : channel.text === csvNoteChannel
          ? ({ kind: 'note', timeMs, text: value.text } as const)
          : this.#sampleRow(timeMs, channel, value, quality);
    if (row !== undefined) this.#place(row, time);
  }

  #markRow(timeMs: number, value: Field): CsvRow | undefined {
    const mark = this.#markOf.get(value.text);
    if (mark === undefined) {
      const known = csvMarks.map((entry) => entry.name).join(', ');
      this.#fail(value.column, said('csv.unknownMark', { known, found: quote(value.text) }));
      return undefined;
    }
    return { kind: 'mark', timeMs, mark };
  }

  #sampleRow(timeMs: number, channel: Field, value: Field, quality: Field | undefined): CsvRow | undefined {
    const entry = this.#channelOf.get(channel.text);
    if (entry === undefined) {
      const known = [...csvChannels.map(({ name }) => name), csvMarkChannel, csvNoteChannel].join(', ');
      this.#fail(channel.column, said('csv.unknownChannel', { known, found: quote(channel.text) }));
      return undefined;
    }
    const number = numberOf(value.text);
    if (number === undefined) {
      this.#fail(value.column, said('csv.notNumber', { name: entry.name, found: quote(value.text) }));
      return undefined;
    }
    if (number < entry.least || number > entry.most) {
      this.#fail(
        value.column,
        said('csv.range', {
          name: entry.name,
          least: entry.least,
          most: entry.most,
          found: quote(value.text),
        }),
      );
      return undefined;
    }
    const sample = { kind: 'sample', timeMs, channel: entry.channel, value: number } as const;
    if (quality === undefined || quality.text === '') return sample;
    const known = qualitySchema.options.find((option) => option === quality.text);
    if (known !== undefined) return { ...sample, quality: known };
    this.#fail(
      quality.column,
      said('csv.unknownQuality', { known: qualitySchema.options.join(', '), found: quote(quality.text) }),
    );
    return undefined;
  }

  /** Puts a row in its place among those not yet final. */
  #place(row: CsvRow, time: Field): void {
    this.#rowCount += 1;
    if (row.timeMs >= this.#latestMs) {
      this.#latestMs = row.timeMs;
      this.#latestLine = this.#line;
      this.#waiting.push(row);
      return;
    }
    if (row.timeMs < this.#latestMs - csvReorderToleranceMs) {
      this.#fail(
        time.column,
        said('csv.outOfOrder', {
          found: quote(time.text),
          seconds: csvReorderToleranceMs / 1000,
          line: this.#latestLine,
        }),
      );
      return;
    }
    this.#reorderedCount += 1;
    if (this.#firstReorderedLine === 0) this.#firstReorderedLine = this.#line;
    let index = this.#waiting.length;
    while (index > 0 && this.#waiting[index - 1]!.timeMs > row.timeMs) index -= 1;
    this.#waiting.splice(index, 0, row);
  }

  #splitFields(text: string): Field[] | undefined {
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
    return this.#splitQuotedFields(text);
  }

  #splitQuotedFields(text: string): Field[] | undefined {
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
            this.#fail(column, said('csv.quoteOpen'));
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
          this.#fail(at + 1, said('csv.afterQuote'));
          return undefined;
        }
      } else {
        const comma = text.indexOf(',', at);
        const end = comma < 0 ? text.length : comma;
        field = text.slice(at, end).trim();
        const stray = field.indexOf('"');
        if (stray >= 0) {
          this.#fail(column + stray, said('csv.strayQuote'));
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
  #takeFinal(): CsvRow[] {
    const before = this.#latestMs - csvReorderToleranceMs;
    let count = 0;
    while (count < this.#waiting.length && this.#waiting[count]!.timeMs < before) count += 1;
    const rows = this.#waiting.slice(0, count);
    this.#waiting = this.#waiting.slice(count);
    return rows;
  }

  push(text: string): Result<readonly CsvRow[], CsvFault> {
    if (this.#fault !== undefined) return failed(this.#fault);
    this.#carry = this.#carry === '' ? text : this.#carry + text;
    let from = 0;
    for (;;) {
      const end = this.#carry.indexOf('\n', from);
      if (end < 0) break;
      this.#takeLine(this.#carry.slice(from, end));
      if (this.#fault !== undefined) return failed(this.#fault);
      from = end + 1;
    }
    this.#carry = this.#carry.slice(from);
    // Longer than a line with its byte-order mark and carriage return can be: the fault is certain already.
    if (this.#carry.length > longestLine + 2) this.#takeLine(this.#carry);
    return this.#fault === undefined ? ok(this.#takeFinal()) : failed(this.#fault);
  }

  finish(): Result<{ readonly rows: readonly CsvRow[]; readonly summary: CsvSummary }, CsvFault> {
    if (this.#fault === undefined && this.#carry !== '') this.#takeLine(this.#carry);
    this.#carry = '';
    if (this.#fault === undefined && !this.#headerSeen) {
      this.#line = Math.max(1, this.#line);
      this.#fail(1, said('csv.noHeader', { header: csvHeader }));
    }
    if (this.#fault !== undefined) return failed(this.#fault);
    const rows = this.#waiting;
    this.#waiting = [];
    const notice =
      this.#reorderedCount === 0
        ? null
        : said('csv.reordered', {
            count: this.#reorderedCount,
            seconds: csvReorderToleranceMs / 1000,
            line: this.#firstReorderedLine,
          });
    return ok({
      rows,
      summary: {
        rowCount: this.#rowCount,
        reorderedCount: this.#reorderedCount,
        notice,
        simulated: this.#simulated,
      },
    });
  }
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
