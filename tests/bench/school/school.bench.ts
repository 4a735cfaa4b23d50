// A school under load on one machine: 50 hubs of 20 athletes at the rate of their sensors, made of what one real hub sends; the
// school, the message server and the database are the real ones. From a hub's alarm to a page's socket, processor time of each
// part, a day of one hub caught up with beside it, a wall of 200 athletes in Chromium, weeks out of a million holds.
// Written to school-results.json. SIMULATED.
//
//   npm run bench school     (BENCH_SCHOOL_ONLY=wall for that part alone; BENCH_SCHOOL_SECONDS=20, BENCH_SCHOOL_HOURS=2, BENCH_SCHOOL_HOLDS=100000 for a look)

import { type ChildProcess, execFileSync, fork, spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { cpus, loadavg, tmpdir, totalmem } from 'node:os';
import { join } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import { connect } from '@nats-io/transport-node';
import { openSqliteStore } from '../../../hub/recorder/sqlite-store.ts';
import { monotonicMs, wallMs } from '../../../shared/units.ts';
import { enterByLink, fetchAsOwn, ownCookieOf } from '../../support/own-person.ts';
import { startSending } from '../../support/school/sending-hub.ts';
import { type PostgresServer, query, startNats, startPostgres } from '../../support/school/servers.ts';
import { writeSession } from '../../support/written-sessions.ts';
import { announceSensors } from '../bench-sensors.ts';
import { saveFallingAthletes } from '../falling-athletes.ts';
import { quantile } from '../hub.bench.ts';
import { type BenchPrograms, bundlePrograms, mainCommand } from './programs.ts';
import { type RecordedHub, recordHub } from './recorded-hub.ts';
import { measurePhoneWall, measureWall } from './school-wall.ts';

const root = fileURLToPath(new URL('../../..', import.meta.url));
const results = fileURLToPath(new URL('./school-results.json', import.meta.url));
const isWallOnly = process.env['BENCH_SCHOOL_ONLY'] === 'wall';
const setting = (name: string, usual: number): number => Number(process.env[`BENCH_SCHOOL_${name}`] ?? usual);

const hubCount = 50;
const athletesPerHub = 20;
const wallHubs = 10;
const pagesPerRoom = 2;
/** What is kept by then tells how fast it goes. */
const mostCatchUpMs = setting('CATCH_UP', 480) * 1_000;
const ticksPerSecond = 100;

type Figures = Record<string, number>;

/** Processes, ended with the bench. */
const children: ChildProcess[] = [];

async function printed(child: ChildProcess, what: RegExp): Promise<string> {
  let text = '';
  for await (const piece of child.stdout!) {
    text += String(piece);
    const found = what.exec(text);
    if (found !== null) return found[0];
  }
  throw new Error(`it ended: ${text}`);
}

async function startSchool(programs: BenchPrograms, natsUrl: string, archive: string, folder: string) {
  const beganAtMs = performance.now();
  const child = spawn(
    process.execPath,
    [
      ...mainCommand(programs),
      'school',
      '--school',
      natsUrl,
      '--school-name',
      'test',
      '--port',
      '0',
      '--data',
      folder,
      '--log',
      'error',
    ],
    { stdio: ['ignore', 'pipe', 'inherit'], env: { ...process.env, SLACKWATER_ARCHIVE: archive } },
  );
  children.push(child);
  const link = await printed(child, /http:\S+/);
  // Nobody reads on: a full pipe would stop it.
  child.stdout!.resume();
  await enterByLink(link);
  const { origin } = new URL(link);
  return { child, pid: child.pid!, url: origin, archive, startedAfterMs: performance.now() - beganAtMs };
}

/** One real hub, listened to. */
async function recordOne(
  programs: BenchPrograms,
  natsUrl: string,
  folder: string,
  forMs: number,
): Promise<RecordedHub> {
  const connection = await connect({ servers: natsUrl.replace('nats://', '') });
  let isWarm: () => void = () => undefined;
  const warm = new Promise<void>((resolve) => {
    isWarm = resolve;
  });
  const recording = recordHub(connection, { school: 'test', hub: 'one', warm, forMs });
  const child = spawn(
    process.execPath,
    [
      programs.hub,
      '--data',
      join(folder, 'one'),
      '--port',
      '0',
      '--no-open',
      '--no-watchdog',
      '--no-alarm-sound',
      '--school',
      natsUrl,
      '--school-name',
      'test',
      '--school-hub',
      'one',
    ],
    {
      stdio: ['ignore', 'pipe', 'inherit'],
      env: {
        ...process.env,
        PARTITION_ATHLETES: String(athletesPerHub),
        PARTITION_SESSION_MS: '3600000',
        PARTITION_WITNESS: join(folder, 'witness'),
      },
    },
  );
  children.push(child);
  await printed(child, /runs/);
  child.stdout!.resume();
  await pause(20_000);
  isWarm();
  const recorded = await recording;
  await connection.close();
  child.kill('SIGKILL');
  await once(child, 'exit');
  return recorded;
}

/** Ticks of user and system time of a process, or of it and its children, ended ones too (proc_pid_stat(5), fields 14 to 17). */
function ticksOf(pid: number, withChildren: boolean): number {
  let sum = 0;
  for (const name of readdirSync('/proc')) {
    if (!/^\d+$/.test(name)) continue;
    try {
      const fields = readFileSync(`/proc/${name}/stat`, 'utf8')
        .replace(/^.*\) /, '')
        .split(' ');
      const ticks = (from: number): number => Number(fields[from]) + Number(fields[from + 1]);
      if (Number(name) === pid) sum += ticks(11) + (withChildren ? ticks(13) : 0);
      else if (withChildren && Number(fields[1]) === pid) sum += ticks(11);
    } catch {
      // It has ended.
    }
  }
  return sum;
}

