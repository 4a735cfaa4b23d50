// A part of the alarm matrix at each run of the tests; `npx tsx tests/bench/alarm-matrix.bench.ts` runs it whole.

import { expect, test } from 'vitest';
import { delayOf, floorAsks } from '../../support/alarm-corpus/alarm-matrix.ts';
import { realCrossings, simulatedCrossings } from '../../support/alarm-corpus/crossings.ts';
import { breathingFaults, faultSequences } from '../../support/alarm-corpus/fault-sequences.ts';

const crossings = [
  ...simulatedCrossings([5_006]),
  ...realCrossings().filter(({ name }) => name.startsWith('subject-4')),
];

test('the crossings are falls of 3 s and more, and there are enough fault sequences', () => {
  expect(crossings).toHaveLength(3);
  for (const { lowFromS, lowToS } of crossings) expect(lowToS - lowFromS).toBeGreaterThanOrEqual(3);
  expect(faultSequences.length).toBeGreaterThanOrEqual(24);
  expect(new Set(faultSequences.map(({ name }) => name)).size).toBe(faultSequences.length);
});

test.each([...faultSequences, ...breathingFaults])('a high alarm stands: $name', (fault) => {
  for (const crossing of crossings)
    expect({ crossing: crossing.name, delayS: delayOf(fault, crossing) }).toMatchObject({
      delayS: expect.any(Number),
    });
});

test('from the marked start of a hold to the end of the fall no lower floor is taken', () => {
  const { asked, taken } = floorAsks([...crossings, ...simulatedCrossings([5_028])]);
  expect(asked).toBeGreaterThan(300);
  expect(taken).toBe(0);
});
