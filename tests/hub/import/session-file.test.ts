// A session file: out of one hub, into another and out again, to the byte; analysed as the recording itself; and whatever
// else is put in its place, refused with one reason.

import { createHash } from 'node:crypto';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import fc from 'fast-check';
import { unzipSync, zipSync } from 'fflate';
import { afterAll, beforeAll, describe, expect, test, vi } from 'vitest';
import { PlanRunArchive } from '../../../hub/plans/plan-run-archive.ts';
import { ImportRefused } from '../../../hub/recordings/import/checked-sink.ts';
import { sourceOfBytes } from '../../../hub/recordings/import/file-source.ts';
import { openFileRecording } from '../../../hub/recordings/import/replay-of-file.ts';
import { openSessionFile } from '../../../hub/recordings/import/session-of-file.ts';
import {
  importedBodySchema,
  importPreviewBodySchema,
  type RecordingBody,
  recordingBodySchema,
} from '../../../shared/http.ts';
import type { PlanRunEvent } from '../../../shared/plan-run.ts';
import { monotonicMs, percent, wallMs } from '../../../shared/units.ts';
import { makeIntervalSeries } from '../../../src/plans/generate-plan.ts';
import { ownHeaders } from '../../support/own-person.ts';
import { type ServedTestHub, serveTestHub } from '../../support/serve-test-hub.ts';
import { waveProfile, writeSession } from '../../support/written-sessions.ts';

vi.setConfig({ testTimeout: 120_000, hookTimeout: 120_000 });

const startedWallAtMs = Date.UTC(2025, 4, 3, 15, 5, 9, 250);
const folder = mkdtempSync(join(tmpdir(), 'slackwater-session-file-'));
afterAll(() => rmSync(folder, { recursive: true, force: true, maxRetries: 5 }));

const hubs: ServedTestHub[] = [];
async function newHub(): Promise<ServedTestHub> {
  const served = await serveTestHub();
  hubs.push(served);
  return served;
}
afterAll(async () => {
  for (const served of hubs) await served.close();
});

async function get(served: ServedTestHub, url: string) {
  return served.server.app.inject({ method: 'GET', url, headers: ownHeaders });
}
async function fileOf(served: ServedTestHub, sessionId: string, format: string, athleteId: string) {
  const answer = await get(served, `/api/sessions/${sessionId}/${format}?athleteId=${athleteId}`);
  expect([answer.statusCode, answer.statusCode === 200 ? '' : answer.body]).toEqual([200, '']);
  return { bytes: new Uint8Array(answer.rawPayload), disposition: answer.headers['content-disposition'] };
}
async function take(served: ServedTestHub, fileName: string, bytes: Uint8Array, plan: object, to = '') {
  const query = new URLSearchParams({ fileName, plan: JSON.stringify(plan) });
  return served.server.app.inject({
    method: 'POST',
    url: `/api/import${to}?${query.toString()}`,
    headers: { ...ownHeaders, 'content-type': 'application/octet-stream' },
    payload: Buffer.from(bytes),
  });
}
async function bodyOf(served: ServedTestHub, sessionId: string): Promise<RecordingBody> {
  return recordingBodySchema.parse((await get(served, `/api/sessions/${sessionId}`)).json());
}

