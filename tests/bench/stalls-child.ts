// A hub with a session of four simulated athletes running, while recordings are read, removed, copied and taken in, and
// while the disk is slow. Says on its output the longest pause of the thread that carries alarms during each.

import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { monitorEventLoopDelay } from 'node:perf_hooks';
import { setTimeout as pause } from 'node:timers/promises';
import type { HubStore } from '../../hub/base/ports/hub-store.ts';
import { systemClock } from '../../hub/base/system-clock.ts';
import { Hub } from '../../hub/live/hub.ts';
import { initialSettings } from '../../hub/live/initial-settings.ts';
import { writeBackupFile } from '../../hub/recorder/backup/backup-file.ts';
import { openSqliteStore } from '../../hub/recorder/sqlite-store.ts';
import { openThreadedStore } from '../../hub/recorder/thread/threaded-store.ts';
import { belongingsOf } from '../../hub/recordings/athlete-belongings.ts';
import { RecordedSessions } from '../../hub/recordings/recorded-sessions.ts';
import { createReviewThread } from '../../hub/recordings/review/review-thread.ts';
import { scenarioAthletes } from '../../hub/sensors/simulated/scenario.ts';
import { SimulatedSource } from '../../hub/sensors/simulated/simulated-source.ts';
import { pipelineFactory } from '../../src/pipeline.ts';
import { testLog } from '../support/serve-test-hub.ts';

const [where, directory, control, recorderEntry, reviewEntry] = process.argv.slice(2);
if (
  directory === undefined ||
  control === undefined ||
  recorderEntry === undefined ||
  reviewEntry === undefined
)
  throw new Error('started by the bench');

/** The longest pause in ms while `work` runs, and a moment after it. */
async function longestStall(work: () => Promise<unknown>): Promise<number> {
  await pause(300);
  const delay = monitorEventLoopDelay({ resolution: 1 });
  delay.enable();
  await work();
  await pause(300);
  delay.disable();
  return delay.max / 1e6;
}

const store: HubStore =
  where === 'main'
    ? openSqliteStore({ directory })
    : await openThreadedStore({ directory, entry: recorderEntry, clock: systemClock, warn: () => undefined });
const athletes = scenarioAthletes(4, 7);
for (const { athleteId, name, strapSensorId, oximeterSensorId } of athletes) {
  store.saveAthlete({ athleteId, name, simulated: true, settings: initialSettings });
  for (const sensorId of [strapSensorId, oximeterSensorId]) store.assignSensor(sensorId, athleteId);
}
let nextId = 0;
const hub = new Hub({
  clock: systemClock,
  pageClock: systemClock,
  store,
  sources: [new SimulatedSource({ clock: systemClock, athletes })],
  createPipeline: pipelineFactory(),
  log: testLog,
  makeId: () => `id-${nextId++}`,
  timeScale: 1,
  simulated: true,
});
const recordings = new RecordedSessions(
  store,
  createReviewThread({ clock: systemClock, warn: () => undefined, entry: reviewEntry }),
);
await hub.start();
hub.startSession(
  athletes.map(({ athleteId }) => athleteId),
  'Stalls',
);
await pause(2_000);

const stalls: Record<string, number> = {};
const measure = async (name: string, work: () => Promise<unknown>): Promise<void> => {
  stalls[name] = await longestStall(work);
};
const page = { urgency: 'page' } as const;
await measure('recordingOnlyMs', () => pause(3_000));
await measure('listMs', async () => store.listSessions());
await measure('openHourMs', () => recordings.read('hour', page));
await measure('openLongMs', () => recordings.read('long', page));
await measure('tracesOfLongMs', () => recordings.traces('long', 'mira', 'raw', page));
await measure('belongingsMs', () => belongingsOf(store, [], 'mira', 0));
await measure('backupMs', () => writeBackupFile(store, join(directory, '..', 'copy.backup')));
await measure('deleteLongMs', async () => store.deleteSession('long'));
await measure('eraseAthleteMs', async () => store.eraseAthlete('mira'));
for (const slowMs of [500, 4_000]) {
  await measure(`syncOf${slowMs}Ms`, async () => {
    writeFileSync(control, `slow ${slowMs}`);
    await pause(2_000 + 2 * slowMs);
    writeFileSync(control, '');
  });
  await pause(4_000);
}
process.stdout.write(`${JSON.stringify(stalls)}\n`);
process.exit(0);
