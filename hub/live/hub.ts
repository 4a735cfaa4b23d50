// Wires sensors, store, sessions and pages together: the hub as one object that a server or a test drives.
// It decides nothing about signals; it says who may not do what, and makes sure that nothing fails in silence.

import type { DownMessage } from '../../shared/messages/down.ts';
import type { SensorsMessage } from '../../shared/messages/sensors.ts';
import type { WelcomeMessage } from '../../shared/messages/welcome.ts';
import { protocolVersion } from '../../shared/protocol-version.ts';
import { floorRangePercent } from '../../shared/schema-parts.ts';
import { type MonotonicMs, monotonicMs, type ProcessMs, percent } from '../../shared/units.ts';
import type {
  Athlete,
  AthleteSettings,
  AthleteState,
  HoldFeeling,
  MarkView,
  SessionView,
} from '../../shared/views.ts';
import { isFloorLoweredDuringHold } from '../../src/alarms/floor-setting.ts';
import type { PipelineFactory } from '../../src/pipeline.ts';
import type { SensorProfile } from '../../src/profiles/sensor-profile.ts';
import { failed, ok, type Result } from '../../src/result.ts';
import type { Clock, SensorListener, SensorSource, SensorStatus, Store } from '../base/ports.ts';
import { beginLiveSession, type LiveSession, type Refusal } from './live-session.ts';
import { createSensorRegistry, type SensorRegistry } from './sensor-registry.ts';
import { unknownAmongAthletes, unknownAthlete } from './unknown-athlete.ts';

/** Commit interval: with `advance` running too, at most this much is lost when the power goes. */
const commitIntervalMs = 250;
/** Pipelines step each 250 ms of their own time; telling it ten times as often keeps what silence decides within 25 ms. */
const advanceIntervalMs = 25;
/** Newest values and traces go out this often; alarms, holds and marks at once. */
const updateIntervalMs = 50;
/** A page is told twice a second that the hub lives; it alarms after 2 s of silence. */
const heartbeatIntervalMs = 500;
/** A page that has not said its state for this long no longer counts as an output (it says it every second). */
export const pageSilenceMs = 3_500;

export interface HubLog {
  info(message: string): void;
  warn(message: string): void;
  error(message: string, cause?: unknown): void;
}

export interface HubPorts {
  /** The session's clock: scaled in a demo or a fast replay. */
  readonly clock: Clock;
  /** The clock of people and pages, never scaled: heartbeats, commits and updates keep their real pace. */
  readonly pageClock: Clock;
  readonly store: Store;
  readonly sources: readonly SensorSource[];
  readonly createPipeline: PipelineFactory;
  /** What `createPipeline` reads sensors by; kept with each session. None when left out. */
  readonly profiles?: readonly SensorProfile[];
  readonly log: HubLog;
  /** Fresh unguessable ids. */
  readonly makeId: () => string;
  readonly hubVersion: string;
  readonly timeScale: number;
  /** The data are not of a person: a demo, or a replay of a simulated recording. Every page and recording says so. */
  readonly simulated: boolean;
  /** How many outputs of the hub itself can sound an alarm now; none when left out. */
  readonly hubSoundCount?: () => number;
}

/** Who gets a message: every page that may see the athlete, or every page when null. */
export type HubListener = (message: DownMessage, athleteId: string | null) => void;

/** What a page can do for the athletes it shows. */
export interface PageOutputs {
  readonly visible: boolean;
  readonly soundReady: boolean;
  readonly athleteIds: 'all' | readonly string[];
}

