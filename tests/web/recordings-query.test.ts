// What the fields of the list ask the hub for.

import { expect, test } from 'vitest';
import { isFiltered, noFields, recordingsQuery } from '../../web/state/recordings-query.ts';

const queryOf = (fields: Partial<typeof noFields>, page = 0) =>
  Object.fromEntries(new URLSearchParams(recordingsQuery({ ...noFields, ...fields }, page, 'Untitled')));

test('only what is filled in, trimmed; days as the reader’s own, the last one whole', () => {
  expect(queryOf({}, 2)).toEqual({ page: '2', untitled: 'Untitled' });
  expect(queryOf({ search: '  warm & slow ', kind: 'import', tag: 'new mat' })).toEqual({
    page: '0',
    untitled: 'Untitled',
    search: 'warm & slow',
    kind: 'import',
    tag: 'new mat',
  });
  const day = queryOf({ fromDay: '2031-04-02', untilDay: '2031-04-02' });
  expect(Number(day['fromMs'])).toBe(new Date(2031, 3, 2).getTime());
  expect(Number(day['untilMs'])).toBe(new Date(2031, 3, 3).getTime());
  expect(queryOf({ fromDay: '2031' })['fromMs']).toBeUndefined();
});

test('a field with something in it narrows the list', () => {
  expect(isFiltered(noFields)).toBe(false);
  expect(isFiltered({ ...noFields, search: ' ' })).toBe(false);
  expect(isFiltered({ ...noFields, condition: 'hard' })).toBe(true);
});
