// A recording that was taken up again after a gap is a recording like any other: reviewed, exported, imported, analysed and
// replayed, with the gap as missing data and the hold over it as one.

import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test, vi } from 'vitest';
import type { Store } from '../../hub/base/ports/store.ts';
import { runAnalyze } from '../../hub/commands/analyze/analyze.ts';
import { initialSettings } from '../../hub/live/initial-settings.ts';
import { openSqliteStore } from '../../hub/recorder/sqlite-store.ts';
import { storedRecording } from '../../hub/sensors/replay/stored-recording.ts';
import { encodeHeartRateMeasurement } from '../../hub/sensors/simulated/encode-heart-rate-measurement.ts';
import { encodePlxContinuous } from '../../hub/sensors/simulated/encode-plx-continuous.ts';
import {
  athleteRecordingSchema,
  importedBodySchema,
  recordingBodySchema,
  traceBodySchema,
} from '../../shared/http.ts';
import { monotonicMs, wallMs } from '../../shared/units.ts';
import { decodeEdf } from '../../src/formats/edf/decode-edf.ts';
import { ownHeaders } from '../support/own-person.ts';
import { serveTestHub } from '../support/serve-test-hub.ts';

vi.setConfig({ testTimeout: 60_000 });

const sessionId = 'taken-up';
const startedWallAtMs = 1_790_000_000_000;
const gap = {
  fromMs: monotonicMs(60_000),
  toMs: monotonicMs(72_500),
  fromWallMs: wallMs(startedWallAtMs + 60_000),
  toWallMs: wallMs(startedWallAtMs + 72_500),
  cause: 'hubDied',
} as const;
const holdMs = { start: 30_000, end: 110_000 };

let folder = '';
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'slackwater-gap-'));
  const store = openSqliteStore({ directory: folder });
  write(store);
  store.close();
});
afterEach(() => rmSync(folder, { recursive: true, force: true, maxRetries: 5 }));

const sensors = [
  { sensorId: 'clip', kinds: ['oximeter'] },
  { sensorId: 'strap', kinds: ['heartRate'] },
] as const;

function write(store: Store): void {
  const athlete = { athleteId: 'mira', name: 'Mira', simulated: false, settings: initialSettings };
  store.saveAthlete(athlete);
  store.startSession({
    sessionId,
    startedWallAtMs: wallMs(startedWallAtMs),
    simulated: false,
    source: 'live',
    title: 'evening',
    athletes: [
      {
        athlete,
        sensors: sensors.map(({ sensorId, kinds }) => ({
          sensorId,
          name: sensorId,
          kinds: [...kinds],
          source: 'bluetooth',
          link: 'connected',
          detail: null,
          batteryPercent: null,
          rssiDbm: null,
        })),
      },
    ],
    madeBy: '1',
  });
  const mark = (markId: string, kind: 'holdStart' | 'holdEnd', atMs: number) =>
    store.saveMark(sessionId, {
      mark: { markId, athleteId: 'mira', kind, atMs: monotonicMs(atMs), text: null },
      removed: false,
    });
  mark('m1', 'holdStart', holdMs.start);
  packets(store, 0, gap.fromMs);
  store.endSession(sessionId, gap.fromMs);
  store.resumeSession(sessionId, gap);
  packets(store, gap.toMs, 150_000);
  mark('m2', 'holdEnd', holdMs.end);
  store.endSession(sessionId, monotonicMs(150_000));
}

function packets(store: Store, fromMs: number, toMs: number): void {
  for (let second = Math.ceil(fromMs / 1_000); second * 1_000 + 340 < toMs; second += 1) {
    const held = second >= 30 && second < 110;
    const bpm = held ? 58 : 70 + Math.round(5 * Math.sin(second));
    const spo2Percent = held && second > 60 ? 96 : 98;
    const add = (sensorId: string, characteristic: string, bytes: Uint8Array, afterMs: number) =>
      store.appendPacket(sessionId, {
        sensorId,
        characteristic,
        bytes,
        atMs: monotonicMs(second * 1_000 + afterMs),
        wallAtMs: wallMs(startedWallAtMs + second * 1_000 + afterMs),
      });
    add('strap', '2a37', encodeHeartRateMeasurement({ heartRateBpm: bpm }), 120);
    add('clip', '2a5f', encodePlxContinuous({ spo2Percent, pulseRateBpm: bpm }), 340);
  }
}

const isInGap = (atMs: number): boolean => atMs > gap.fromMs && atMs < gap.toMs;

