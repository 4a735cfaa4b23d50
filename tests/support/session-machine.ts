// The session machine under exploration: the real hub on a fake clock with a store on disk, real page states fed by the real
// feed, and fast-check commands for everything that happens to them. Each command ends with the promises being checked.

import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import fc from 'fast-check';
import { HubError, told } from '../../hub/base/hub-error.ts';
import type { Clock } from '../../hub/base/ports/clock.ts';
import type { Store } from '../../hub/base/ports/store.ts';
import { Hub } from '../../hub/live/hub.ts';
import { initialSettings } from '../../hub/live/initial-settings.ts';
import { supervisionFileIn } from '../../hub/live/supervision-file.ts';
import { openSqliteStore } from '../../hub/recorder/sqlite-store.ts';
import { PageFeed } from '../../hub/server/page-feed.ts';
import type { DownMessage } from '../../shared/messages/down.ts';
import { wallMs } from '../../shared/units.ts';
import { pipelineFactory } from '../../src/pipeline.ts';
import { priorityRank } from '../../web/state/alarm-order.ts';
import { HubRequests } from '../../web/state/hub-requests.ts';
import { HubState } from '../../web/state/hub-state.ts';
import { MarkOutbox } from '../../web/state/mark-outbox.ts';
import { PlanRunFollower } from '../../web/state/plan-run-follower.ts';
import { createFakeClock } from './fake-clock.ts';
import { hearFeed, readFill } from './hear-feed.ts';
import { createScriptedSource, scriptedSensorIds } from './scripted-source.ts';
import { testLog } from './serve-test-hub.ts';

const noTimers = { nowMs: () => 0, after: () => () => undefined, every: () => () => undefined };
const floorPercent = 88;
/** As HubConnection: four missed heartbeats. */
const silentAfterMs = 2_000;

/** A clock that dies with its process: nothing of the dead is called again. */
function mortalClock(clock: Clock, wallShiftMs: () => number): Clock & { kill(): void } {
  const cancels = new Set<() => void>();
  let isDead = false;
  const kept = (cancel: () => void): (() => void) => {
    cancels.add(cancel);
    return () => {
      cancels.delete(cancel);
      cancel();
    };
  };
  return {
    nowMs: () => clock.nowMs(),
    wallNowMs: () => wallMs(clock.wallNowMs() + wallShiftMs()),
    every: (intervalMs, callback) => kept(clock.every(intervalMs, callback)),
    after: (delayMs, callback) => kept(clock.after(delayMs, callback)),
    soon: (callback) => clock.soon(() => !isDead && callback()),
    kill: () => {
      isDead = true;
      for (const cancel of cancels) cancel();
    },
  };
}

class ModelPage {
  readonly state = new HubState({
    outbox: new MarkOutbox(
      () => false,
      () => 'r',
    ),
    requests: new HubRequests({ send: () => false, timers: noTimers, newRequestId: () => 'r' }),
    planRun: new PlanRunFollower(noTimers),
  });
  readonly pageId: string;
  isConnected = false;
  lastHeardMs = Number.NEGATIVE_INFINITY;
  /** It draws its alarms. */
  shows = true;
  sounds = true;

  constructor(pageId: string) {
    this.pageId = pageId;
  }
}

export class World {
  readonly folder: string;
  readonly clock = createFakeClock();
  readonly pages = [new ModelPage('one'), new ModelPage('two')];
  hub: Hub | null = null;
  feed: PageFeed | null = null;
  #mortal: ReturnType<typeof mortalClock> | undefined;
  #store: Store | undefined;
  #source = createScriptedSource(this.clock);
  #diskFails = false;
  #wallShiftMs = 0;
  #nextId = 0;
  #odd = false;
  #countedSessionId: string | null = null;
  /** Seconds without a break for which the oximeter of a running session has read below the floor. */
  lowSeconds = 0;
  /** Sessions that ended against anyone's will and that no person has seen since. */
  readonly unseenEnds = new Set<string>();
  /** Sessions that the hub went on with by itself after it was gone, which no person has seen since. */
  readonly unseenGaps = new Set<string>();
  /** Sessions that a person ended. */
  readonly endedByPerson = new Set<string>();
  /** Seconds for which no page has shown its alarms and sounded. */
  unheardSeconds = 0;
  stepCount = 0;

