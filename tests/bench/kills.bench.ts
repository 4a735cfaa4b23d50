// The processes of a running hub killed, stalled and stopped at chance moments of a simulated session, each 200 times: the hub
// (the recorder is a thread of it) and its watchdog. Written to kills-results.json; what each counts stands in README.md.

import { writeFileSync } from 'node:fs';
import { loadavg } from 'node:os';
import { setTimeout as pause } from 'node:timers/promises';
import { buildHub } from '../support/hub-process.ts';
import { endProcess, type Lacking, WatchedHub } from './kills-hub.ts';

const results = new URL('./kills-results.json', import.meta.url).pathname;
/** BENCH_KILLS=5 takes five of each instead of 200, where time is short. */
const each = Number(process.env['BENCH_KILLS'] ?? 200);
const laneCount = Number(process.env['BENCH_KILLS_LANES'] ?? 2);
const speed = 8;
/** What the watchdog promises. */
const soundWithinMs = 3_000;
/** So many faults on one hub, then a fresh one: its archive is looked at. */
const faultsOfOneHub = 20;

class Tally {
  count = 0;
  confirmedMarks = 0;
  confirmedReadings = 0;
  lostMarks = 0;
  lostReadings = 0;
  readonly faults: string[] = [];
  readonly afterMs: Record<string, number[]> = {};

  took(name: string, ms: number | undefined): void {
    const list = this.afterMs[name] ?? [];
    this.afterMs[name] = list;
    list.push(ms ?? Number.POSITIVE_INFINITY);
  }

  archive(watched: WatchedHub, lacking: Lacking, statuses: readonly string[]): void {
    const { marks, readingsAtMs } = watched.confirmed();
    this.confirmedMarks += marks.length;
    this.confirmedReadings += readingsAtMs.length;
    this.lostMarks += lacking.marks;
    this.lostReadings += lacking.readings;
    if (lacking.fault !== null) this.faults.push(lacking.fault);
    else if (!statuses.includes(lacking.status ?? '')) this.faults.push(`status ${lacking.status}`);
  }

  report() {
    const { count, confirmedMarks, confirmedReadings, lostMarks, lostReadings, faults } = this;
    const times = Object.fromEntries(
      Object.entries(this.afterMs).map(([name, list]) => {
        const sorted = list.toSorted((a, b) => a - b);
        const at = (part: number) => {
          const ms = sorted[Math.min(sorted.length - 1, Math.floor(part * sorted.length))] ?? 0;
          return Number.isFinite(ms) ? Math.round(ms) : null;
        };
        return [
          name,
          { median: at(0.5), most: at(1), neverCount: list.filter((ms) => !Number.isFinite(ms)).length },
        ];
      }),
    );
    const late = (this.afterMs['watchdogSounds'] ?? []).filter((ms) => ms > soundWithinMs).length;
    return {
      count,
      confirmedMarks,
      confirmedReadings,
      lostMarks,
      lostReadings,
      faults,
      ...(this.afterMs['watchdogSounds'] !== undefined && { soundedLateCount: late }),
      timesMs: times,
    };
  }
}

const chance = (fromMs: number, toMs: number): number => fromMs + Math.random() * (toMs - fromMs);

async function killHub(tally: Tally): Promise<void> {
  const watched = await WatchedHub.start(speed);
  const watchdog = watched.hub.watchdogPid()!;
  await watched.markFor(chance(50, 1_500));
  const atWallMs = Date.now();
  await watched.hub.kill();
  const soundedAtMs = await watched.soundedBy(watchdog, atWallMs, 10_000);
  tally.took('watchdogSounds', soundedAtMs === undefined ? undefined : soundedAtMs - atWallMs);
  endProcess(watchdog);
  // What else the page was told before the end is in its socket.
  await watched.page.closed;
  tally.archive(watched, watched.lacking(), ['interrupted']);
  tally.count += 1;
  watched.remove();
}

async function stopHub(tally: Tally): Promise<void> {
  const watched = await WatchedHub.start(speed);
  const watchdog = watched.hub.watchdogPid()!;
  await watched.markFor(chance(50, 1_500));
  const atWallMs = Date.now();
  const startedAtMs = performance.now();
  const status = await watched.hub.stop('SIGTERM');
  tally.took('hubEnds', performance.now() - startedAtMs);
  if (status !== 0) tally.faults.push(`ended with ${status}`);
  if ((await watched.soundedBy(watchdog, atWallMs + 1_500, 700)) !== undefined)
    tally.faults.push('the watchdog sounded for a hub that ended in order');
  tally.archive(watched, watched.lacking(), ['ended']);
  tally.count += 1;
  endProcess(watchdog);
  watched.remove();
}

/** Faults after which the hub goes on, then its end in order and a look at the archive. */
async function onOneHub(
  tally: Tally,
  times: number,
  fault: (watched: WatchedHub) => Promise<void>,
): Promise<void> {
  const watched = await WatchedHub.start(speed);
  for (let i = 0; i < times; i++) {
    await watched.markFor(chance(50, 800));
    await fault(watched);
    tally.count += 1;
  }
  await watched.markSaved();
  const status = await watched.hub.stop('SIGTERM');
  if (status !== 0) tally.faults.push(`ended with ${status}`);
  tally.archive(watched, watched.lacking(), ['ended']);
  watched.remove();
}