const residentBytes = (pid: number): number =>
  Number(/VmRSS:\s+(\d+)/.exec(readFileSync(`/proc/${pid}/status`, 'utf8'))?.[1] ?? 0) * 1024;

interface Place {
  readonly programs: BenchPrograms;
  readonly folder: string;
  readonly natsUrl: string;
  readonly natsPid: number;
  readonly postgres: PostgresServer;
}

interface Sent {
  readonly live: number;
  readonly liveBytes: number;
  readonly kept: number;
  readonly keptBytes: number;
  readonly alarms: number;
  readonly unacknowledged: number;
}

const asked = async <Answer>(child: ChildProcess, what: unknown): Promise<Answer> => {
  const answer = once(child, 'message');
  child.send(what as never);
  return (await answer)[0] as Answer;
};

async function startMany({ programs, natsUrl, folder }: Place, recorded: RecordedHub): Promise<ChildProcess> {
  const path = join(folder, 'recorded.json');
  writeFileSync(path, JSON.stringify(recorded));
  const many = fork(programs.manyHubs, [natsUrl, 'test', path], { execArgv: [] });
  children.push(many);
  await once(many, 'message');
  return many;
}

/** Delays of alarms and what each part takes, for so long. */
async function measureLive(
  place: Place,
  many: ChildProcess,
  pages: ChildProcess,
  schoolPid: number,
  seconds: number,
): Promise<Figures> {
  const parts = {
    nats: [place.natsPid, false],
    postgres: [place.postgres.pid, true],
    school: [schoolPid, false],
    manyHubs: [many.pid!, false],
  } as const;
  const ticks = (): number[] => Object.values(parts).map(([pid, withChildren]) => ticksOf(pid, withChildren));
  await asked(pages, 'report');
  const sentBefore = await asked<Sent>(many, 'counts');
  const before = ticks();
  const beganAtMs = performance.now();
  await pause(seconds * 1_000);
  const elapsedS = (performance.now() - beganAtMs) / 1_000;
  const used = ticks().map((now, index) => (now - before[index]!) / ticksPerSecond / elapsedS);
  const sent = await asked<Sent>(many, 'counts');
  const seen = await asked<{
    delaysMs: number[];
    messageCount: number;
    byteCount: number;
    closedCount: number;
  }>(pages, 'report');
  const perS = (name: keyof Sent): number => (sent[name] - sentBefore[name]) / elapsedS;
  return {
    seconds: elapsedS,
    liveMessagesPerS: perS('live'),
    liveBytesPerS: perS('liveBytes'),
    keptMessagesPerS: perS('kept'),
    keptBytesPerS: perS('keptBytes'),
    unacknowledged: sent.unacknowledged - sentBefore.unacknowledged,
    alarmsSeen: seen.delaysMs.length,
    alarmP50Ms: quantile(seen.delaysMs, 0.5),
    alarmP99Ms: quantile(seen.delaysMs, 0.99),
    alarmMaxMs: quantile(seen.delaysMs, 1),
    pageBytesPerS: seen.byteCount / elapsedS,
    socketsClosed: seen.closedCount,
    ...Object.fromEntries(Object.keys(parts).map((name, index) => [`${name}Cores`, used[index]!])),
    schoolResidentBytes: residentBytes(schoolPid),
    load: loadavg()[0]!,
  };
}

