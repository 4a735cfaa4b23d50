// A place found without sorting holds what sorting puts there, whatever the numbers and however many are alike.

import fc from 'fast-check';
import { expect, test } from 'vitest';
import { selectPlace } from '../../../src/signal/order-statistics.ts';

test('the value is that of the sorted numbers, and numbers behind the count stay where they are', () => {
  const numbers = fc.array(fc.oneof(fc.double({ noNaN: true }), fc.integer({ min: 0, max: 3 })), {
    minLength: 1,
  });
  fc.assert(
    fc.property(numbers, fc.nat(), fc.array(fc.double({ noNaN: true })), (values, at, behind) => {
      const place = at % values.length;
      const mixed = Float64Array.from([...values, ...behind]);
      const sorted = Float64Array.from(values).sort();
      // -0 and 0 are equal to one another in any order.
      expect(selectPlace(mixed, values.length, place) === sorted[place]).toBe(true);
      expect([...mixed.subarray(values.length)]).toEqual(behind);
      // Adding 0 makes 0 of -0.
      expect([...mixed.subarray(0, values.length)].map((value) => value + 0).sort((a, b) => a - b)).toEqual(
        [...sorted].map((value) => value + 0),
      );
    }),
  );
});