  constructor() {
    this.folder = mkdtempSync(
      join(process.platform === 'linux' ? '/dev/shm' : tmpdir(), 'slackwater-model-'),
    );
  }

  async boot(): Promise<void> {
    this.#diskFails = false;
    const store = openSqliteStore({ directory: this.folder });
    if (store.listAthletes().length === 0) {
      for (const athleteId of ['mira', 'teo'])
        store.saveAthlete({ athleteId, name: athleteId, simulated: false, settings: initialSettings });
      for (const sensorId of Object.values(scriptedSensorIds)) store.assignSensor(sensorId, 'mira');
    }
    this.#store = store;
    this.#mortal = mortalClock(this.clock, () => this.#wallShiftMs);
    this.#source = createScriptedSource(this.clock);
    const hub = new Hub({
      clock: this.#mortal,
      pageClock: this.#mortal,
      store: this.#faulty(store),
      sources: [this.#source],
      createPipeline: pipelineFactory(),
      log: testLog,
      makeId: () => `${this.folder.slice(-6)}-${++this.#nextId}`,
      timeScale: 1,
      simulated: false,
      supervisionMemory: supervisionFileIn(this.folder),
    });
    this.hub = hub;
    const feed = new PageFeed(hub, 'model', 'run');
    this.feed = feed;
    feed.open();
    hearFeed(feed, (message) => {
      for (const page of this.pages) if (page.isConnected) this.#receive(page, message);
    });
    await hub.start();
    const resumedId = hub.session?.sessionId;
    if (resumedId !== undefined && this.unseenEnds.delete(resumedId)) this.unseenGaps.add(resumedId);
  }

  close(): void {
    this.#mortal?.kill();
    this.#store?.close();
    rmSync(this.folder, { recursive: true, force: true });
  }

  #faulty(store: Store): Store {
    const failing = new Set([
      'commit',
      'appendPacket',
      'saveMark',
      'saveHold',
      'saveAlarm',
      'startSession',
      'saveLinkEvent',
    ]);
    return new Proxy(store, {
      get: (target, name) => {
        const value = Reflect.get(target, name, target) as unknown;
        if (typeof value !== 'function') return value;
        if (this.#diskFails && failing.has(String(name)))
          return () => {
            throw new HubError('data.full', told('The disk is full.'));
          };
        return value.bind(target) as unknown;
      },
    });
  }

  #receive(page: ModelPage, message: DownMessage): void {
    page.lastHeardMs = this.clock.nowMs();
    page.state.apply(message, this.clock.nowMs());
  }

  connect(page: ModelPage): void {
    const { hub, feed } = this;
    if (hub === null || feed === null || page.isConnected) return;
    const { welcome, fill, session } = feed.welcome(page.state.resume());
    this.#receive(page, { ...welcome, role: 'coach', athleteIds: 'all', deviceId: null });
    for (const message of [...readFill(fill), session]) this.#receive(page, message);
    this.#receive(page, feed.supervision());
    page.isConnected = true;
    this.#look(page);
  }

  leave(page: ModelPage): void {
    page.isConnected = false;
    this.hub?.pageGone(page.pageId);
  }

  /** A page tells at once that its sound was taken away or came back (web/connection/tell-outputs.ts). */
  setSound(page: ModelPage, sounds: boolean): void {
    page.sounds = sounds;
    this.#look(page);
  }

