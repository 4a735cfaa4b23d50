// One thing is one number wherever it is said: the page's model, the report, the list of recordings, the weeks, the measures file, FHIR, the CSV, and `analyze`
// of the recording, of its session file and of that file taken in by another hub. With marks and corrections.

import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test, vi } from 'vitest';
import { runAnalyze } from '../../hub/commands/analyze/analyze.ts';
import { openSqliteStore } from '../../hub/recorder/sqlite-store.ts';
import { measureName } from '../../hub/recordings/export/measure-text.ts';
import { historyBodySchema, holdWindowsBodySchema } from '../../shared/history.ts';
import {
  foundRecordingsBodySchema,
  importedBodySchema,
  type RecordingBody,
  recordingBodySchema,
} from '../../shared/http.ts';
import { monotonicMs } from '../../shared/units.ts';
import { measureTable } from '../../src/holds/measure-table.ts';
import { headlineOf } from '../../src/sessions/session-headline.ts';
import { measureRows } from '../../web/views/recording/measure-rows.ts';
import { ownHeaders } from '../support/own-person.ts';
import { type ServedTestHub, serveTestHub } from '../support/serve-test-hub.ts';
import { writeSession } from '../support/written-sessions.ts';

vi.setConfig({ testTimeout: 120_000, hookTimeout: 120_000 });

const folder = mkdtempSync(join(tmpdir(), 'slackwater-one-number-'));
let served: ServedTestHub;
let body: RecordingBody;
/** What the list said before anything had been worked out. */
let listedBefore: unknown;
const get = (url: string) => served.server.app.inject({ method: 'GET', url, headers: ownHeaders });
const exported = async (format: string, sessionId = 'evening', athleteId = 'lumi') =>
  (await get(`/api/sessions/${sessionId}/${format}?athleteId=${athleteId}`)).rawPayload;

/** What the list of recordings says of the holds. */
async function listed() {
  const found = foundRecordingsBodySchema.parse((await get('/api/recordings')).json());
  const { holdCount, longestHoldMs, lowestSpo2Percent, figuresBy } = found.recordings[0]!;
  return { holdCount, longestHoldMs, lowestSpo2Percent, figuresBy };
}

beforeAll(async () => {
  // On a disk, so that `analyze` can open it afterwards as it would at home.
  const store = openSqliteStore({ directory: join(folder, 'data') });
  served = await serveTestHub({ store });
  store.saveAthlete({
    athleteId: 'lumi',
    name: 'Lumi',
    simulated: false,
    settings: served.hub.athletes[0]!.settings,
  });
  writeSession(store, {
    sessionId: 'evening',
    athleteId: 'lumi',
    athleteName: 'Lumi',
    startedWallAtMs: Date.UTC(2025, 4, 3, 15, 5, 9),
    title: 'Evening',
    simulated: false,
    holdsS: [80, 95, 120],
    wave: true,
    clipSilentS: { fromS: 20, toS: 34 },
  });
  const correct = (correctionId: string, correction: object) =>
    store.addCorrection('evening', {
      athleteId: 'lumi',
      step: {
        correctionId,
        madeWallAtMs: 0,
        correction: correction as never,
        estimated: null,
      },
    });
  const holds = recordingBodySchema.parse((await get('/api/sessions/evening')).json()).athletes[0]!.holds;
  expect(holds).toHaveLength(3);
  const { holdId } = holds[0]!.hold;
  correct('c1', { type: 'moveBoundary', holdId, boundary: 'start', atMs: monotonicMs(93_250) });
  correct('c2', { type: 'addMark', kind: 'contraction', atMs: monotonicMs(140_000), text: null });
  correct('c3', { type: 'removeHold', holdId: holds[1]!.hold.holdId });
  correct('c4', { type: 'addHold', startMs: monotonicMs(20_000), endMs: monotonicMs(45_500) });
  // So soon after the one before that its first seconds still show that one's lowest saturation.
  correct('c5', { type: 'addHold', startMs: monotonicMs(697_000), endMs: monotonicMs(730_000) });
  await served.close();
  served = await serveTestHub({ store });
  listedBefore = await listed();
  body = recordingBodySchema.parse((await get('/api/sessions/evening')).json());
});
afterAll(async () => {
  await served.close();
  rmSync(folder, { recursive: true, force: true, maxRetries: 5 });
});

