// What is said of 10,000 hubs: the text's numbers are the script's, and the script's follow what they say they follow.

import { readFileSync } from 'node:fs';
import * as fc from 'fast-check';
import { expect, test } from 'vitest';
import {
  assumptions,
  type MeasuredSchool,
  scaleOf,
  simulateDay,
  worstDay,
} from '../../bench/school/scale.ts';
import { readResults, scalePath, scaleText } from '../../bench/school/write-scale.ts';

const measured: MeasuredSchool = {
  hubs: 50,
  athletesPerHub: 20,
  natsCores: 0.5,
  postgresCores: 0.5,
  schoolCores: 1,
  liveMessagesPerS: 2_000,
  liveBytesPerS: 500_000,
  keptMessagesPerS: 10,
  keptBytesPerS: 100_000,
  schoolResidentBytes: 2e8,
  bytesPerPacket: 3,
  caughtUpPacketsPerS: 20_000,
  bytesPerSessionRow: 10_000,
};
/** A tenth of everything, for many runs. */
const small = { ...assumptions, hubs: 1_000 };

/** Spaces of tables are the formatter's. */
const plain = (text: string): string => text.replaceAll(/[ -]+/g, ' ');

test('SCALE.md is what the script writes of the committed figures', () => {
  expect(plain(readFileSync(scalePath, 'utf8'))).toBe(plain(scaleText(readResults())));
});

test('a day keeps what went in: nothing is left in a stream and nothing comes from nowhere', () => {
  fc.assert(
    fc.property(
      fc.record({
        seed: fc.nat(),
        away: fc.double({ min: 0, max: 1, noNaN: true }),
        late: fc.double({ min: 0, max: 0.3, noNaN: true }),
      }),
      ({ seed, away, late }) => {
        const day = simulateDay(
          measured,
          { ...worstDay, seed, databasesAwayShare: away, lateShare: late },
          small,
        );
        expect(day.keptBytes / day.sentBytes).toBeCloseTo(1, 9);
        expect(day.peakHubs).toBeLessThanOrEqual(small.hubs);
      },
    ),
    { numRuns: 20 },
  );
});

test('a database away for an hour leaves an hour of its hubs in the stream, and no longer than that to take it', () => {
  const day = simulateDay(measured, { ...worstDay, databasesAwayShare: 1, lateShare: 0 }, small);
  // Ten hubs at 2,000 bytes a second and not one more can send within the hour.
  expect(day.mostStreamBytes).toBeGreaterThan(0.5 * 10 * 2_000 * 3_600);
  expect(day.mostStreamBytes).toBeLessThanOrEqual(10 * 2_000 * 3_600);
  // It takes 160,000 bytes a second where at most 20,000 come.
  expect(day.emptyAfterMinutes).toBeGreaterThan(3);
  expect(day.emptyAfterMinutes).toBeLessThan(12);
  const calm = simulateDay(measured, { ...worstDay, databasesAwayShare: 0, lateShare: 0 }, small);
  expect(calm.mostStreamBytesOfOthers).toBe(0);
});

test('cost and cores grow with what is measured, and with the hubs in proportion', () => {
  const one = scaleOf(measured, 4_000);
  const dearer = scaleOf({ ...measured, schoolCores: 2 }, 4_000);
  expect(dearer.schoolCores).toBeCloseTo(2 * one.schoolCores);
  expect(dearer.hubsPerSchoolProcess).toBe(Math.floor(one.hubsPerSchoolProcess / 2));
  expect(one.schoolCores).toBeCloseTo((1 / 50) * 4_000 * 2);
  expect(one.packetBytesPerAthleteHour).toBe(3 * 2 * 3_600);
  const { cores, database, objects, out } = one.euroPerMonth;
  expect(one.euroPerAthleteMonth).toBeCloseTo((cores + database + objects + out) / 200_000);
  const half = scaleOf(measured, 2_000, { ...assumptions, hubs: 5_000 });
  expect(half.euroPerAthleteMonth / one.euroPerAthleteMonth).toBeCloseTo(1, 2);
});
