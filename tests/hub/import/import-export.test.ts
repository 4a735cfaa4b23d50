// Out and in again through the hub: the same bytes come back, files of other programs come in, hostile ones change nothing.

import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import fc from 'fast-check';
import { afterEach, beforeEach, describe, expect, test, vi } from 'vitest';
import { encodeHeartRateMeasurement } from '../../../hub/sensors/simulated/encode-heart-rate-measurement.ts';
import { encodePlxContinuous } from '../../../hub/sensors/simulated/encode-plx-continuous.ts';
import {
  errorBodySchema,
  type ImportPlan,
  importedBodySchema,
  importPreviewBodySchema,
  recordingBodySchema,
} from '../../../shared/http.ts';
import { said } from '../../../shared/said.ts';
import { monotonicMs, wallMs } from '../../../shared/units.ts';
import { decodeEdf } from '../../../src/formats/edf/decode-edf.ts';
import { ownHeaders } from '../../support/own-person.ts';
import { type ServedTestHub, serveTestHub } from '../../support/serve-test-hub.ts';
import { waveProfile } from '../../support/written-sessions.ts';

// Deriving a recording takes a while on a busy machine.
vi.setConfig({ testTimeout: 60_000 });

let served: ServedTestHub;
beforeEach(async () => {
  served = await serveTestHub();
});
afterEach(() => served.close());

async function get(path: string) {
  const answer = await served.server.app.inject({ method: 'GET', url: path, headers: ownHeaders });
  expect([path, answer.statusCode]).toEqual([path, 200]);
  return answer;
}
async function post(path: string, fileName: string, bytes: Uint8Array | string, plan?: ImportPlan) {
  const query = new URLSearchParams({ fileName, ...(plan !== undefined && { plan: JSON.stringify(plan) }) });
  const answer = await served.server.app.inject({
    method: 'POST',
    url: `${path}?${query.toString()}`,
    headers: { ...ownHeaders, 'content-type': 'application/octet-stream' },
    payload: Buffer.from(bytes),
  });
  return { status: answer.statusCode, body: answer.json() as unknown };
}
const preview = async (fileName: string, bytes: Uint8Array | string) =>
  importPreviewBodySchema.parse((await post('/api/import/preview', fileName, bytes)).body);
async function importAs(fileName: string, bytes: Uint8Array | string, plan: ImportPlan) {
  const { status, body } = await post('/api/import', fileName, bytes, plan);
  expect([status, body]).toEqual([201, expect.anything()]);
  return importedBodySchema.parse(body);
}

