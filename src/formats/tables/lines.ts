// Lines of a text that comes in pieces. A line longer than any table has ends the reading.

import type { TextSource } from '../import-file.ts';

export const longestLine = 20_000;

export interface LineReader extends Iterable<string> {
  /** Number of the line given last, from 1. */
  readonly line: number;
  /** The text ended in a line longer than any table's. */
  readonly tooLong: boolean;
}

/** Lines without their ends: LF, CR LF, or CR alone where the text has no LF. */
export function linesOf(source: TextSource): LineReader {
  const state = { line: 0, tooLong: false };
  function* lines(): Generator<string> {
    let carry = '';
    let end: LineEnd = '';
    let first = true;
    for (const piece of source.pieces()) {
      let text = carry === '' ? piece : carry + piece;
      if (first && text !== '') {
        if (text.startsWith('\uFEFF')) text = text.slice(1);
        first = false;
      }
      if (end === '') end = endIn(text);
      const cut = cutLines(text, end);
      for (const line of cut.lines) {
        state.line += 1;
        yield line;
      }
      if (cut.tooLong) {
        state.line += 1;
        state.tooLong = true;
        return;
      }
      carry = cut.rest;
    }
    if (carry !== '') {
      state.line += 1;
      yield carry.endsWith('\r') ? carry.slice(0, -1) : carry;
    }
  }
  return {
    get line() {
      return state.line;
    },
    get tooLong() {
      return state.tooLong;
    },
    [Symbol.iterator]: lines,
  };
}

/** Empty while it is not known. */
type LineEnd = '' | '\n' | '\r';

/** A text of mere CRs and no LF is of an old kind of file. */
function endIn(text: string): LineEnd {
  if (text.includes('\n')) return '\n';
  return text.includes('\r') && text.length > 1 ? '\r' : '';
}

/** The whole lines of a text and what is left; `tooLong` where the line after these, whole or not, is. */
function cutLines(
  text: string,
  end: LineEnd,
): { readonly lines: readonly string[]; readonly rest: string; readonly tooLong: boolean } {
  const lines: string[] = [];
  let from = 0;
  for (let at = end === '' ? -1 : text.indexOf(end); at >= 0; at = text.indexOf(end, from)) {
    const to = end === '\n' && at > from && text.charCodeAt(at - 1) === 13 ? at - 1 : at;
    if (to - from > longestLine) return { lines, rest: '', tooLong: true };
    lines.push(text.slice(from, to));
    from = at + 1;
  }
  return { lines, rest: text.slice(from), tooLong: text.length - from > longestLine };
}
