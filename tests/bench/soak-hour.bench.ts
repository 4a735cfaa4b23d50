// The built hub for an hour of real time as a process of its own, with simulated sensors (SIMULATED) and two pages at real
// sockets, one of which loses its network each ten minutes: memory, pauses of the thread, alarms, and whether every packet is
// stored. `npx tsx tests/bench/soak-hour.bench.ts [minutes]`; an hour or more is written into soak-hour-results.json.

import { execFileSync, spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { createServer } from 'node:http';
import type { AddressInfo } from 'node:net';
import { availableParallelism, loadavg, tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import { systemClock } from '../../hub/base/system-clock.ts';
import { scenarioAthletes } from '../../hub/sensors/simulated/scenario.ts';
import { buildHub } from '../support/hub-process.ts';
import { type LivePage, openLivePage } from '../support/live-alarms/live-page.ts';
import { enterByLink, fetchAsOwn, ownCookieOf } from '../support/own-person.ts';
import { storedAgainstSimulated } from './stored-against-simulated.ts';

const minutes = Number(process.argv[2] ?? 60);
const athleteCount = 4;
const seed = 7;
const sampleEveryMs = 10_000;
const acknowledgeEveryMs = 20_000;
const cutEveryMs = 600_000;
const askEveryMs = 60_000;
/** A hub that has just started is still filling its heap. */
const settledAfterMs = 600_000;

interface Sample {
  readonly atS: number;
  readonly rssMb: number;
  readonly longestPauseMs: number;
  readonly p999PauseMs: number;
  readonly longestOwnMs: number;
  readonly load: number;
}

const folder = mkdtempSync(join(tmpdir(), 'slackwater-soak-'));
const posts: Record<string, number> = {};
const receiver = createServer((request, response) => {
  const chunks: Buffer[] = [];
  request.on('data', (chunk: Buffer) => chunks.push(chunk));
  request.on('end', () => {
    const { alarm, beacon } = JSON.parse(Buffer.concat(chunks).toString()) as {
      alarm: string;
      beacon?: boolean;
    };
    const word = beacon === true ? 'beacon' : alarm;
    posts[word] = (posts[word] ?? 0) + 1;
    response.writeHead(204).end();
  });
});
receiver.listen(0, '127.0.0.1');
await once(receiver, 'listening');
const webhook = `http://127.0.0.1:${(receiver.address() as AddressInfo).port}/`;

const entry = buildHub();
const hub = spawn(
  process.execPath,
  [
    '--import',
    new URL('watch-loop.mjs', import.meta.url).pathname,
    '--input-type=module',
    '-e',
    `import { main } from ${JSON.stringify(entry)}; await main(process.argv.slice(1));`,
    '--',
    'demo',
    ...['--athletes', String(athleteCount), '--seed', String(seed), '--port', '0', '--data', folder],
    ...['--no-open', '--no-alarm-sound', '--alarm-webhook', webhook],
  ],
  { cwd: fileURLToPath(new URL('../..', import.meta.url)), stdio: ['ignore', 'pipe', 'pipe', 'ipc'] },
);
process.once('exit', () => hub.kill('SIGKILL'));
let output = '';
hub.stdout?.on('data', (piece) => {
  output += String(piece);
});
const complaints: string[] = [];
hub.stderr?.on('data', (piece) => complaints.push(...String(piece).trim().split('\n')));
let link: string | undefined;
while (link === undefined) {
  await pause(50);
  if (hub.exitCode !== null) throw new Error(`the hub ended: ${output}${complaints.join('\n')}`);
  link = /Open (http:\/\/\S+)/.exec(output)?.[1];
}
await enterByLink(link);
const url = link.replace(/\/?#.*/, '');
const cookie = ownCookieOf(url) ?? '';

/** A page whose longest silence is kept, while its network is not cut by us. */
function watchedPage(name: string) {
  const page: LivePage = openLivePage(url, cookie, systemClock, name);
  const figures = { longestGapMs: 0, silences: 0, cuts: 0 };
  let countBefore = 0;
  let heardAtMs = systemClock.nowMs();
  let isOut = true;
  systemClock.every(20, () => {
    const nowMs = systemClock.nowMs();
    const isLive = page.state.link.value === 'live';
    if (page.receivedCount !== countBefore) {
      if (!isOut) figures.longestGapMs = Math.max(figures.longestGapMs, nowMs - heardAtMs);
      if (isLive) isOut = false;
      countBefore = page.receivedCount;
      heardAtMs = nowMs;
    }
    if (!isOut && !isLive) {
      figures.silences += 1;
      isOut = true;
    }
  });
  return {
    page,
    figures,
    cut() {
      figures.cuts += 1;
      isOut = true;
      page.cut();
    },
  };
}
const coach = watchedPage('coach');
const second = watchedPage('second');
while (coach.page.state.hub.value === null || second.page.state.hub.value === null) await pause(20);
const athleteIds = scenarioAthletes(athleteCount, seed).map(({ athleteId }) => athleteId);
const begun = await coach.page.ask((requestId) => ({
  type: 'startSession',
  requestId,
  athleteIds,
  title: 'SIMULATED soak',
}));
if (begun.type !== 'done') throw new Error(`the session did not start: ${begun.type}`);
const zeroMs = systemClock.nowMs();
const sinceMs = () => systemClock.nowMs() - zeroMs;

/** Kinds of alarms by their ids as each page has seen them. */
const seen = { coach: new Map<string, string>(), second: new Map<string, string>() };
systemClock.every(50, () => {
  for (const [name, { page }] of [
    ['coach', coach],
    ['second', second],
  ] as const)
    for (const { athleteId, alarms } of page.state.athletes.value)
      for (const { alarmId, kind, priority } of alarms.value)
        seen[name].set(`${athleteId}/${alarmId}`, `${kind} ${priority}`);
});
let refused = 0;
systemClock.every(acknowledgeEveryMs, () => {
  for (const { athleteId, alarms } of coach.page.state.athletes.value) {
    const alarmIds = alarms.value.filter(({ acknowledged }) => !acknowledged).map(({ alarmId }) => alarmId);
    if (alarmIds.length > 0)
      void coach.page
        .ask((requestId) => ({ type: 'acknowledgeAlarms', requestId, athleteId, alarmIds }))
        .then((answer) => {
          if (answer.type !== 'done') refused += 1;
        });
  }
});
systemClock.every(cutEveryMs, () => second.cut());
const askedMs: number[] = [];
let unanswered = 0;
const stopAsking = systemClock.every(askEveryMs, () => {
  const fromMs = systemClock.nowMs();
  void fetchAsOwn(`${url}/api/sessions`)
    .then((answer) => answer.text())
    .then(() => askedMs.push(systemClock.nowMs() - fromMs))
    .catch(() => {
      unanswered += 1;
    });
});

const samples: Sample[] = [];
async function sample(): Promise<void> {
  const answer = once(hub, 'message');
  hub.send('pause');
  const { longestMs, p999Ms, longestOwnMs } = (await answer)[0] as Record<string, number>;
  hub.send('begin');
  const status = readFileSync(`/proc/${hub.pid}/status`, 'latin1');
  samples.push({
    atS: Math.round(sinceMs() / 1_000),
    rssMb: Math.round(Number(/VmRSS:\s+(\d+)/.exec(status)?.[1] ?? Number.NaN) / 102.4) / 10,
    longestPauseMs: Math.round(longestMs ?? Number.NaN),
    p999PauseMs: Math.round(p999Ms ?? Number.NaN),
    longestOwnMs: Math.round(longestOwnMs ?? Number.NaN),
    load: loadavg()[0] ?? Number.NaN,
  });
}
hub.send('begin');
while (sinceMs() < minutes * 60_000) {
  await pause(sampleEveryMs);
  await sample();
  if (samples.length % 30 === 0) process.stderr.write(`${JSON.stringify(samples.at(-1))}\n`);
}

stopAsking();
const ended = await coach.page.ask((requestId) => ({ type: 'endSession', requestId }));
const malformed = coach.page.malformedCount + second.page.malformedCount;
await pause(1_000);
coach.page.close();
second.page.close();
hub.kill('SIGINT');
await once(hub, 'exit');
receiver.closeAllConnections();
receiver.close();

const packets = await storedAgainstSimulated(`${folder}-demo`, athleteCount, seed);

/** MB an hour, by least squares, from the time it had settled. */
function growth(): number | null {
  const late = samples.filter(({ atS }) => atS * 1_000 >= settledAfterMs);
  if (late.length < 10) return null;
  const mean = (of: (one: Sample) => number) => late.reduce((sum, one) => sum + of(one), 0) / late.length;
  const x = mean(({ atS }) => atS / 3_600);
  const y = mean(({ rssMb }) => rssMb);
  const above = late.reduce((sum, { atS, rssMb }) => sum + (atS / 3_600 - x) * (rssMb - y), 0);
  return Number((above / late.reduce((sum, { atS }) => sum + (atS / 3_600 - x) ** 2, 0)).toFixed(1));
}

const counted = (kinds: Iterable<string>): Record<string, number> => {
  const counts: Record<string, number> = {};
  for (const kind of kinds) counts[kind] = (counts[kind] ?? 0) + 1;
  return Object.fromEntries(Object.entries(counts).sort());
};
const notSeenBySecond = [...seen.coach.keys()].filter((alarmId) => !seen.second.has(alarmId)).length;
const rss = samples
  .filter(({ atS }) => atS * 1_000 >= settledAfterMs || minutes < 15)
  .map(({ rssMb }) => rssMb);
const results = {
  simulated: true,
  date: new Date().toISOString().slice(0, 10),
  commit: execFileSync('git', ['rev-parse', '--short', 'HEAD'], { encoding: 'utf8' }).trim(),
  node: process.version,
  cores: availableParallelism(),
  loadAverage: {
    least: Math.min(...samples.map(({ load }) => load)),
    most: Math.max(...samples.map(({ load }) => load)),
  },
  minutes,
  athletes: athleteCount,
  sessionEnded: ended.type,
  ...packets,
  rssMb: { least: Math.min(...rss), most: Math.max(...rss), last: rss.at(-1) },
  rssGrowthMbAnHour: growth(),
  longestPauseMs: Math.max(...samples.map(({ longestPauseMs }) => longestPauseMs)),
  medianOfP999PausesMs: samples.map(({ p999PauseMs }) => p999PauseMs).sort((a, b) => a - b)[
    samples.length >> 1
  ],
  longestPauseOfOwnWorkMs: Math.max(...samples.map(({ longestOwnMs }) => longestOwnMs)),
  alarms: counted(seen.coach.values()),
  alarmsNotSeenByTheSecondPage: notSeenBySecond,
  acknowledgementsNotAnswered: refused,
  malformedMessages: malformed,
  pages: { coach: coach.figures, second: second.figures },
  listsNotAnswered: unanswered,
  slowestListMs: Math.round(Math.max(0, ...askedMs)),
  webhookPosts: posts,
  complaints: complaints.filter((line) => line !== '').slice(0, 20),
  samples: samples.filter((_one, index) => index % 30 === 29),
};
rmSync(folder, { recursive: true, force: true });
rmSync(`${folder}-demo`, { recursive: true, force: true });
if (minutes >= 60)
  writeFileSync(
    fileURLToPath(new URL('soak-hour-results.json', import.meta.url)),
    `${JSON.stringify(results, null, 2)}\n`,
  );
process.stdout.write(`${JSON.stringify(results, null, 2)}\n`);
process.exit(0);