/** Two who held together, with a wave, a note, a feeling, corrections, an alarm, a gap nobody watched, and a plan's run. */
async function hubWithSession(simulated: boolean): Promise<ServedTestHub> {
  const served = await newHub();
  const { store } = served;
  for (const [athleteId, name] of [
    ['lumi', 'Lumi Örn'],
    ['tove', 'Tove'],
  ] as const)
    store.saveAthlete({ athleteId, name, simulated, settings: served.hub.athletes[0]!.settings });
  writeSession(store, {
    sessionId: 'evening',
    athleteId: 'lumi',
    athleteName: 'Lumi Örn',
    others: [{ athleteId: 'tove', athleteName: 'Tove' }],
    startedWallAtMs,
    title: 'Evening, quiet',
    simulated,
    holdsS: [80, 95],
    wave: true,
    note: { atS: 300, text: 'warm hands, "quiet"; ü' },
    feeling: { comfort: 4, note: 'calm, with a smile' },
    clipSilentS: { fromS: 20, toS: 34 },
    ended: false,
  });
  const at = (seconds: number) => monotonicMs(seconds * 1_000);
  for (const athleteId of ['lumi', 'tove']) {
    store.saveSettingsChange('evening', athleteId, at(40), {
      ...served.hub.athletes[0]!.settings,
      floorSpo2Percent: percent(91),
    });
    store.saveSchedule('evening', { athleteId, atMs: at(60), startAtMs: at(90), toleranceMs: 4_000 });
    store.saveSessionChange('evening', {
      athleteId,
      atMs: at(1),
      change: 'joined',
      sensor: null,
      by: 'Coach',
    });
    store.saveAlarm('evening', {
      athleteId,
      clearedAtMs: at(210),
      alarm: {
        alarmId: 'alarm-1',
        kind: 'floorBreached',
        priority: 'high',
        highestPriority: 'high',
        raisedAtMs: at(190),
        conditionPresent: false,
        timesPresent: 1,
        passedAtMs: at(205),
        acknowledged: true,
        acknowledgedAtMs: at(206),
        acknowledgedBy: 'Coach',
        value: 90,
        worstValue: 89,
        worstAtMs: at(195),
        limit: 91,
        likely: null,
        subject: 'oximeter',
        sensorId: `clip-${athleteId}`,
        detail: null,
        holdNear: true,
        message: 'Saturation was below the floor of 91 %.',
        instruction: 'Breathe.',
      },
    });
  }
  store.saveUnwatched('evening', {
    fromMs: at(500),
    toMs: at(503),
    fromWallMs: wallMs(startedWallAtMs + 500_000),
    toWallMs: wallMs(startedWallAtMs + 503_000),
    cause: 'hubStopped',
  });
  store.endSession('evening', at(570));
  store.addCorrection('evening', {
    athleteId: 'lumi',
    step: {
      correctionId: 'c1',
      madeWallAtMs: startedWallAtMs + 9e6,
      correction: { type: 'moveBoundary', holdId: 'hold-1', boundary: 'start', atMs: at(93.25) },
      estimated: { startMs: at(90), endMs: at(170) },
    },
  });
  store.addCorrection('evening', {
    athleteId: 'lumi',
    step: {
      correctionId: 'c2',
      madeWallAtMs: startedWallAtMs + 9.1e6,
      correction: { type: 'addMark', kind: 'contraction', atMs: at(140), text: null },
      estimated: null,
    },
  });
  const plan = makeIntervalSeries();
  const run = {
    runId: 'run-1',
    sessionId: 'evening',
    startedWallAtMs: startedWallAtMs + 10_000,
    endedAtMs: 400_000,
    plan,
    options: {
      athletes: ['lumi', 'tove'].map((athleteId) => ({ athleteId, offsetMs: 0 })),
      oneAtATime: false,
      assumeFromCues: false,
      acceptedWarnings: [],
    },
  };
  const archive = new PlanRunArchive(store, { info() {}, warn() {}, error() {} });
  archive.saveHead(run, 400_000);
  archive.saveAthletes(run);
  const startOf = (athleteId: string): PlanRunEvent => ({
    type: 'holdStarted',
    atMs: at(81),
    athleteId,
    holdId: 'hold-1',
    startedAtMs: at(80),
    source: 'mark',
  });
  const end: PlanRunEvent = { type: 'end', atMs: at(400), athleteId: null };
  for (const [index, event] of [startOf('lumi'), startOf('tove'), end].entries())
    archive.saveEvent('run-1', index, event);
  return served;
}

