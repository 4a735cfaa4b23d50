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
    let end = '';
    let first = true;
    for (const piece of source.pieces()) {
      let text = carry === '' ? piece : carry + piece;
      if (first && text !== '') {
        if (text.startsWith('\uFEFF')) text = text.slice(1);
        first = false;
      }
      // A piece of mere CRs and no LF is of an old kind of file.
      if (end === '') end = text.includes('\n') ? '\n' : text.includes('\r') && text.length > 1 ? '\r' : '';
      let from = 0;
      if (end !== '')
        for (;;) {
          const at = text.indexOf(end, from);
          if (at < 0) break;
          state.line += 1;
          const to = end === '\n' && at > from && text.charCodeAt(at - 1) === 13 ? at - 1 : at;
          if (to - from > longestLine) {
            state.tooLong = true;
            return;
          }
          yield text.slice(from, to);
          from = at + 1;
        }
      carry = text.slice(from);
      if (carry.length > longestLine) {
        state.line += 1;
        state.tooLong = true;
        return;
      }
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