  /** Somebody puts aside all that stands on this page. */
  acknowledge({ isConnected, state }: ModelPage): void {
    const { hub, unseenEnds, unseenGaps } = this;
    if (hub === null || !isConnected) return;
    for (const entry of state.alarmEntries.value) {
      if (entry.type === 'watch') {
        hub.acknowledgeSupervision([entry.alarm.alarmId]);
        const sessionId = entry.alarm.session?.sessionId;
        if (entry.alarm.kind === 'monitoringStopped' && sessionId !== undefined) unseenEnds.delete(sessionId);
        if (entry.alarm.kind === 'monitoringGap' && sessionId !== undefined) unseenGaps.delete(sessionId);
      } else
        for (const { athleteId, alarmId } of entry.presents)
          if (athleteId !== null) hub.acknowledge(athleteId, [alarmId]);
    }
    state.hush(state.ownSupervision.value.map(({ alarmId }) => alarmId));
  }

  /** Between two seconds too: a page that sounds will do while nothing is left to draw, and the hub counts anew from there. */
  listen(): void {
    if (this.#isHeard()) this.unheardSeconds = 0;
  }

  /** Some page sounds, and draws what nobody has put aside. */
  #isHeard(): boolean {
    const unseen = (this.hub?.snapshotOf('mira')?.alarms ?? []).some(({ acknowledged }) => !acknowledged);
    return this.pages.some((page) => page.isConnected && page.sounds && (page.shows || !unseen));
  }

