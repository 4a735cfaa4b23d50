// A fault injected at every place where a recording is written, and the process killed there: nothing confirmed is lost. A
// sample of the points of each place; `npm run bench crash` takes all of them.

import { beforeAll, expect, test } from 'vitest';
import { canFaultDisk } from '../support/disk-fault.ts';
import {
  faultActs,
  faultAt,
  sampled,
  type WritePoint,
  writePoints,
  writePointsThrough,
} from '../support/faulted-recordings.ts';
import { bundleChild } from './recorder-killing.ts';

if (!canFaultDisk) process.stderr.write('SKIPPED: faults at each write need Linux and gcc\n');

let child = '';
beforeAll(async () => {
  child = await bundleChild();
}, 60_000);

test.runIf(canFaultDisk)(
  'whichever write fails, is cut short or is the last one: what was confirmed is there',
  async () => {
    const all = await writePoints(child);
    const sites = new Set(all.map(({ site }) => site));
    // The journal, the checkpoint into the database, and the making of both.
    for (const site of [
      'pwrite recordings.sqlite-wal',
      'fsync recordings.sqlite-wal',
      'pwrite recordings.sqlite',
    ])
      expect([...sites]).toContain(site);
    const bad: string[] = [];
    let wholeCount = 0;
    const isMaking = ({ site }: WritePoint): boolean => site.includes('.new-');
    const waiting = [
      ...sampled(all.filter(isMaking), 1).flatMap((point) =>
        (['eio', 'kill'] as const).map((act) => ({ ...point, act })),
      ),
      ...sampled(
        all.filter((point) => !isMaking(point)),
        2,
      ).flatMap((point) => faultActs.map((act) => ({ ...point, act }))),
    ];
    const runCount = waiting.length;
    const lane = async (): Promise<void> => {
      for (let next = waiting.pop(); next !== undefined; next = waiting.pop()) {
        const { outcome, detail } = await faultAt(child, next.number, next.act);
        if (outcome === 'whole') wholeCount += 1;
        if (outcome === 'lost' || outcome === 'refused')
          bad.push(`${next.act} at ${next.number} (${next.site}): ${outcome} ${detail}`);
      }
    };
    await Promise.all([lane(), lane()]);
    expect(bad).toEqual([]);
    expect(wholeCount).toBeGreaterThan(runCount / 2);
    expect(runCount).toBeGreaterThan(40);
  },
  240_000,
);

test.runIf(canFaultDisk)(
  'after a sync that failed the log is written anew into the file, before anything is called saved again',
  async () => {
    const all = await writePoints(child);
    const isFileSync = ({ site }: WritePoint): boolean => site === 'fsync recordings.sqlite';
    const syncs = all.filter(({ site }) => site === 'fsync recordings.sqlite-wal');
    const hit = syncs[Math.floor(syncs.length / 2)]!;
    const through = await writePointsThrough(child, hit.number, 'eio');
    const after = through.slice(through.findIndex(({ number }) => number === hit.number) + 1);
    // Tried again, and with that the file itself is synced: before the sync that would follow without the fault.
    const usualBefore = all.slice(hit.number).findIndex(isFileSync);
    const found = after.findIndex(isFileSync);
    expect(found).toBeGreaterThan(-1);
    expect(found).toBeLessThan(usualBefore);
    expect(after.slice(0, found).map(({ site }) => site)).toContain('pwrite recordings.sqlite');
  },
  60_000,
);