describe('out, into another hub, and out again', () => {
  let first: ServedTestHub;
  let second: ServedTestHub;
  let again: string;
  let bytes: Uint8Array;
  beforeAll(async () => {
    first = await hubWithSession(false);
    const file = await fileOf(first, 'evening', 'session', 'lumi');
    expect(file.disposition).toMatch(
      /^attachment; filename="slackwater-Lumi-Orn-2025-05-03-\d{4}\.session\.zip"; filename\*=UTF-8''slackwater-Lumi-%C3%96rn-2025-05-03-\d{4}\.session\.zip$/,
    );
    ({ bytes } = file);
    second = await newHub();
    const seen = await take(second, 'lumi.session.zip', bytes, {}, '/preview');
    expect(importPreviewBodySchema.parse(seen.json())).toMatchObject({
      format: 'session',
      suggestedAthleteName: 'Lumi Örn',
      suggestedTitle: 'Evening, quiet',
      simulated: false,
      startedWallAtMs,
    });
    const taken = await take(second, 'lumi.session.zip', bytes, { newAthleteName: 'Lumi Örn' });
    expect([taken.statusCode, taken.body]).toEqual([201, expect.any(String)]);
    again = importedBodySchema.parse(taken.json()).sessionId;
  });

  test('the same bytes', async () => {
    const { athletes } = await bodyOf(second, again);
    const once = unzipSync(bytes);
    const twice = unzipSync((await fileOf(second, again, 'session', athletes[0]!.athlete.athleteId)).bytes);
    expect(Object.keys(twice)).toEqual(Object.keys(once));
    for (const [name, part] of Object.entries(once))
      expect([name, Buffer.from(twice[name]!).equals(Buffer.from(part))]).toEqual([name, true]);
    const events = JSON.parse(Buffer.from(once['events.json']!).toString()) as Record<string, unknown[]>;
    // Something of every kind is in it, so that none of them is the same for being empty.
    for (const [kind, list] of Object.entries(events)) expect([kind, list.length > 0]).toEqual([kind, true]);
    const plans = JSON.parse(Buffer.from(once['plans.json']!).toString()) as { runs: { events: object[] }[] };
    // Hers, and the end of it for all.
    expect(plans.runs.map((run) => run.events.length)).toEqual([2]);
    expect(Buffer.from(Object.values(once).flatMap((part) => [...part])).toString('latin1')).not.toMatch(
      /tove/i,
    );
  });

  test('the page of the other hub shows the same holds, measures, marks, alarms and gaps', async () => {
    const [one, two] = [(await bodyOf(first, 'evening')).athletes, (await bodyOf(second, again)).athletes];
    const plain = ({ athlete, alarms, marks, ...rest }: RecordingBody['athletes'][number]) => ({
      ...rest,
      settings: athlete.settings,
      alarms: alarms.map(({ alarm }) => alarm),
      marks: marks.map(({ athleteId: _whose, ...mark }) => mark),
    });
    expect(two.map(plain)).toEqual([plain(one.find(({ athlete }) => athlete.athleteId === 'lumi')!)]);
    expect(one[0]!.holds).toHaveLength(2);
    expect(one[0]!.holds[0]!.hold.start).toMatchObject({ atMs: 93_250, source: 'corrected' });
  });

  test('every packet with its two times', () => {
    const own = (served: ServedTestHub, sessionId: string) =>
      [...served.store.readPackets(sessionId)]
        .filter(({ sensorId }) => sensorId.endsWith('lumi'))
        .map(({ bytes: sent, ...packet }) => ({ ...packet, hex: Buffer.from(sent).toString('hex') }));
    const [one, two] = [own(first, 'evening'), own(second, again)];
    expect(one.length).toBeGreaterThan(6_000);
    expect(two).toEqual(one);
  });

  test('a replay plays every packet of it, marks and notes', async () => {
    const path = join(folder, 'replayed.session.zip');
    writeFileSync(path, bytes);
    const recording = await openFileRecording(path);
    const events = [...recording.events()];
    expect(events.filter(({ type }) => type === 'packet')).toHaveLength(
      [...second.store.readPackets(again)].length,
    );
    expect(events.filter(({ type }) => type === 'mark').length).toBeGreaterThan(5);
    expect(recording.simulated).toBe(false);
    // Its wave clip speaks a protocol of its own, which this place need not know.
    expect(recording.profiles).toEqual([waveProfile]);
  });
});

test('what is SIMULATED stays so, and never becomes a real athlete\u2019s', async () => {
  const first = await hubWithSession(true);
  const { bytes, disposition } = await fileOf(first, 'evening', 'session', 'lumi');
  expect(disposition).toContain('-SIMULATED.session.zip');
  const second = await newHub();
  const refused = await take(second, 'x.zip', bytes, { athleteId: 'mira' });
  expect(refused.statusCode).toBe(400);
  expect(refused.json<{ message: string }>().message).toContain('SIMULATED');
  const taken = await take(second, 'x.zip', bytes, { newAthleteName: 'Lumi' });
  const { sessionId, athleteId } = importedBodySchema.parse(taken.json());
  expect((await bodyOf(second, sessionId)).session.simulated).toBe(true);
  expect(second.hub.athletes.find((athlete) => athlete.athleteId === athleteId)?.simulated).toBe(true);
});

