// A session of 24 hours in simulated time at the sensors' real rates (SIMULATED): three people with restless sensors, a hub
// with its database on disk, two pages at real sockets. Memory after collection, growth of the database, and every packet:
// `npx tsx tests/bench/soak-day.bench.ts [hours]`; 24 hours are written into soak-day-results.json.

import { execFileSync } from 'node:child_process';
import { mkdtempSync, readdirSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { availableParallelism, loadavg, tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { setFlagsFromString } from 'node:v8';
import { runInNewContext } from 'node:vm';
import type { SensorListener, SensorSource } from '../../hub/base/ports/sensor-source.ts';
import { Hub } from '../../hub/live/hub.ts';
import { initialSettings } from '../../hub/live/initial-settings.ts';
import { openSqliteStore } from '../../hub/recorder/sqlite-store.ts';
import { RecordedSessions } from '../../hub/recordings/recorded-sessions.ts';
import { heavyFaults, ordinaryFaults } from '../../hub/sensors/simulated/faults.ts';
import { scenarioAthletes } from '../../hub/sensors/simulated/scenario.ts';
import { SimulatedSource } from '../../hub/sensors/simulated/simulated-source.ts';
import { startHttpServer } from '../../hub/server/http-server.ts';
import { pipelineFactory } from '../../src/pipeline.ts';
import { createFakeClock } from '../support/fake-clock.ts';
import { inlineReview } from '../support/inline-review.ts';
import { openLivePage } from '../support/live-alarms/live-page.ts';
import { joiningOfTests, ownCookie } from '../support/own-person.ts';
import { testLog } from '../support/serve-test-hub.ts';

const hours = Number(process.argv[2] ?? 24);
const athleteCount = 3;
const acknowledgeEveryS = 30;
const cutEveryS = 3_600;
const sampleEveryS = 1_800;
const settleTurns = 3;

setFlagsFromString('--expose-gc');
const collect = runInNewContext('gc') as () => void;

const folder = mkdtempSync(join(tmpdir(), 'slackwater-day-'));
const clock = createFakeClock();
const store = openSqliteStore({ directory: folder });
const athletes = scenarioAthletes(athleteCount, 11).map((one, index) => ({
  ...one,
  faults: index === 1 ? heavyFaults : ordinaryFaults,
  linkLossesPerHour: 4,
}));
for (const { athleteId, name, strapSensorId, oximeterSensorId } of athletes) {
  store.saveAthlete({ athleteId, name, simulated: true, settings: initialSettings });
  for (const sensorId of [strapSensorId, oximeterSensorId]) store.assignSensor(sensorId, athleteId);
}

/** Counts what a source hands out. */
let delivered = 0;
let deliveredBytes = 0;
let linkChanges = 0;
const simulated = new SimulatedSource({ clock, athletes });
const counting: SensorSource = {
  source: simulated.source,
  start: (listener: SensorListener) =>
    simulated.start({
      ...listener,
      packet(packet) {
        if (hub.session !== null) {
          delivered += 1;
          deliveredBytes += packet.bytes.length;
        }
        listener.packet(packet);
      },
      sensorChanged(status, atMs) {
        linkChanges += 1;
        listener.sensorChanged(status, atMs);
      },
    }),
  stop: () => simulated.stop(),
  sessionStarted: (atMs) => simulated.sessionStarted(atMs),
  sessionEnded: () => simulated.sessionEnded(),
  deliverUntil: (untilMs) => simulated.deliverUntil(untilMs),
};
let nextId = 0;
const makeId = () => `id-${++nextId}`;
const hub = new Hub({
  clock,
  pageClock: clock,
  store,
  sources: [counting],
  createPipeline: pipelineFactory(),
  log: testLog,
  makeId,
  timeScale: 1,
  simulated: true,
  hubSoundCount: () => 1,
});
const server = await startHttpServer(
  {
    hub,
    store,
    recordings: new RecordedSessions(store, inlineReview),
    clock,
    log: testLog,
    hubVersion: 'bench',
  },
  {
    host: '127.0.0.1',
    port: 0,
    webDirectory: '/nonexistent',
    makeId,
    joining: joiningOfTests(clock, makeId),
  },
);
await hub.start();
const url = `http://127.0.0.1:${server.port}`;
const coach = openLivePage(url, ownCookie, clock, 'coach');
const second = openLivePage(url, ownCookie, clock, 'second');

async function step(byMs: number): Promise<void> {
  clock.advance(byMs);
  for (let quiet = 0; quiet < settleTurns; ) {
    const before = coach.receivedCount + second.receivedCount;
    await new Promise((resolve) => setImmediate(resolve));
    quiet = coach.receivedCount + second.receivedCount === before ? quiet + 1 : 0;
  }
}
while (coach.state.hub.value === null || second.state.hub.value === null)
  await new Promise((resolve) => setTimeout(resolve, 1));

const begun = hub.startSession(
  athletes.map(({ athleteId }) => athleteId),
  'SIMULATED day',
);
if (!begun.ok) throw new Error(begun.reason.code);
const { sessionId } = begun.value;

const databaseBytes = () =>
  readdirSync(folder).reduce((sum, name) => sum + statSync(join(folder, name)).size, 0);
const kinds: Record<string, number> = {};
const alarmIds = new Set<string>();
let silences = 0;
let wasLive = true;
hub.subscribe((event) => {
  if (event.type === 'alarms')
    for (const { alarmId, kind, priority } of event.alarms) {
      const key = `${event.athleteId}/${alarmId}`;
      if (alarmIds.has(key)) continue;
      alarmIds.add(key);
      kinds[`${kind} ${priority}`] = (kinds[`${kind} ${priority}`] ?? 0) + 1;
    }
});

interface DaySample {
  readonly atH: number;
  readonly heapMb: number;
  readonly rssMb: number;
  readonly databaseMb: number;
  readonly delivered: number;
}
const samples: DaySample[] = [];
const mb = (bytes: number) => Math.round(bytes / 104_857.6) / 10;
const begunMs = performance.now();
const cpuBefore = process.cpuUsage();
let cuts = 0;
for (let atS = 1; atS <= hours * 3_600; atS += 1) {
  await step(1_000);
  const isLive = coach.state.link.value === 'live';
  if (wasLive && !isLive) silences += 1;
  wasLive = isLive;
  if (atS % acknowledgeEveryS === 0)
    for (const { athleteId, alarms } of coach.state.athletes.value) {
      const unseen = alarms.value.filter(({ acknowledged }) => !acknowledged).map(({ alarmId }) => alarmId);
      if (unseen.length > 0)
        void coach.ask((requestId) => ({
          type: 'acknowledgeAlarms',
          requestId,
          athleteId,
          alarmIds: unseen,
        }));
    }
  if (atS % cutEveryS === 0) {
    second.cut();
    cuts += 1;
  }
  if (atS % sampleEveryS === 0) {
    collect();
    const { heapUsed, external, rss } = process.memoryUsage();
    samples.push({
      atH: atS / 3_600,
      heapMb: mb(heapUsed + external),
      rssMb: mb(rss),
      databaseMb: mb(databaseBytes()),
      delivered,
    });
    process.stderr.write(
      `${JSON.stringify(samples.at(-1))} ${Math.round((performance.now() - begunMs) / 1_000)} s\n`,
    );
  }
}
const ended = hub.endSession();
await step(1_000);
store.commit();
let storedCount = 0;
let storedBytes = 0;
for (const { bytes } of store.readPackets(sessionId)) {
  storedCount += 1;
  storedBytes += bytes.length;
}
const cpu = process.cpuUsage(cpuBefore);
const malformed = coach.malformedCount + second.malformedCount;
coach.close();
second.close();
await hub.stop();
await server.close();
store.close();
rmSync(folder, { recursive: true, force: true });

/** From the third hour on: what is kept once (lists, caches, compiled code) has been kept by then. */
const settled = samples.filter(({ atH }) => atH >= 3);
const [first, last] = [settled[0], settled.at(-1)];
const anHour = (of: (one: DaySample) => number): number | null =>
  first === undefined || last === undefined || last.atH <= first.atH
    ? null
    : Number(((of(last) - of(first)) / (last.atH - first.atH)).toFixed(2));
const results = {
  simulated: true,
  date: new Date().toISOString().slice(0, 10),
  commit: execFileSync('git', ['rev-parse', '--short', 'HEAD'], { encoding: 'utf8' }).trim(),
  node: process.version,
  cores: availableParallelism(),
  loadAverage: loadavg().map((load) => Number(load.toFixed(2))),
  hours,
  athletes: athleteCount,
  sessionEnded: ended.ok,
  processorSeconds: Math.round((cpu.user + cpu.system) / 1e6),
  packetsDelivered: delivered,
  packetsStored: storedCount,
  packetsLost: delivered - storedCount,
  bytesDelivered: deliveredBytes,
  bytesStored: storedBytes,
  databaseBytesAPacket:
    last === undefined ? null : Number(((last.databaseMb * 1_048_576) / last.delivered).toFixed(2)),
  databaseGrowthMbAnHour: anHour(({ databaseMb }) => databaseMb),
  heapGrowthMbAnHour: anHour(({ heapMb }) => heapMb),
  rssGrowthMbAnHour: anHour(({ rssMb }) => rssMb),
  linkChanges,
  cutsOfTheSecondPage: cuts,
  coachCalledTheHubSilent: silences,
  malformedMessages: malformed,
  messages: { coach: coach.receivedCount, second: second.receivedCount },
  alarms: Object.fromEntries(Object.entries(kinds).sort()),
  samples,
};
if (hours >= 24)
  writeFileSync(
    fileURLToPath(new URL('soak-day-results.json', import.meta.url)),
    `${JSON.stringify(results, null, 2)}\n`,
  );
process.stdout.write(`${JSON.stringify(results, null, 2)}\n`);
process.exit(0);
