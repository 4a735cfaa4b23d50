// A hub as it is put together for `slackwater start`, with simulated athletes in the radio's place, one of whom alarms every
// few seconds; sessions follow one another. It writes down when the packet of each alarm came, and a thread of it, as a page,
// when the alarm was heard. SIGUSR2: it ends its session, begins no other and
// writes down all that it has. SIMULATED.

import { appendFileSync, writeFileSync } from 'node:fs';
import { Worker } from 'node:worker_threads';
import { readConfig } from '../../../hub/base/config.ts';
import { systemClock } from '../../../hub/base/system-clock.ts';
import { bootHub } from '../../../hub/commands/compose.ts';
import { openThreadedStore } from '../../../hub/recorder/thread/threaded-store.ts';
import { acknowledgeAfterMs, FallingAthletes, isHolding, saveFallingAthletes } from '../falling-athletes.ts';

const athleteCount = Number(process.env['PARTITION_ATHLETES']);
const sessionMs = Number(process.env['PARTITION_SESSION_MS']);
const holdMs = 45_000;
/** An athlete's alarm must have passed before the next. */
const fallEveryMs = 24_000 / athleteCount;
const witnessPath = process.env['PARTITION_WITNESS'] ?? '';

/** The same for every process of this computer. */
const bootMs = (): number => Number(process.hrtime.bigint()) / 1e6;
const bootLessProcessMs = bootMs() - systemClock.nowMs();

const { config } = readConfig(process.argv.slice(2), process.env);
const store = await openThreadedStore({ directory: config.data, clock: systemClock, warn: console.error });
const athleteIds =
  store.listAthletes().length === 0
    ? saveFallingAthletes(store, athleteCount)
    : store.listAthletes().map(({ athleteId }) => athleteId);
const falling = new FallingAthletes(athleteCount);
const running = await bootHub({ config, clock: systemClock, store, sources: [falling], simulated: true });
const { hub } = running;

let isOver = false;
const known = new Set<string>();
hub.subscribe((event) => {
  if (event.type !== 'alarms') return;
  const { athleteId, alarms } = event;
  const keyOf = ({ alarmId, raisedAtMs }: (typeof alarms)[number]): string =>
    `${athleteId} ${alarmId} ${raisedAtMs}`;
  const fresh = alarms.find((alarm) => alarm.kind === 'floorBreached' && !known.has(keyOf(alarm)));
  for (const alarm of alarms) known.add(keyOf(alarm));
  if (fresh === undefined) {
    // What else arises is put aside, so that each alarm begins from silence.
    if (alarms.some(({ acknowledged, kind }) => !acknowledged && kind !== 'floorBreached'))
      setTimeout(() => hub.acknowledge(athleteId), 20);
    return;
  }
  setTimeout(() => hub.acknowledge(athleteId), acknowledgeAfterMs);
  const packetAtMs = falling.lastOximetryMs(athleteIds.indexOf(athleteId));
  // An alarm that time made, at a step between two packets, is none of a packet's.
  if (Math.abs(packetAtMs - (hub.session?.zeroMs ?? 0) - event.atMs) > 20) return;
  const line = { made: keyOf(fresh), atMs: packetAtMs + bootLessProcessMs };
  setImmediate(() => appendFileSync(witnessPath, `${JSON.stringify(line)}\n`));
});

function markHolds(kind: 'holdStart' | 'holdEnd'): void {
  athleteIds.forEach((athleteId, index) => {
    if (hub.session !== null && isHolding(index)) hub.addMark({ athleteId, kind, atMs: null, text: null });
  });
}

function begin(): void {
  if (isOver) return;
  if (hub.session === null) {
    const started = hub.startSession(athleteIds, 'SIMULATED');
    if (!started.ok) console.error(started.reason.said.code);
    markHolds('holdStart');
    setTimeout(() => markHolds('holdEnd'), holdMs);
  }
  setTimeout(() => {
    if (hub.session !== null) hub.endSession();
    setTimeout(begin, 500);
  }, sessionMs);
}
begin();
process.on('SIGUSR2', () => {
  isOver = true;
  if (hub.session !== null) hub.endSession();
  setTimeout(async () => {
    const sessions = await store.listSessions();
    writeFileSync(
      `${witnessPath}.sessions`,
      JSON.stringify(sessions.map(({ session }) => session.sessionId)),
    );
  }, 1_000);
});
let next = 0;
setInterval(() => {
  next += 2;
  if (hub.session !== null) falling.fall(next % athleteCount);
}, fallEveryMs);

new Worker(new URL('./partition-page.js', import.meta.url), {
  workerData: { link: running.linkWith(running.joining.ownPerson.linkCode()), witnessPath },
}).on('error', console.error);
process.on('SIGTERM', () => void running.stop().then(() => process.exit(0)));
process.stdout.write('runs\n');