/** A session file small enough to be broken in every place. */
function smallFile(): Uint8Array {
  const text = (value: unknown) => Buffer.from(`${JSON.stringify(value, null, 1)}\n`);
  const segment = Buffer.alloc(4 + 22 + 2);
  segment.writeUInt32LE(1, 0);
  segment.writeDoubleLE(1_000, 6);
  segment.writeDoubleLE(startedWallAtMs + 1_000, 14);
  segment.writeUInt32LE(2, 22);
  segment.set([0, 60], 26);
  return archive({
    'session.json': text({
      athleteName: 'Lumi',
      title: '',
      startedWallAtMs,
      durationMs: 2_000,
      simulated: true,
      recordedBy: null,
      incomplete: false,
      settings: {
        floorSpo2Percent: 88,
        thresholdsPercent: [95],
        heartRateLowBpm: null,
        heartRateHighBpm: null,
        maxHoldDurationMs: null,
        forecastAlarm: 'medium',
      },
      sensors: [],
      profiles: [],
      streams: [{ sensorId: 'strap', characteristic: '2a37' }],
      unwatched: [],
    }),
    'events.json': text({
      marks: [],
      holds: [],
      alarms: [],
      settingsChanges: [],
      linkEvents: [],
      changes: [],
      schedules: [],
      corrections: [],
    }),
    'plans.json': text({ runs: [] }),
    'packets/00001.bin': segment,
  });
}

function archive(files: Record<string, Uint8Array>, changes: object = {}): Uint8Array {
  const manifest = {
    format: 'slackwater-session',
    version: 1,
    notice: 'a test',
    simulated: true,
    files: Object.entries(files).map(([name, bytes]) => ({
      name,
      byteCount: bytes.length,
      sha256: createHash('sha256').update(bytes).digest('hex'),
    })),
    ...changes,
  };
  return zipSync({ 'manifest.json': Buffer.from(JSON.stringify(manifest)), ...files });
}
const partsOf = (bytes: Uint8Array): Record<string, Uint8Array> => {
  const { 'manifest.json': _manifest, ...rest } = unzipSync(bytes);
  return rest;
};

/** 'whole', 'other' for what is no session file, or why not. Throws what must never be thrown. */
function read(bytes: Uint8Array): string {
  try {
    const file = openSessionFile('x.zip', sourceOfBytes(bytes));
    if (file === undefined) return 'other';
    for (const _packet of file.packets());
    return 'whole';
  } catch (error) {
    if (error instanceof ImportRefused) return error.message;
    throw error;
  }
}

