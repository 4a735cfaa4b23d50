// From the packet that makes an alarm so, arriving at a running hub with a session going, to that alarm painted and
// sounding in real Chromium pages: 20 athletes, 10 pages. Hub, store and sockets are the real ones, writes are durable.
//
// Clocks: hub and page run on one machine but count from different zeros. Their difference is taken from round trips
// between the two, the shortest of many, before and after; half that round trip bounds its error (`clockErrorMs`).
// Painted: the page's own time in the frame after the one that drew the alarm, so up to a frame too late, never early;
// the way from compositor to glass is not in it. Sounding: when the audio clock reaches the burst's first sample, plus
// what the browser says it needs to its device (base and output latency); the device and the air are not in it.

import { fork } from 'node:child_process';
import { once } from 'node:events';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Page } from 'playwright-core';
import { systemClock } from '../../hub/base/system-clock.ts';
import { Hub } from '../../hub/live/hub.ts';
import { openSqliteStore } from '../../hub/recorder/sqlite-store.ts';
import { RecordedSessions } from '../../hub/recordings/recorded-sessions.ts';
import { startHttpServer } from '../../hub/server/http-server.ts';
import { pipelineFactory } from '../../src/pipeline.ts';
import { launchChromium, openPage } from '../support/chromium-page.ts';
import { inlineReview } from '../support/inline-review.ts';
import { joiningOfTests, ownCookie, rememberOwnCookie } from '../support/own-person.ts';
import {
  acknowledgeAfterMs,
  alarmEveryMs,
  FallingAthletes,
  isHolding,
  saveFallingAthletes,
} from './falling-athletes.ts';
import { quantile } from './hub.bench.ts';

const webDirectory = new URL('../../dist/web/', import.meta.url).pathname;

export interface AlarmLatencyLoad {
  readonly athleteCount: number;
  /** Pages in all; the first `browserPageCount` are Chromium, the rest sockets in a process of their own. */
  readonly pageCount: number;
  /** The first shows the wall, each further one the live view of an athlete. */
  readonly browserPageCount: number;
  readonly alarmCount: number;
}

/** An alarm the hub told of, by the hub's clock. */
interface ToldAlarm {
  readonly athleteIndex: number;
  readonly packetAtMs: number;
  readonly sentAtMs: number;
}

/** What the script in each page writes down, by the page's clock. */
interface Witness {
  readonly painted: readonly { readonly who: string; readonly atMs: number }[];
  readonly sounded: readonly {
    readonly askedAtMs: number;
    readonly heardAtMs: number;
    readonly level: number;
  }[];
  readonly audioState: string;
}

/** `npm run bench alarmLatency`; `-- --pages=10` makes all ten Chromium, `--alarms=` sets how many. */
export async function benchAlarmLatency(): Promise<Record<string, number>> {
  const flag = (name: string, otherwise: number): number => {
    const word = process.argv.find((one) => one.startsWith(`--${name}=`))?.slice(name.length + 3);
    return Number(word ?? otherwise) || otherwise;
  };
  return measureAlarmLatency({
    athleteCount: 20,
    pageCount: 10,
    browserPageCount: Math.min(10, flag('pages', 2)),
    alarmCount: flag('alarms', 240),
  });
}

