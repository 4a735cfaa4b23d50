// Silence is never all-clear: the hub, as a process of its own under a supervisor, killed, hung and out of memory at chance
// moments of a hold, with a page that watches and a world of sensors that goes on. Written to resume-results.json. SIMULATED.

import { mkdtempSync, writeFileSync } from 'node:fs';
import { loadavg, tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import { athleteRecordingSchema, recordingBodySchema } from '../../shared/http.ts';
import { launchChromium, openPage } from '../support/chromium-page.ts';
import { fetchAsOwn } from '../support/own-person.ts';
import { hello, openTestPage } from '../support/test-page.ts';
import { ResumePage } from './resume-page.ts';
import { Supervisor } from './resume-supervisor.ts';
import { World, worldAthlete } from './resume-world.ts';

const results = new URL('./resume-results.json', import.meta.url).pathname;
const count = (name: string, usual: number): number => Number(process.env[`BENCH_RESUME_${name}`] ?? usual);

type Fault = 'killed' | 'hung' | 'outOfMemory';

interface Run {
  /** From the fault until the page alarms or hears a hub that watches; the longest time without either. */
  readonly unguardedMs: number;
  readonly pageAlarmedMs: number | null;
  /** Until the page hears a hub that watches, and until that has heard a sensor. */
  readonly watchedAgainMs: number;
  readonly sensorsAgainMs: number;
  readonly gapMs: number;
  readonly faults: readonly string[];
}

interface Lane {
  readonly supervisor: Supervisor;
  readonly world: World;
  readonly page: ResumePage;
}

const { athleteId } = worldAthlete;

async function until(what: string, is: () => boolean, withinMs: number): Promise<void> {
  const untilMs = performance.now() + withinMs;
  while (!is()) {
    if (performance.now() > untilMs) throw new Error(`never: ${what}`);
    await pause(10);
  }
}

async function ask(
  lane: Lane,
  message: Parameters<ReturnType<typeof openTestPage>['send']>[0],
): Promise<void> {
  const page = openTestPage(lane.supervisor.url);
  page.send(hello);
  page.send(message);
  await page.until('done');
  page.close();
}

let nextRequest = 0;
const requestId = (): string => `r${++nextRequest}`;

async function mark(lane: Lane, kind: 'holdStart' | 'holdEnd'): Promise<void> {
  lane.world.holdingSinceMs = kind === 'holdStart' ? performance.now() : null;
  const page = openTestPage(lane.supervisor.url);
  page.send(hello);
  page.send({ type: 'addMark', requestId: requestId(), athleteId, kind, atMs: null, text: null });
  await page.until('marked');
  page.close();
}

/** Looks at the page every 10 ms from the fault on. */
async function watchPage(
  page: ResumePage,
  faultAtMs: number,
  fault: string,
): Promise<Omit<Run, 'gapMs' | 'sensorsAgainMs' | 'faults'>> {
  let guardedAtMs = faultAtMs;
  let unguardedMs = 0;
  let pageAlarmedMs: number | null = null;
  const welcomes = page.welcomeCount;
  for (;;) {
    await pause(10);
    const nowMs = performance.now();
    if (nowMs - faultAtMs > 60_000) throw new Error(`never watched again after it was ${fault}`);
    const heardAnew = page.welcomeCount > welcomes && page.watches;
    // A page that still believes the dead hub guards nobody.
    const isGuarded = page.alarms || heardAnew;
    if (page.alarms) pageAlarmedMs ??= nowMs - faultAtMs;
    if (isGuarded) {
      unguardedMs = Math.max(unguardedMs, nowMs - guardedAtMs);
      guardedAtMs = nowMs;
    }
    if (heardAnew) return { unguardedMs, pageAlarmedMs, watchedAgainMs: nowMs - faultAtMs };
  }
}

/** What the recording says of the hold once it is over. */
async function lookAtRecording(lane: Lane, sessionId: string): Promise<{ gapMs: number; faults: string[] }> {
  const faults: string[] = [];
  const { url } = lane.supervisor;
  const read = async (path: string): Promise<unknown> => (await fetchAsOwn(`${url}${path}`)).json();
  const outline = recordingBodySchema.parse(await read(`/api/sessions/${sessionId}?outline`));
  const derived = athleteRecordingSchema.parse(
    await read(`/api/sessions/${sessionId}/athletes/${athleteId}`),
  );
  const [span, ...more] = outline.session.unwatched;
  if (span === undefined || more.length > 0) faults.push(`${outline.session.unwatched.length} gaps`);
  if (outline.damage.length > 0) faults.push('damage');
  if (outline.session.status !== 'ended') faults.push(outline.session.status);
  for (const [name, holds] of [
    ['live', derived.liveHolds],
    ['found', derived.holds.map(({ hold }) => hold)],
  ] as const) {
    if (holds.length !== 1) faults.push(`${holds.length} holds ${name}`);
    const [hold] = holds;
    if (hold === undefined || span === undefined) continue;
    if (hold.start.source !== 'mark' || !(hold.start.atMs <= span.fromMs))
      faults.push(`start moved, ${name}`);
    if (!((hold.end?.atMs ?? 0) > span.toMs)) faults.push(`ended in the gap, ${name}`);
  }
  return { gapMs: span === undefined ? Number.NaN : span.toMs - span.fromMs, faults };
}

async function run(lane: Lane, fault: Fault): Promise<Run> {
  const { supervisor, page, world } = lane;
  await ask(lane, { type: 'startSession', requestId: requestId(), athleteIds: [athleteId], title: fault });
  await until('session', () => page.watches, 20_000);
  const { sessionId } = page.state.session.value!;
  await pause(2_500);
  await mark(lane, 'holdStart');
  await pause(500 + Math.random() * 8_000);
  const before = supervisor.startCount;
  const faultAtMs = performance.now();
  supervisor.signal(fault === 'killed' ? 'SIGKILL' : fault === 'hung' ? 'SIGSTOP' : 'SIGUSR2');
  let sensorsAgainMs = Number.NaN;
  world.onFirstPacket = () => {
    if (supervisor.startCount > before && Number.isNaN(sensorsAgainMs))
      sensorsAgainMs = performance.now() - faultAtMs;
  };
  const seen = await watchPage(page, faultAtMs, fault);
  const faults: string[] = [];
  if (page.state.session.value?.sessionId !== sessionId) faults.push('another session');
  await until('sensors', () => !Number.isNaN(sensorsAgainMs), 20_000);
  await pause(1_500);
  const model = page.state.athleteById(athleteId);
  const resumedAtMs = page.state.session.value?.unwatched.at(-1)?.toMs ?? Number.POSITIVE_INFINITY;
  if (!((model?.spo2.value?.atMs ?? 0) > resumedAtMs)) faults.push('the page shows no new reading');
  const holds = model?.holds.value ?? [];
  if (holds.length !== 1 || holds[0]?.end !== null) faults.push('the page shows no one hold going on');
  const told = page.state.supervision.value.find(({ kind }) => kind === 'monitoringGap');
  if (told === undefined) faults.push('nobody is told of the gap');
  await mark(lane, 'holdEnd');
  await pause(1_500);
  if (told !== undefined)
    await ask(lane, { type: 'acknowledgeSupervision', requestId: requestId(), alarmIds: [told.alarmId] });
  await ask(lane, { type: 'endSession', requestId: requestId() });
  const looked = await lookAtRecording(lane, sessionId);
  return { ...seen, sensorsAgainMs, gapMs: looked.gapMs, faults: [...faults, ...looked.faults] };
}

let nextPort = 21_000 + (process.pid % 500) * 20;

async function openLane(fault: Fault): Promise<Lane> {
  const socket = join(mkdtempSync(join(tmpdir(), 'slackwater-world-')), 'world');
  const world = new World(socket);
  const supervisor = new Supervisor({
    port: nextPort++,
    worldSocket: socket,
    watchdog: fault === 'hung',
    ...(fault === 'outOfMemory' && { oldSpaceMb: 96 }),
  });
  await supervisor.start();
  return { supervisor, world, page: new ResumePage(supervisor.url) };
}

function closeLane({ page, supervisor, world }: Lane): void {
  page.close();
  supervisor.stop();
  world.close();
}

const sum = (list: readonly number[]) => {
  const sorted = list.filter((ms) => Number.isFinite(ms)).toSorted((a, b) => a - b);
  const at = (part: number) =>
    Math.round(sorted[Math.min(sorted.length - 1, Math.floor(part * sorted.length))] ?? 0);
  return { median: at(0.5), ninetieth: at(0.9), most: at(1) };
};

interface Outcome {
  readonly runs: readonly Run[];
  readonly failures: readonly string[];
}

async function runMany(fault: Fault, times: number): Promise<Outcome> {
  const runs: Run[] = [];
  const failures: string[] = [];
  let lane = await openLane(fault);
  for (let i = 0; i < times; i++) {
    try {
      runs.push(await run(lane, fault));
      process.stderr.write(`${fault} ${i + 1}/${times} ${JSON.stringify(runs.at(-1))}\n`);
    } catch (error) {
      failures.push(String(error));
      process.stderr.write(
        `${fault} ${i + 1}/${times} ${String(error)}\n${lane.supervisor.output.slice(-1_500)}\n`,
      );
      closeLane(lane);
      lane = await openLane(fault);
    }
  }
  closeLane(lane);
  return { runs, failures };
}

function reportOf(outcomes: readonly Outcome[]) {
  const runs = outcomes.flatMap((one) => one.runs);
  const unguarded = runs.map((one) => one.unguardedMs);
  const again = runs.map((one) => one.watchedAgainMs);
  const alarmed = runs.flatMap((one) => one.pageAlarmedMs ?? []);
  return {
    count: runs.length,
    failures: outcomes.flatMap((one) => one.failures),
    faults: runs.flatMap((one) => one.faults),
    unguardedMs: sum(unguarded),
    unguardedOver3sCount: unguarded.filter((ms) => ms > 3_000).length,
    /** The others were watched again before they had noticed. */
    pagesThatAlarmedCount: alarmed.length,
    pageAlarmedMs: sum(alarmed),
    watchedAgainMs: sum(again),
    watchedAgainOver10sCount: again.filter((ms) => ms > 10_000).length,
    sensorsAgainMs: sum(runs.map((one) => one.sensorsAgainMs)),
    gapMs: sum(runs.map((one) => one.gapMs)),
  };
}

/** The same seen by a real browser: what stands on the page, by its own words. */
async function runInBrowser(times: number) {
  const lane = await openLane('killed');
  const alarmedMs: number[] = [];
  const toldMs: number[] = [];
  const faults: string[] = [];
  const chromium = await launchChromium();
  const { page } = await openPage(chromium, `${lane.supervisor.url}/wall`, {
    width: 'desktop',
    isKept: true,
  });
  for (let i = 0; i < times; i++) {
    await ask(lane, {
      type: 'startSession',
      requestId: requestId(),
      athleteIds: [athleteId],
      title: 'browser',
    });
    await pause(2_000);
    await mark(lane, 'holdStart');
    await pause(1_000 + Math.random() * 4_000);
    const faultAtMs = performance.now();
    lane.supervisor.signal('SIGKILL');
    const high = page.locator('.alarms .alarm--high').first();
    const gap = page.locator('.alarms .alarm--medium', { hasText: 'after a gap of' });
    // Where the hub is back before the page has noticed, it tells of the gap at once.
    const first = await Promise.race([
      high.waitFor({ timeout: 20_000 }).then(() => 'high' as const),
      gap.waitFor({ timeout: 20_000 }).then(() => 'gap' as const),
    ]).catch(() => null);
    if (first === null) faults.push('the browser showed no alarm');
    else alarmedMs.push(performance.now() - faultAtMs);
    const told = await gap.waitFor({ timeout: 30_000 }).then(
      () => true,
      () => false,
    );
    if (told) toldMs.push(performance.now() - faultAtMs);
    else faults.push('the browser told of no gap');
    await mark(lane, 'holdEnd');
    await pause(1_000);
    if (told) await gap.getByRole('button', { name: 'Acknowledge' }).click();
    await ask(lane, { type: 'endSession', requestId: requestId() });
    process.stderr.write(`browser ${i + 1}/${times} ${alarmedMs.at(-1)} ${toldMs.at(-1)}\n`);
  }
  await chromium.close();
  closeLane(lane);
  return { count: times, faults, alarmedMs: sum(alarmedMs), toldOfGapMs: sum(toldMs) };
}

export async function benchResume(): Promise<Record<string, number>> {
  const startLoad = loadavg()[0];
  const kills = count('KILLS', 50);
  const [one, other, hanging, full] = await Promise.all([
    runMany('killed', Math.ceil(kills / 2)),
    runMany('killed', Math.floor(kills / 2)),
    runMany('hung', count('HUNG', 20)),
    runMany('outOfMemory', count('MEMORY', 20)),
  ]);
  const parts = [reportOf([one, other]), reportOf([hanging]), reportOf([full])] as const;
  const [killed, hung, outOfMemory] = parts;
  const browser = await runInBrowser(count('BROWSER', 5));
  const report = {
    simulated: true,
    loadAverage: { before: startLoad, after: loadavg()[0] },
    killed,
    hung,
    outOfMemory,
    browser,
  };
  writeFileSync(results, `${JSON.stringify(report, null, 2)}\n`);
  return {
    kills: killed.count,
    unguardedMostMs: Math.max(...parts.map((part) => part.unguardedMs.most)),
    hungBackMostMs: hung.watchedAgainMs.most,
    memoryBackMostMs: outOfMemory.watchedAgainMs.most,
    faults: parts.reduce(
      (all, part) => all + part.faults.length + part.failures.length,
      browser.faults.length,
    ),
  };
}
