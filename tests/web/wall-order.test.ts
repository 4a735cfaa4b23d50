// Places on the wall, how many stand beside each other, what each is called by, and whom nobody watches.

import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { unwatchedIds } from '../../web/state/plan-watch.ts';
import { calledNames, columnsFor, inPlaces, movedBy } from '../../web/state/wall-order.ts';

const people = (...names: string[]) => names.map((name, index) => ({ athleteId: `${index}`, name }));

describe('places', () => {
  test('chosen ones first and in that order; who comes later stands last and moves nobody', () => {
    const before = inPlaces(people('a', 'b', 'c'), ['2', '0']);
    expect(before.map(({ name }) => name)).toEqual(['c', 'a', 'b']);
    const after = inPlaces(people('a', 'b', 'c', 'd'), ['2', '0']);
    expect(after.slice(0, 3)).toEqual(before);
  });

  test('a move is one place and never past an end', () => {
    expect(movedBy(['a', 'b', 'c'], 'c', -1)).toEqual(['a', 'c', 'b']);
    expect(movedBy(['a', 'b', 'c'], 'a', -1)).toEqual(['a', 'b', 'c']);
    expect(movedBy(['a', 'b', 'c'], 'x', 1)).toEqual(['a', 'b', 'c']);
  });

  test('nobody is lost or doubled, whatever is remembered of other sessions', () => {
    fc.assert(
      fc.property(fc.uniqueArray(fc.string()), fc.array(fc.string()), (ids, chosen) => {
        const placed = inPlaces(
          ids.map((athleteId) => ({ athleteId })),
          [...new Set(chosen)],
        );
        expect(placed.map(({ athleteId }) => athleteId).sort()).toEqual([...ids].sort());
      }),
    );
  });
});

test('columns make tiles as large as the room allows', () => {
  expect(columnsFor(12, 1440, 740)).toBe(4);
  expect(columnsFor(12, 390, 700)).toBe(2);
  expect(columnsFor(1, 390, 700)).toBe(1);
  expect(columnsFor(3, 0, 0)).toBe(1);
});

test('people are called by their first name, and by as much more as tells them apart', () => {
  const called = calledNames(people('Ada Holm', 'Ada Berg', 'Teo', 'Teo', '  Ilse   Barraco'));
  expect([...called.values()]).toEqual(['Ada Holm', 'Ada Berg', 'Teo', 'Teo', 'Ilse']);
});

test('nobody is watched without a session that records, nor who is not in it', () => {
  expect(unwatchedIds(['a', 'b'], null)).toEqual(['a', 'b']);
  expect(unwatchedIds(['a', 'b'], { status: 'ended', athleteIds: ['a', 'b'] })).toEqual(['a', 'b']);
  expect(unwatchedIds(['a', 'b'], { status: 'recording', athleteIds: ['b'] })).toEqual(['a']);
});