/** By hold, in order of time: every measure that is known, to a thousandth of its unit; and the hold's ends, seconds. */
type Numbers = Record<string, number>[];
const rounded = (value: number): number => Math.round(value * 1_000) / 1_000;

function ofPage({ athletes }: RecordingBody): Numbers {
  return athletes[0]!.holds.map(({ hold, measures }) => ({
    start_s: rounded(hold.start.atMs / 1_000),
    end_s: rounded(hold.end!.atMs / 1_000),
    ...Object.fromEntries(
      measures.flatMap(({ key, value }) => (value === null ? [] : [[measureName(key), rounded(value)]])),
    ),
  }));
}

interface Analysed {
  readonly holds: readonly {
    readonly start_s: number;
    readonly end_s: number | null;
    readonly source: string;
    readonly measures: Readonly<Record<string, number | null>>;
  }[];
}
const ofAnalysis = ({ holds }: Analysed): Numbers =>
  holds.map(({ start_s, end_s, measures }) => ({
    start_s,
    end_s: end_s!,
    ...(Object.fromEntries(Object.entries(measures).filter(([, value]) => value !== null)) as Record<
      string,
      number
    >),
  }));

async function analysed(argv: readonly string[]): Promise<Analysed> {
  let out = '';
  let said = '';
  const status = await runAnalyze(argv, {
    stdout: { write: (text: string) => (out += text) },
    stderr: { write: (text: string) => (said += text) },
  });
  expect([status, status === 0 ? '' : said]).toEqual([0, '']);
  return JSON.parse(out) as Analysed;
}

/** Rows of a CSV without quotes inside. */
function rowsOf(text: string): Record<string, string>[] {
  const [head, ...lines] = text
    .trimEnd()
    .split('\n')
    .filter((line) => !line.startsWith('#'))
    .map((line) => line.split(','));
  return lines.map((cells) => Object.fromEntries(head!.map((name, index) => [name, cells[index]!])));
}

