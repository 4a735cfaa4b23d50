// Finds what reads like a sentence in source text: string and template literals of three words or more, text between
// tags, and attributes that are read out. A search, not a parser: it errs towards finding.

export interface FoundText {
  readonly line: number;
  readonly text: string;
}

/** Comments become blanks; literals are handed out with their line. Regular expressions are not known to it. */
function literalsOf(source: string): { readonly literals: FoundText[]; readonly code: string } {
  const literals: FoundText[] = [];
  let code = '';
  let line = 1;
  let index = 0;
  const take = (count: number, keep: boolean): string => {
    const taken = source.slice(index, index + count);
    line += taken.split('\n').length - 1;
    index += count;
    code += keep ? taken : taken.replaceAll(/[^\n]/g, ' ');
    return taken;
  };
  while (index < source.length) {
    const rest = source.slice(index, index + 2);
    const character = source[index]!;
    if (rest === '//') {
      const end = source.indexOf('\n', index);
      take((end < 0 ? source.length : end) - index, false);
    } else if (rest === '/*') {
      const end = source.indexOf('*/', index + 2);
      take((end < 0 ? source.length : end + 2) - index, false);
    } else if (character === "'" || character === '"' || character === '`') {
      // An apostrophe in text between tags opens nothing that ends on its line.
      let end = index + 1;
      while (end < source.length && source[end] !== character) {
        if (character !== '`' && source[end] === '\n') break;
        end += source[end] === '\\' ? 2 : 1;
      }
      if (source[end] !== character) take(1, true);
      else {
        const from = line;
        const text = take(end + 1 - index, false).slice(1, -1);
        literals.push({ line: from, text });
      }
    } else take(1, true);
  }
  return { literals, code };
}

const threeWords = /\p{L}[\p{L}'\u2019]+,? [\p{L}'\u2019]{2,},? [\p{L}'\u2019]{2,}/u;
/** What the store says to its database, and a style of type on a canvas. */
const notForPeople =
  /^\s*(SELECT|INSERT|UPDATE|DELETE|CREATE|ALTER|DROP|PRAGMA|BEGIN|WITH)\b|system-ui, sans-serif/;
const readOutAttribute = /\b(?:aria-label|title|placeholder|alt|label)="([^"{}]*\p{L}{2,}[^"{}]*)"/gu;
const betweenTags = />([^<>{}=();]*\p{L}{2,}[^<>{}=();]*)<\//gu;

/** A template without what is filled in. */
function withoutExpressions(text: string): string {
  let fixed = text;
  for (let before = ''; before !== fixed; ) {
    before = fixed;
    fixed = fixed.replaceAll(/\$\{[^{}]*\}/g, '\u00b7').replaceAll(/\{[^{}$]*\}/g, '\u00b7');
  }
  return fixed;
}

/** Sentences of one file. `isMarkup` for files with tags. */
export function sentencesOf(source: string, isMarkup: boolean): FoundText[] {
  const { literals, code } = literalsOf(source);
  const found = literals.filter(({ text }) => {
    const fixed = withoutExpressions(text);
    return threeWords.test(fixed) && !notForPeople.test(fixed);
  });
  if (!isMarkup) return found;
  const lineOf = (index: number) => source.slice(0, index).split('\n').length;
  for (const match of code.matchAll(betweenTags))
    found.push({ line: lineOf(match.index), text: match[1]!.trim() });
  for (const match of source.matchAll(readOutAttribute))
    found.push({ line: lineOf(match.index), text: match[1]! });
  return found;
}
