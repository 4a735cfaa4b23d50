// The hub under the load as a process of its own: pipeline, durable writing in its thread and sockets, as `slackwater start`
// puts them together. Tells the port, and on `cpu` the processor time so far.

import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { systemClock } from '../../../hub/base/system-clock.ts';
import { Hub } from '../../../hub/live/hub.ts';
import { initialSettings } from '../../../hub/live/initial-settings.ts';
import { openThreadedStore } from '../../../hub/recorder/thread/threaded-store.ts';
import { RecordedSessions } from '../../../hub/recordings/recorded-sessions.ts';
import { startHttpServer } from '../../../hub/server/http-server.ts';
import { pipelineFactory } from '../../../src/pipeline.ts';
import { inlineReview } from '../../support/inline-review.ts';
import { joiningOfTests, ownCookie } from '../../support/own-person.ts';
import { loadSource, type PeerLoad, waveSensorProfile } from './load.ts';

const load = JSON.parse(process.argv[2] ?? '{}') as PeerLoad;
const directory = mkdtempSync(join(tmpdir(), 'slackwater-peer-'));
const log = { info: () => undefined, warn: () => undefined, error: console.error };
const store = await openThreadedStore({ directory, clock: systemClock, warn: () => undefined });
const athleteIds = Array.from({ length: load.athleteCount }, (_, athlete) => `athlete-${athlete}`);
for (const [athlete, athleteId] of athleteIds.entries()) {
  store.saveAthlete({ athleteId, name: athleteId, simulated: false, settings: initialSettings });
  store.assignSensor(`heartRate-${athlete}`, athleteId);
  store.assignSensor(`oximeter-${athlete}`, athleteId);
}
let idCount = 0;
const makeId = (): string => `id-${++idCount}`;
const profiles = load.waves ? [waveSensorProfile] : [];
const hub = new Hub({
  clock: systemClock,
  pageClock: systemClock,
  store,
  sources: [loadSource(load)],
  createPipeline: pipelineFactory(profiles),
  profiles: () => profiles,
  log,
  makeId,
  timeScale: 1,
  simulated: false,
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
  {
    host: '127.0.0.1',
    port: 0,
    webDirectory: '/nonexistent',
    makeId,
    joining: joiningOfTests(systemClock, makeId),
  },
);
await hub.start();
const offsetMs = Number(process.hrtime.bigint()) / 1e6 - systemClock.nowMs();

process.on('message', (message: 'begin' | 'cpu' | 'end') => {
  if (message === 'begin') {
    const started = hub.startSession(athleteIds, 'bench');
    if (!started.ok) throw new Error(started.reason.said.code);
    process.send?.({ zeroMs: started.value.zeroMs + offsetMs });
  } else if (message === 'cpu') {
    const { user, system } = process.cpuUsage();
    process.send?.({ cpuMs: (user + system) / 1_000 });
  } else
    void (async () => {
      await hub.stop();
      await server.close();
      await store.close();
      rmSync(directory, { recursive: true, force: true });
      process.exit(0);
    })();
});
process.send?.({ port: server.port, cookie: ownCookie });