export interface Hub {
  start(): Promise<void>;
  stop(): Promise<void>;
  subscribe(listener: HubListener): () => void;
  welcome(resume: { sessionId: string; haveToMs: MonotonicMs } | null): {
    welcome: Omit<WelcomeMessage, 'role' | 'athleteIds' | 'deviceId'>;
    fill: DownMessage[];
  };
  startSession(athleteIds: readonly string[], title: string): Result<SessionView, Refusal>;
  endSession(): Result<SessionView, Refusal>;
  /** A plan says when a hold is to begin; without a session nothing follows. Not stored: the plan's run is. */
  expectHold(athleteId: string, startAtMs: ProcessMs, toleranceMs: number): void;
  addMark(request: {
    athleteId: string;
    kind: MarkView['kind'];
    atMs: MonotonicMs | null;
    text: string | null;
  }): Result<MarkView, Refusal>;
  /** `mayChange` says whose mark the asking page may take back; any, when left out. */
  removeMark(markId: string, mayChange?: (athleteId: string) => boolean): Result<MarkView, Refusal>;
  /** How a hold that is over felt. */
  rateHold(athleteId: string, holdId: string, feeling: HoldFeeling): Result<true, Refusal>;
  /** Those alarms, or all that stand when left out. `by`: a device's name, empty for the hub's own machine. */
  acknowledge(athleteId: string, alarmIds?: readonly string[], by?: string): Result<true, Refusal>;
  pauseAudio(athleteId: string, paused: boolean): Result<true, Refusal>;
  changeSettings(athleteId: string, settings: AthleteSettings): Result<Athlete, Refusal>;
  /** `simulated`: nobody real, as on a hub of simulated sensors or from a file that says SIMULATED. */
  addAthlete(name: string, settings?: AthleteSettings, simulated?: boolean): Result<Athlete, Refusal>;
  renameAthlete(athleteId: string, name: string, settings?: AthleteSettings): Result<Athlete, Refusal>;
  removeAthlete(athleteId: string): Result<true, Refusal>;
  /** With every recording, plan and entry of theirs (`Store.eraseAthlete`), also of one taken off the list before. */
  eraseAthlete(athleteId: string): Result<true, Refusal>;
  assignSensor(sensorId: string, athleteId: string | null): Result<true, Refusal>;
  pageState(pageId: string, outputs: PageOutputs): void;
  pageGone(pageId: string): void;
  readonly session: SessionView | null;
  readonly athletes: readonly Athlete[];
  /** The session's clock, scaled in a demo or a fast replay, and the clock of people. */
  readonly clock: Clock;
  readonly pageClock: Clock;
  readonly timeScale: number;
  sensors(): SensorsMessage;
  /** Things a person should know about the hub itself (a failed write, an interrupted session found at start). */
  readonly notices: readonly string[];
  addNotice(notice: string): void;
  /** Drops a notice once a person has read it. */
  dismissNotices(): void;
}

/** Settings a new athlete starts with. The floor's reasons stand at `floorRangePercent` and in the page's text. */
export const initialSettings: AthleteSettings = {
  // 88: four points (one Arms, ISO 80601-2-61) above the 84 % group mean at the end of prolonged dry holds of
  // trained divers (Perini 2008), so that a reading that is wrong by its declared accuracy still stops earlier.
  floorSpo2Percent: percent(floorRangePercent.initial),
  thresholdsPercent: [percent(95), percent(92), percent(90)],
  heartRateLowBpm: null,
  heartRateHighBpm: null,
  maxHoldDurationMs: null,
  forecastAlarm: 'medium',
};

/** Asks for all of a trace, a sample at the very start of the session included. */
const beforeEverything = monotonicMs(-1);