/** Sessions of an hour for each athlete, a packet a second of each of their sensors. */
function writeDay(folder: string, hours: number): number {
  const store = openSqliteStore({ directory: folder });
  store.syncOnlyOnCommit = true;
  const athleteIds = saveFallingAthletes(store, athletesPerHub);
  const sensors: { sensorId: string }[] = [];
  for (let athlete = 0; athlete < athletesPerHub; athlete++)
    announceSensors(
      {
        packet: () => undefined,
        sensorChanged: (sensor) => sensors.push(sensor),
        sourceNotices: () => undefined,
      },
      athlete,
    );
  const athletes = store.listAthletes();
  let packets = 0;
  for (let hour = 0; hour < hours; hour++) {
    const sessionId = `hour-${hour}`;
    const startedWallAtMs = Date.now() - (hours - hour + 1) * 3_600_000;
    store.startSession({
      sessionId,
      startedWallAtMs: wallMs(startedWallAtMs),
      simulated: true,
      source: 'simulated',
      title: `SIMULATED ${hour}`,
      athletes: athletes.map((athlete) => ({ athlete, sensors: [] })),
    });
    for (let second = 0; second < 3_600; second++)
      for (const [index] of athleteIds.entries())
        for (const kind of ['heartRate', 'oximeter'] as const) {
          const atMs = second * 1_000 + index * 37 + (kind === 'oximeter' ? 500 : 0) + ((second * 7) % 11);
          const beat = 60 + Math.round(6 * Math.sin(second / 9 + index));
          store.appendPacket(sessionId, {
            sensorId: `${kind}-${index}`,
            characteristic: kind === 'heartRate' ? '2a37' : '2a5f',
            bytes:
              kind === 'heartRate'
                ? Uint8Array.of(0x16, beat, (second * 13 + index) % 251, 3 + (second % 2))
                : Uint8Array.of(0, 90 + ((second + index) % 9), 0, beat, 0),
            atMs: monotonicMs(atMs),
            wallAtMs: wallMs(startedWallAtMs + atMs),
          });
          packets += 1;
        }
    store.endSession(sessionId, monotonicMs(3_600_000));
    store.commit();
  }
  store.close();
  return packets;
}

async function catchUp(place: Place, archive: string, folder: string, packets: number): Promise<Figures> {
  const store = openSqliteStore({ directory: folder });
  const beganAtMs = performance.now();
  const sending = await startSending({ natsUrl: place.natsUrl, hub: 'late', store, dataFolder: folder });
  let kept = 0;
  while (kept < packets && performance.now() - beganAtMs < mostCatchUpMs) {
    await pause(500);
    const [row] = await query<{ n: string }>(
      archive,
      `SELECT coalesce(sum(covered), 0) AS n FROM coverage WHERE hub_id = 'late'`,
    );
    kept = Number(row?.n);
  }
  const seconds = (performance.now() - beganAtMs) / 1_000;
  const [size] = await query<{ bytes: string; n: string; packets: string }>(
    archive,
    `SELECT sum(octet_length(body)) AS bytes, count(*) AS n, sum(packet_count) AS packets FROM segments WHERE hub_id = 'late'`,
  );
  await sending.close();
  store.close();
  return {
    packets,
    packetsKept: kept,
    seconds,
    packetsPerS: kept / seconds,
    segments: Number(size?.n),
    segmentBytes: Number(size?.bytes),
    bytesPerPacket: Number(size?.bytes) / Number(size?.packets),
  };
}

