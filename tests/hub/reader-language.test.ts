// The language of an answer: Accept-Language with its weights (RFC 9110 s12.5.4), an address before it, English else.

import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { languageOfHeader, readerLanguage, sayFor } from '../../hub/server/reader-language.ts';
import { said } from '../../shared/said.ts';

describe('of a header', () => {
  test.each([
    [undefined, 'en'],
    ['', 'en'],
    ['de', 'de'],
    ['DE-at', 'de'],
    ['en-GB,en;q=0.9,de;q=0.8', 'en'],
    ['de-DE,de;q=0.9,en-US;q=0.8,en;q=0.7', 'de'],
    // RFC 9110's own example, with ours in the places of Danish and British English.
    ['fr, en-gb;q=0.8, en;q=0.7', 'en'],
    ['en;q=0.3, de;q=0.8', 'de'],
    ['fr-CH, fr;q=0.9, it;q=0.8', 'en'],
    ['fr, de;q=0.5', 'de'],
    ['fr, *;q=0.5', 'en'],
    ['*', 'en'],
    ['en;q=0, *', 'de'],
    ['de;q=0, fr', 'en'],
    ['en;q=0.5, de;q=0.5', 'en'],
    ['de ; q = 0.5 , en ; q = 0.4', 'de'],
    ['de;q=1.000', 'de'],
    // Not a weight by the grammar: the part is passed over, the rest counts.
    ['de;q=7, en;q=0.1', 'en'],
    ['de;q=0.1234, en;q=0.1', 'en'],
    ['dee, deutsch', 'en'],
    [`${'x,'.repeat(5_000)}de`, 'en'],
  ])('%s is %s', (header, language) => {
    expect(languageOfHeader(header)).toBe(language);
  });

  test('any text is answered with one of ours', () => {
    const piece = fc.constantFrom('de', 'en', 'fr', '*', ';q=', '0', '0.5', '1', ',', ' ', '-', ';', '=');
    const any = fc.oneof(
      fc.string(),
      fc.array(piece).map((pieces) => pieces.join('')),
    );
    fc.assert(
      fc.property(any, (header) => {
        expect(['en', 'de']).toContain(languageOfHeader(header));
      }),
    );
  });

  test('a language weighed more than another wins, wherever it stands', () => {
    const weight = fc.integer({ min: 1, max: 999 });
    fc.assert(
      fc.property(weight, weight, fc.boolean(), (german, english, germanFirst) => {
        fc.pre(german !== english);
        const parts = [
          `de;q=0.${String(german).padStart(3, '0')}`,
          `en;q=0.${String(english).padStart(3, '0')}`,
        ];
        const header = (germanFirst ? parts : parts.toReversed()).join(', ');
        expect(languageOfHeader(header)).toBe(german > english ? 'de' : 'en');
      }),
    );
  });
});

test('an address that asks for a language comes before the browser', () => {
  const headers = { 'accept-language': 'en' };
  expect(readerLanguage({ headers, query: { language: 'de-CH' } })).toBe('de');
  expect(readerLanguage({ headers, query: { language: 'tlh' } })).toBe('en');
  expect(readerLanguage({ headers, query: { language: ['de', 'en'] } })).toBe('en');
  expect(readerLanguage({ headers: { 'accept-language': 'de' } })).toBe('de');
});

test('words are the reader\u2019s', () => {
  const what = said('refusal.noSession');
  expect(sayFor('en')(what)).toBe('No session is being recorded.');
  expect(sayFor('de')(what)).toMatch(/^Es wird keine Sitzung/);
});