describe('what is not whole is refused with one reason', () => {
  const whole = smallFile();

  test('the file that the others are made of is read', () => {
    expect(read(whole)).toBe('whole');
  });

  test('a newer version, whatever else is in it', () => {
    expect(read(archive({ 'other.json': Buffer.from('{}') }, { version: 2, files: 'elsewhere' }))).toBe(
      'x.zip is a session file, but it is of version 2, and this program reads versions up to 1: bring this program up to date.',
    );
  });

  test('cut off anywhere', () => {
    for (let length = 60; length < whole.length; length += 7) {
      const answer = read(whole.subarray(0, length));
      expect([length, answer]).toEqual([length, expect.stringContaining('x.zip is a session file, but it')]);
    }
  });

  test('a part that was changed, is missing, is too many, or says two things', () => {
    const parts = partsOf(whole);
    const manifestOf = (bytes: Uint8Array) => unzipSync(bytes)['manifest.json']!;
    const with_ = (changed: Record<string, Uint8Array>) =>
      zipSync({ 'manifest.json': manifestOf(whole), ...parts, ...changed });
    expect(read(with_({ 'plans.json': Buffer.from('{"runs":[]} ') }))).toContain(
      'plans.json in it is not what it was when the file was written',
    );
    expect(read(with_({ 'packets/00002.bin': Buffer.from('?') }))).toContain(
      'packets/00002.bin in it is no part of a session file',
    );
    const { 'packets/00001.bin': _left, ...without } = parts;
    expect(read(zipSync({ 'manifest.json': manifestOf(whole), ...without }))).toContain(
      'packets/00001.bin is missing in it',
    );
    expect(read(archive(parts, { simulated: false }))).toContain('SIMULATED');
    expect(read(archive({ ...parts, 'events.json': Buffer.from('[1') }))).toContain(
      'events.json in it is no JSON',
    );
    expect(read(archive({ ...parts, 'packets/00001.bin': Buffer.from('abc') }))).toContain(
      'packets/00001.bin in it holds no packets that can be read',
    );
    const head = JSON.parse(Buffer.from(parts['session.json']!).toString()) as object;
    const withHead = (changes: object) =>
      read(archive({ ...parts, 'session.json': Buffer.from(JSON.stringify({ ...head, ...changes })) }));
    expect(withHead({ durationMs: 'long' })).toContain('in session.json, durationMs must be a number');
    expect(withHead({ durationMs: -1 })).toContain('in session.json, durationMs must be at least 0');
    expect(withHead({ profiles: [{ profile: 1 }] })).toContain('sensor profile 1 in it cannot be used');
    const deep = `${'['.repeat(200_000)}${']'.repeat(200_000)}`;
    expect(read(archive({ ...parts, 'plans.json': Buffer.from(deep) }))).toContain(
      'plans.json in it is no JSON',
    );
  });

  test('packed to be huge: refused before it is unpacked', () => {
    const parts = partsOf(whole);
    const bomb = archive({ ...parts, 'events.json': new Uint8Array(48 * 2 ** 20) });
    expect(bomb.length).toBeLessThan(100_000);
    expect(read(bomb)).toContain('is larger than');
    const bombOfPackets = archive({ ...parts, 'packets/00001.bin': new Uint8Array(8 * 2 ** 20) });
    expect(read(bombOfPackets)).toContain('is larger than');
  });

  test('other archives are other files', () => {
    expect(read(zipSync({ 'xl/workbook.xml': Buffer.from('<a/>') }))).toBe('other');
    expect(read(zipSync({ 'manifest.json': Buffer.from('{"name":"an app"}') }))).toBe('other');
    expect(read(new Uint8Array())).toBe('other');
  });

  test('any bytes, and any bytes in place of some of it: an answer, and never another error', () => {
    fc.assert(
      fc.property(fc.uint8Array({ maxLength: 400 }), (bytes) => {
        expect(read(bytes)).toBe('other');
        expect(typeof read(Buffer.concat([whole.subarray(0, 60), bytes]))).toBe('string');
      }),
      { numRuns: 200 },
    );
    fc.assert(
      fc.property(
        fc.array(fc.tuple(fc.nat(whole.length - 1), fc.nat(255)), { minLength: 1, maxLength: 6 }),
        (changes) => {
          const changed = whole.slice();
          for (const [at, value] of changes) changed[at] = value;
          expect(typeof read(changed)).toBe('string');
        },
      ),
      { numRuns: 600 },
    );
  });

  test('any JSON in place of a part', () => {
    const parts = partsOf(whole);
    fc.assert(
      fc.property(fc.constantFrom('session.json', 'events.json', 'plans.json'), fc.json(), (name, json) => {
        const answer = read(archive({ ...parts, [name]: Buffer.from(json) }));
        expect(answer).toContain(name);
      }),
      { numRuns: 300 },
    );
  });

  test('one that cannot be read leaves nothing behind', async () => {
    const served = await newHub();
    const before = (await served.store.listSessions()).length;
    const people = served.hub.athletes.length;
    const parts = partsOf(whole);
    const broken = archive({ ...parts, 'packets/00001.bin': Buffer.from('abc') });
    const answer = await take(served, 'broken.session.zip', broken, { newAthleteName: 'Nobody' });
    expect(answer.statusCode).toBe(400);
    expect((await served.store.listSessions()).length).toBe(before);
    expect(served.hub.athletes.length).toBe(people);
  });
});