/** Two minutes of a strap with intervals and an oximeter with perfusion, arriving at odd times, with gaps and trouble. */
function storeRecording(simulated: boolean): string {
  const { store } = served;
  const sessionId = 'original';
  const [strap, oximeter] = (['strap', 'oximeter'] as const).map((name) => ({
    sensorId: name,
    name,
    kinds: [name === 'strap' ? ('heartRate' as const) : ('oximeter' as const)],
    source: 'bluetooth' as const,
    link: 'connected' as const,
    detail: null,
    batteryPercent: null,
    rssiDbm: null,
  }));
  const athlete = { ...served.hub.athletes[0]!, simulated };
  const startedWallAtMs = Date.UTC(2025, 8, 1, 9, 30, 12, 345);
  store.startSession({
    sessionId,
    startedWallAtMs: wallMs(startedWallAtMs),
    simulated,
    source: 'live',
    title: 'evening',
    athletes: [{ athlete, sensors: [strap!, oximeter!] }],
    profiles: [waveProfile],
  });
  const add = (sensorId: string, characteristic: string, atMs: number, bytes: Uint8Array): void =>
    store.appendPacket(sessionId, {
      sensorId,
      characteristic,
      bytes,
      atMs: monotonicMs(atMs),
      wallAtMs: wallMs(startedWallAtMs + atMs),
    });
  for (let second = 2; second < 120; second += 1) {
    const jitterMs = ((second * 7_919) % 97) * 1.13;
    if (second < 50 || second > 58)
      add(
        'strap',
        '2a37',
        second * 1000 + jitterMs,
        encodeHeartRateMeasurement({
          heartRateBpm: 58 + (second % 9),
          skinContact: second !== 80,
          rrIntervalsMs: second % 3 === 0 ? [512 + second, 498] : [980 + second],
        }),
      );
    // A wave of a sensor with a profile of its own, a second long, with a silence.
    if (second < 60 || second > 63)
      for (let tenth = 0; tenth < 10; tenth += 1)
        add(
          'oximeter',
          waveProfile.link.notify,
          second * 1000 + tenth * 100 + jitterMs / 9,
          Uint8Array.from({ length: 10 }, (_, index) =>
            Math.round(128 + 99 * Math.sin((second + tenth / 10 + index / 100) * 6.5)),
          ),
        );
    add(
      'oximeter',
      '2a5f',
      second * 1000 + 400 + jitterMs / 2,
      encodePlxContinuous({
        spo2Percent: second === 90 ? 127 : 98 - second / 10,
        pulseRateBpm: second === 40 ? undefined : 61.5,
        pulseAmplitudeIndex: 2.35,
        decimals: 1,
        pulseDecimals: 1,
        indexDecimals: 2,
        ...(second === 70 && { measurementStatus: 1 << 14 }),
        ...(second === 71 && { measurementStatus: 1 << 15 }),
      }),
    );
  }
  const marks = [
    ['holdStart', 30_250.5, null],
    ['contraction', 62_000, null],
    ['note', 70_000, 'warm hands, "quiet"; ü'],
    ['holdEnd', 75_125, null],
  ] as const;
  marks.forEach(([kind, atMs, text], index) => {
    const mark = { markId: `m${index}`, athleteId: 'mira', kind, atMs: monotonicMs(atMs), text };
    store.saveMark(sessionId, { mark, removed: false });
  });
  store.endSession(sessionId, monotonicMs(120_500));
  return sessionId;
}

