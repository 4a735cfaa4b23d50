// The pseudo-language `ar-XB`: English, every word turned to run from right to left and each text about a third longer.
// It shows what would break in Arabic or Hebrew without anyone having to read them.

import { en, type Messages } from './en.ts';

const rightToLeftOverride = '\u202e';
const popDirection = '\u202c';
const lengthening = 0.35;
const filler =
  ' lorem ipsum dolor sit amet consectetur adipiscing elit sed do eiusmod tempor incididunt ut labore';

/** One text as the pseudo-language shows it: words mirrored, and filler words added. Numbers keep their direction. */
export function pseudoText(text: string): string {
  const wordCharacters = text.replaceAll(/[^\p{Letter}]/gu, '').length;
  if (wordCharacters < 2) return text;
  const added = filler
    .slice(0, Math.min(filler.length, Math.ceil(wordCharacters * lengthening) + 1))
    .trimEnd();
  return `${text}${added}`.replaceAll(
    /\p{Letter}[\p{Letter}\p{Mark}'\u2019]*/gu,
    (word) => `${rightToLeftOverride}${word}${popDirection}`,
  );
}

function pseudoOf(value: unknown): unknown {
  if (typeof value === 'string') return pseudoText(value);
  if (typeof value === 'function')
    return (...parameters: unknown[]) => pseudoOf((value as (...given: unknown[]) => unknown)(...parameters));
  if (Array.isArray(value)) return value.map(pseudoOf);
  if (value !== null && typeof value === 'object')
    return Object.fromEntries(Object.entries(value).map(([key, part]) => [key, pseudoOf(part)]));
  return value;
}

export const pseudo = pseudoOf(en) as Messages;