  #look(page: ModelPage): void {
    const nowMs = this.clock.nowMs();
    if (page.lastHeardMs === Number.NEGATIVE_INFINITY) return;
    page.state.linkChanged(nowMs - page.lastHeardMs >= silentAfterMs ? 'silent' : 'live', nowMs);
    page.state.tick(nowMs);
    if (!page.isConnected || this.hub === null) return;
    const { alarmEntries, soundPriority } = page.state;
    const presented = page.shows ? alarmEntries.value.flatMap(({ presents }) => presents) : [];
    this.hub.pageState(page.pageId, {
      visible: true,
      soundReady: page.sounds,
      athleteIds: 'all',
      presented: presented
        .map(({ athleteId, alarmId }) => ({ athleteId, alarmIds: [alarmId] }))
        .reduce<{ athleteId: string | null; alarmIds: string[] }[]>((all, one) => {
          const same = all.find(({ athleteId }) => athleteId === one.athleteId);
          if (same === undefined) all.push(one);
          else same.alarmIds.push(...one.alarmIds);
          return all;
        }, []),
      sounding: page.sounds ? soundPriority.value : null,
    });
  }

  /** So many seconds, with a reading in each, or without when null. */
  pass(seconds: number, percent: number | null): void {
    for (let i = 0; i < seconds; i += 1) {
      this.#odd = !this.#odd;
      const sessionId = this.hub?.session?.sessionId ?? null;
      const isWatched = sessionId !== null;
      // Of another session nothing is counted on.
      if (sessionId !== this.#countedSessionId) this.lowSeconds = this.unheardSeconds = 0;
      this.#countedSessionId = sessionId;
      if (percent !== null && this.hub !== null) {
        this.#source.oximetry(percent, this.#odd ? 60 : 62);
        this.#source.heartRate(60);
      }
      this.lowSeconds = isWatched && percent !== null && percent < floorPercent ? this.lowSeconds + 1 : 0;
      this.clock.advance(1_000);
      for (const page of this.pages) this.#look(page);
      this.unheardSeconds = isWatched && !this.#isHeard() ? this.unheardSeconds + 1 : 0;
    }
  }

  setDisk(fails: boolean): void {
    this.#diskFails = fails;
  }

  get diskFails(): boolean {
    return this.#diskFails;
  }

  /** A session ended, and nobody had willed it. */
  endsUnasked(): void {
    const sessionId = this.hub?.session?.sessionId;
    if (sessionId !== undefined) this.unseenEnds.add(sessionId);
  }

  crash(): void {
    this.endsUnasked();
    // What a killed process had committed is there; its timers are not.
    this.#store?.commit();
    this.#mortal?.kill();
    this.#store?.close();
    this.#gone();
  }

  async stop(): Promise<void> {
    this.endsUnasked();
    await this.feed?.close();
    await this.hub?.stop();
    this.#mortal?.kill();
    this.#store?.close();
    this.#gone();
  }

  #gone(): void {
    this.hub = null;
    this.feed = null;
    this.lowSeconds = this.unheardSeconds = 0;
    for (const page of this.pages) page.isConnected = false;
  }

  sleepComputer(seconds: number): void {
    this.#wallShiftMs += seconds * 1_000;
    // The gap is an alarm of its own, which is asked for; what outputs do is judged from its end on.
    this.unheardSeconds = 0;
  }

  /** The promises. Throws the first that is broken. */
  check(): void {
    this.stepCount += 1;
    const { hub } = this;
    for (const page of this.pages) {
      const { state } = page;
      if (hub !== null && page.isConnected) this.#checkConnected(page, hub);
      else if (state.recording.value && this.clock.nowMs() - page.lastHeardMs >= silentAfterMs)
        promise(state.pageAlarm.value, 'a page that lost a running session does not alarm by itself');
    }
    if (hub === null) return;
    for (const sessionId of this.unseenEnds) {
      const alarm = hub.supervision.find(
        ({ kind, session }) => kind === 'monitoringStopped' && session?.sessionId === sessionId,
      );
      promise(alarm?.priority === 'high' && !alarm.acknowledged, `nobody is told that ${sessionId} ended`);
    }
    for (const sessionId of this.unseenGaps)
      promise(
        hub.supervision.some(
          ({ kind, session, acknowledged }) =>
            kind === 'monitoringGap' && session?.sessionId === sessionId && !acknowledged,
        ),
        `nobody is told that ${sessionId} was unwatched for a while`,
      );
    promise(
      hub.session === null || !this.endedByPerson.has(hub.session.sessionId),
      'a session that a person ended runs again',
    );
    if (hub.session === null || hub.session.sessionId !== this.#countedSessionId) return;
    const standing = hub.snapshotOf('mira')?.alarms ?? [];
    if (this.lowSeconds > 4)
      promise(
        standing.some(({ priority }) => priority === 'high'),
        `below the floor for ${this.lowSeconds} s and no high alarm`,
      );
    // Three seconds until a page counts as gone, two and a half to present, three until the alarm.
    if (this.unheardSeconds > 12)
      promise(
        standing.some(({ kind }) => kind === 'pageUnresponsive'),
        `nobody can hear for ${this.unheardSeconds} s and no alarm says so`,
      );
  }

  #checkConnected({ state, pageId }: ModelPage, hub: Hub): void {
    const running = hub.session?.sessionId ?? null;
    const believed = state.recording.value ? (state.session.value?.sessionId ?? null) : null;
    promise(believed === running, `page ${pageId} believes ${believed} runs, the hub runs ${running}`);
    const shown = new Map(
      state.alarmEntries.value.flatMap(({ presents, acknowledged }) =>
        presents.map(({ athleteId, alarmId }) => [`${athleteId}/${alarmId}`, acknowledged] as const),
      ),
    );
    let calls = 0;
    for (const athleteId of hub.session?.athleteIds ?? []) {
      const snapshot = hub.snapshotOf(athleteId);
      calls = Math.max(calls, priorityRank(snapshot?.sound.priority ?? null));
      for (const { alarmId, kind } of snapshot?.alarms ?? []) {
        promise(shown.has(`${athleteId}/${alarmId}`), `${kind} of ${athleteId} is not on page ${pageId}`);
      }
      const isPaused = (snapshot?.sound.audioPausedUntilMs ?? null) !== null;
      const unseen = (snapshot?.alarms ?? []).filter(({ acknowledged }) => !acknowledged);
      promise(
        unseen.length === 0 || isPaused || snapshot?.sound.priority !== null,
        `an alarm of ${athleteId} that nobody has seen is silent`,
      );
    }
    for (const alarm of hub.supervision) {
      promise(shown.has(`null/${alarm.alarmId}`), `${alarm.kind} is not on page ${pageId}`);
      if (!alarm.acknowledged) calls = Math.max(calls, priorityRank(alarm.priority));
    }
    promise(
      priorityRank(state.soundPriority.value) >= calls,
      `page ${pageId} sounds ${state.soundPriority.value}, less than what calls`,
    );
  }
}

