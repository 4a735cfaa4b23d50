// The hub under load: athletes with strap and oximeter, dashboards in another process; packet to socket, and what it
// costs. Durable writes are on.

import { fork } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { monitorEventLoopDelay } from 'node:perf_hooks';
import type { SensorListener, SensorSource } from '../../hub/base/ports/sensor-source.ts';
import { systemClock } from '../../hub/base/system-clock.ts';
import { prepareLanAccess } from '../../hub/devices/lan/lan-access.ts';
import { Hub } from '../../hub/live/hub.ts';
import { initialSettings } from '../../hub/live/initial-settings.ts';
import { openSqliteStore } from '../../hub/recorder/sqlite-store.ts';
import { RecordedSessions } from '../../hub/recordings/recorded-sessions.ts';
import { startHttpServer } from '../../hub/server/http-server.ts';
import { pipelineFactory } from '../../src/pipeline.ts';
import { inlineReview } from '../support/inline-review.ts';
import { joiningOfTests, ownCookie } from '../support/own-person.ts';
import { announceSensors, benchSensorKinds } from './bench-sensors.ts';

export interface HubLoad {
  readonly athleteCount: number;
  readonly pageCount: number;
  readonly runMs: number;
  /** Other devices are let in over TLS. */
  readonly devicesJoin?: boolean;
  /** Begins something while the load runs, given an onlooker's cookie; what it answers with ends it. */
  readonly during?: (lanPort: number, onlookerCookie: string) => () => void;
}

const wait = (ms: number) => new Promise<void>((resolve) => setTimeout(resolve, ms));

/** The value below which a share of the sorted values lies. */
export function quantile(values: readonly number[], share: number): number {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))] ?? Number.NaN;
}

/** Each sensor sends once a second, all at different moments; every tenth second one athlete falls below the floor. */
function loadSource(athleteCount: number): SensorSource {
  const timers: NodeJS.Timeout[] = [];
  return {
    source: 'bluetooth',
    async start(listener: SensorListener) {
      for (let athlete = 0; athlete < athleteCount; athlete += 1) {
        announceSensors(listener, athlete);
        for (const kind of benchSensorKinds) {
          const sensorId = `${kind}-${athlete}`;
          let second = athlete;
          const send = () => {
            second += 1;
            const low = second % 40 > 30;
            const bytes =
              kind === 'heartRate'
                ? Uint8Array.of(0x16, 60 + (second % 5), 0, 4)
                : Uint8Array.of(0, low ? 85 : 97, 0, 60, 0);
            listener.packet({
              sensorId,
              characteristic: kind === 'heartRate' ? '2a37' : '2a5f',
              bytes,
              receivedAtMs: systemClock.nowMs(),
            });
          };
          setTimeout(
            () => timers.push(setInterval(send, 1_000)),
            (athlete * 2 + (kind === 'heartRate' ? 1 : 0)) * 25,
          );
        }
      }
    },
    async stop() {
      for (const timer of timers) clearInterval(timer);
    },
  };
}

/** The coach's own page asks for the athletes twice a second: how long that takes, and how often it fails. */
function askNowAndThen(port: number): { end(): { tookMs: number[]; refused: number } } {
  const tookMs: number[] = [];
  let refused = 0;
  const timer = setInterval(() => {
    const fromMs = performance.now();
    void fetch(`http://127.0.0.1:${port}/api/athletes`, { headers: { cookie: ownCookie } }).then(
      async (answer) => {
        await answer.text();
        if (answer.ok) tookMs.push(performance.now() - fromMs);
        else refused += 1;
      },
      () => {
        refused += 1;
      },
    );
  }, 500);
  return {
    end() {
      clearInterval(timer);
      return { tookMs, refused };
    },
  };
}

export const benchHub = (): Promise<Record<string, number>> =>
  measureHub({ athleteCount: 20, pageCount: 10, runMs: 20_000 });

