// A part of the alarm matrix through whole hubs at each run of the tests: what a page or an output does not present is a fault of
// ours. `npx tsx tests/bench/alarm-matrix-live.bench.ts` runs it whole.

import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { realCrossings } from '../support/alarm-corpus/crossings.ts';
import { faultSequences } from '../support/alarm-corpus/fault-sequences.ts';
import { type LiveFault, liveFaults, presenters } from '../support/live-alarms/live-faults.ts';
import { rowsOf, runFault } from '../support/live-alarms/live-matrix.ts';

// The shortest: 3 s below the floor in a real person.
const crossings = realCrossings().filter(({ name }) => name === 'subject-4-slot-2, floor 82');
let lanIn = '';
beforeAll(() => {
  lanIn = mkdtempSync(join(tmpdir(), 'slackwater-live-matrix-'));
});
afterAll(() => rmSync(lanIn, { recursive: true, force: true, maxRetries: 5 }));

const named = (name: string): LiveFault => {
  const fault = liveFaults.find((one) => one.name === name);
  if (fault === undefined) throw new Error(`no fault ${name}`);
  return fault;
};

test('every sequence of the core is run through whole hubs too, and faults of sockets, outputs and the disk beside them', () => {
  expect(crossings).toHaveLength(1);
  const names = new Set(liveFaults.map(({ name }) => name));
  expect(names.size).toBe(liveFaults.length);
  // That there is no output is told to the core as an event; a whole hub loses real ones.
  expect(faultSequences.filter(({ name }) => !names.has(name)).map(({ name }) => name)).toEqual([
    'no page and no sound',
  ]);
  expect(liveFaults.length).toBeGreaterThanOrEqual(faultSequences.length + 6);
});

describe.runIf(process.platform !== 'win32')(
  'on every page and output, live and replayed',
  { timeout: 60_000 },
  () => {
    test.each([
      'nothing goes wrong',
      'the finger leaves the probe 2 s before',
      'alarms are acknowledged each second',
      'the network of both pages breaks at the second low reading',
      'the loudspeaker fails from 10 s before until 4 s after',
      'the command fails twice',
      'the webhook is refused twice',
      'the disk is full from 10 s before',
      'no page and no loudspeaker from 20 s before',
    ])('%s', async (name) => {
      const fault = named(name);
      const rows = rowsOf(fault, await runFault(fault, crossings, lanIn));
      expect(rows.map(({ way }) => way)).toEqual(
        fault.notRecorded === true ? ['live'] : ['live', 'replayed'],
      );
      for (const row of rows) {
        expect(row).toMatchObject({ crossings: 1, missed: [], packetsLost: 0 });
        const expected = presenters.filter((one) => !fault.broken.includes(one));
        expect(Object.keys(row.worstDelayS).sort()).toEqual([...expected].sort());
      }
    });

    test('a page that is gone and a loudspeaker that fails are seen to present nothing', async () => {
      const { broken: _broken, ...fault } = named('no page and no loudspeaker from 20 s before');
      const rows = rowsOf(
        { ...fault, broken: [] },
        await runFault({ ...fault, broken: ['coach draws'] }, crossings, lanIn),
      );
      for (const { missed } of rows)
        expect(missed[0]?.who).toEqual([
          'coach draws',
          'coach sounds',
          'phone draws',
          'phone sounds',
          'loudspeaker',
        ]);
    });
  },
);
