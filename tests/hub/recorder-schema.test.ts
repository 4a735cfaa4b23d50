// Databases of every released version open, are brought up to date, and hold what was put into them.

import { copyFileSync, mkdtempSync, readdirSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import SqliteDatabase from 'better-sqlite3';
import { expect, test } from 'vitest';
import { applicationId, schemaVersion } from '../../hub/recorder/schema.ts';
import { openSqliteStore } from '../../hub/recorder/sqlite-store.ts';
import { said } from '../../shared/said.ts';
import {
  alarmViewSchema,
  athleteSchema,
  athleteSettingsSchema,
  holdViewSchema,
  markSchema,
  sessionViewSchema,
} from '../../shared/views.ts';
import {
  fixtureAlive,
  fixtureChange,
  fixtureCorrection,
  fixtureDetails,
  fixtureDocument,
  fixturePackets,
  fixtureParticipant,
  fixturePrior,
  fixtureSchedule,
  fixtureSummary,
  fixtureUnwatched,
} from '../contract/fixture-recording.ts';
import { samePackets } from '../contract/packet-cases.ts';
import { alarm, ana, ben, hold, mark, sensor, settings } from '../contract/store-contract.ts';

const fixtures = fileURLToPath(new URL('../../fixtures/databases/', import.meta.url));
const versions = readdirSync(fixtures).flatMap((name) => /^version-(\d+)\.sqlite$/.exec(name)?.[1] ?? []);

test('there is a database of every version', () => {
  expect(versions.map(Number).sort((a, b) => a - b)).toEqual(
    Array.from({ length: schemaVersion }, (_, i) => i + 1),
  );
});

test.each(versions)('a database of version %s opens and holds what was put into it', (version) => {
  const directory = mkdtempSync(join(tmpdir(), 'slackwater-version-'));
  try {
    copyFileSync(join(fixtures, `version-${version}.sqlite`), join(directory, 'recordings.sqlite'));
    const store = openSqliteStore({ directory });
    expect(store.interruptedSessionIds).toEqual(['left-open']);
    expect(store.listAthletes()).toEqual([ana, ben]);
    expect([...store.sensorAssignments()]).toEqual([['oxi-ana', 'ana']]);
    expect(samePackets([...store.readPackets('whole')], fixturePackets)).toBe(true);
    const whole = store.readSession('whole')!;
    expect(whole.damage).toEqual([]);
    expect(whole.session).toMatchObject({ status: 'ended', endedAtMs: 40_000, athleteIds: ['ana', 'ben'] });
    expect(whole.sensors.at(-1)).toEqual({ ...sensor('hr-ben'), athleteId: 'ben', fromMs: 900 });
    expect(whole.marks).toEqual([mark('m1', 'ana', 10_000)]);
    expect(whole.holds).toEqual([hold('h1', 'ana', 11_000)]);
    // Nobody ended it: it ends with the session.
    expect(whole.alarms).toEqual([{ ...alarm('a1', 'ana', 12_000), clearedAtMs: 40_000 }]);
    expect(whole.settingsChanges).toEqual([
      { athleteId: 'ana', atMs: 13_000, settings: { ...settings, heartRateLowBpm: 42 } },
    ]);
    expect(whole.linkEvents).toHaveLength(1);
    expect(whole.changes).toEqual(Number(version) >= 7 ? [fixtureChange] : []);
    expect(whole.corrections).toEqual(Number(version) >= 3 ? [fixtureCorrection] : []);
    expect({ schedules: whole.schedules, unwatched: whole.session.unwatched, alive: whole.alive }).toEqual(
      Number(version) >= 8
        ? { schedules: [fixtureSchedule], unwatched: [fixtureUnwatched], alive: fixtureAlive }
        : { schedules: [], unwatched: [], alive: undefined },
    );
    expect(store.readSession('left-open')?.session).toMatchObject({ status: 'interrupted', endedAtMs: 700 });

    expect([...store.listSummaries('ana', fixtureSummary.madeBy)]).toEqual(
      Number(version) >= 4 ? [['whole', fixtureSummary.body]] : [],
    );
    expect(store.listDocuments('training')).toEqual(Number(version) >= 2 ? [fixtureDocument] : []);
    expect(store.listDocuments('oxygenPrior')).toEqual(Number(version) >= 5 ? [fixturePrior] : []);

    expect(store.listDocuments('sessionDetails')).toEqual(Number(version) >= 10 ? [fixtureDetails] : []);
    expect(store.listDocuments('participant')).toEqual(Number(version) >= 7 ? [fixtureParticipant] : []);

    // What is stored still has the shape that pages expect: a change of it needs a migration.
    sessionViewSchema.parse(whole.session);
    for (const athlete of whole.athletes) athleteSchema.parse(athlete);
    for (const each of whole.marks) markSchema.parse(each.mark);
    for (const each of whole.holds) holdViewSchema.parse(each.hold);
    for (const each of whole.alarms) alarmViewSchema.parse(each.alarm);
    for (const each of whole.settingsChanges) athleteSettingsSchema.parse(each.settings);
    store.close();

    const database = new SqliteDatabase(join(directory, 'recordings.sqlite'), { readonly: true });
    expect(database.pragma('user_version', { simple: true })).toBe(schemaVersion);
    expect(database.pragma('application_id', { simple: true })).toBe(applicationId);
    expect(database.pragma('integrity_check', { simple: true })).toBe('ok');
    database.close();
  } finally {
    rmSync(directory, { recursive: true, force: true, maxRetries: 5 });
  }
});

test.each(versions.map(Number).filter((version) => version < schemaVersion))(
  'before a database of version %i is brought up to date it is copied, as a program of then reads it; what is erased leaves the copy',
  (version) => {
    const directory = mkdtempSync(join(tmpdir(), 'slackwater-version-'));
    try {
      copyFileSync(join(fixtures, `version-${version}.sqlite`), join(directory, 'recordings.sqlite'));
      const store = openSqliteStore({ directory });
      const copy = join(directory, `recordings.sqlite.version-${version}`);
      expect(store.notices).toContainEqual(
        said('data.broughtUpToDate', { from: version, to: schemaVersion, copy }),
      );
      expect(statSync(copy).mode & 0o777).toBe(0o600);
      const before = new SqliteDatabase(copy, { readonly: true });
      expect(before.pragma('user_version', { simple: true })).toBe(version);
      expect(before.pragma('application_id', { simple: true })).toBe(applicationId);
      expect(before.pragma('integrity_check', { simple: true })).toBe('ok');
      expect(before.prepare('SELECT count(*) FROM sessions').pluck().get()).toBe(2);
      before.close();
      store.deleteSession('whole');
      expect(readdirSync(directory).filter((name) => name.includes('version'))).toEqual([]);
      store.close();
      // Brought up to date once.
      const again = openSqliteStore({ directory });
      expect(again.notices).toEqual([]);
      again.close();
    } finally {
      rmSync(directory, { recursive: true, force: true, maxRetries: 5 });
    }
  },
);

test('a program of an earlier version refuses what was brought up to date, and says what to do', () => {
  const directory = mkdtempSync(join(tmpdir(), 'slackwater-version-'));
  try {
    openSqliteStore({ directory }).close();
    const path = join(directory, 'recordings.sqlite');
    // As this program looks to one of the next version: every version asks the same before it reads a row.
    const database = new SqliteDatabase(path);
    database.pragma(`user_version = ${schemaVersion + 1}`);
    database.close();
    expect(() => openSqliteStore({ directory })).toThrow(
      expect.objectContaining({
        code: 'data.newerVersion',
        message: expect.stringMatching(/Update this program.*recordings\.sqlite\.version-\d+/),
      }),
    );
  } finally {
    rmSync(directory, { recursive: true, force: true, maxRetries: 5 });
  }
});

test('a damaged row of an earlier version is found before anything is brought up to date', () => {
  const directory = mkdtempSync(join(tmpdir(), 'slackwater-version-'));
  try {
    const path = join(directory, 'recordings.sqlite');
    copyFileSync(join(fixtures, 'version-1.sqlite'), path);
    const database = new SqliteDatabase(path);
    database.exec(`UPDATE athletes SET body = replace(body, 'Ben', 'Bem')`);
    database.close();
    expect(() => openSqliteStore({ directory })).toThrow('damaged');
    const again = new SqliteDatabase(path, { readonly: true });
    expect(again.pragma('user_version', { simple: true })).toBe(1);
    again.close();
  } finally {
    rmSync(directory, { recursive: true, force: true, maxRetries: 5 });
  }
});
