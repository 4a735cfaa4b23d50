import { expect, test } from 'vitest';
import { floorRangePercent } from '../../shared/schema-parts.ts';

test('the initial floor lies inside the allowed range', () => {
  expect(floorRangePercent.initial).toBeGreaterThanOrEqual(floorRangePercent.least);
  expect(floorRangePercent.initial).toBeLessThanOrEqual(floorRangePercent.most);
});