function promise(holds: boolean, words: string): void {
  if (!holds) throw new Error(words);
}

type Model = object;
type Act = (world: World) => void | Promise<void>;

class Step implements fc.AsyncCommand<Model, World> {
  readonly #name: string;
  readonly #act: Act;
  constructor(name: string, act: Act) {
    this.#name = name;
    this.#act = act;
  }
  check(): boolean {
    return true;
  }
  async run(_model: Model, world: World): Promise<void> {
    await this.#act(world);
    world.listen();
    world.check();
  }
  toString(): string {
    return this.#name;
  }
}

const step = (name: string, act: Act) => fc.constant(new Step(name, act));
const onPage = (name: string, act: (page: ModelPage, world: World) => void) =>
  fc.nat({ max: 1 }).map((n) => new Step(`${name} ${n}`, (world) => act(world.pages[n]!, world)));

/** Everything that can happen. What cannot happen now does nothing, as when a person taps too late. */
export const happenings: readonly fc.Arbitrary<Step>[] = [
  fc
    .tuple(fc.integer({ min: 1, max: 6 }), fc.constantFrom(97, 93, 89, 86, 80))
    .map(([count, percent]) => new Step(`${count} s at ${percent}`, (world) => world.pass(count, percent))),
  fc
    .integer({ min: 1, max: 15 })
    .map((count) => new Step(`${count} s of silence`, (world) => world.pass(count, null))),
  step('session starts', ({ hub, unseenEnds }) => {
    const started = hub?.startSession(['mira', 'teo'], '');
    // A person watches the same people again: what had ended needs no more telling.
    if (started?.ok) unseenEnds.clear();
  }),
  step('session ends', ({ hub, endedByPerson }) => {
    const ended = hub?.endSession();
    if (ended?.ok) endedByPerson.add(ended.value.sessionId);
  }),
  step(
    'hold starts',
    ({ hub }) => void hub?.addMark({ athleteId: 'mira', kind: 'holdStart', atMs: null, text: null }),
  ),
  step(
    'hold ends',
    ({ hub }) => void hub?.addMark({ athleteId: 'mira', kind: 'holdEnd', atMs: null, text: null }),
  ),
  step(
    'answers',
    ({ hub }) => void hub?.addMark({ athleteId: 'mira', kind: 'answered', atMs: null, text: null }),
  ),
  onPage('connects', (page, world) => world.connect(page)),
  onPage('leaves', (page, world) => world.leave(page)),
  onPage('draws or not', (page) => {
    page.shows = !page.shows;
  }),
  onPage('sounds or not', (page, world) => world.setSound(page, !page.sounds)),
  onPage('acknowledges', (page, world) => world.acknowledge(page)),
  step('sound is paused', ({ hub }) => void hub?.pauseAudio('mira', true)),
  step('disk fails', (world) => world.setDisk(true)),
  step('disk works', (world) => world.setDisk(false)),
  step('the disk ends the session', (world) => {
    world.endsUnasked();
    world.hub?.endSession('diskFault');
  }),
  step('the hub crashes', (world) => {
    if (world.hub !== null) world.crash();
  }),
  step('the hub is stopped', async (world) => {
    if (world.hub !== null) await world.stop();
  }),
  step('the hub starts', async (world) => {
    if (world.hub === null) await world.boot();
  }),
  step('the hub starts again', async (world) => {
    if (world.hub === null) await world.boot();
    for (const page of world.pages) world.connect(page);
  }),
  step('the computer sleeps', (world) => world.sleepComputer(300)),
];

/** Runs commands on a fresh world; the number of steps that were checked. */
export async function explore(commands: Iterable<fc.AsyncCommand<Model, World>>): Promise<number> {
  const world = new World();
  try {
    await world.boot();
    for (const page of world.pages) world.connect(page);
    await fc.asyncModelRun(() => ({ model: {}, real: world }), commands);
    return world.stepCount;
  } finally {
    world.close();
  }
}
