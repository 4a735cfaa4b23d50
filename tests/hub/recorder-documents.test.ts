// Plans and training beside recordings on disk: an older file gains the table; a damaged row is left out, and said.

import { copyFileSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import SqliteDatabase from 'better-sqlite3';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { initialSettings } from '../../hub/live/initial-settings.ts';
import { databaseFileName } from '../../hub/recorder/data-directory.ts';
import { openSqliteStore, openStoreInMemory } from '../../hub/recorder/sqlite-store.ts';
import { said } from '../../shared/said.ts';
import { monotonicMs, wallMs } from '../../shared/units.ts';
import { ana } from '../contract/store-contract.ts';

let directory: string;
beforeEach(() => {
  directory = mkdtempSync(join(tmpdir(), 'documents-'));
});
afterEach(() => rmSync(directory, { recursive: true }));

const plan = {
  kind: 'plan',
  documentId: 'p1',
  groupId: null,
  athleteId: null,
  body: { title: 'Eight' },
} as const;

test('a file of version 1 keeps its athletes and gains documents', () => {
  const released = new URL('../../fixtures/databases/version-1.sqlite', import.meta.url);
  copyFileSync(released, join(directory, databaseFileName));
  const store = openSqliteStore({ directory });
  expect(store.listAthletes()).toContainEqual(ana);
  store.saveDocument(plan);
  expect(store.listDocuments('plan')).toContainEqual(plan);
  store.close();
});

test('a damaged plan is left out with a notice, and the rest can be used', () => {
  const first = openSqliteStore({ directory });
  first.saveDocument(plan);
  first.saveDocument({ ...plan, documentId: 'p2' });
  first.close();
  const file = new SqliteDatabase(join(directory, databaseFileName));
  file.exec(`UPDATE documents SET body = '{"title":"Nine"}' WHERE document_id = 'p1'`);
  file.close();
  const store = openSqliteStore({ directory });
  expect(store.listDocuments('plan').map((document) => document.documentId)).toEqual(['p2']);
  expect(store.readDocument('plan', 'p1')).toBeUndefined();
  expect(store.notices).toEqual([said('data.documentsDamaged', { count: 1 })]);
  store.close();
});

test('a row that fits no stored shape is told as damage and left out; the rest of the recording is read', () => {
  const memory = openStoreInMemory();
  memory.startSession({
    sessionId: 's',
    startedWallAtMs: wallMs(0),
    simulated: false,
    source: 'live',
    title: '',
    athletes: [
      {
        athlete: { athleteId: 'mira', name: 'Mira', simulated: false, settings: initialSettings },
        sensors: [],
      },
    ],
  });
  const mark = { markId: 'm', athleteId: 'mira', kind: 'note', atMs: monotonicMs(5), text: 'cold' } as const;
  memory.saveMark('s', { mark, removed: false });
  memory.saveMark('s', {
    mark: { ...mark, markId: 'n', kind: 'of a later version' as never },
    removed: false,
  });
  const read = memory.readSession('s')!;
  expect(read.marks).toEqual([{ mark, removed: false }]);
  expect(read.damage).toEqual([said('damage.mark')]);
});

test('a link event of before, with a sentence, and one of now, with a code, are both read', () => {
  const memory = openStoreInMemory();
  memory.startSession({
    sessionId: 's',
    startedWallAtMs: wallMs(0),
    simulated: false,
    source: 'live',
    title: '',
    athletes: [
      {
        athlete: { athleteId: 'mira', name: 'Mira', simulated: false, settings: initialSettings },
        sensors: [],
      },
    ],
  });
  const event = { sensorId: 'bt:a', link: 'lost' } as const;
  const former = 'Lost: out of range or switched off. Reconnecting by itself.';
  memory.saveLinkEvent('s', { ...event, atMs: monotonicMs(5), detail: former as never });
  const now = said('sensor.lost', { reason: said('link.outOfRange') });
  memory.saveLinkEvent('s', { ...event, atMs: monotonicMs(6), detail: now });
  const read = memory.readSession('s')!;
  expect(read.damage).toEqual([]);
  expect(read.linkEvents.map(({ detail }) => detail)).toEqual([said('said.asTold', { text: former }), now]);
});