async function served() {
  const hub = await serveTestHub({ store: openSqliteStore({ directory: folder }) });
  return {
    close: () => hub.close(),
    get: async (path: string) => {
      const answer = await hub.server.app.inject({ method: 'GET', url: path, headers: ownHeaders });
      expect([path, answer.statusCode]).toEqual([path, 200]);
      return answer;
    },
    importFile: async (fileName: string, payload: Buffer) => {
      const plan = JSON.stringify({ athleteId: 'mira' });
      const answer = await hub.server.app.inject({
        method: 'POST',
        url: `/api/import?${new URLSearchParams({ fileName, plan }).toString()}`,
        headers: { ...ownHeaders, 'content-type': 'application/octet-stream' },
        payload,
      });
      expect(answer.statusCode).toBe(201);
      return importedBodySchema.parse(answer.json()).sessionId;
    },
  };
}

describe('a recording with a gap', () => {
  test('is reviewed: the gap is told, nothing is drawn in it, and the hold is one', async () => {
    const { get, close } = await served();
    const outline = recordingBodySchema.parse((await get(`/api/sessions/${sessionId}?outline`)).json());
    expect(outline.session).toMatchObject({ status: 'ended', unwatched: [gap] });
    expect(outline.damage).toEqual([]);
    expect(outline.athletes[0]!.gaps).toMatchObject([
      { fromMs: gap.fromMs, toMs: gap.toMs, reason: { code: 'gap.hubDied' } },
    ]);
    const path = `/api/sessions/${sessionId}/athletes/mira`;
    const derived = athleteRecordingSchema.parse((await get(path)).json());
    expect(derived.holds.map(({ hold }) => [hold.start.atMs, hold.end?.atMs])).toEqual([
      [holdMs.start, holdMs.end],
    ]);
    expect(derived.gaps[0]).toMatchObject({ sensorId: 'hub' });
    expect(derived.gaps.map(({ reason }) => reason.code)).toContain('gap.spo2Percent');
    const measure = (key: string) => derived.holds[0]!.measures.find((each) => each.key === key)?.value;
    expect(measure('durationS')).toBe(80);
    // What nobody saw counts as not seen.
    expect(measure('spo2CoveragePercent') ?? 0).toBeLessThan(90);
    const trace = traceBodySchema.parse(
      (
        await get(`${path}/trace?fromMs=0&toMs=150000&points=4000&signals=cleaned&channels=spo2Percent`)
      ).json(),
    );
    expect(trace.traces[0]!.atMs.length).toBeGreaterThan(100);
    expect(trace.traces[0]!.atMs.filter(isInGap)).toEqual([]);
    await close();
  });

  test.each(['csv', 'edf', 'fhir', 'parquet', 'wfdb'])('is exported as %s', async (format) => {
    const { get, close } = await served();
    const { rawPayload } = await get(`/api/sessions/${sessionId}/${format}?athleteId=mira`);
    expect(rawPayload.length).toBeGreaterThan(500);
    if (format === 'edf') expect(decodeEdf(rawPayload).ok).toBe(true);
    if (format === 'fhir') expect(JSON.parse(rawPayload.toString()).resourceType).toBe('Bundle');
    await close();
  });

  test.each(['csv', 'edf'])('comes in again from %s, with nothing invented in the gap', async (format) => {
    const { get, importFile, close } = await served();
    const { rawPayload } = await get(`/api/sessions/${sessionId}/${format}?athleteId=mira`);
    const again = await importFile(`evening.${format}`, rawPayload);
    const path = `/api/sessions/${again}/athletes/mira`;
    const trace = traceBodySchema.parse(
      (await get(`${path}/trace?fromMs=0&toMs=150000&points=4000&signals=raw&channels=spo2Percent`)).json(),
    );
    const atMs = trace.traces[0]!.atMs.filter((_, index) => trace.traces[0]!.value[index] !== null);
    expect(atMs.length).toBeGreaterThan(100);
    expect(atMs.filter((ms) => ms > gap.fromMs + 1_000 && ms < gap.toMs - 1_000)).toEqual([]);
    await close();
  });

  test('is analysed', async () => {
    let out = '';
    let err = '';
    const status = await runAnalyze(['--session', sessionId, '--data', folder], {
      stdout: { write: (text) => (out += text) },
      stderr: { write: (text) => (err += text) },
    });
    expect([status, err]).toEqual([0, '']);
    const { holds } = JSON.parse(out) as { holds: { start_s: number; end_s: number }[] };
    expect(holds.map(({ start_s, end_s }) => [start_s, end_s])).toEqual([[30, 110]]);
  });

  test('is replayed, silent in the gap', () => {
    const store = openSqliteStore({ directory: folder });
    const recording = storedRecording(store, sessionId);
    const packetTimes = [...recording.events()].flatMap((event) =>
      event.type === 'packet' ? event.atMs : [],
    );
    expect(packetTimes.length).toBeGreaterThan(250);
    expect(packetTimes.filter(isInGap)).toEqual([]);
    expect(recording.notices).toEqual([]);
    expect(recording.durationMs).toBe(150_000);
    store.close();
  });
});