const holdsPerSession = 10;
const athletesInArchive = 2_000;

/** The archive of years, made of one session that was really sent, worked out and kept: rows like its rows. */
async function weeksOfMany(place: Place, holds: number): Promise<Figures> {
  const archive = await place.postgres.createDatabase();
  const folder = mkdtempSync(join(place.folder, 'weeks-'));
  let school = await startSchool(place.programs, place.natsUrl, archive, folder);
  const store = openSqliteStore({ directory: mkdtempSync(join(place.folder, 'template-')) });
  writeSession(store, {
    sessionId: 's1',
    athleteId: 'a1',
    athleteName: 'SIMULATED',
    startedWallAtMs: Date.now() - 86_400_000,
    title: 'SIMULATED',
    simulated: true,
    holdsS: Array.from({ length: holdsPerSession }, (_, i) => 60 + i),
    seed: 3,
  });
  const sending = await startSending({ natsUrl: place.natsUrl, hub: 'years', store, dataFolder: folder });
  for (;;) {
    const answer = await fetchAsOwn(`${school.url}/api/athletes/years.a1/history`);
    if (
      answer.ok &&
      ((await answer.json()) as { missingCount: number; allCount: number }).missingCount === 0
    ) {
      const [row] = await query<{ n: number }>(archive, 'SELECT count(*)::int AS n FROM summaries');
      if (row?.n === 1) break;
    }
    await pause(500);
  }
  await sending.close();
  store.close();
  school.child.kill('SIGTERM');
  await once(school.child, 'exit');
  const sessions = Math.round(holds / holdsPerSession);
  const beganFillingAtMs = performance.now();
  execFileSync(
    'psql',
    [
      '-X',
      '-q',
      '-v',
      'ON_ERROR_STOP=1',
      '-d',
      archive,
      '-v',
      `sessions=${sessions}`,
      '-v',
      `athletes=${athletesInArchive}`,
      '-f',
      '-',
    ],
    { input: fillSql },
  );
  const fillS = (performance.now() - beganFillingAtMs) / 1_000;
  school = await startSchool(place.programs, place.natsUrl, archive, folder);
  const ticksBefore = ticksOf(school.pid, false);
  await pause(20_000);
  const idleSchoolCores = (ticksOf(school.pid, false) - ticksBefore) / ticksPerSecond / 20;
  const times: number[] = [];
  let sessionsOfOne = 0;
  for (let round = 0; round < 60; round++) {
    const athlete = `years.b${(round * 37) % athletesInArchive}`;
    const beganAtMs = performance.now();
    const answer = await fetchAsOwn(`${school.url}/api/athletes/${athlete}/history`);
    const body = (await answer.json()) as { sessions: readonly { summary: unknown }[]; missingCount: number };
    times.push(performance.now() - beganAtMs);
    if (body.missingCount > 0 || body.sessions.some(({ summary }) => summary === null))
      throw new Error('a summary is missing');
    sessionsOfOne = body.sessions.length;
  }
  const [counted] = await query<{ holds: string; bytes: string }>(
    archive,
    'SELECT (SELECT count(*) FROM holds) AS holds, pg_database_size(current_database()) AS bytes',
  );
  const schoolResidentBytes = residentBytes(school.pid);
  const list: number[] = [];
  for (let round = 0; round < 10; round++) {
    const beganAtMs = performance.now();
    await (await fetchAsOwn(`${school.url}/api/recordings?page=${round}`)).json();
    list.push(performance.now() - beganAtMs);
  }
  school.child.kill('SIGTERM');
  await once(school.child, 'exit');
  return {
    holds: Number(counted?.holds),
    sessions,
    athletes: athletesInArchive,
    sessionsOfOne,
    holdsOfOne: sessionsOfOne * holdsPerSession,
    weeksP50Ms: quantile(times, 0.5),
    weeksP95Ms: quantile(times, 0.95),
    weeksMaxMs: quantile(times, 1),
    listPageP50Ms: quantile(list, 0.5),
    schoolStartedAfterMs: school.startedAfterMs,
    schoolResidentBytes,
    idleSchoolCores,
    archiveBytes: Number(counted?.bytes),
    bytesPerSessionRow: Number(counted?.bytes) / sessions,
    fillS,
    load: loadavg()[0]!,
  };
}