describe('the same number for the same thing', () => {
  test('on the page there is enough to compare: four holds, marked, added and corrected', () => {
    const page = ofPage(body);
    expect(page.map(({ start_s, end_s }) => [start_s, end_s])).toEqual([
      [20, 45.5],
      [93.25, 170],
      [565, 685],
      [697, 730],
    ]);
    expect(page[1]!['duration_s']).toBe(76.75);
    for (const numbers of page) expect(Object.keys(numbers).length).toBeGreaterThan(15);
  });

  test('the page\u2019s table and its report', () => {
    const rows = measureRows(body.athletes[0]!.holds);
    expect(rows.map(({ key }) => key)).toEqual(measureTable.map(({ key }) => key));
    for (const { key, ofHolds } of rows)
      expect([key, ofHolds.map((each) => each?.value ?? null)]).toEqual([
        key,
        body.athletes[0]!.holds.map(
          ({ measures }) => measures.find((each) => each.key === key)?.value ?? null,
        ),
      ]);
  });

  test('the measures file', async () => {
    const rows = rowsOf((await exported('measures')).toString());
    const numbers = rows.map((row) =>
      Object.fromEntries(
        Object.entries(row).flatMap(([name, text]) =>
          text !== '' && (name === 'start_s' || name === 'end_s' || isMeasure(name))
            ? [[name, Number(text)]]
            : [],
        ),
      ),
    );
    expect(numbers).toEqual(ofPage(body));
    expect(rows.map((row) => [row['start_source'], row['end_source']])).toEqual([
      ['corrected', 'corrected'],
      ['corrected', 'marked'],
      ['marked', 'marked'],
      ['corrected', 'corrected'],
    ]);
  });

  test('FHIR', async () => {
    interface Component {
      readonly code: { readonly text: string };
      readonly valueQuantity?: { readonly value: number };
    }
    const bundle = JSON.parse((await exported('fhir')).toString()) as {
      readonly entry: readonly {
        readonly resource: {
          readonly code?: { readonly text?: string };
          readonly valueQuantity?: { readonly value: number };
          readonly component?: readonly Component[];
        };
      }[];
    };
    const holds = bundle.entry
      .map(({ resource }) => resource)
      .filter(({ code }) => code?.text === 'Breath-hold, dry');
    const known = ofPage(body).map(({ start_s: _start, end_s: _end, ...measures }) => measures);
    expect(
      holds.map(({ component }) =>
        Object.fromEntries(
          component!.flatMap(({ code, valueQuantity }) =>
            valueQuantity === undefined
              ? []
              : [[measureName(/\((\w+)\)$/.exec(code.text)![1]!), valueQuantity.value]],
          ),
        ),
      ),
    ).toEqual(known);
    expect(holds.map(({ valueQuantity }) => valueQuantity!.value)).toEqual(
      known.map((measures) => measures['duration_s']),
    );
  });

  test('the head of the CSV', async () => {
    const lines = (await exported('csv'))
      .toString()
      .split('\n')
      .filter((line) => line.startsWith('# hold '));
    const { holds } = body.athletes[0]!;
    expect(lines).toHaveLength(4);
    lines.forEach((line, index) => {
      const [, from, to, lasts, lowest] =
        /: ([\d.]+) s \(\w+\) to ([\d.]+) s \(\w+\), duration ([\d.]+) s; lowest reading ([\d.]+) %/.exec(
          line,
        )!;
      const { hold, measures } = holds[index]!;
      expect([from, to, lasts, lowest].map(Number)).toEqual([
        hold.start.atMs / 1_000,
        hold.end!.atMs / 1_000,
        rounded(measures.find(({ key }) => key === 'durationS')!.value!),
        hold.lowestSpo2!.value,
      ]);
    });
  });

  test('the list of recordings and the weeks, also after one more correction', async () => {
    const inHeadline = ({ athletes }: RecordingBody) => {
      const { holdCount, longest, lowest } = headlineOf(athletes[0]!.holds);
      return {
        holdCount,
        longestHoldMs: longest!.durationMs,
        lowestSpo2Percent: lowest!.spo2Percent,
        figuresBy: 'analysis',
      };
    };
    // Other numbers, and it said so: or what follows would prove nothing.
    expect(listedBefore).toMatchObject({ holdCount: 3, figuresBy: 'live' });
    await vi.waitFor(async () => expect((await listed()).figuresBy).toBe('analysis'), { timeout: 60_000 });
    expect(await listed()).toEqual(inHeadline(body));
    const weeks = historyBodySchema.parse((await get('/api/athletes/lumi/history')).json()).sessions[0]!;
    expect(weeks.summary!.measures['durationS']).toEqual(
      ofPage(body).map((numbers) => Math.round(10 * numbers['duration_s']!) / 10),
    );
    const path = '/api/sessions/evening/athletes/lumi/corrections';
    const corrected = async (method: 'PUT' | 'DELETE', payload?: object) => {
      const answer = await served.server.app.inject({
        method,
        url: path,
        headers: ownHeaders,
        ...(payload && { payload }),
      });
      expect(answer.statusCode).toBe(200);
      return recordingBodySchema.parse((await get('/api/sessions/evening')).json());
    };
    const { holdId } = body.athletes[0]!.holds[2]!.hold;
    const without = await corrected('PUT', { type: 'removeHold', holdId });
    expect(inHeadline(without)).toMatchObject({ holdCount: 3, longestHoldMs: 76_750 });
    expect(await listed()).toEqual(inHeadline(without));
    const again = await corrected('DELETE');
    expect(await listed()).toEqual(inHeadline(again));
    expect(inHeadline(again)).toEqual(inHeadline(body));
  });

  test('the session in short on the page, and what analyze says of the whole session', async () => {
    const files = mkdtempSync(join(folder, 'files-'));
    writeFileSync(join(files, 'lumi.session.zip'), await exported('session'));
    let out = '';
    const status = await runAnalyze([files, '--format', 'jsonl', '--jobs', '1'], {
      stdout: { write: (text: string) => (out += text) },
      stderr: { write: () => true },
    });
    expect(status).toBe(0);
    const { session } = JSON.parse(out) as { session: Record<string, number | null> };
    const page = ofPage(body);
    const headline = headlineOf(body.athletes[0]!.holds);
    const lowest = Math.min(...page.flatMap((numbers) => numbers['spo2_lowest_percent'] ?? []));
    expect([headline.holdCount, headline.totalMs / 1_000, headline.lowest?.spo2Percent]).toEqual([
      session['holdCount'],
      session['totalHoldS'],
      session['lowestSpo2Percent'],
    ]);
    expect(headline.lowest?.spo2Percent).toBe(lowest);
    expect(headline.longest?.durationMs).toBe(1_000 * Math.max(...page.map((each) => each['duration_s']!)));
  });

  test('the lowest saturation: beside a hold, measured, over other holds, in FHIR as a reading of its own', async () => {
    const { holds } = body.athletes[0]!;
    const measured = ofPage(body).map((numbers) => numbers['spo2_lowest_percent']!);
    expect(holds.map(({ hold }) => hold.lowestSpo2!.value)).toEqual(measured);
    const laid = holdWindowsBodySchema.parse(
      (await get('/api/sessions/evening/athletes/lumi/holds')).json(),
    ).holds;
    expect(laid.map(({ hold }) => hold.lowestSpo2!.value)).toEqual(measured);
    const bundle = JSON.parse((await exported('fhir')).toString()) as {
      entry: { resource: { method?: { text: string }; valueQuantity?: { value: number } } }[];
    };
    const readings = bundle.entry.filter(({ resource }) =>
      /^lowest reading/.test(resource.method?.text ?? ''),
    );
    expect(readings.map(({ resource }) => resource.valueQuantity!.value)).toEqual(measured);
    // Each hold has readings as low within the other's time, which are the other's: or this would prove nothing.
    const rows = rowsOf((await exported('csv')).toString()).filter(
      (row) => row['channel'] === 'spo2_percent',
    );
    const lowestIn = (fromS: number, toS: number): number =>
      Math.min(
        ...rows
          .filter((row) => Number(row['time_s']) >= fromS && Number(row['time_s']) <= toS)
          .map((row) => Number(row['value'])),
      );
    expect(lowestIn(697, 707)).toBeLessThan(measured[3]!);
    expect(lowestIn(565, 697)).toBeGreaterThan(measured[2]!);
    expect(lowestIn(575, 707)).toBe(measured[2]);
    expect(lowestIn(707, 790)).toBe(measured[3]);
  });

  test('analyze of the session file, and of the one that another hub makes of it', async () => {
    const path = join(folder, 'lumi.session.zip');
    writeFileSync(path, await exported('session'));
    expect(ofAnalysis(await analysed([path]))).toEqual(ofPage(body));
    const other = await serveTestHub();
    const query = new URLSearchParams({
      fileName: 'lumi.session.zip',
      plan: JSON.stringify({ newAthleteName: 'Lumi' }),
    });
    const taken = await other.server.app.inject({
      method: 'POST',
      url: `/api/import?${query.toString()}`,
      headers: { ...ownHeaders, 'content-type': 'application/octet-stream' },
      payload: await exported('session'),
    });
    const { sessionId } = importedBodySchema.parse(taken.json());
    const page = await other.server.app.inject({
      method: 'GET',
      url: `/api/sessions/${sessionId}`,
      headers: ownHeaders,
    });
    expect(ofPage(recordingBodySchema.parse(page.json()))).toEqual(ofPage(body));
    await other.close();
  });

  test('analyze of the recording itself, the hub having stopped', async () => {
    const page = ofPage(body);
    await served.close();
    served.store.close();
    const analysis = await analysed(['--session', 'evening', '--data', join(folder, 'data')]);
    expect(ofAnalysis(analysis)).toEqual(page);
    expect(analysis.holds.map(({ source }) => source)).toEqual([
      'corrected',
      'corrected',
      'mark',
      'corrected',
    ]);
  });
});

const measureNames = new Set<string>(measureTable.map(({ key }) => measureName(key)));
const isMeasure = (name: string): boolean => measureNames.has(name);
