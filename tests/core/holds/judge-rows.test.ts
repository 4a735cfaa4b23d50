// The looking back's way of running the later network against the plain one.

import fc from 'fast-check';
import { expect, test } from 'vitest';
import { judgeRecording } from '../../../src/holds/hold-network.ts';
import { judgeRows } from '../../../src/holds/judge-rows.ts';
import { laterNetwork } from '../../../src/holds/later-network.ts';
import { featureCount } from '../../../src/holds/row-features.ts';

test('two rows and four outputs at a time give the same numbers to the bit, for any number of rows', () => {
  fc.assert(
    fc.property(
      fc.integer({ min: 0, max: 180 }),
      fc.infiniteStream(fc.float({ min: -4, max: 4, noNaN: true })),
      (rows, values) => {
        const features = Float32Array.from(values.take(rows * featureCount));
        expect(judgeRows(laterNetwork, features)).toEqual(judgeRecording(laterNetwork, features));
      },
    ),
    { numRuns: 30 },
  );
});