/** Copies of one session's rows, spread over three years and many athletes, all of its month's table. */
const fillSql = `
CREATE TEMP TABLE source AS SELECT * FROM sessions WHERE session_id = 's1';
INSERT INTO persons (person_id) SELECT 'years.b' || n FROM generate_series(0, :athletes - 1) n;
INSERT INTO athletes (hub_id, athlete_id, person_id, name, body, is_listed)
  SELECT 'years', 'b' || n, 'years.b' || n, 'SIMULATED ' || n, replace(body, '"a1"', '"b' || n || '"'), true
  FROM athletes, generate_series(0, :athletes - 1) n WHERE athlete_id = 'a1';
CREATE TEMP TABLE made AS
  SELECT n, 'g' || n AS session_id, 'b' || (n % :athletes) AS athlete_id,
    (started_wall_at_ms - (n::double precision / :sessions) * 3 * 365 * 86400000) AS wall_ms
  FROM generate_series(1, :sessions) n, source;
INSERT INTO sessions (hub_id, session_id, month, started_at, started_wall_at_ms, generation, shown_generation, revision, status, ended_at_ms,
    duration_ms, packet_count, title, view, hold_count, longest_hold_ms, lowest_percent, athlete_ids, changed)
  SELECT hub_id, made.session_id, month, to_timestamp(wall_ms / 1000), wall_ms, generation, shown_generation, revision, status, ended_at_ms,
    duration_ms, packet_count, title,
    (view::jsonb || jsonb_build_object('sessionId', made.session_id, 'startedWallAtMs', floor(wall_ms), 'athleteIds', jsonb_build_array(athlete_id)))::text,
    hold_count, longest_hold_ms, lowest_percent, ARRAY[athlete_id], nextval('session_changes')
  FROM made, source;
INSERT INTO holds (month, hub_id, session_id, athlete_id, hold_id, start_at, length_ms, lowest_percent, body)
  SELECT month, hub_id, made.session_id, made.athlete_id, hold_id, to_timestamp(wall_ms / 1000), length_ms, lowest_percent, body
  FROM made, holds WHERE holds.session_id = 's1';
INSERT INTO summaries (session_id, athlete_id, made_by, body)
  SELECT 'years.' || made.session_id, 'years.' || made.athlete_id, made_by, body FROM made, summaries WHERE summaries.session_id = 'years.s1';
ANALYZE;
`;

const roomOf = (number: number): string => `hub-${String(number).padStart(2, '0')}`;

/** Of a run of one part, what the file has of the others stays. */
function writeResults(parts: Readonly<Record<string, Figures>>, hours: number): void {
  const date = new Date().toISOString();
  const machine = {
    date,
    node: process.version,
    cores: cpus().length,
    cpu: cpus()[0]?.model,
    memoryBytes: totalmem(),
  };
  const hubs = { hubs: hubCount, athletesPerHub, pagesPerRoom, hours };
  const all = isWallOnly
    ? { ...JSON.parse(readFileSync(results, 'utf8')), wallDate: date, ...parts }
    : { machine, hubs, ...parts };
  const rounded = (_: string, value: unknown): unknown =>
    typeof value === 'number' ? Number(value.toPrecision(4)) : value;
  writeFileSync(results, `${JSON.stringify(all, rounded, 2)}\n`);
}

