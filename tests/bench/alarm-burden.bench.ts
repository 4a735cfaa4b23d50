// How often alarms call for a person in an hour of one athlete, by kind: the demo of twelve through the whole hub, the
// alarm bench's simulated sessions, and real people with and without holds marked over what their sensors sent.
// `npx tsx tests/bench/alarm-burden.bench.ts [demo|simulated|real]` prints it and writes tests/bench/alarm-burden-results.json.

import { readFileSync, writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { Hub } from '../../hub/live/hub.ts';
import { initialSettings } from '../../hub/live/initial-settings.ts';
import { openStoreInMemory } from '../../hub/recorder/sqlite-store.ts';
import { scenarioAthletes } from '../../hub/sensors/simulated/scenario.ts';
import { SimulatedSource } from '../../hub/sensors/simulated/simulated-source.ts';
import { monotonicMs } from '../../shared/units.ts';
import { createPipeline, type PipelineEvent, pipelineFactory } from '../../src/pipeline.ts';
import { type Burden, burdenOf, type Call, CallCounter } from '../support/alarm-corpus/alarm-burden.ts';
import { deepHolds, eventfulHour, eventsOf, troubledHolds } from '../support/alarm-corpus/alarm-corpus.ts';
import { createFakeClock } from '../support/fake-clock.ts';
import { type PeopleRecording, peopleRecordings } from './alarm-people.ts';

/** Somebody comes and puts aside what stands, so long after it called. As in the alarm bench. */
const acknowledgedAfterMs = 20_000;
const hourMs = 3_600_000;

/** What asks to stop. Who obeys breathes so long after it. */
const asksToStop: ReadonlySet<Call['kind']> = new Set(['floorForecast', 'floorBreached', 'noBreathingSign']);
const obeyedAfterMs = 3_000;

/**
 * An hour of the demo: sensors, faults, lost links and all, with a loudspeaker that works. The demo's athletes hear
 * nothing and go on holding; with `obey` they end the hold when an alarm asks for it.
 */
async function demoHour(athleteCount: number, seed: number, obey: boolean): Promise<Call[]> {
  const clock = createFakeClock();
  const store = openStoreInMemory();
  const athletes = scenarioAthletes(athleteCount, seed);
  for (const { athleteId, name, strapSensorId, oximeterSensorId } of athletes) {
    store.saveAthlete({ athleteId, name, simulated: true, settings: initialSettings });
    store.assignSensor(strapSensorId, athleteId);
    store.assignSensor(oximeterSensorId, athleteId);
  }
  const source = new SimulatedSource({ clock, athletes });
  let id = 0;
  const hub = new Hub({
    clock,
    pageClock: clock,
    store,
    sources: [source],
    createPipeline: pipelineFactory(),
    log: { info: () => undefined, warn: () => undefined, error: console.error },
    makeId: () => `id-${++id}`,
    timeScale: 1,
    simulated: true,
    hubSoundCount: () => 1,
  });
  const counters = new Map(athletes.map(({ athleteId }) => [athleteId, new CallCounter()]));
  const pending = new Set<string>();
  hub.subscribe((event) => {
    if (event.type !== 'alarms') return;
    const counter = counters.get(event.athleteId)!;
    const before = counter.calls.length;
    counter.take(event.atMs, event.alarms);
    if (obey && counter.calls.slice(before).some(({ kind }) => asksToStop.has(kind)))
      clock.after(obeyedAfterMs, () => source.steer(event.athleteId, 'endHold'));
    if (counter.calls.length === before || pending.has(event.athleteId)) return;
    pending.add(event.athleteId);
    clock.after(acknowledgedAfterMs, () => {
      pending.delete(event.athleteId);
      hub.acknowledge(event.athleteId);
    });
  });
  await hub.start();
  hub.startSession(
    athletes.map(({ athleteId }) => athleteId),
    'Burden',
  );
  clock.advance(hourMs);
  await hub.stop();
  return [...counters.values()].flatMap(({ calls }) => calls);
}

function callsOf(events: readonly PipelineEvent[]): Call[] {
  const pipeline = createPipeline(initialSettings);
  const counter = new CallCounter();
  let acknowledgeAtMs = Number.POSITIVE_INFINITY;
  const take = (outputs: ReturnType<typeof pipeline.push>): void => {
    for (const output of outputs) {
      if (output.type !== 'alarms') continue;
      const before = counter.calls.length;
      counter.take(output.atMs, output.alarms);
      if (counter.calls.length > before)
        acknowledgeAtMs = Math.min(acknowledgeAtMs, output.atMs + acknowledgedAfterMs);
    }
  };
  for (const event of events) {
    const nowMs = 'atMs' in event ? event.atMs : 0;
    if (nowMs >= acknowledgeAtMs) {
      acknowledgeAtMs = Number.POSITIVE_INFINITY;
      take(pipeline.push({ type: 'acknowledge', atMs: monotonicMs(nowMs) }));
    }
    take(pipeline.push(event));
  }
  return counter.calls;
}

/** Of every four minutes the third and half of the fourth are marked as a hold, which it is not. */
const markedEveryMs = 240_000;
const markedFromMs = 120_000;
const markedForMs = 90_000;

/** What a real person's sensors sent, with both linked, and with `holds` marked over it. */
function eventsOfPerson({ samples }: PeopleRecording, holds: boolean): PipelineEvent[] {
  const events: PipelineEvent[] = [];
  const zeroMs = samples[0]?.atMs ?? 0;
  const lastMs = samples.at(-1)?.atMs ?? 0;
  for (const [sensorId, measure] of [
    ['strap', 'heartRate'],
    ['oximeter', 'oximeter'],
  ] as const)
    if (samples.some((one) => one.sensorId === sensorId))
      events.push({
        type: 'link',
        atMs: monotonicMs(0),
        sensorId,
        measures: [measure],
        connected: true,
      });
  for (const sample of samples)
    events.push({ type: 'sample', sample: { ...sample, atMs: monotonicMs(sample.atMs - zeroMs) } });
  const timed = events.map((event) => ({ event, atMs: event.type === 'sample' ? event.sample.atMs : 0 }));
  if (holds)
    for (let fromMs = markedFromMs; fromMs + markedForMs < lastMs - zeroMs; fromMs += markedEveryMs)
      for (const [kind, atMs] of [
        ['holdStart', fromMs],
        ['holdEnd', fromMs + markedForMs],
      ] as const)
        timed.push({
          event: { type: 'mark', mark: { markId: `${kind}-${atMs}`, kind, atMs: monotonicMs(atMs) } },
          atMs,
        });
  return timed.sort((one, other) => one.atMs - other.atMs).map(({ event }) => event);
}

function printed(name: string, burden: Burden): void {
  const { hours, mediumOrHighPerHour, ofTheseFloorPerHour, ofTheseOthersPerHour, lowPerHour, byKind } =
    burden;
  console.log(
    `\n${name}: ${hours} athlete-hours; an hour ${mediumOrHighPerHour} medium or high ` +
      `(${ofTheseFloorPerHour} of the floor, ${ofTheseOthersPerHour} neither the floor's nor the forecast's), ${lowPerHour} low`,
  );
  for (const [kind, perHour] of Object.entries(byKind))
    console.log(`  ${kind.padEnd(52)} ${perHour.toFixed(2)}`);
}

const asked = process.argv[2];
const results: Record<string, Burden> = {};
const add = (name: string, calls: readonly Call[], hours: number): void => {
  if (hours === 0) return;
  results[name] = burdenOf(calls, hours);
  printed(name, results[name]);
};
const wants = (name: string): boolean => asked === undefined || name.startsWith(asked);

if (wants('demo')) {
  const seeds = [1, 2, 3];
  for (const obey of [false, true]) {
    const calls: Call[] = [];
    for (const seed of seeds) calls.push(...(await demoHour(12, seed, obey)));
    add(`demo of 12, SIMULATED${obey ? ', who obey' : ''}`, calls, 12 * seeds.length);
  }
}
if (wants('simulated')) {
  const corpora = [
    ['deep holds', 1_000, 24, (seed: number) => deepHolds(seed, initialSettings.floorSpo2Percent)],
    ['troubled holds', 2_000, 16, (seed: number) => troubledHolds(seed, initialSettings.floorSpo2Percent)],
    ['eventful hour', 3_000, 16, eventfulHour],
  ] as const;
  for (const [name, seed, count, make] of corpora) {
    const sessions = Array.from({ length: count }, (_, index) => make(seed + index));
    add(
      `simulated ${name}`,
      sessions.flatMap(({ simulated }) =>
        callsOf(eventsOf(simulated, false)).map((call) => ({
          ...call,
          isOfTrueHold:
            call.kind === 'noBreathingSign' &&
            simulated.truth.holds.some(({ startMs, endMs }) => call.atMs >= startMs && call.atMs <= endMs),
        })),
      ),
      sessions.reduce((sum, { simulated }) => sum + simulated.durationMs / hourMs, 0),
    );
  }
}
if (wants('real')) {
  const folder =
    process.env['SLACKWATER_DATASETS'] ?? fileURLToPath(new URL('../../../shared/datasets', import.meta.url));
  for (const set of ['bidmc', 'noneeg', 'stress', 'normal-nights', 'controlled-desaturation']) {
    const recordings = [...peopleRecordings(folder, set)];
    const hours = recordings.reduce(
      (sum, { samples }) => sum + ((samples.at(-1)?.atMs ?? 0) - (samples[0]?.atMs ?? 0)) / hourMs,
      0,
    );
    for (const holds of [false, true])
      add(
        `real ${set}${holds ? ', holds marked over it' : ''}`,
        recordings.flatMap((recording) => callsOf(eventsOfPerson(recording, holds))),
        hours,
      );
  }
}
const file = fileURLToPath(new URL('alarm-burden-results.json', import.meta.url));
/** What was, before alarms of one cause were told once, stays beside what is now. */
const kept = JSON.parse(readFileSync(file, 'utf8')) as Record<string, { before?: Burden; now: Burden }>;
for (const [name, now] of Object.entries(results)) kept[name] = { ...kept[name], now };
writeFileSync(file, `${JSON.stringify(kept, null, 2)}\n`);
