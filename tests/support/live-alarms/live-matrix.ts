// The alarm matrix through whole hubs: each fault over each crossing, live from bytes and again from the recording that the
// live run wrote; when each page and each output presented a high alarm.

import { storedRecording } from '../../../hub/sensors/replay/stored-recording.ts';
import type { PipelineEvent } from '../../../src/pipeline.ts';
import { timeOfEvent } from '../../../src/sessions/merge-events.ts';
import { isCountedAlarm } from '../alarm-corpus/alarm-matrix.ts';
import type { Crossing } from '../alarm-corpus/crossings.ts';
import { matrixSettings } from '../alarm-corpus/fault-sequences.ts';
import type { ScriptedSensor } from '../scripted-source.ts';
import { type LiveFault, type Presenter, presenters } from './live-faults.ts';
import type { LivePage } from './live-page.ts';
import { type LiveWorld, openLiveWorld, watchedAthleteId } from './live-world.ts';

/** Of a crossing this much before the fall is played, and of the time below the floor this much is looked at. */
const beforeS = 66;
const longestLowS = 12;
/** Steps before and around the fall: the resolution of what is measured. */
const coarseMs = 1_000;
const fineMs = 100;
const fineBeforeMs = 12_000;

export type Way = 'live' | 'replayed';

/** Delay in s from the first clean reading below the floor; undefined where nothing was presented until 10 s after the last. */
export type Delays = Readonly<Partial<Record<Presenter, number>>>;

export interface CrossingRun {
  readonly delays: Delays;
  /** Null where the fault keeps them from being stored. */
  readonly packetsSent: number | null;
  readonly packetsStored: number | null;
}

/** The crossing with less of the time before it: what comes long before is the core's matrix's. */
function shortened(crossing: Crossing): Crossing {
  const fromS = Math.max(0, crossing.lowFromS - beforeS);
  const lowToS = Math.min(crossing.lowToS, crossing.lowFromS + longestLowS);
  return {
    ...crossing,
    readings: crossing.readings
      .filter(({ atS }) => atS > fromS && atS <= lowToS + 14)
      .map((reading) => ({ ...reading, atS: reading.atS - fromS })),
    holdStartS: Math.max(2, crossing.holdStartS - fromS),
    lowFromS: crossing.lowFromS - fromS,
    lowToS: lowToS - fromS,
  };
}

/** The sensors that a sequence knows. */
function wornIn(events: readonly PipelineEvent[]): ScriptedSensor[] {
  const worn = new Map<string, ScriptedSensor>();
  for (const event of events)
    if (event.type === 'packet' || event.type === 'link')
      worn.set(event.sensorId, {
        sensorId: event.sensorId,
        name: `SIMULATED ${event.sensorId}`,
        kind: event.sensorId === 'strap' ? 'heartRate' : 'oximeter',
      });
  return [...worn.values()];
}

/** What a sensor or a person does. A recording brings what sensors sent and what was marked by itself. */
function perform(event: PipelineEvent, { coach, phone, served }: LiveWorld, way: Way): void {
  const athleteId = watchedAthleteId;
  switch (event.type) {
    case 'packet':
      if (way === 'live') served.source.bytes(event.sensorId, event.characteristic, event.bytes);
      return;
    case 'link':
      if (way === 'live') served.source.link(event.sensorId, event.connected ? 'connected' : 'lost');
      return;
    case 'mark':
      if (way === 'live')
        coach.outbox.add(athleteId, event.mark.kind, event.mark.atMs, null, served.clock.nowMs());
      return;
    case 'markRemoved': {
      const mark = coach.outbox.own.value.findLast(({ kind }) => kind === 'holdStart');
      if (way === 'replayed') return;
      if (mark === undefined) throw new Error('nothing to take back');
      void coach.ask((requestId) => ({ type: 'removeMark', requestId, markId: mark.markId }));
      return;
    }
    case 'settings': {
      const { settings } = event;
      void coach.ask((requestId) => ({ type: 'changeSettings', requestId, athleteId, settings }));
      return;
    }
    case 'acknowledge': {
      const alarmIds = phone.state.alarmEntries.value.flatMap(({ presents }) =>
        presents.flatMap((one) => (one.athleteId === athleteId ? [one.alarmId] : [])),
      );
      if (alarmIds.length > 0)
        void phone.ask((requestId) => ({ type: 'acknowledgeAlarms', requestId, athleteId, alarmIds }));
      return;
    }
    case 'pauseAudio':
      void coach.ask((requestId) => ({ type: 'pauseAudio', requestId, athleteId, paused: event.paused }));
      return;
    case 'advance':
      return;
    default:
      throw new Error(`no way to perform ${event.type}`);
  }
}