const stallHub =
  (tally: Tally) =>
  async (watched: WatchedHub): Promise<void> => {
    const watchdog = await watched.watchdogListens();
    const atWallMs = Date.now();
    watched.hub.signal('SIGSTOP');
    const soundedAtMs = await watched.soundedBy(watchdog, atWallMs, 6_000);
    tally.took('watchdogSounds', soundedAtMs === undefined ? undefined : soundedAtMs - atWallMs);
    await pause(chance(0, 500));
    watched.hub.signal('SIGCONT');
    const goesOnAtMs = performance.now();
    await watched.markSaved();
    tally.took('markIsSavedAgain', performance.now() - goesOnAtMs);
    if (watched.hub.watchdogPid() !== watchdog) tally.faults.push('a watchdog that was well was replaced');
  };

/** `expected`: by which code the hub says what is wrong. */
const hitWatchdog =
  (tally: Tally, signal: 'SIGKILL' | 'SIGSTOP' | 'SIGTERM', expected: string) =>
  async (watched: WatchedHub): Promise<void> => {
    const before = watched.page.received.length;
    const hit = await watched.watchdogListens();
    const startedAtMs = performance.now();
    process.kill(hit, signal);
    for (;;) {
      const told = watched.page.received
        .slice(before)
        .find(
          (message) =>
            message.type === 'supervision' &&
            message.alarms.some(
              ({ subject, reason }) => subject?.code === 'output.watchdog' && reason?.code === expected,
            ),
        );
      if (told !== undefined) break;
      if (performance.now() - startedAtMs > 30_000) {
        tally.faults.push('the hub did not notice');
        endProcess(hit);
        return;
      }
      await pause(10);
    }
    tally.took('hubNotices', performance.now() - startedAtMs);
    await watched.watchdogListens(hit);
    tally.took('anotherListens', performance.now() - startedAtMs);
  };

export async function benchKills(): Promise<Record<string, number>> {
  if (process.platform !== 'linux') throw new Error('needs Linux');
  buildHub();
  const loadBefore = loadavg();
  const startedAtMs = performance.now();
  const tallies = new Map<string, Tally>();
  const waiting: (() => Promise<void>)[] = [];
  const add = (name: string, times: number, work: (tally: Tally) => Promise<void>): void => {
    const tally = tallies.get(name) ?? new Tally();
    tallies.set(name, tally);
    for (let i = 0; i < times; i++)
      waiting.push(() =>
        work(tally).catch((error: unknown) => {
          tally.faults.push(`the bench: ${String(error).slice(0, 300)}`);
        }),
      );
  };
  const addOnOneHub = (
    name: string,
    fault: (tally: Tally) => (watched: WatchedHub) => Promise<void>,
  ): void => {
    for (let left = each; left > 0; left -= faultsOfOneHub)
      add(name, 1, (tally) => onOneHub(tally, Math.min(left, faultsOfOneHub), fault(tally)));
  };
  add('hubKilled', each, killHub);
  add('hubStopped', each, stopHub);
  addOnOneHub('hubStalled', stallHub);
  addOnOneHub('watchdogKilled', (tally) => hitWatchdog(tally, 'SIGKILL', 'watchdog.ended'));
  addOnOneHub('watchdogStalled', (tally) => hitWatchdog(tally, 'SIGSTOP', 'watchdog.hung'));
  addOnOneHub('watchdogStopped', (tally) => hitWatchdog(tally, 'SIGTERM', 'watchdog.ended'));
  const write = (): void =>
    writeFileSync(
      results,
      `${JSON.stringify(
        {
          wantedOfEach: each,
          speed,
          lanes: laneCount,
          minutes: Math.round((performance.now() - startedAtMs) / 60_000),
          loadAverage: { before: loadBefore.map(rounded), after: loadavg().map(rounded) },
          ...Object.fromEntries([...tallies].map(([name, tally]) => [name, tally.report()])),
        },
        null,
        2,
      )}\n`,
    );
  const lane = async (): Promise<void> => {
    // At chance, so that a run that is cut short has some of each.
    for (;;) {
      const [next] = waiting.splice(Math.floor(Math.random() * waiting.length), 1);
      if (next === undefined) return;
      await next();
      write();
      process.stderr.write(`${[...tallies].map(([name, { count }]) => `${name} ${count}`).join(', ')}\n`);
    }
  };
  await Promise.all(Array.from({ length: laneCount }, lane));
  const sum = (pick: (tally: Tally) => number): number =>
    [...tallies.values()].reduce((total, tally) => total + pick(tally), 0);
  return {
    faultCount: sum(({ count }) => count),
    confirmedMarks: sum((tally) => tally.confirmedMarks),
    lostMarks: sum((tally) => tally.lostMarks),
    confirmedReadings: sum((tally) => tally.confirmedReadings),
    lostReadings: sum((tally) => tally.lostReadings),
    badCount: sum((tally) => tally.faults.length),
  };
}

const rounded = (load: number): number => Math.round(load * 100) / 100;