export function createHub(ports: HubPorts): Hub {
  const { clock, pageClock, store, sources, log } = ports;
  const listeners = new Set<HubListener>();
  const registry: SensorRegistry = createSensorRegistry(store.sensorAssignments());
  const athletes = new Map(store.listAthletes().map((athlete) => [athlete.athleteId, athlete]));
  const pages = new Map<string, PageOutputs & { heardAtMs: ProcessMs }>();
  const sourceNotices = new Map<SensorSource, string>();
  const stops: (() => void)[] = [];
  let notices: string[] = [
    ...store.notices,
    ...store.interruptedSessionIds.map(
      () =>
        'The hub stopped during a session. Everything committed before that is kept; find it under Recordings, marked interrupted.',
    ),
  ];
  let live: LiveSession | null = null;
  let sensorsChanged = false;
  let heartbeatSequence = 0;
  let storeFailing = false;
  let commitIsDue = false;

  function send(message: DownMessage, athleteId: string | null): void {
    for (const listener of listeners) {
      try {
        listener(message, athleteId);
      } catch (error) {
        // One broken page must not keep an alarm from the others.
        log.error('a page could not be told', error);
      }
    }
  }

  function sendForAthlete(message: DownMessage): void {
    send(
      message,
      'athleteId' in message ? message.athleteId : message.type === 'marked' ? message.mark.athleteId : null,
    );
  }

  function addNotice(notice: string): void {
    if (notices.includes(notice)) return;
    notices = [...notices, notice];
    sensorsChanged = true;
  }

  function storeFailed(error: unknown): void {
    log.error('the recording could not be written', error);
    const reason = error instanceof Error ? error.message : String(error);
    addNotice(
      `The recording can't be written. Monitoring and alarms go on, and the hub keeps trying. ${reason}`,
    );
    storeFailing = true;
  }

  /** Now, with everything due by now delivered: no person's request and no tick overtakes data of the past. */
  function present(): ProcessMs {
    const now = clock.nowMs();
    for (const source of sources) source.deliverUntil?.(now);
    return now;
  }

  function commit(durability: 'disk' | 'process' = 'disk'): void {
    try {
      store.commit(durability);
      if (storeFailing) {
        storeFailing = false;
        addNotice('The recording is being written again; what was held in memory has been saved.');
      }
    } catch (error) {
      storeFailed(error);
    }
  }

  /** What came in this turn of the loop is safe from a kill of the process by the next; the timer's commit makes it
   * safe from a power cut too. */
  function commitSoon(): void {
    if (commitIsDue) return;
    commitIsDue = true;
    pageClock.after(0, () => {
      commitIsDue = false;
      commit('process');
    });
  }

  function sensorsMessage(): SensorsMessage {
    const all = [...sourceNotices.values(), ...notices];
    return {
      type: 'sensors',
      sensors: registry.views(),
      radioNotice: all.length === 0 ? null : all.join(' '),
    };
  }

  function sessionMessage(): DownMessage {
    return { type: 'session', session: live?.view ?? null, athletes: [...athletes.values()] };
  }

  function countOutputs(athleteId: string): { living: number; soundReady: number } {
    let living = 0;
    let soundReady = ports.hubSoundCount?.() ?? 0;
    const now = pageClock.nowMs();
    for (const page of pages.values()) {
      if (now - page.heardAtMs > pageSilenceMs) continue;
      if (page.athleteIds !== 'all' && !page.athleteIds.includes(athleteId)) continue;
      // A hidden page may be throttled or asleep: it counts as present only while it is on the screen or sounding.
      if (page.visible || page.soundReady) living += 1;
      if (page.soundReady) soundReady += 1;
    }
    return { living, soundReady };
  }

  const listenTo = (source: SensorSource): SensorListener => ({
    packet(packet) {
      registry.countPacket(packet.sensorId, packet.receivedAtMs, clock.wallNowMs());
      if (live === null) return;
      live.packet(packet);
      commitSoon();
    },
    sensorChanged(status: SensorStatus, atMs) {
      const before = registry.status(status.sensorId);
      registry.update(status);
      sensorsChanged = true;
      if (before === undefined || before.link !== status.link) live?.link(status, atMs ?? present());
    },
    sensorGone(sensorId) {
      registry.forget(sensorId);
      sensorsChanged = true;
    },
    sourceNotice(notice) {
      if (notice === null) sourceNotices.delete(source);
      else sourceNotices.set(source, notice);
      sensorsChanged = true;
    },
    finished() {
      log.info('the replay has come to its end');
      // A replayed recording ends where its data end; a person may still look at the page.
      if (source.source === 'replay' && live !== null) endSession();
    },
    mark(mark) {
      if (live === null) return;
      const [athleteId] = live.view.athleteIds.includes(mark.athleteHint)
        ? [mark.athleteHint]
        : live.view.athleteIds;
      if (athleteId === undefined) return;
      live.addMark(
        { athleteId, kind: mark.kind, atMs: live.toSessionMs(mark.receivedAtMs), text: mark.text },
        mark.receivedAtMs,
      );
    },
  });

  function startSession(athleteIds: readonly string[], title: string): Result<SessionView, Refusal> {
    if (live !== null)
      return failed<Refusal>({
        code: 'sessionRunning',
        message: 'A session is already being recorded. End it first.',
      });
    const chosen = [...new Set(athleteIds)].map((id) => athletes.get(id));
    if (chosen.length === 0)
      return failed<Refusal>({ code: 'noAthletes', message: 'Choose at least one athlete.' });
    if (chosen.some((athlete) => athlete === undefined)) return failed<Refusal>(unknownAmongAthletes);
    const present = chosen.filter((athlete) => athlete !== undefined);
    const zeroMs = clock.nowMs();
    const sensors = present.flatMap((athlete) => registry.sensorsOf(athlete.athleteId));
    const notReal = sensors.map((sensor) => sensor.source).find((source) => source !== 'bluetooth');
    try {
      live = beginLiveSession(
        {
          sessionId: ports.makeId(),
          startedWallAtMs: clock.wallNowMs(),
          simulated: ports.simulated || present.some((athlete) => athlete.simulated),
          source: notReal === 'simulated' || notReal === 'replay' ? notReal : 'live',
          title: title.trim(),
          athletes: present.map((athlete) => ({ athlete, sensors: registry.sensorsOf(athlete.athleteId) })),
          profiles: ports.profiles ?? [],
        },
        zeroMs,
        {
          store,
          registry,
          createPipeline: ports.createPipeline,
          send: sendForAthlete,
          storeFailed,
          makeId: ports.makeId,
        },
      );
    } catch (error) {
      log.error('a session could not be started', error);
      const reason = error instanceof Error ? error.message : String(error);
      return failed<Refusal>({
        code: 'recorderFailed',
        message: `The recording can't be started: ${reason}`,
      });
    }
    for (const sensor of sensors) live.link(sensor, zeroMs);
    for (const source of sources) source.sessionStarted?.(zeroMs);
    send(sessionMessage(), null);
    return ok(live.view);
  }

  function endSession(): Result<SessionView, Refusal> {
    if (live === null)
      return failed<Refusal>({ code: 'noSession', message: 'No session is being recorded.' });
    const ending = live;
    const endedAtMs = present();
    // What was due may have ended the session already: a replay that came to its end.
    if (live !== ending) return ok(ending.view);
    for (const source of sources) source.sessionEnded?.();
    commit();
    let view = ending.view;
    try {
      view = ending.end(endedAtMs);
    } catch (error) {
      storeFailed(error);
    }
    live = null;
    send({ type: 'session', session: view, athletes: [...athletes.values()] }, null);
    return ok(view);
  }

  function inSession<Value>(
    action: (session: LiveSession) => Result<Value, Refusal>,
  ): Result<Value, Refusal> {
    return live === null
      ? failed<Refusal>({ code: 'noSession', message: 'No session is being recorded.' })
      : action(live);
  }

  function saveAthlete(athlete: Athlete): Result<Athlete, Refusal> {
    try {
      store.saveAthlete(athlete);
    } catch (error) {
      storeFailed(error);
      return failed<Refusal>({
        code: 'recorderFailed',
        message: 'The change could not be saved. Free some disk space and try again.',
      });
    }
    athletes.set(athlete.athleteId, athlete);
    send(sessionMessage(), null);
    return ok(athlete);
  }

  /** A floor is never lowered while an athlete holds or recovers: the wish for it may come from hypoxia itself. */
  function refuseSettings(before: Athlete, settings: AthleteSettings): Refusal | undefined {
    const floorLocked = live?.isFloorLocked(before.athleteId) ?? false;
    if (!isFloorLoweredDuringHold(before.settings, settings, floorLocked)) return undefined;
    return {
      code: 'floorLoweredDuringHold',
      message:
        'The floor can be raised at any time, but not lowered during a hold, in the minute after it, or while the floor alarm stands.',
    };
  }

  function changeAthlete(athleteId: string, change: (athlete: Athlete) => Athlete): Result<Athlete, Refusal> {
    const before = athletes.get(athleteId);
    if (before === undefined) return failed<Refusal>(unknownAthlete);
    const athlete = change(before);
    const refusal = refuseSettings(before, athlete.settings);
    if (refusal) return failed(refusal);
    const saved = saveAthlete(athlete);
    if (saved.ok) live?.changeSettings(athlete, present());
    return saved;
  }

  return {
    async start() {
      stops.push(
        pageClock.every(commitIntervalMs, () => commit()),
        pageClock.every(advanceIntervalMs, () => live?.advance(present())),
        pageClock.every(updateIntervalMs, () => {
          if (live !== null) for (const message of live.takeUpdates()) sendForAthlete(message);
        }),
        pageClock.every(heartbeatIntervalMs, () => {
          heartbeatSequence += 1;
          const atMs = live === null ? null : live.toSessionMs(clock.nowMs());
          send({ type: 'heartbeat', sequence: heartbeatSequence, wallNowMs: clock.wallNowMs(), atMs }, null);
          if (live !== null) {
            for (const athleteId of live.view.athleteIds) {
              const { living, soundReady } = countOutputs(athleteId);
              live.outputs(athleteId, living, soundReady, present());
            }
          }
        }),
        pageClock.every(1_000, () => {
          if (!sensorsChanged && live === null) return;
          sensorsChanged = false;
          send(sensorsMessage(), null);
        }),
      );
      for (const source of sources) {
        source.setWantedSensors?.(registry.assignedSensorIds());
        await source.start(listenTo(source));
      }
    },
    async stop() {
      if (live !== null) endSession();
      for (const stop of stops.splice(0)) stop();
      await Promise.allSettled(sources.map((source) => source.stop()));
      commit();
    },
    subscribe(listener) {
      listeners.add(listener);
      return () => listeners.delete(listener);
    },
    welcome(resume) {
      const fill: DownMessage[] = [];
      const states: AthleteState[] = [];
      const sinceMs =
        live !== null && resume?.sessionId === live.view.sessionId ? resume.haveToMs : beforeEverything;
      for (const athlete of athletes.values()) {
        const found = live?.stateOf(athlete.athleteId, sinceMs);
        if (found === undefined) continue;
        states.push(found.state);
        fill.push({
          type: 'trace',
          athleteId: athlete.athleteId,
          fromMs: monotonicMs(Math.max(0, found.fill.fromMs)),
          toMs: found.state.atMs,
          traces: found.fill.traces,
          thinnedCount: 0,
        });
      }
      return {
        fill: [...fill, sessionMessage()],
        welcome: {
          type: 'welcome',
          protocolVersion,
          hubVersion: ports.hubVersion,
          wallNowMs: clock.wallNowMs(),
          timeScale: ports.timeScale,
          simulated: ports.simulated,
          session: live?.view ?? null,
          athletes: states,
          sensors: registry.views(),
        },
      };
    },
    startSession,
    endSession,
    expectHold: (athleteId, startAtMs, toleranceMs) =>
      live?.expectHold(athleteId, startAtMs, toleranceMs, present()),
    addMark: (request) => inSession((session) => session.addMark(request, present())),
    removeMark: (markId, mayChange) =>
      inSession((session) => session.removeMark(markId, present(), mayChange)),
    rateHold: (athleteId, holdId, feeling) =>
      inSession((session) => session.rateHold(athleteId, holdId, feeling)),
    acknowledge: (athleteId, alarmIds, by) =>
      inSession((session) => session.acknowledge(athleteId, present(), alarmIds, by)),
    pauseAudio: (athleteId, paused) =>
      inSession((session) => session.pauseAudio(athleteId, paused, present())),
    changeSettings: (athleteId, settings) =>
      changeAthlete(athleteId, (athlete) => ({ ...athlete, settings })),
    addAthlete(name, settings = initialSettings, simulated = false) {
      return saveAthlete({ athleteId: ports.makeId(), name: name.trim(), simulated, settings });
    },
    renameAthlete(athleteId, name, settings) {
      return changeAthlete(athleteId, (athlete) => ({
        ...athlete,
        name: name.trim(),
        settings: settings ?? athlete.settings,
      }));
    },
    removeAthlete(athleteId) {
      if (!athletes.has(athleteId)) return failed<Refusal>(unknownAthlete);
      if (live?.view.athleteIds.includes(athleteId)) {
        return failed<Refusal>({
          code: 'sessionRunning',
          message: 'This athlete is in the running session. End it first.',
        });
      }
      store.removeAthlete(athleteId);
      athletes.delete(athleteId);
      send(sessionMessage(), null);
      return ok(true);
    },
    eraseAthlete(athleteId) {
      const isRecorded = store.listSessions().some(({ session }) => session.athleteIds.includes(athleteId));
      if (!athletes.has(athleteId) && !isRecorded) return failed<Refusal>(unknownAthlete);
      if (live !== null)
        return failed<Refusal>({
          code: 'sessionRunning',
          message: 'Recordings can be erased between sessions. End this one first.',
        });
      store.eraseAthlete(athleteId);
      athletes.delete(athleteId);
      for (const { sensorId } of registry.sensorsOf(athleteId)) registry.assign(sensorId, null);
      for (const source of sources) source.setWantedSensors?.(registry.assignedSensorIds());
      send(sessionMessage(), null);
      send(sensorsMessage(), null);
      return ok(true);
    },
    assignSensor(sensorId, athleteId) {
      if (athleteId !== null && !athletes.has(athleteId)) return failed<Refusal>(unknownAthlete);
      if (live !== null)
        return failed<Refusal>({
          code: 'sessionRunning',
          message: 'Sensors change hands between sessions. End this one first.',
        });
      store.assignSensor(sensorId, athleteId);
      registry.assign(sensorId, athleteId);
      for (const source of sources) source.setWantedSensors?.(registry.assignedSensorIds());
      sensorsChanged = true;
      send(sensorsMessage(), null);
      return ok(true);
    },
    pageState(pageId, outputs) {
      pages.set(pageId, { ...outputs, heardAtMs: pageClock.nowMs() });
    },
    pageGone(pageId) {
      pages.delete(pageId);
    },
    get session() {
      return live?.view ?? null;
    },
    get athletes() {
      return [...athletes.values()];
    },
    clock,
    pageClock,
    timeScale: ports.timeScale,
    sensors: sensorsMessage,
    get notices() {
      return notices;
    },
    addNotice,
    dismissNotices() {
      notices = [];
      sensorsChanged = true;
    },
  };
}