/** Takes about a second an alarm. Delays in ms over every Chromium page; the wall also by itself. */
export async function measureAlarmLatency(load: AlarmLatencyLoad): Promise<Record<string, number>> {
  const { athleteCount, alarmCount } = load;
  const directory = mkdtempSync(join(tmpdir(), 'slackwater-latency-'));
  const store = openSqliteStore({ directory });
  const athleteIds = saveFallingAthletes(store, athleteCount);
  const log = { info: () => undefined, warn: () => undefined, error: console.error };
  let id = 0;
  const makeId = () => {
    id += 1;
    return `id-${id}`;
  };
  const falling = new FallingAthletes(athleteCount);
  const hub = new Hub({
    clock: systemClock,
    pageClock: systemClock,
    store,
    sources: [falling],
    createPipeline: pipelineFactory(),
    log,
    makeId,
    timeScale: 1,
    simulated: true,
  });
  const server = await startHttpServer(
    {
      hub,
      store,
      recordings: new RecordedSessions(store, inlineReview),
      clock: systemClock,
      log,
      hubVersion: 'bench',
    },
    { host: '127.0.0.1', port: 0, webDirectory, makeId, joining: joiningOfTests(systemClock, makeId) },
  );
  rememberOwnCookie(`http://127.0.0.1:${server.port}`, ownCookie);
  await hub.start();
  const socketPageCount = load.pageCount - load.browserPageCount;
  const clients = fork(new URL('./dashboard-clients.ts', import.meta.url), [], {
    execArgv: ['--import', 'tsx'],
  });
  if (socketPageCount > 0) {
    const ready = once(clients, 'message');
    clients.send({ url: `ws://127.0.0.1:${server.port}/ws`, count: socketPageCount, cookie: ownCookie });
    await ready;
  }
  const sessionZeroMs = systemClock.nowMs();
  const started = hub.startSession(athleteIds, 'bench');
  if (!started.ok) throw new Error(started.reason.said.code);
  athleteIds.forEach((athleteId, index) => {
    if (isHolding(index)) hub.addMark({ athleteId, kind: 'holdStart', atMs: null, text: null });
  });

  const browser = await launchChromium();
  const pages: { readonly page: Page; readonly showsAthlete: number | null }[] = [];
  for (let index = 0; index < load.browserPageCount; index += 1) {
    const showsAthlete = index === 0 ? null : ((index - 1) * 2) % athleteCount;
    const path = showsAthlete === null ? 'wall' : `live/${athleteIds[showsAthlete]}`;
    const { page } = await openPage(browser, 'about:blank', {
      width: index === 0 ? 'desktop' : 'phone',
      isKept: true,
    });
    await page.addInitScript(witnessScript);
    await page.goto(`http://127.0.0.1:${server.port}/${path}`);
    await page.getByRole('button', { name: 'Play the alarm' }).click();
    await page.getByRole('button', { name: 'I heard it' }).click();
    pages.push({ page, showsAthlete });
  }
  await wait(3_000);

  const clocksBefore = [];
  for (const { page } of pages) clocksBefore.push(await clockOf(page));
  const told = await makeAlarms(hub, falling, athleteIds, alarmCount, sessionZeroMs);
  const clocksAfter = [];
  for (const { page } of pages) clocksAfter.push(await clockOf(page));

  const painted: number[] = [];
  const paintedWall: number[] = [];
  const sounding: number[] = [];
  const soundAsked: number[] = [];
  let missedPaint = 0;
  let missedSound = 0;
  let silentBursts = 0;
  let clockErrorMs = 0;
  for (const [index, { page, showsAthlete }] of pages.entries()) {
    const before = clocksBefore[index]!;
    const after = clocksAfter[index]!;
    const offsetMs = before.errorMs < after.errorMs ? before.offsetMs : after.offsetMs;
    clockErrorMs = Math.max(
      clockErrorMs,
      Math.min(before.errorMs, after.errorMs) + Math.abs(before.offsetMs - after.offsetMs),
    );
    const witness = await page.evaluate<Witness>('window.witness()');
    if (witness.audioState !== 'running') throw new Error(`a page's sound is ${witness.audioState}`);
    for (const { athleteIndex, packetAtMs } of told) {
      if (showsAthlete !== null && showsAthlete !== athleteIndex) continue;
      const within = (pageMs: number): boolean =>
        pageMs - offsetMs >= packetAtMs - 5 && pageMs - offsetMs < packetAtMs + alarmEveryMs;
      const paint = witness.painted.find((one) => one.who === athleteIds[athleteIndex] && within(one.atMs));
      if (paint === undefined) missedPaint += 1;
      else {
        painted.push(paint.atMs - offsetMs - packetAtMs);
        if (showsAthlete === null) paintedWall.push(paint.atMs - offsetMs - packetAtMs);
      }
      const sound = witness.sounded.find((one) => within(one.askedAtMs));
      if (sound === undefined) missedSound += 1;
      else {
        soundAsked.push(sound.askedAtMs - offsetMs - packetAtMs);
        sounding.push(sound.heardAtMs - offsetMs - packetAtMs);
        if (sound.level < 0.05) silentBursts += 1;
      }
    }
  }
  await browser.close();
  clients.kill();
  await hub.stop();
  await server.close();
  store.close();
  rmSync(directory, { recursive: true, force: true });
  const sent = told.map(({ sentAtMs, packetAtMs }) => sentAtMs - packetAtMs);
  return {
    athletes: athleteCount,
    pages: load.pageCount,
    chromiumPages: load.browserPageCount,
    alarms: told.length,
    alarmsSeenOnPages: painted.length,
    missedPaint,
    missedSound,
    silentBursts,
    clockErrorMs,
    packetToSentP50Ms: quantile(sent, 0.5),
    packetToSentP99Ms: quantile(sent, 0.99),
    packetToPaintedP50Ms: quantile(painted, 0.5),
    packetToPaintedP99Ms: quantile(painted, 0.99),
    packetToPaintedMaxMs: quantile(painted, 1),
    packetToPaintedWallP99Ms: quantile(paintedWall, 0.99),
    packetToSoundAskedP99Ms: quantile(soundAsked, 0.99),
    packetToSoundingP50Ms: quantile(sounding, 0.5),
    packetToSoundingP99Ms: quantile(sounding, 0.99),
    packetToSoundingMaxMs: quantile(sounding, 1),
  };
}

const wait = (ms: number) => new Promise<void>((resolve) => setTimeout(resolve, ms));

