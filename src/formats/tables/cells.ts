// Cells of a table as people and programs write them: numbers with either decimal sign, unit or per-cent sign, words for
// nothing. Clocks and dates are in dates.ts.

/** Words that programs write for "nothing", in the languages whose headings are read. */
const nothing = new Set(
  ['', '-', '--', '---', '...', '*', 'na', 'n/a', '#n/a', 'nan', 'null', 'none', 'invalid', 'unknown', '?']
    .concat([
      'nil',
      'n.v.',
      'k.a.',
      'kein',
      'keine',
      'nd',
      'n.d.',
      'aucun',
      'ninguno',
      'nessuno',
      '#n/v',
      '#nv',
    ])
    .concat(['missing', 'error', 'err', 'off', 'undefined', '\u2013', '\u2014']),
);

export const saysNothing = (cell: string): boolean => cell.length < 10 && nothing.has(cell.toLowerCase());

const plain = /^[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,3})?$/;
const withUnit = /^([+-]?[\d.,]+(?:[eE][+-]?\d{1,3})?)\s*(?:%|bpm|\/min|min-1|ms|msec|s|sec|Hz|lpm|ppm)$/i;

/**
 * NaN for what is no number. A comma is a decimal sign: where it also separates columns, only quoted cells hold one. With
 * both signs the last is the decimal one ("1.024,5", "1,024.5").
 */
export function numberOf(cell: string): number {
  // Nearly every cell is one; checked first, by the number itself, since a pattern takes longer.
  const first = cell.charCodeAt(0);
  if ((first >= 48 && first <= 57) || first === 45 || first === 46) {
    const value = +cell;
    // JavaScript's own "0x1F" and the like are no numbers of a table.
    if (Number.isFinite(value) && !(cell.charCodeAt(1) > 97 && cell.charCodeAt(0) === 48)) return value;
  }
  const bare = (withUnit.exec(cell)?.[1] ?? cell).replace('\u2212', '-');
  const comma = bare.lastIndexOf(',');
  const text =
    comma < 0
      ? bare
      : comma > bare.lastIndexOf('.')
        ? bare.replaceAll('.', '').replace(',', '.')
        : bare.replaceAll(',', '');
  return plain.test(text) ? Number(text) : Number.NaN;
}

/** A line's cells without the spaces round them. Quotes as RFC 4180 has them. */
export function splitLine(text: string, delimiter: string): string[] {
  if (delimiter === ' ' && !text.includes('"')) return text.trim().split(/[ \t]+/);
  if (!text.includes('"')) {
    const cells = text.split(delimiter);
    for (let i = 0; i < cells.length; i += 1) cells[i] = cells[i]!.trim();
    return cells;
  }
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
      if (delimiter !== ' ' || cell !== '' || text[at - 1] === '"') cells.push(cell.trim());
      cell = '';
    } else cell += character;
  }
  if (delimiter !== ' ' || cell !== '') cells.push(cell.trim());
  return cells;
}

/** A piece of someone's file, short and without control characters. */
export function quote(text: string): string {
  const shown = text.replace(/\p{C}/gu, '?');
  return `"${shown.length > 40 ? `${shown.slice(0, 40)}...` : shown}"`;
}