type Save = (part: string, figures: Figures) => void;

/** A school of its own, so that nothing of the parts before is in it. */
async function measureWalls(place: Place, many: ChildProcess, save: Save): Promise<void> {
  const archive = await place.postgres.createDatabase();
  const school = await startSchool(place.programs, place.natsUrl, archive, join(place.folder, 'wall'));
  await asked(many, { hubs: wallHubs });
  await pause(5_000);
  const athletes = wallHubs * athletesPerHub;
  const mostMs = setting('WALL', 240) * 1_000;
  save('wall', await measureWall(school.url, many, athletes, setting('SECONDS', 60), mostMs));
  save('phoneWall', await measurePhoneWall(school.url, athletes, mostMs));
}

/** Alarms, processor time and catching up beside fifty hubs; then weeks out of very many. */
async function measureManyHubs(
  place: Place,
  recorded: RecordedHub,
  school: Awaited<ReturnType<typeof startSchool>>,
  save: Save,
): Promise<void> {
  const seconds = setting('SECONDS', 60);
  const many = await startMany(place, recorded);
  await asked(many, { hubs: hubCount });
  const pages = fork(place.programs.pages, { execArgv: [] });
  children.push(pages);
  const rooms = Array.from({ length: hubCount * pagesPerRoom }, (_, index) => roomOf(index % hubCount));
  await asked(pages, { url: school.url, cookie: ownCookieOf(school.url) ?? '', rooms });
  await pause(10_000);
  save('live', await measureLive(place, many, pages, school.pid, seconds));
  const late = mkdtempSync(join(place.folder, 'late-'));
  const packets = writeDay(late, setting('HOURS', 24));
  const [whileCatchingUp, caughtUp] = await Promise.all([
    measureLive(place, many, pages, school.pid, Math.min(seconds, 30)),
    catchUp(place, school.archive, late, packets),
  ]);
  save('whileCatchingUp', whileCatchingUp);
  save('caughtUp', caughtUp);
  for (const child of [many, pages, school.child]) {
    child.kill('SIGKILL');
    await once(child, 'exit');
  }
  save('weeks', await weeksOfMany(place, setting('HOLDS', 1_000_000)));
}

export async function benchSchool(): Promise<Figures> {
  const folder = mkdtempSync(join(tmpdir(), 'slackwater-school-bench-'));
  const outdir = join(root, 'dist', `school-bench-${process.pid}`);
  const [nats, postgres] = await Promise.all([startNats(), startPostgres()]);
  try {
    const place: Place = {
      programs: await bundlePrograms(outdir),
      folder,
      natsUrl: nats.url,
      natsPid: nats.pid,
      postgres,
    };
    const archive = await postgres.createDatabase();
    const school = await startSchool(place.programs, nats.url, archive, join(folder, 'school'));
    const recorded = await recordOne(place.programs, nats.url, folder, setting('RECORDED', 60) * 1_000);
    const parts: Record<string, Figures> = {};
    const save: Save = (part, figures) => {
      parts[part] = figures;
      process.stderr.write(`${part} ${JSON.stringify(figures)}\n`);
      writeResults(parts, setting('HOURS', 24));
    };
    if (isWallOnly) {
      school.child.kill('SIGKILL');
      await once(school.child, 'exit');
    } else await measureManyHubs(place, recorded, school, save);
    await measureWalls(place, await startMany(place, recorded), save);
    return Object.fromEntries(
      Object.entries(parts).flatMap(([part, figures]) =>
        Object.entries(figures).map(([name, value]) => [`${part}.${name}`, value]),
      ),
    );
  } finally {
    for (const child of children) child.kill('SIGKILL');
    await nats.stop('SIGKILL');
    await postgres.stop();
    rmSync(folder, { recursive: true, force: true });
    rmSync(outdir, { recursive: true, force: true });
  }
}

if (process.argv[1] === fileURLToPath(import.meta.url)) {
  console.log(JSON.stringify(await benchSchool(), null, 2));
  process.exit(0);
}