const draws = (page: LivePage): boolean =>
  page.state.alarmEntries.value.some(
    (entry) => entry.type === 'athlete' && [entry.first, ...entry.more].some(isCountedAlarm),
  );

/** Follows who presents what, step by step. */
class Watcher {
  readonly #fromMs: number;
  readonly #untilMs: number;
  readonly #delays: Partial<Record<Presenter, number>> = {};
  readonly #words = new Map<Presenter, string>();
  readonly #heardHigh = new Set<Presenter>();
  /** Who has sounded the alarm that stands; one put aside by a person afterwards was sounded. */
  readonly #sounded = new Set<Presenter>();

  constructor({ lowFromS, lowToS }: Crossing) {
    this.#fromMs = lowFromS * 1_000;
    this.#untilMs = (lowToS + 10) * 1_000;
  }

  heard(output: Presenter, word: string): void {
    this.#words.set(output, word);
    if (word === 'high') this.#heardHigh.add(output);
  }

  look({ served, coach, phone }: LiveWorld, nowMs: number): void {
    const isStanding = (served.hub.snapshotOf(watchedAthleteId)?.alarms ?? []).some(isCountedAlarm);
    this.heard('coach sounds', coach.sounding ?? 'none');
    this.heard('phone sounds', phone.sounding ?? 'none');
    if (!isStanding) this.#sounded.clear();
    else
      for (const [output, word] of this.#words)
        if (word === 'high' || this.#heardHigh.has(output)) this.#sounded.add(output);
    this.#heardHigh.clear();
    if (nowMs < this.#fromMs || nowMs > this.#untilMs) return;
    const presenting = new Set<Presenter>(this.#sounded);
    if (isStanding) presenting.add('hub');
    if (draws(coach)) presenting.add('coach draws');
    if (draws(phone)) presenting.add('phone draws');
    for (const presenter of presenting) this.#delays[presenter] ??= (nowMs - this.#fromMs) / 1_000;
  }

  isOver(nowMs: number): boolean {
    return nowMs > this.#untilMs;
  }

  get delays(): Delays {
    return this.#delays;
  }
}

async function playCrossing(
  world: LiveWorld,
  watcher: Watcher,
  fault: LiveFault,
  crossing: Crossing,
  events: readonly PipelineEvent[],
  way: Way,
): Promise<string> {
  const { clock, served, coach } = world;
  void coach.ask((requestId) => ({
    type: 'startSession',
    requestId,
    athleteIds: [watchedAthleteId],
    title: 'SIMULATED matrix',
  }));
  await world.step(0);
  const { session } = served.hub;
  if (session === null) throw new Error('the session did not start');
  const fromActs = fault.acts.map(({ atS, act }) => ({
    atMs: (crossing.lowFromS + atS) * 1_000,
    act: () => act(world),
  }));
  const fromEvents = events
    .filter(({ type }) => type !== 'advance')
    .map((event) => ({ atMs: timeOfEvent(event) as number, act: () => perform(event, world, way) }));
  const acts = [...fromEvents, ...fromActs].sort((one, other) => one.atMs - other.atMs);
  // One timer for the next of them: a clock with a timer for each would look through them all at every tick.
  const goOn = (): void => {
    if (served.hub.session !== session) return;
    for (let next = acts[0]; next !== undefined; next = acts[0]) {
      const waitMs = session.zeroMs + next.atMs - clock.nowMs();
      if (waitMs > 0) {
        clock.after(waitMs, goOn);
        return;
      }
      acts.shift();
      next.act();
    }
  };
  goOn();
  const fromMs = crossing.lowFromS * 1_000;
  const expected = presenters.filter((one) => !fault.broken.includes(one));
  let allSinceMs: number | undefined;
  for (;;) {
    const nowMs = clock.nowMs() - session.zeroMs;
    watcher.look(world, nowMs);
    if (expected.every((one) => watcher.delays[one] !== undefined)) allSinceMs ??= nowMs;
    // A little longer, so that the recording that is replayed does not end with the alarm.
    if (
      watcher.isOver(nowMs) ||
      (allSinceMs !== undefined && nowMs >= Math.max(allSinceMs, fromMs + 4_000) + 2_000)
    )
      break;
    if (served.hub.session === null) break;
    const stepMs = nowMs < fromMs - fineBeforeMs ? coarseMs : fineMs;
    await world.step(Math.min(stepMs, stepMs - (nowMs % stepMs)));
  }
  served.hub.endSession();
  await world.step(fineMs);
  return session.sessionId;
}

/** Runs one crossing live, then replays what was recorded. `lanIn`: a folder for the certificate. */
export async function runCrossing(
  fault: LiveFault,
  whole: Crossing,
  lanIn: string,
): Promise<Partial<Record<Way, CrossingRun>>> {
  const crossing = shortened(whole);
  const events = fault.sensors.events(crossing);
  const settings = matrixSettings(crossing);
  const runs: Partial<Record<Way, CrossingRun>> = {};

  const watcher = new Watcher(crossing);
  const world = await openLiveWorld({
    lanIn,
    settings,
    worn: wornIn(events),
    heard: (output, word) => watcher.heard(output, word),
  });
  const sent = countPackets(world);
  const sessionId = await playCrossing(world, watcher, fault, crossing, events, 'live');
  expectUnderstood(world);
  if (fault.notRecorded === true) {
    await world.close();
    return { live: { delays: watcher.delays, packetsSent: null, packetsStored: null } };
  }
  world.store.commit();
  const stored = [...world.store.readPackets(sessionId)].length;
  runs.live = { delays: watcher.delays, packetsSent: sent(), packetsStored: stored };
  await world.close();

  const again = new Watcher(crossing);
  const replayWorld = await openLiveWorld({
    lanIn,
    settings,
    replay: storedRecording(world.store, sessionId),
    heard: (output, word) => again.heard(output, word),
  });
  const replayed = countPackets(replayWorld);
  const replayId = await playCrossing(replayWorld, again, fault, crossing, events, 'replayed');
  expectUnderstood(replayWorld);
  replayWorld.store.commit();
  runs.replayed = {
    delays: again.delays,
    packetsSent: replayed(),
    packetsStored: [...replayWorld.store.readPackets(replayId)].length,
  };
  await replayWorld.close();
  return runs;
}

/** Packets that the hub published for the athlete. */
function countPackets({ served }: LiveWorld): () => number {
  let count = 0;
  served.hub.subscribe((event) => {
    if (event.type === 'packet') count += 1;
  });
  return () => count;
}

function expectUnderstood({ coach, phone }: LiveWorld): void {
  if (coach.malformedCount + phone.malformedCount > 0) throw new Error('a page did not understand the hub');
}

export interface LiveRow {
  readonly fault: string;
  readonly way: Way;
  readonly crossings: number;
  /** Crossings where a page or output that was not broken presented no high alarm, with who did not. */
  readonly missed: readonly { readonly crossing: string; readonly who: readonly Presenter[] }[];
  /** Packets that were handed out and are not in the recording. */
  readonly packetsLost: number;
  readonly medianDelayS: Readonly<Partial<Record<Presenter, number>>>;
  readonly worstDelayS: Readonly<Partial<Record<Presenter, number>>>;
}

/** One row of the matrix for each way in which a fault was run. */
export function rowsOf(
  fault: LiveFault,
  runs: ReadonlyMap<string, Partial<Record<Way, CrossingRun>>>,
): LiveRow[] {
  const ways: readonly Way[] = fault.notRecorded === true ? ['live'] : ['live', 'replayed'];
  const expected = presenters.filter((one) => !fault.broken.includes(one));
  return ways.map((way) => {
    const of = [...runs].flatMap(([crossing, byWay]) => {
      const run = byWay[way];
      return run === undefined ? [] : [{ crossing, run }];
    });
    const delaysOf = (one: Presenter) => of.flatMap(({ run }) => run.delays[one] ?? []).sort((a, b) => a - b);
    return {
      fault: fault.name,
      way,
      crossings: of.length,
      missed: of.flatMap(({ crossing, run }) => {
        const who = expected.filter((one) => run.delays[one] === undefined);
        return who.length === 0 ? [] : [{ crossing, who }];
      }),
      packetsLost: of.reduce((sum, { run }) => sum + (run.packetsSent ?? 0) - (run.packetsStored ?? 0), 0),
      medianDelayS: Object.fromEntries(
        expected.map((one) => [one, delaysOf(one)[delaysOf(one).length >> 1]]),
      ),
      worstDelayS: Object.fromEntries(expected.map((one) => [one, delaysOf(one).at(-1)])),
    };
  });
}
