// The alarm matrix through whole hubs: each fault over each crossing, live from bytes and again from the recording that the
// live run wrote; when each page and each output presented a high alarm.

import { setTimeout as pause } from 'node:timers/promises';
import type { Store } from '../../../hub/base/ports/store.ts';
import type { Recording } from '../../../hub/sensors/replay/recording.ts';
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
const quietBetweenS = 5;
/** The hub takes 40 requests a second of real time from a page: a person who presses each second must not be refused. */
const realMsASecond = 28;

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
    .map((event) => ({
      atMs: timeOfEvent(event) as number,
      act: () => perform(event, world, way),
      isRequest: event.type !== 'packet' && event.type !== 'link',
    }));
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
  const asksOften = fromEvents.filter(({ isRequest }) => isRequest).length > 20;
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
    const byMs = Math.min(stepMs, stepMs - (nowMs % stepMs));
    await world.step(byMs);
    if (asksOften) await pause((byMs / 1_000) * realMsASecond);
  }
  served.hub.endSession();
  await world.step(fineMs);
  return session.sessionId;
}

/** A hub for crossings one after another, each watched by a watcher of its own. */
class Stage {
  readonly #open: (heard: (output: Presenter, word: string) => void) => Promise<LiveWorld>;
  readonly #fault: LiveFault;
  #world: LiveWorld | undefined;
  #sent: () => number = () => 0;
  #watcher: Watcher | undefined;

  constructor(
    fault: LiveFault,
    open: (heard: (output: Presenter, word: string) => void) => Promise<LiveWorld>,
  ) {
    this.#fault = fault;
    this.#open = open;
  }

  async play(
    crossing: Crossing,
    events: readonly PipelineEvent[],
    way: Way,
  ): Promise<{ readonly run: CrossingRun; readonly sessionId: string; readonly store: Store }> {
    if (this.#world === undefined) {
      this.#world = await this.#open((output, word) => this.#watcher?.heard(output, word));
      this.#sent = countPackets(this.#world);
    }
    const world = this.#world;
    const set = world.served.hub.changeSettings(watchedAthleteId, matrixSettings(crossing));
    if (!set.ok) throw new Error(`settings refused: ${set.reason.code}`);
    // The hub counts a socket's messages by real time, which runs slower here: each crossing has sockets of its own.
    world.coach.cut();
    world.phone.cut();
    // What sounded before must be over, so that nothing but this crossing is heard.
    for (let quietS = 0; quietS < quietBetweenS; quietS += 1) await world.step(1_000);
    for (
      let waitS = 0;
      [world.coach, world.phone].some(({ state }) => state.link.value !== 'live');
      waitS += 1
    ) {
      if (waitS > 60) throw new Error('a page did not come back');
      await world.step(1_000);
    }
    if (world.served.hub.supervision.some(({ priority }) => priority === 'high'))
      throw new Error('an alarm of the watching itself would be heard instead');
    const watcher = new Watcher(crossing);
    this.#watcher = watcher;
    const sentBefore = this.#sent();
    const sessionId = await playCrossing(world, watcher, this.#fault, crossing, events, way);
    if (world.coach.malformedCount + world.phone.malformedCount > 0)
      throw new Error('a page did not understand the hub');
    const isStored = this.#fault.notRecorded !== true;
    if (isStored) world.store.commit();
    const run: CrossingRun = {
      delays: watcher.delays,
      packetsSent: isStored ? this.#sent() - sentBefore : null,
      packetsStored: isStored ? [...world.store.readPackets(sessionId)].length : null,
    };
    // What is broken for good is not mended: the next crossing gets a hub of its own.
    if (!isStored || this.#fault.broken.length > 0) await this.close();
    return { run, sessionId, store: world.store };
  }

  async close(): Promise<void> {
    const world = this.#world;
    this.#world = undefined;
    await world?.close();
  }
}

/** What is played next can be changed between sessions. */
class Switchable implements Recording {
  current: Recording | undefined;
  readonly sensors: Recording['sensors'];
  readonly simulated = true;
  readonly notices = [];
  constructor(sensors: Recording['sensors']) {
    this.sensors = sensors;
  }
  events() {
    return this.current?.events() ?? [];
  }
  get durationMs() {
    return this.current?.durationMs ?? 0;
  }
}

/** Runs each crossing live, then replays what was recorded. `lanIn`: a folder for the certificate. */
export async function runFault(
  fault: LiveFault,
  whole: readonly Crossing[],
  lanIn: string,
): Promise<ReadonlyMap<string, Partial<Record<Way, CrossingRun>>>> {
  const runs = new Map<string, Partial<Record<Way, CrossingRun>>>();
  const worn = wornIn(whole.flatMap((crossing) => fault.sensors.events(crossing)));
  const recording = new Switchable(
    worn.map(({ sensorId, name, kind }) => ({ sensorId, name, kinds: [kind] })),
  );
  const live = new Stage(fault, (heard) => openLiveWorld({ lanIn, worn, heard }));
  const replayed = new Stage(fault, (heard) => openLiveWorld({ lanIn, replay: recording, heard }));
  for (const one of whole) {
    const crossing = shortened(one);
    const events = fault.sensors.events(crossing);
    const first = await live.play(crossing, events, 'live');
    if (fault.notRecorded === true) {
      runs.set(one.name, { live: first.run });
      continue;
    }
    recording.current = storedRecording(first.store, first.sessionId);
    const again = await replayed.play(crossing, events, 'replayed');
    runs.set(one.name, { live: first.run, replayed: again.run });
  }
  await live.close();
  await replayed.close();
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
