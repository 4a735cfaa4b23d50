// Names of real people in many scripts pass; blank, hidden and turned ones don't.
// Names: invented; scripts and hidden characters after the Unicode Character Database.

import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { isReadableName, nameTextSchema, optionalNameTextSchema } from '../../shared/name-text.ts';

describe('a name', () => {
  test.each([
    'Mira',
    'Jonas Öberg-Łuczak',
    'O’Hara 2',
    '李小龙',
    'かな',
    'محمد',
    'מירה',
    'नेहा',
    'ก้อง',
    'می\u200cخواهم',
    'Mat 3 \u{1f3ca}\u{1f3fd}\u200d\u2640\ufe0f',
    'e\u0301le\u0300ne',
    '한글',
    '\u{20000}',
    '?',
  ])('%s is taken', (name) => {
    expect(isReadableName(name)).toBe(true);
    expect(nameTextSchema(80).safeParse(` ${name}\t`)).toEqual({ success: true, data: name });
  });

  test.each([
    ['nothing', ''],
    ['spaces', '   '],
    ['no-break and ideographic spaces', '\u00a0\u3000\u2003'],
    ['a zero-width space', '\u200b'],
    ['one inside', 'Mi\u200bra'],
    ['a joiner alone', '\u200d'],
    ['a byte order mark inside', 'Mi\ufeffra'],
    ['a soft hyphen', 'Mi\u00adra'],
    ['blank letters', '\u3164\uffa0'],
    ['braille without dots', '\u2800'],
    ['text turned round', 'ariM\u202e'],
    ['an isolate', '\u2066Mira\u2069'],
    ['a direction mark', 'Mira\u200f'],
    ['half a surrogate pair', 'Mira\ud83d'],
    ['the other half', '\udc00Mira'],
    ['a line', 'Mira\nJonas'],
    ['a null', 'Mira\0'],
    ['an escape', 'Mira\u001b[31m'],
    ['a heap of marks', `a${'\u0301'.repeat(40)}`],
    ['tags alone', '\u{e0041}'],
    ['a private character', '\ue000'],
    ['10 kB', 'x'.repeat(10_000)],
    ['10 kB of marks', '\u0301'.repeat(10_000)],
  ])('of %s is refused', (_what, name) => {
    expect(nameTextSchema(80).safeParse(name).success).toBe(false);
    if (name.trim() !== '') expect(optionalNameTextSchema(80).safeParse(name).success).toBe(false);
  });

  test('may be left out where it may', () => {
    expect(optionalNameTextSchema(40).safeParse('  ')).toEqual({ success: true, data: '' });
  });

  test('that was taken is taken again as it is', () => {
    fc.assert(
      fc.property(fc.string({ unit: 'binary', maxLength: 90 }), (given) => {
        const taken = nameTextSchema(80).safeParse(given);
        if (!taken.success) return;
        expect(nameTextSchema(80).safeParse(taken.data)).toEqual(taken);
        expect(taken.data.length).toBeGreaterThan(0);
        expect(taken.data).toBe(taken.data.trim());
      }),
      { numRuns: 2_000 },
    );
  });
});