/** One athlete after another falls, alarms, is acknowledged and recovers. Only alarms that a packet made are kept. */
async function makeAlarms(
  hub: Hub,
  falling: FallingAthletes,
  athleteIds: readonly string[],
  alarmCount: number,
  sessionZeroMs: number,
): Promise<readonly ToldAlarm[]> {
  const told: ToldAlarm[] = [];
  const known = new Set<string>();
  const stopListening = hub.subscribe((message) => {
    if (message.type !== 'alarms') return;
    const fresh = message.alarms.some(
      ({ alarmId, kind }) => kind === 'floorBreached' && !known.has(`${message.athleteId} ${alarmId}`),
    );
    for (const { alarmId } of message.alarms) known.add(`${message.athleteId} ${alarmId}`);
    if (!fresh) {
      // What else arises (a forecast of the falls made here) is put aside, so that each alarm begins from silence.
      if (message.alarms.some(({ acknowledged, kind }) => !acknowledged && kind !== 'floorBreached'))
        setTimeout(() => hub.acknowledge(message.athleteId), 20);
      return;
    }
    const sentAtMs = systemClock.nowMs();
    const athleteIndex = athleteIds.indexOf(message.athleteId);
    const packetAtMs = falling.lastOximetryMs(athleteIndex);
    setTimeout(() => hub.acknowledge(message.athleteId), acknowledgeAfterMs);
    // An alarm that time made, at a step of the pipeline between two packets, is none of a packet's.
    if (Math.abs(packetAtMs - sessionZeroMs - message.atMs) < 20)
      told.push({ athleteIndex, packetAtMs, sentAtMs });
  });
  for (let index = 0; told.length < alarmCount && index < alarmCount * 2; index += 1) {
    falling.fall((index * 2) % athleteIds.length);
    await wait(alarmEveryMs);
  }
  await wait(3_000);
  stopListening();
  return told;
}

interface PageClock {
  /** Page's time less the hub's. */
  readonly offsetMs: number;
  readonly errorMs: number;
}

async function clockOf(page: Page): Promise<PageClock> {
  let best: PageClock = { offsetMs: Number.NaN, errorMs: Number.POSITIVE_INFINITY };
  for (let round = 0; round < 60; round += 1) {
    const fromMs = systemClock.nowMs();
    const pageMs = await page.evaluate<number>('performance.now()');
    const toMs = systemClock.nowMs();
    const errorMs = (toMs - fromMs) / 2;
    if (errorMs < best.errorMs) best = { offsetMs: pageMs - (fromMs + toMs) / 2, errorMs };
  }
  return best;
}

/** As text: what the bundler adds to a function does not exist in the page. */
const witnessScript = `(() => {
  const painted = [];
  const sounded = [];
  let context = null;
  let analyser = null;
  let quietBefore = 0;
  window.witness = () => ({ painted, sounded, audioState: context === null ? 'none' : context.state });
  const showing = new Set();
  const look = () => {
    const found = new Set();
    for (const tile of document.querySelectorAll('.tile--high:not(.is-acknowledged)')) found.add(tile.getAttribute('aria-label'));
    for (const alarm of document.querySelectorAll('.alarms .alarm--high:not(.is-acknowledged)'))
      found.add(location.pathname.split('/').pop());
    for (const who of showing) if (!found.has(who)) showing.delete(who);
    for (const who of found) {
      if (showing.has(who)) continue;
      showing.add(who);
      requestAnimationFrame(() => requestAnimationFrame(() => painted.push({ who, atMs: performance.now() })));
    }
  };
  new MutationObserver(look).observe(document, { subtree: true, childList: true, attributes: true, attributeFilter: ['class'] });
  const connect = AudioNode.prototype.connect;
  AudioNode.prototype.connect = function (to, ...rest) {
    if (to instanceof AudioDestinationNode && this !== analyser) {
      if (analyser === null) {
        context = this.context;
        analyser = context.createAnalyser();
        analyser.fftSize = 2048;
      }
      connect.call(this, analyser);
    }
    return connect.call(this, to, ...rest);
  };
  const start = OscillatorNode.prototype.start;
  OscillatorNode.prototype.start = function (at) {
    const askedAtMs = performance.now();
    const aheadMs = (at - this.context.currentTime) * 1000;
    // The first pulse of a burst that was not there before; those scheduled ahead lie further off.
    if (askedAtMs - quietBefore > 100 && aheadMs < 100) {
      const heardAtMs = askedAtMs + aheadMs + ((this.context.baseLatency || 0) + (this.context.outputLatency || 0)) * 1000;
      const entry = { askedAtMs, heardAtMs, level: 0 };
      sounded.push(entry);
      setTimeout(() => {
        const wave = new Float32Array(2048);
        analyser.getFloatTimeDomainData(wave);
        for (const value of wave) entry.level = Math.max(entry.level, Math.abs(value));
      }, aheadMs + 80);
    }
    quietBefore = askedAtMs;
    return start.call(this, at);
  };
})();`;

if (process.argv[1] === new URL(import.meta.url).pathname)
  console.log(JSON.stringify(await benchAlarmLatency(), null, 2));