describe('export, import, export again gives the same bytes', () => {
  test('CSV', async () => {
    const first = (await get(`/api/sessions/${storeRecording(false)}/csv`)).body;
    const seen = await preview('evening.csv', first);
    expect(seen).toMatchObject({
      format: 'longCsv',
      suggestedAthleteName: 'Mira',
      simulated: false,
      markCount: 4,
    });
    const { sessionId } = await importAs('evening.csv', first, { athleteId: 'mira', title: 'evening' });
    const second = (await get(`/api/sessions/${sessionId}/csv`)).body;
    const data = (text: string): string => text.replaceAll(/^#.*\n/gm, '');
    expect(data(second)).toBe(data(first));
    expect(data(first).split('\n').length).toBeGreaterThan(400);
    expect(
      data(first)
        .split('\n')
        .filter((line) => line.includes(',pleth,')).length,
    ).toBeGreaterThan(11_000);
    expect(seen.columns.map(({ name, suggested }) => [name, suggested?.channel])).toContainEqual([
      'pleth',
      'pleth',
    ]);
    // All but the count of what the sensors themselves called bad, which a CSV does not carry.
    expect(second.replace(/left out: \d+/, '')).toBe(first.replace(/left out: \d+/, ''));
  });

  test('EDF+: every signal, every mark, the start and the length', async () => {
    const first = (await get(`/api/sessions/${storeRecording(false)}/edf`)).rawPayload;
    const { sessionId } = await importAs('evening.edf', first, { athleteId: 'mira', title: 'evening' });
    const second = (await get(`/api/sessions/${sessionId}/edf`)).rawPayload;
    const [one, two] = [decodeEdf(first), decodeEdf(second)];
    if (!one.ok || !two.ok) throw new Error('not readable');
    expect(one.value.signals).toHaveLength(12);
    for (const [index, signal] of one.value.signals.entries()) {
      expect([
        signal.label,
        Buffer.from(two.value.signals[index]!.digital.buffer).equals(Buffer.from(signal.digital.buffer)),
      ]).toEqual([signal.label, true]);
    }
    const head = ({ signals, annotations: _, ...rest }: typeof one.value) => ({
      ...rest,
      signals: signals.map(({ digital: __, ...signal }) => signal),
    });
    expect(head(two.value)).toEqual(head(one.value));
    const marks = (file: typeof one.value) =>
      file.annotations.filter(({ text }) => /^(Mark|Note)/.test(text));
    expect(marks(one.value)).toHaveLength(4);
    expect(marks(two.value)).toEqual(marks(one.value));
    // Once more: by now nothing at all changes, holds and gaps included.
    const again = await importAs('evening.edf', second, { athleteId: 'mira', title: 'evening' });
    expect((await get(`/api/sessions/${again.sessionId}/edf`)).rawPayload.equals(second)).toBe(true);
  });

  test('SIMULATED is honoured: in the session, in the file again, and never among a real athlete’s recordings', async () => {
    const file = (await get(`/api/sessions/${storeRecording(true)}/edf`)).rawPayload;
    expect((await preview('demo.edf', file)).simulated).toBe(true);
    expect(await post('/api/import', 'demo.edf', file, { athleteId: 'mira' })).toMatchObject({
      status: 400,
      body: { message: expect.stringContaining('SIMULATED') },
    });
    const { sessionId, athleteId } = await importAs('demo.edf', file, { newAthleteName: 'Demo' });
    expect(served.hub.athletes.find((athlete) => athlete.athleteId === athleteId)).toMatchObject({
      simulated: true,
    });
    const body = recordingBodySchema.parse((await get(`/api/sessions/${sessionId}`)).json());
    expect(body.session).toMatchObject({
      simulated: true,
      source: 'import',
      startedWallAtMs: Date.UTC(2025, 8, 1, 9, 30, 12, 345),
    });
    expect(body.athletes[0]?.marks).toHaveLength(4);
    expect(body.athletes[0]?.holds.length).toBeGreaterThan(0);
    expect((await get(`/api/sessions/${sessionId}/csv`)).body).toContain('# SIMULATED');
    expect((await get(`/api/sessions/${sessionId}/fhir`)).body).toContain('HTEST');
  });
});

const fixturePath = fileURLToPath(
  new URL('../../../fixtures/imports/written-by-libedf.edf', import.meta.url),
);

describe('what it is called', () => {
  const csv = (head: string) =>
    `${head}time_s,channel,value\n${Array.from({ length: 20 }, (_, i) => `${i},spo2_percent,97\n`).join('')}`;
  const started = '# started: 2025-09-01T09:30:12Z\n';
  const titleOf = async (fileName: string, text: string, plan: object) => {
    const { sessionId } = await importAs(fileName, text, { athleteId: 'mira', ...plan });
    return served.store.readSession(sessionId)!.session.title;
  };

  test('the file says, or is called, or a person types; an emptied field is no title', async () => {
    expect((await preview('pool_morning.csv', csv(started))).suggestedTitle).toBe('pool morning');
    expect(await titleOf('pool_morning.csv', csv(started), {})).toBe('pool morning');
    expect(await titleOf('pool_morning.csv', csv(`# title: By the lake\n${started}`), {})).toBe(
      'By the lake',
    );
    expect(await titleOf('pool_morning.csv', csv(started), { title: 'Mine' })).toBe('Mine');
    expect(await titleOf('pool_morning.csv', csv(started), { title: '' })).toBe('');
  });
});

describe('files of other programs', () => {
  const theirs = readFileSync(fixturePath);

  test('an EDF+ file that libedf wrote: previewed, mapped, stored with its values', async () => {
    const seen = await preview('theirs.edf', theirs);
    expect(seen).toMatchObject({
      format: 'edf',
      durationMs: 120_000,
      suggestedAthleteName: 'Invented Person',
      markCount: 2,
    });
    expect(
      seen.columns.map(({ name, unit, suggested }) => [name.trim(), unit.trim(), suggested?.channel ?? null]),
    ).toEqual([
      ['SpO2', '%', 'spo2Percent'],
      ['Pulse', 'bpm', 'pulseRateBpm'],
      ['Resp', 'mV', null],
    ]);
    const { sessionId } = await importAs('theirs.edf', theirs, { newAthleteName: 'Invented Person' });
    const csv = (await get(`/api/sessions/${sessionId}/csv`)).body;
    expect(csv).toContain('\n59.000,spo2_percent,92.1,good\n');
    expect(csv).toContain('\n7.000,pulse_rate_bpm,60,good\n');
    expect(csv).not.toContain('\n4.000,spo2_percent');
  });

  test('a wide table with semicolons: columns chosen by hand', async () => {
    const table = `Zeit;A;B\n${Array.from({ length: 60 }, (_, s) => `0:00:${String(s).padStart(2, '0')};${60 + (s % 5)};0,9${s % 10}`).join('\n')}\n`;
    const seen = await preview('table.csv', table);
    expect(seen).toMatchObject({
      format: 'wideCsv',
      time: { column: 0, unit: 'clock' },
      startedWallAtMs: null,
    });
    const columns: ImportPlan['columns'] = [
      { index: 1, channel: 'heartRateBpm', factor: 1 },
      { index: 2, channel: 'spo2Percent', factor: 100 },
    ];
    expect(await post('/api/import', 'table.csv', table, { athleteId: 'mira', columns })).toMatchObject({
      status: 400,
      body: { message: 'The file does not say when it was recorded; give a date and time.' },
    });
    const startedWallAtMs = wallMs(Date.UTC(2025, 0, 2, 3, 4, 5));
    const { sessionId } = await importAs('table.csv', table, { athleteId: 'mira', columns, startedWallAtMs });
    expect((await get(`/api/sessions/${sessionId}/csv`)).body).toContain(
      '\n7.000,heart_rate_bpm,62,good\n7.000,spo2_percent,97,good\n',
    );
  });

  test('a wrong column or unit is said and nothing is stored', async () => {
    const wrong = {
      newAthleteName: 'X',
      columns: [{ index: 1, channel: 'spo2Percent' as const, factor: 100 }],
    };
    expect(await post('/api/import', 'theirs.edf', theirs, wrong)).toMatchObject({ status: 400 });
    expect(
      await post('/api/import', 'theirs.edf', theirs, { newAthleteName: 'X', columns: [] }),
    ).toMatchObject({
      status: 400,
      body: { message: expect.stringContaining('no readings') },
    });
    expect(served.store.listSessions()).toEqual([]);
    expect(served.hub.athletes.map(({ name }) => name)).toEqual(['Mira']);
  });
});

describe('hostile files', () => {
  test('cut, changed and mislabelled files get one sentence each, and the data is untouched', async () => {
    const sessionId = storeRecording(false);
    const edf = (await get(`/api/sessions/${sessionId}/edf`)).rawPayload;
    const csv = Buffer.from((await get(`/api/sessions/${sessionId}/csv`)).body);
    const before = JSON.stringify([served.store.listSessions(), served.store.listAthletes()]);
    const hostile = fc.oneof(
      fc.tuple(
        // Before its first record is whole; beyond, it is read as far as it goes.
        fc.constant('cut.edf'),
        fc.nat({ max: 14 * 256 }).map((length) => edf.subarray(0, length)),
      ),
      fc.tuple(
        fc.constant('cut.csv'),
        fc
          .nat({ max: csv.length - 2 })
          .map((length) => Buffer.concat([csv.subarray(0, length), Buffer.from(',x,,\u0007')])),
      ),
      fc.tuple(
        fc.constant('any.csv'),
        fc.uint8Array({ maxLength: 400 }).map((bytes) => Buffer.from(bytes)),
      ),
      fc.tuple(
        fc.constant('swapped\u0000name.csv'),
        fc.constant(Buffer.concat([Buffer.from('time_s,channel,value\n'), edf.subarray(0, 500)])),
      ),
    );
    await fc.assert(
      fc.asyncProperty(hostile, async ([name, bytes]) => {
        const { status, body } = await post('/api/import', name, bytes, { newAthleteName: 'Nobody' });
        expect(status).toBe(400);
        expect(errorBodySchema.parse(body).message).toMatch(/^[^\n\p{Cc}]+\.$/u);
      }),
      { numRuns: 60 },
    );
    expect(JSON.stringify([served.store.listSessions(), served.store.listAthletes()])).toBe(before);
  });

  test('a recording that would never end is refused before it is stored', async () => {
    const whenever = { newAthleteName: 'X', startedWallAtMs: wallMs(0) };
    const week = 'time_s,channel,value\n0,spo2_percent,97\n604800,spo2_percent,97\n';
    expect(await post('/api/import', 'week.csv', week, whenever)).toMatchObject({
      status: 400,
      body: { message: expect.stringContaining('168 h long; at most 24 h') },
    });
    const edf = Buffer.from(readFileSync(fixturePath));
    edf.write('99999999', 244, 'latin1');
    expect((await preview('years.edf', edf)).durationMs).toBeGreaterThan(1e10);
    expect(await post('/api/import', 'years.edf', edf, whenever)).toMatchObject({ status: 400 });
    expect(served.store.listSessions()).toEqual([]);
    // A note far behind the end would make the stored session as long.
    const late = Buffer.from(readFileSync(fixturePath));
    const at = late.lastIndexOf('+', late.indexOf('recovery'));
    late.write('+9e', at, 'latin1');
    expect((await preview('late.edf', late)).notices).toContainEqual(
      said('edf.annotationsUnreadable', { count: 1 }),
    );
    late.write('+9990\x14recove', at, 'latin1');
    const { sessionId, notices } = await importAs('late.edf', late, { newAthleteName: 'X' });
    expect(notices).toContainEqual(said('import.lateMarks', { count: 1 }));
    expect(served.store.readSession(sessionId)?.durationMs).toBe(120_000);
  });

  test('plans that make no sense are refused', async () => {
    const text = 'time,SpO2\n0,98\n1,97\n';
    for (const plan of [
      {},
      { athleteId: 'mira', newAthleteName: 'Both' },
      { athleteId: 'mira', columns: [{ index: 0.5, channel: 'spo2Percent', factor: 1 }] },
      { athleteId: 'mira', columns: [{ index: 9, channel: 'spo2Percent', factor: 1 }] },
      { athleteId: 'mira', columns: [{ index: 1, channel: 'rubbish' as 'pleth', factor: 1 }] },
      { athleteId: 'mira', time: { column: 7, unit: 's' } },
    ] as ImportPlan[])
      expect((await post('/api/import', 'a.csv', text, plan)).status).toBe(400);
    expect(
      (await post('/api/import', 'a.csv', text, { athleteId: 'ghost', startedWallAtMs: wallMs(0) })).status,
    ).toBe(404);
    expect(served.store.listSessions()).toEqual([]);
  });

  test('a session goes on while a file is imported', async () => {
    served.hub.startSession(['mira'], '');
    const text = 'time_s,channel,value\n0,spo2_percent,98\n1,spo2_percent,97\n';
    const plan = { newAthleteName: 'Other', startedWallAtMs: wallMs(0) };
    const { sessionId } = await importAs('a.csv', text, plan);
    expect(served.store.readSession(sessionId)?.session.status).toBe('ended');
    expect(served.hub.session).not.toBeNull();
  });
});
