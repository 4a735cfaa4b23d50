// A recording with a 250 Hz wave, gaps and corrections, out and in again: the same data byte for byte, the same holds to
// the millisecond, and what programs of others read in the files.

import { execFileSync } from 'node:child_process';
import { mkdtempSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { unzipSync } from 'fflate';
import { parquetReadObjects } from 'hyparquet';
import { afterAll, beforeAll, describe, expect, test, vi } from 'vitest';
import { importedBodySchema, recordingBodySchema } from '../../../shared/http.ts';
import { monotonicMs } from '../../../shared/units.ts';
import { decodeEdf } from '../../../src/formats/edf/decode-edf.ts';
import { createRandom } from '../../support/corpus/seeded-random.ts';
import { sketchPerson, sketchSession } from '../../support/corpus/sketched-athlete.ts';
import { inWords } from '../../support/in-words.ts';
import { ownHeaders } from '../../support/own-person.ts';
import { type ServedTestHub, serveTestHub } from '../../support/serve-test-hub.ts';

vi.setConfig({ testTimeout: 120_000, hookTimeout: 120_000 });

let served: ServedTestHub;
let original: string;
const names: Readonly<Record<string, string>> = {
  heartRateBpm: 'heart_rate_bpm',
  rrIntervalMs: 'rr_interval_ms',
  spo2Percent: 'spo2_percent',
  pulseRateBpm: 'pulse_rate_bpm',
};

/** As a converter of twelve bits gives it; breathing moves its height and base but for the hold. */
function waveAt(i: number): number {
  const atS = i / 250;
  const breath = atS > 150 && atS < 300 ? 0 : Math.sin((2 * Math.PI * atS) / 4.5);
  return Math.round(1_600 * (1 + 0.1 * breath) * Math.sin(i / 36) + 200 * breath);
}

/** SIMULATED: one hold of 150 s, with silences of both sensors and a wave of 250 a second that stops for a while. */
function sketchedCsv(): string {
  const person = sketchPerson(createRandom(11), {
    rsaBpm: 6,
    fallFraction: 0.25,
    startRiseBpm: 4,
    plateauS: 60,
    slopePercentPerS: 0.15,
    lagS: 18,
    backTauS: 2.5,
  });
  const samples = sketchSession(11, person, {
    holds: [{ startMs: 150_000, endMs: 300_000 }],
    durationMs: 420_000,
  });
  const rows = samples
    .filter(({ atMs, channel }) => !(atMs > 40_000 && atMs < 62_000 && channel !== 'spo2Percent'))
    .filter(({ atMs, channel }) => !(atMs > 330_000 && atMs < 351_000 && channel === 'spo2Percent'))
    // Beats by the strap's clock of 1/1024 s.
    .map(({ atMs, channel, value }): [number, string] => {
      const at =
        channel === 'rrIntervalMs' ? (Math.round((atMs * 1024) / 1000) * 1000) / 1024 : Math.round(atMs);
      return [at, `${names[channel]},${Number(value.toFixed(1))}`];
    });
  for (let i = 0; i < 420 * 250; i += 1)
    if (i < 200 * 250 || i > 215 * 250) rows.push([4 * i, `pleth,${waveAt(i)}`]);
  rows.sort((a, b) => a[0] - b[0]);
  const head =
    '# SIMULATED: no person was measured\n# started: 2025-03-30T01:58:00.250+01:00\ntime_s,channel,value\n';
  return `${head}${rows.map(([atMs, rest]) => `${(atMs / 1000).toFixed(6)},${rest}\n`).join('')}`;
}

async function exported(sessionId: string, format: string): Promise<Buffer> {
  const answer = await served.server.app.inject({
    method: 'GET',
    url: `/api/sessions/${sessionId}/${format}`,
    headers: ownHeaders,
  });
  expect(answer.statusCode).toBe(200);
  return answer.rawPayload;
}
async function imported(fileName: string, bytes: Uint8Array): Promise<string> {
  const query = new URLSearchParams({ fileName, plan: JSON.stringify({ newAthleteName: fileName }) });
  const answer = await served.server.app.inject({
    method: 'POST',
    url: `/api/import?${query.toString()}`,
    headers: { ...ownHeaders, 'content-type': 'application/octet-stream' },
    payload: Buffer.from(bytes),
  });
  expect([answer.statusCode, answer.statusCode === 201 ? '' : answer.body]).toEqual([201, '']);
  return importedBodySchema.parse(answer.json()).sessionId;
}
async function holdsOf(sessionId: string) {
  const answer = await served.server.app.inject({
    method: 'GET',
    url: `/api/sessions/${sessionId}`,
    headers: ownHeaders,
  });
  const body = recordingBodySchema.parse(answer.json());
  return body.athletes[0]!.holds.map(({ hold: { start, end } }) => [start.atMs, end?.atMs ?? null]);
}

beforeAll(async () => {
  served = await serveTestHub();
  original = await imported('first.csv', Buffer.from(sketchedCsv()));
  const [hold] = served.store.readSession(original)!.holds;
  expect(hold).toBeDefined();
  served.store.addCorrection(original, {
    athleteId: served.store.readSession(original)!.athletes[0]!.athleteId,
    step: {
      correctionId: 'c1',
      madeWallAtMs: 0,
      correction: {
        type: 'moveBoundary',
        holdId: hold!.hold.holdId,
        boundary: 'start',
        atMs: monotonicMs(147_123),
      },
      estimated: { startMs: hold!.hold.start.atMs, endMs: hold!.hold.end?.atMs ?? null },
    },
  });
});
afterAll(() => served.close());

const withoutComments = (text: string): string => text.replaceAll(/^#.*\n/gm, '');

describe('out, in and out again', () => {
  test('there is a hold, corrected, and a wave of 250 a second', async () => {
    const holds = await holdsOf(original);
    expect(holds).toHaveLength(1);
    expect(holds[0]![0]).toBe(147_123);
    const edf = decodeEdf(await exported(original, 'edf'));
    if (!edf.ok) throw new Error(inWords(edf.reason.said));
    const wave = edf.value.signals.find(({ label }) => label.startsWith('Pleth'));
    expect(wave?.samplesPerRecord).toBe(250);
  });

  test('CSV: every row, to the byte; the same holds to 1 ms', async () => {
    const first = await exported(original, 'csv');
    const again = await imported('again.csv', first);
    const second = await exported(again, 'csv');
    expect(withoutComments(second.toString()) === withoutComments(first.toString())).toBe(true);
    expectSameHolds(await holdsOf(again), await holdsOf(original));
  });

  test('EDF+: every signal to the bit, marks and begin; the same holds to 3 ms', async () => {
    const first = await exported(original, 'edf');
    const again = await imported('again.edf', first);
    const second = await exported(again, 'edf');
    const [one, two] = [decodeEdf(first), decodeEdf(second)];
    if (!one.ok || !two.ok) throw new Error('not readable');
    expect(two.value.signals.map(({ label }) => label)).toEqual(one.value.signals.map(({ label }) => label));
    one.value.signals.forEach((signal, index) => {
      expect([
        signal.label,
        Buffer.from(two.value.signals[index]!.digital.buffer).equals(Buffer.from(signal.digital.buffer)),
      ]).toEqual([signal.label, true]);
    });
    expect(two.value.startMs).toBe(one.value.startMs);
    // EDF keeps a reading's time to 1/8192 s; a boundary is a mean over what the network makes of them all.
    expectSameHolds(await holdsOf(again), await holdsOf(original), 3);
    const third = await exported(await imported('once more.edf', second), 'edf');
    // All but the name of the athlete, which each import made anew.
    expect(third.subarray(168).equals(second.subarray(168))).toBe(true);
  });
});

function expectSameHolds(
  found: readonly (number | null)[][],
  expected: readonly (number | null)[][],
  withinMs = 1,
): void {
  expect(found).toHaveLength(expected.length);
  found.forEach((hold, index) => {
    hold.forEach((atMs, boundary) => {
      expect(Math.abs(atMs! - expected[index]![boundary]!)).toBeLessThanOrEqual(withinMs);
    });
  });
}

/** A program of the system, or undefined with a loud word where it is not there. */
function readerOf(what: string, check: readonly string[]): boolean {
  try {
    execFileSync(check[0]!, check.slice(1), { stdio: 'ignore' });
    return true;
  } catch {
    process.stderr.write(`SKIPPED: ${what} is not installed, so its reading of our files was not checked.\n`);
    return false;
  }
}
const python = '/usr/bin/python3';
const hasMne = readerOf('MNE (python3-mne)', [python, '-c', 'import mne']);
const hasBiosig = readerOf('biosig (biosig-tools)', ['sh', '-c', 'command -v save2gdf']);
const hasArrow = readerOf('pyarrow', [process.env['ARROW_PYTHON'] ?? python, '-c', 'import pyarrow.parquet']);
const hasSqlite = readerOf('sqlite3', ['sqlite3', '--version']);

const scratch = mkdtempSync(join(tmpdir(), 'slackwater-foreign-'));
const asFile = (name: string, bytes: Uint8Array): string => {
  const path = join(scratch, name);
  writeFileSync(path, bytes);
  return path;
};

describe('what other programs read', () => {
  test('Parquet by another reader in JavaScript: every row with its quality, and what it is about', async () => {
    const csv = withoutComments((await exported(original, 'csv')).toString())
      .trim()
      .split('\n')
      .slice(1);
    const bytes = await exported(original, 'parquet');
    const rows = await parquetReadObjects({
      file: bytes.buffer.slice(bytes.byteOffset, bytes.byteOffset + bytes.byteLength) as ArrayBuffer,
    });
    expect(rows.filter(({ channel }) => channel !== 'mark')).toHaveLength(
      csv.filter((row) => !row.includes(',mark,')).length,
    );
    const first = csv.find((row) => row.includes(',pleth,'))!.split(',');
    expect(rows.find(({ channel }) => channel === 'pleth')).toMatchObject({
      time_s: Number(first[0]),
      value: Number(first[2]),
      quality: 'good',
    });
  });

  test.skipIf(!hasArrow)('Parquet by pyarrow', async () => {
    const path = asFile('a.parquet', await exported(original, 'parquet'));
    const out = execFileSync(process.env['ARROW_PYTHON'] ?? python, [
      '-c',
      `
import pyarrow.parquet as p, json, sys
t = p.read_table(sys.argv[1]); d = t.to_pydict(); m = {k.decode(): v.decode() for k, v in t.schema.metadata.items()}
i = d['channel'].index('spo2_percent')
print(json.dumps([t.num_rows, t.column_names, d['time_s'][i], d['value'][i], m['started_utc'], 'simulated' in m]))`,
      path,
    ]);
    const csv = withoutComments((await exported(original, 'csv')).toString())
      .trim()
      .split('\n')
      .slice(1);
    const first = csv.find((row) => row.includes(',spo2_percent,'))!.split(',');
    expect(JSON.parse(out.toString())).toEqual([
      csv.length,
      ['time_s', 'channel', 'value', 'quality', 'text'],
      Number(first[0]),
      Number(first[2]),
      '2025-03-30T00:58:00.250Z',
      true,
    ]);
  });

  test.skipIf(!hasSqlite)('CSV by the SQLite shell', async () => {
    const text = withoutComments((await exported(original, 'csv')).toString());
    const path = asFile('a.csv', Buffer.from(text));
    const out = execFileSync('sqlite3', [
      ':memory:',
      '-cmd',
      `.import --csv ${path} r`,
      `select count(*), sum(channel = 'pleth'), min(cast(value as real)) from r where channel <> 'mark'`,
    ]);
    const rows = text
      .trim()
      .split('\n')
      .slice(1)
      .filter((row) => !row.includes(',mark,'));
    const [count, wave, least] = out.toString().trim().split('|').map(Number);
    expect(count).toBe(rows.length);
    expect(wave).toBe(rows.filter((row) => row.includes(',pleth,')).length);
    expect(least).toBeCloseTo(Math.min(...rows.map((row) => Number(row.split(',')[2]))), 6);
  });

  test.skipIf(!hasMne)('EDF+ by MNE: signals, rate, annotations', async () => {
    const bytes = await exported(original, 'edf');
    const path = asFile('a.edf', bytes);
    const out = execFileSync(python, [
      '-c',
      `
import mne, json, sys, warnings; warnings.simplefilter('ignore')
r = mne.io.read_raw_edf(sys.argv[1], preload=True, verbose='error')
w = r.get_data(picks=['Pleth finger'])[0]
print(json.dumps([r.ch_names, r.info['sfreq'], len(w), float(w[1000]), str(r.info['meas_date']), [str(x) for x in r.annotations.description]]))`,
      path,
    ]);
    const [labels, rate, length, value, date, texts] = JSON.parse(out.toString()) as [
      string[],
      number,
      number,
      number,
      string,
      string[],
    ];
    expect(labels).toContain('SaO2 finger');
    expect([rate, length]).toEqual([250, 420 * 250]);
    expect(value).toBe(waveAt(1_000));
    expect(date).toContain('2025-03-30 ');
    expect(texts).toContain('Mark: hold start');
  });

  test.skipIf(!hasBiosig)('EDF+ and WFDB by biosig: the same wave in both', async () => {
    const edf = asFile('b.edf', await exported(original, 'edf'));
    const files = unzipSync(await exported(original, 'wfdb'));
    expect(
      Object.keys(files)
        .map((name) => name.slice(-4))
        .sort(),
    ).toEqual(['.atr', '.dat', '.hea']);
    let header = '';
    for (const [name, bytes] of Object.entries(files)) {
      const path = asFile(name, bytes);
      if (name.endsWith('.hea')) header = path;
    }
    for (const path of [edf, header]) {
      const json = execFileSync('save2gdf', ['-JSON', path], {
        stdio: ['ignore', 'pipe', 'ignore'],
      }).toString();
      expect(json).toContain('Pleth finger');
      expect(json).toContain('SaO2 finger');
    }
  });
});