/** Runs the load for its time. `alarmMessagesMissed` is 0 when every dashboard got every alarm message that was sent. */
export async function measureHub(load: HubLoad): Promise<Record<string, number>> {
  const { athleteCount, pageCount, runMs } = load;
  const directory = mkdtempSync(join(tmpdir(), 'slackwater-bench-'));
  const store = openSqliteStore({ directory });
  const athleteIds: string[] = [];
  for (let i = 0; i < athleteCount; i += 1) {
    const athleteId = `athlete-${i}`;
    athleteIds.push(athleteId);
    store.saveAthlete({ athleteId, name: athleteId, simulated: false, settings: initialSettings });
    store.assignSensor(`heartRate-${i}`, athleteId);
    store.assignSensor(`oximeter-${i}`, athleteId);
  }
  const log = { info: () => undefined, warn: () => undefined, error: console.error };
  let id = 0;
  const makeId = () => {
    id += 1;
    return `id-${id}`;
  };
  const hub = new Hub({
    clock: systemClock,
    pageClock: systemClock,
    store,
    sources: [loadSource(athleteCount)],
    createPipeline: pipelineFactory(),
    log,
    makeId,
    timeScale: 1,
    simulated: false,
  });
  const lan = load.devicesJoin
    ? await prepareLanAccess({
        dataDirectory: directory,
        host: '127.0.0.1',
        port: 0,
        clock: systemClock,
        log,
      })
    : null;
  const joining = joiningOfTests(systemClock, makeId, lan);
  const server = await startHttpServer(
    {
      hub,
      store,
      recordings: new RecordedSessions(store, inlineReview),
      clock: systemClock,
      log,
      hubVersion: 'bench',
    },
    { host: '127.0.0.1', port: 0, webDirectory: '/nonexistent', makeId, joining },
  );
  await hub.start();
  const clients = fork(new URL('./dashboard-clients.ts', import.meta.url), [], {
    execArgv: ['--import', 'tsx'],
  });
  await new Promise<void>((resolve) => {
    clients.on('message', (message) => message === 'ready' && resolve());
    clients.send({ url: `ws://127.0.0.1:${server.port}/ws`, count: pageCount, cookie: ownCookie });
  });
  const offsetMs = Number(process.hrtime.bigint()) / 1e6 - systemClock.nowMs();
  const zeroMs = systemClock.nowMs();
  let alarmsSent = 0;
  hub.subscribe((message) => {
    if (message.type === 'alarms') alarmsSent += 1;
  });
  const started = hub.startSession(athleteIds, 'bench');
  if (!started.ok) throw new Error(started.reason.said.code);
  clients.send({ zeroMs: zeroMs + offsetMs });
  const made = joining.devices.makeCode('onlooker', null);
  const code = made.ok ? made.value.code : '';
  const joined = await joining.devices.join({ code, deviceName: '', address: '' });
  const cookie = joined.ok ? `__Host-slackwater=${joined.value.token}` : '';
  const stopMeanwhile = load.during?.(server.lanPort ?? 0, cookie);
  const loop = monitorEventLoopDelay({ resolution: 5 });
  loop.enable();
  const others = askNowAndThen(server.port);
  const cpuBefore = process.cpuUsage();
  await wait(runMs);
  const cpu = process.cpuUsage(cpuBefore);
  loop.disable();
  const asked = others.end();
  stopMeanwhile?.();
  const report = new Promise<{
    delaysMs: Record<'alarm' | 'latest', number[]>;
    messageCount: number;
    byteCount: number;
    alarmCounts: number[];
  }>((resolve) => clients.once('message', (message) => resolve(message as never)));
  // What is on its way may arrive.
  const sentBeforeEnd = alarmsSent;
  await wait(500);
  clients.send('report');
  const { delaysMs, messageCount, byteCount, alarmCounts } = await report;
  clients.kill();
  await hub.stop();
  await server.close();
  store.close();
  rmSync(directory, { recursive: true, force: true });
  return {
    athletes: athleteCount,
    dashboards: pageCount,
    alarmMessages: delaysMs.alarm.length,
    alarmMessagesMissed: alarmCounts.reduce((sum, count) => sum + Math.max(0, sentBeforeEnd - count), 0),

    alarmPacketToSocketP50Ms: quantile(delaysMs.alarm, 0.5),
    alarmPacketToSocketP99Ms: quantile(delaysMs.alarm, 0.99),
    alarmPacketToSocketMaxMs: quantile(delaysMs.alarm, 1),
    latestPacketToSocketP50Ms: quantile(delaysMs.latest, 0.5),
    latestPacketToSocketP99Ms: quantile(delaysMs.latest, 0.99),
    stallMaxMs: loop.max / 1e6,
    stallP99Ms: loop.percentile(99) / 1e6,
    othersAskMaxMs: quantile(asked.tookMs, 1),
    othersRefused: asked.refused,
    messagesPerSecond: messageCount / (runMs / 1_000),
    bytesPerMessage: byteCount / messageCount,
    hubCpuPercent: ((cpu.user + cpu.system) / 1_000 / runMs) * 100,
  };
}
