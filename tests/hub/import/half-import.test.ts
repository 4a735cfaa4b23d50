// An import is there as a whole or not at all: hidden while it comes in, gone after a crash, gone when it is cancelled.

import { existsSync, mkdtempSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { initialSettings } from '../../../hub/live/initial-settings.ts';
import { encodeChunk } from '../../../hub/recorder/packet-chunk.ts';
import { openSqliteStore } from '../../../hub/recorder/sqlite-store.ts';
import { createImportThread } from '../../../hub/recordings/import/import-thread.ts';
import { monotonicMs, wallMs } from '../../../shared/units.ts';

const mira = { athleteId: 'mira', name: 'Mira', simulated: true, settings: initialSettings };

test('a hub that stops in the middle of an import finds nothing of it, and everything else', () => {
  const directory = mkdtempSync(join(tmpdir(), 'slackwater-half-'));
  const store = openSqliteStore({ directory });
  store.saveAthlete(mira);
  const start = (sessionId: string, source: 'import' | 'live') =>
    store.startSession({
      sessionId,
      startedWallAtMs: wallMs(0),
      simulated: true,
      source,
      title: '',
      athletes: [{ athlete: mira, sensors: [] }],
    });
  const packet = (atMs: number) => ({
    sensorId: 's',
    characteristic: '2a37',
    bytes: Uint8Array.of(0, 60),
    atMs: monotonicMs(atMs),
    wallAtMs: wallMs(atMs),
  });
  start('live', 'live');
  start('half', 'import');
  store.appendPacket('live', packet(5));
  store.appendImported('half', {
    chunks: [{ packetCount: 2, lastAtMs: 2, body: encodeChunk([packet(1), packet(2)]) }],
    marks: [],
    holds: [],
  });
  expect(store.listSessions().map(({ session }) => session.sessionId)).toEqual(['live']);
  expect([...store.readPackets('half')]).toHaveLength(2);
  // Closed without an end, as a crash leaves it.
  store.close();
  const again = openSqliteStore({ directory });
  expect(again.readSession('half')).toBeUndefined();
  expect(again.interruptedSessionIds).toEqual(['live']);
  expect([...again.readPackets('live')]).toHaveLength(1);
  again.close();
});

test('a cancelled import ends at once, the next one is read', { timeout: 60_000 }, async () => {
  const folder = mkdtempSync(join(tmpdir(), 'slackwater-cancel-'));
  const write = (name: string, rows: number): string => {
    const path = join(folder, name);
    writeFileSync(path, `time (s),HR\n${Array.from({ length: rows }, (_, i) => `${i / 10},60\n`).join('')}`);
    return path;
  };
  const thread = createImportThread({ warn: () => undefined });
  const abort = new AbortController();
  const taken: string[] = [];
  const taker = {
    begin: () => ({ startedWallAtMs: 0, settings: initialSettings }),
    take: async (part: { readonly type: string }) => void taken.push(part.type),
  };
  const fileOf = (name: string, rows: number) => ({ path: write(name, rows), name, timeZone: 'UTC' });
  const steps: string[] = [];
  const long = thread.store(fileOf('long.csv', 400_000), {}, taker, {
    signal: abort.signal,
    onProgress: ({ step }) => {
      if (steps.at(-1) !== step) steps.push(step);
      abort.abort(new Error('left'));
    },
  });
  const second = thread.store(fileOf('short.csv', 20), {}, taker, {
    signal: new AbortController().signal,
    onProgress: ({ step }) => void steps.push(`second ${step}`),
  });
  await expect(long).rejects.toThrow('left');
  expect(taken).toEqual([]);
  expect((await second).durationMs).toBe(1_900);
  expect(taken).toEqual(['packets', 'end']);
  expect(steps[0]).toBe('second waiting');
  expect(existsSync(join(folder, 'short.csv.readings'))).toBe(false);
  await thread.close();
});
