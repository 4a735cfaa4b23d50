// Every measure that the program says of a recording, held beside what another program works out from the exported CSV and the
// page of definitions alone (tests/foreign/judge-measures.py, written without sight of the program's measures).

import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { toAnalysisTable } from '../../hub/commands/analyze/analysis-json.ts';
import { analysisOfFile } from '../../hub/commands/analyze/analysis-of-file.ts';
import { openStoreInMemory } from '../../hub/recorder/sqlite-store.ts';
import { athleteRecordingSchema } from '../../shared/http.ts';
import { realFiles, simulatedFiles, writeJudgedSessions } from '../support/judged-recordings.ts';
import { ownHeaders } from '../support/own-person.ts';
import { type ServedTestHub, serveTestHub } from '../support/serve-test-hub.ts';

const judge = join(import.meta.dirname, '../foreign/judge-measures.py');

interface Verdict {
  readonly case: string;
  /** Its number; 0: of the session. */
  readonly hold: number;
  readonly key: string;
  readonly judged: number | null;
  readonly said: number | null;
  readonly verdict: 'equal' | 'bothNotKnown' | 'different' | 'notInCsv' | 'ruleIsCode' | 'noRule' | 'notSaid';
}

const folder = mkdtempSync(join(tmpdir(), 'judged-'));
const cases: string[] = [];
let verdicts: Verdict[] = [];
let served: ServedTestHub | undefined;

/** What `slackwater analyze` prints of each file, as JSON and as a table, from one reading of it. */
function writeFileCases(): void {
  for (const { name, csv } of [...simulatedFiles(), ...realFiles()]) {
    const path = join(folder, name);
    writeFileSync(`${path}.csv`, csv);
    const { analysis, session } = analysisOfFile(`${path}.csv`, undefined);
    writeFileSync(`${path}.json`, JSON.stringify(analysis));
    writeFileSync(`${path}.txt`, toAnalysisTable(analysis, session));
    cases.push(path);
  }
}

/** What a page is told of each athlete of stored sessions, and the CSV it would download. */
async function writeHubCases(hub: ServedTestHub): Promise<void> {
  const ask = (method: 'GET' | 'PUT', path: string, payload?: object) =>
    hub.server.app.inject({
      method,
      url: `/api/sessions/${path}`,
      headers: ownHeaders,
      ...(payload !== undefined && { payload }),
    });
  for (const { sessionId, athleteIds, isCorrected } of writeJudgedSessions(hub.store))
    for (const [index, athleteId] of athleteIds.entries()) {
      const path = join(folder, athleteId);
      const own = `${sessionId}/athletes/${athleteId}`;
      if (isCorrected && index === 0) {
        const { holdId, end } = athleteRecordingSchema.parse((await ask('GET', own)).json()).holds[0]!.hold;
        const atMs = Math.round(end!.atMs + 3_217);
        const correction = { type: 'moveBoundary', holdId, boundary: 'end', atMs };
        expect((await ask('PUT', `${own}/corrections`, correction)).statusCode).toBe(200);
      }
      writeFileSync(`${path}.json`, (await ask('GET', own)).body);
      writeFileSync(`${path}.csv`, (await ask('GET', `${sessionId}/csv?athleteId=${athleteId}`)).body);
      cases.push(path);
    }
}

function judged(...paths: readonly string[]): Verdict[] {
  const { status, stdout, stderr } = spawnSync('python3', [judge, '--json', ...paths], {
    encoding: 'utf8',
    maxBuffer: 64_000_000,
  });
  if (stderr !== '') throw new Error(stderr);
  const rows = JSON.parse(stdout) as Verdict[];
  // As its rows do, its status says that something differs.
  expect(status).toBe(rows.some(({ verdict }) => verdict === 'different') ? 1 : 0);
  return rows;
}

const of = (...kinds: readonly Verdict['verdict'][]) =>
  verdicts.filter(({ verdict }) => kinds.includes(verdict));
const plainKey = (key: string): string => key.replaceAll('_', '').toLowerCase();

beforeAll(async () => {
  writeFileCases();
  served = await serveTestHub({ store: openStoreInMemory(), sourceKind: 'simulated' });
  await writeHubCases(served);
  verdicts = judged(...cases);
}, 600_000);
afterAll(async () => {
  await served?.close();
  rmSync(folder, { recursive: true });
});

test('what is said is what follows from the readings, and not known where it does not follow', () => {
  expect(of('noRule', 'notSaid')).toEqual([]);
  expect(of('different').map(({ key, ...row }) => `${row.case} hold ${row.hold} ${key}`)).toEqual([]);
});

test('every measure was met often, in 20 simulated recordings and 3 of real people', () => {
  expect(cases.length).toBe(23);
  const counts = new Map<string, number>();
  for (const { key } of of('equal')) counts.set(plainKey(key), (counts.get(plainKey(key)) ?? 0) + 1);
  // Two that need a strap's beats through a whole hold and after it.
  const seldom = new Set(['rmssdbacks', 'rmssdhalfbacks']);
  const few = [...counts].filter(([key, count]) => count < (seldom.has(key) ? 2 : 10));
  expect(few).toEqual([]);
  expect(counts.size).toBe(51);
  expect(of('equal').length).toBeGreaterThan(3_000);
  expect(of('bothNotKnown').length).toBeGreaterThan(1_000);
});

test('what no stranger can work out is five estimates whose rule is code, and heart rates of a pulse wave', () => {
  expect(new Set(of('ruleIsCode').map(({ key }) => plainKey(key))).size).toBe(5);
  expect(new Set(of('notInCsv').map((row) => row.case))).toEqual(new Set(['lived-506']));
});

test.each<[string, (said: string) => string, (csv: string) => string]>([
  [
    'a hold begins 3 s later',
    (said) => said.replace(/"start_s":([\d.]+)/, (_, at) => `"start_s":${Number(at) + 3}`),
    (csv) => csv,
  ],
  [
    'one figure is a hundredth off',
    (said) =>
      said.replace(
        /"spo2_lowest_percent":([\d.]+)/,
        (_, value) => `"spo2_lowest_percent":${Number(value) + 0.01}`,
      ),
    (csv) => csv,
  ],
  [
    'what is not known is said to be 0',
    (said) => said.replace('"time_back_to_95_s":null', '"time_back_to_95_s":0'),
    (csv) => csv,
  ],
  [
    'the readings are a second later',
    (said) => said,
    (csv) => csv.replaceAll(/^(\d+)/gm, (s) => String(Number(s) + 1)),
  ],
  [
    'some beats are gone',
    (said) => said,
    (csv) => csv.replaceAll(/^1[0-4]\d\.\d+,rr_interval_ms,.*\n/gm, ''),
  ],
])('it fails where %s', (_, ofSaid, ofCsv) => {
  const from = join(folder, 'lived-501');
  const to = join(folder, 'perturbed');
  const [said, csv] = [readFileSync(`${from}.json`, 'utf8'), readFileSync(`${from}.csv`, 'utf8')];
  const [otherSaid, otherCsv] = [ofSaid(said), ofCsv(csv)];
  expect(otherSaid !== said || otherCsv !== csv).toBe(true);
  writeFileSync(`${to}.json`, otherSaid);
  writeFileSync(`${to}.csv`, otherCsv);
  expect(judged(from).some(({ verdict }) => verdict === 'different')).toBe(false);
  expect(judged(to).some(({ verdict }) => verdict === 'different')).toBe(true);
});
