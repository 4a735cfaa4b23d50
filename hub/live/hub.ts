// Sensors, store, sessions and listeners as one object that a server or a test drives. It decides nothing about signals;
// it says who may not do what, and makes sure that nothing fails in silence.

import type { EmergencyCardRequest } from '../../shared/course.ts';
import { type Said, said } from '../../shared/said.ts';
import type { MonotonicMs, ProcessMs } from '../../shared/units.ts';
import type {
  Athlete,
  AthleteSettings,
  HoldFeeling,
  PairingAnswer,
  SensorView,
  SessionLeader,
  SupervisionAlarm,
} from '../../shared/views.ts';
import { isFloorLoweredDuringHold } from '../../src/alarms/floor-setting.ts';
import type { PipelineEvent, PipelineFactory, PipelineOptions } from '../../src/pipeline.ts';
import type { SensorProfile } from '../../src/profiles/sensor-profile.ts';
import { failed, ok, type Result } from '../../src/result.ts';
import type { Sample } from '../../src/samples/sample.ts';
import { faultSaid, HubError } from '../base/hub-error.ts';
import type { HubLog } from '../base/log.ts';
import type { BootClock } from '../base/ports/boot-clock.ts';
import type { Clock } from '../base/ports/clock.ts';
import type { HubStore } from '../base/ports/hub-store.ts';
import type {
  RadioStatus,
  SameSensor,
  SensorListener,
  SensorSource,
  SensorStatus,
} from '../base/ports/sensor-source.ts';
import type { SessionStart } from '../base/ports/session-log.ts';
import type { Refusal } from '../base/refusal.ts';
import { ServiceScope } from '../base/service-scope.ts';
import { ledUnderNameOf } from '../recorder/led-by.ts';
import { storedPriorOf } from '../recorder/stored-prior.ts';
import { AnsweringSensors } from './answering-sensors.ts';
import { AthleteRegister } from './athlete-register.ts';
import { AlarmDrill } from './course/alarm-drill.ts';
import { CoachMail } from './course/coach-mail.ts';
import { CoursePapers } from './course/course-papers.ts';
import { ExchangeWatch, lookIntervalMs } from './exchange-watch.ts';
import { unfitSensor } from './fit-sensors.ts';
import { HubNotices } from './hub-notices.ts';
import { initialSettings } from './initial-settings.ts';
import type { LiveEvent, LiveListener, Session, SessionEnding, SessionMark } from './live-event.ts';
import { LiveEvents } from './live-events.ts';
import { LiveSession, type MarkRequest, type SensorMove } from './live-session.ts';
import { type AthleteSnapshot, MonitoredAthlete } from './monitored-athlete.ts';
import { OutputPresence, type PageOutputs } from './output-presence.ts';
import { notSavedYet, recordingNotStarted, refusals } from './refusals.ts';
import type { TimeNow } from './resume-decision.ts';
import { createSensorRegistry, type SensorRegistry } from './sensor-registry.ts';
import {
  type BrokenOff,
  brokenOffSession,
  interruptedAlarms,
  lapseAlarm,
  resumedAlarm,
  spanOfLapse,
  stoppedAlarm,
} from './session-lapse.ts';
import { SessionLeaders } from './session-leaders.ts';
import { stayPrefix, wentUnwatched } from './session-rebuild.ts';
import { SessionRecorder } from './session-recorder.ts';
import { resumeSession } from './session-resume.ts';
import { StepTimer } from './step-timer.ts';
import {
  noSupervisionMemory,
  type RaisedSupervision,
  Supervision,
  type SupervisionMemory,
} from './supervision.ts';
import { type Lapse, TickWatch } from './tick-watch.ts';

/** Commit interval: with `advance` running too, at most this much is lost when the power goes. */
const commitIntervalMs = 250;
/** How often sources and clocks are looked at, and what is due is made up for; pipelines are told the time by the StepTimer. */
const roundIntervalMs = 100;
/** How often the alarm engine is told which outputs are there: well within the silence after which a page is gone. */
const outputsIntervalMs = 500;
/**
 * Nobody is monitored while the hub waits for its list of recordings: so long at most, and longer where a session was broken off
 * that it is to go on with. Our choices.
 */
const listWaitMs = 2_000;
const brokenOffWaitMs = 10_000;
/** How often the hub's sign of life is kept: a gap is told to begin at most so much too early. */
const aliveIntervalMs = 1_000;

export interface HubPorts {
  /** The session's clock: scaled in a demo or a fast replay. */
  readonly clock: Clock;
  /** The clock of people and pages, never scaled: commits and outputs keep their real pace. */
  readonly pageClock: Clock;
  readonly store: HubStore;
  readonly sources: readonly SensorSource[];
  readonly createPipeline: PipelineFactory;
  /** What `createPipeline` reads sensors by; kept with each session, and changed between sessions only. None when left out. */
  readonly profiles?: () => readonly SensorProfile[];
  readonly log: HubLog;
  /** Fresh unguessable ids. */
  readonly makeId: () => string;
  readonly timeScale: number;
  /** The data are not of a person: a demo, or a replay of a simulated recording. Every page and recording says so. */
  readonly simulated: boolean;
  /** How many outputs of the hub itself can sound an alarm now; none when left out. */
  readonly hubSoundCount?: () => number;
  /** Told after each whole round: sources asked for what is due, every pipeline told the time. */
  readonly wentRound?: (monitoring: boolean) => void;
  /** Where alarms that wait for a person outlive the process; nowhere when left out. */
  readonly supervisionMemory?: SupervisionMemory;
  /** Left out where the system has no such clock. */
  readonly bootClock?: BootClock;
  /** A session goes on by itself only under the version that began it. */
  readonly hubVersion?: string;
}

export class Hub {
  /** The session's clock, scaled in a demo or a fast replay, and the clock of people. */
  readonly clock: Clock;
  readonly pageClock: Clock;
  readonly timeScale: number;
  readonly simulated: boolean;
  readonly #ports: HubPorts;
  readonly #events: LiveEvents;
  readonly #erasing = new Set<(athleteId: string) => Promise<void>>();
  readonly #registry: SensorRegistry;
  readonly #athletes: AthleteRegister;
  readonly #outputs: OutputPresence;
  readonly #notices: HubNotices;
  readonly #recorder: SessionRecorder;
  readonly #supervision: Supervision;
  /** Whose sensor is this. */
  readonly answering: AnsweringSensors;
  readonly #exchange: ExchangeWatch;
  readonly leaders: SessionLeaders;
  readonly papers: CoursePapers;
  readonly drill: AlarmDrill;
  readonly mail: CoachMail;
  readonly #ticks = new TickWatch();
  readonly #steps: StepTimer;
  readonly #services = new ServiceScope();
  readonly #endedSessionIds = new Set<string>();
  #live: LiveSession | null = null;
  #prepared: Promise<void> | undefined;
  /** The list of recordings has been read. */
  #hasLookedBack = false;
  /** It was not waited for any longer: a session may run by now, so that none is gone on with. */
  #looksBackLate = false;
  #samplesBefore: ReadonlyMap<string, readonly Sample[]> = new Map();

  constructor(ports: HubPorts) {
    this.#ports = ports;
    const { clock, pageClock, timeScale, simulated, store, log } = ports;
    this.clock = clock;
    this.pageClock = pageClock;
    this.timeScale = timeScale;
    this.simulated = simulated;
    this.#events = new LiveEvents(log);
    this.#registry = createSensorRegistry(store.sensorAssignments());
    this.#notices = new HubNotices(store, this.#stateChanged);
    this.#supervision = new Supervision({
      memory: ports.supervisionMemory ?? noSupervisionMemory,
      makeId: ports.makeId,
      wallNowMs: () => pageClock.wallNowMs(),
      log,
      changed: (alarms) => this.publish({ type: 'supervisionChanged', alarms }),
    });
    this.#recorder = new SessionRecorder({
      store,
      log,
      pageClock,
      notices: this.#notices,
      failing: (reason) => this.#recordingFails(reason),
    });
    this.#events.recordWith(this.#recorder.hear);
    this.#athletes = new AthleteRegister(store, (error) => this.#recorder.failed(error));
    this.#outputs = new OutputPresence(pageClock, ports.hubSoundCount ?? (() => 0));
    this.#events.subscribe((event) => this.#callForOutputs(event));
    this.answering = new AnsweringSensors(ports.profiles ?? (() => []));
    this.#exchange = new ExchangeWatch({
      athletes: () => this.athletes,
      session: () => this.session,
      raise: (raised) => this.#supervision.raise(raised),
      clear: (kind, subject) => this.#supervision.clear(kind, subject),
    });
    this.#events.subscribe(this.#exchange.hear);
    const { makeId } = ports;
    this.leaders = new SessionLeaders(makeId);
    this.papers = new CoursePapers({ store, clock: pageClock, makeId });
    this.drill = new AlarmDrill({
      clock: pageClock,
      makeId,
      save: (drill) => this.papers.saveDrill(drill),
      somebodyHolds: () => this.#snapshots().some(isInHold),
      realAlarmStands: () =>
        [...this.supervision, ...this.#snapshots().flatMap(({ alarms }) => alarms)].some(
          ({ acknowledged, priority }) => !acknowledged && priority !== 'low',
        ),
      changed: () => this.publish({ type: 'courseChanged' }),
    });
    this.#events.subscribe(this.drill.hear);
    this.mail = new CoachMail({
      clock: pageClock,
      makeId,
      isToBeLeftAlone: (athleteId) => isInHold(this.snapshotOf(athleteId)),
      changed: (words) => this.publish({ type: 'coachWords', athleteId: words.athleteId, words }),
    });
    this.#events.subscribe(this.mail.hear);
    this.#steps = new StepTimer({
      clock,
      pageClock,
      timeScale,
      live: () => this.#live,
      present: () => this.#present(),
    });
  }

  /**
   * What earlier processes left: raises alarms for what broke off, and goes on with a session where that is right. To be done
   * before any page is let in, so that none finds the hub watching nobody; `start` does it where nobody has.
   */
  prepare(): Promise<void> {
    this.#prepared ??= this.#prepare();
    return this.#prepared;
  }

  async #prepare(): Promise<void> {
    const lookedBack = this.#lookBack().catch((error: unknown) => {
      this.#ports.log.error('the recordings could not be listed', error);
      this.#notices.add(said('notice.notListed', { reason: faultSaid(error) }));
    });
    const isBrokenOff =
      this.#ports.store.interruptedSessionIds.length > 0 ||
      this.#supervision.alarms.some(({ kind }) => kind === 'monitoringStopped');
    let cancel = (): void => undefined;
    const waited = new Promise<void>((resolve) => {
      cancel = this.pageClock.after(isBrokenOff ? brokenOffWaitMs : listWaitMs, resolve);
    });
    await Promise.race([lookedBack, waited]);
    cancel();
    if (this.#hasLookedBack) await lookedBack;
    else this.#looksBackLate = true;
  }

  /** Says what was broken off, and goes on with it where that is still in time. */
  async #lookBack(): Promise<void> {
    const { store } = this.#ports;
    const recorded = (await store.listSessions()).map(({ session }) => session);
    this.leaders.know(recorded);
    for (const { status, sessionId } of recorded)
      if (status === 'ended') this.#endedSessionIds.add(sessionId);
    const decidedId = this.#ports.supervisionMemory?.decidedSessionId() ?? null;
    for (const alarm of await interruptedAlarms(store, recorded, decidedId)) this.#supervision.raise(alarm);
    this.#hasLookedBack = true;
    const brokenOff = brokenOffSession(this.#supervision.alarms, recorded);
    if (brokenOff !== undefined && !this.#looksBackLate) await this.#resume(brokenOff);
  }

  /** Begins listening to the sensors. When a source fails, everything begun is stopped again. */
  async start(): Promise<void> {
    const { sources } = this.#ports;
    const scope = this.#services;
    await this.prepare();
    // Opened first, closed last: what came until the sources have stopped is committed.
    scope.onClose(() => this.#recorder.commit());
    scope.onClose(this.pageClock.every(commitIntervalMs, () => this.#recorder.commit()));
    scope.onClose(this.pageClock.every(roundIntervalMs, () => this.#goRound()));
    scope.onClose(() => this.#steps.stop());
    scope.onClose(this.pageClock.every(outputsIntervalMs, () => this.#tellOutputs()));
    scope.onClose(this.pageClock.every(aliveIntervalMs, () => this.#keepAlive()));
    scope.onClose(
      this.clock.every(lookIntervalMs, () => {
        if (this.sessionNowMs !== null) this.#exchange.look(this.sessionNowMs);
      }),
    );
    try {
      for (const source of sources) {
        source.setWantedSensors?.(this.#registry.assignedSensorIds());
        scope.onClose(() => source.stop());
        await source.start(this.#listenerOf(source));
      }
    } catch (error) {
      await this.stop().catch((closing: unknown) => this.#ports.log.error('closing failed', closing));
      throw error;
    }
  }

  /** Ends the session and closes every link. */
  async stop(): Promise<void> {
    this.drill.end('hubStopped');
    if (this.#live !== null) this.endSession('hubStopped');
    await this.#services.close();
  }

  subscribe(listener: LiveListener): () => void {
    return this.#events.subscribe(listener);
  }

  /** For what happens beside the sensors: a plan that is run. */
  readonly publish = (event: LiveEvent): void => this.#events.publish(event);

  get session(): Session | null {
    return this.#live?.session ?? null;
  }

  get athletes(): readonly Athlete[] {
    return this.#athletes.list();
  }

  get sensors(): SensorView[] {
    return this.#registry.views();
  }

  get radios(): readonly RadioStatus[] {
    return this.#ports.sources.flatMap((source) => source.radios ?? []);
  }

  get sameSensors(): readonly SameSensor[] {
    return this.#ports.sources.flatMap((source) => source.sameSensors ?? []);
  }

  /** What is listed as `sensorId`, and is nobody's, is the assigned sensor `as` under another address; null takes that back. */
  setSameSensor(sensorId: string, as: string | null): Result<true, Refusal> {
    const fits =
      as === null
        ? this.sameSensors.some((same) => same.sensorId === sensorId)
        : this.#registry.status(sensorId) !== undefined &&
          this.#registry.athleteOf(sensorId) === undefined &&
          this.#registry.athleteOf(as) !== undefined;
    if (!fits) return failed<Refusal>(refusals.notTheSame);
    for (const source of this.#ports.sources) source.setSameSensor?.(sensorId, as);
    return ok(true);
  }

  /** The alarms of the watching itself, the most urgent first. */
  get supervision(): readonly SupervisionAlarm[] {
    return this.#supervision.alarms;
  }

  get notices(): HubNotices {
    return this.#notices;
  }

  /** True of a session that was recorded to its end. What ended it against anyone's will is an alarm of its own. */
  wasEnded(sessionId: string): boolean {
    if (this.#endedSessionIds.has(sessionId)) return true;
    // Until the list is there, by what is known of those that broke off: no alarm for one that ended in order.
    return !this.#hasLookedBack && !this.#ports.store.interruptedSessionIds.includes(sessionId);
  }

  /** Of a session that an earlier process began, by athlete: what was read in the minutes before this one took it up. */
  get samplesBefore(): ReadonlyMap<string, readonly Sample[]> {
    return this.#live === null ? new Map() : this.#samplesBefore;
  }

  /** The session's time now; null between sessions. */
  get sessionNowMs(): MonotonicMs | null {
    return this.#live?.toSessionMs(this.clock.nowMs()) ?? null;
  }

  /** What stands now of an athlete of the session. */
  snapshotOf(athleteId: string): AthleteSnapshot | undefined {
    return this.#live?.snapshotOf(athleteId);
  }

  /** `ledBy`: names of who leads it. */
  startSession(
    athleteIds: readonly string[],
    title: string,
    ledBy: readonly string[] = [],
  ): Result<Session, Refusal> {
    if (this.#live !== null) return failed<Refusal>(refusals.sessionRunning);
    const chosen = this.#athletes.choose(athleteIds);
    if (!chosen.ok) return chosen;
    const unfit = unfitSensor(chosen.value, this.sensors);
    if (unfit !== null) return failed(unfit);
    const session = this.#newSession(chosen.value, title, this.leaders.named(ledBy));
    const start = this.#headOf(session, chosen.value);
    try {
      this.#recorder.begin(start, (error) => this.#headNotWritten(session, error));
    } catch (error) {
      this.#ports.log.error('a session could not be started', error);
      return failed<Refusal>(recordingNotStarted(faultSaid(error)));
    }
    const live = this.#begin(session, chosen.value);
    this.#live = live;
    this.#supervision.watchedAgain(session.athleteIds);
    this.#samplesBefore = new Map();
    this.publish({ type: 'sessionStarted', session });
    this.#keepAlive();
    for (const { sensors } of start.athletes) for (const sensor of sensors) live.link(sensor, session.zeroMs);
    for (const source of this.#ports.sources) source.sessionStarted?.(session.zeroMs);
    return ok(session);
  }

  /** Ends by a person's will, when left out; that it ends by anything else is an alarm. */
  endSession(ending: SessionEnding = 'person'): Result<Session, Refusal> {
    const live = this.#live;
    if (live === null) return failed<Refusal>(refusals.noSession);
    // First of all: should the hub die now, the next one must not go on with it.
    if (ending === 'person' || ending === 'dataEnded') this.#noteDecided(live.session.sessionId);
    const endedAtMs = this.#present();
    // What was due may have ended the session already: a replay that came to its end.
    if (this.#live !== live) return ok(live.session);
    for (const source of this.#ports.sources) source.sessionEnded?.();
    const session = live.end(endedAtMs);
    this.#live = null;
    this.#endedSessionIds.add(session.sessionId);
    // Before anybody hears that the session is over, so that no page is quiet between the two.
    if (ending === 'hubStopped' || ending === 'diskFault')
      this.#supervision.raise(
        stoppedAlarm(session, this.#athletes.list(), ending, this.pageClock.wallNowMs()),
      );
    this.publish({ type: 'sessionEnded', session, atMs: session.endedAtMs ?? live.toSessionMs(endedAtMs) });
    return ok(session);
  }

  /** Monitored from now on. `by`: a device's name, empty for the hub's own machine. */
  joinSession(athleteId: string, by = ''): Result<true, Refusal> {
    const athlete = this.#athletes.get(athleteId);
    if (athlete === undefined) return failed<Refusal>(refusals.unknownAthlete);
    return this.#inSession((live) => {
      if (live.isIn(athleteId)) return failed<Refusal>(refusals.alreadyInSession);
      if (athlete.simulated && !live.session.simulated) return failed<Refusal>(refusals.simulatedJoins);
      const unfit = unfitSensor([athlete], this.sensors);
      if (unfit !== null) return failed(unfit);
      const now = this.#present();
      // What was due may have ended the session.
      if (this.#live !== live) return failed<Refusal>(refusals.noSession);
      const stays = live.staysOf(athleteId);
      const options = { startAtMs: live.toSessionMs(now), idPrefix: stayPrefix(stays + 1) };
      live.join(this.#monitored(athlete, options), now, by);
      this.#supervision.watchedAgain(live.session.athleteIds);
      return ok<true>(true);
    });
  }

  /** No longer monitored. The last one ends the session instead, so that no session is of nobody. */
  leaveSession(athleteId: string, by = ''): Result<true, Refusal> {
    return this.#inSession((live) => {
      if (!live.isIn(athleteId)) return failed<Refusal>(refusals.notInSession);
      if (live.session.athleteIds.length === 1) return failed<Refusal>(refusals.lastInSession);
      const now = this.#present();
      if (this.#live === live) live.leave(athleteId, now, by);
      return ok<true>(true);
    });
  }

  /** A plan says when a hold is to begin; without a session nothing follows. Not stored: the plan's run is. */
  expectHold(athleteId: string, startAtMs: ProcessMs, toleranceMs: number): void {
    this.#push(athleteId, (live, atMs) => {
      const schedule = { atMs, startAtMs: live.toSessionMs(startAtMs), toleranceMs };
      this.#recorder.scheduled({ athleteId, ...schedule });
      return { type: 'schedule', ...schedule };
    });
  }

  addMark(request: MarkRequest): Result<SessionMark, Refusal> {
    return this.#inSession((live) => live.addMark(request, this.#present()));
  }

  /** `mayChange` says whose mark the asking page may take back; any, when left out. */
  removeMark(
    markId: string,
    mayChange: (athleteId: string) => boolean = () => true,
  ): Result<SessionMark, Refusal> {
    return this.#inSession((live) => live.removeMark(markId, this.#present(), mayChange));
  }

  /** How a hold that is over felt. */
  rateHold(athleteId: string, holdId: string, feeling: HoldFeeling): Result<true, Refusal> {
    return this.#inSession((live) => live.rateHold(athleteId, holdId, feeling));
  }

  /** Those alarms, or all that stand when left out. `by`: a device's name, empty for the hub's own machine. */
  acknowledge(athleteId: string, alarmIds?: readonly string[], by?: string): Result<true, Refusal> {
    return this.#push(athleteId, (_live, atMs) => ({
      type: 'acknowledge',
      atMs,
      ...(alarmIds !== undefined && { alarmIds }),
      ...(by !== undefined && { by }),
    }));
  }

  pauseAudio(athleteId: string, paused: boolean): Result<true, Refusal> {
    return this.#push(athleteId, (_live, atMs) => ({ type: 'pauseAudio', atMs, paused }));
  }

  /** A floor is never lowered while an athlete holds or recovers: the wish for it may come from hypoxia itself. */
  changeSettings(athleteId: string, settings: AthleteSettings): Result<Athlete, Refusal> {
    const before = this.#athletes.get(athleteId);
    if (before === undefined) return failed<Refusal>(refusals.unknownAthlete);
    if (isFloorLoweredDuringHold(before.settings, settings, this.#live?.isFloorLocked(athleteId) ?? false))
      return failed<Refusal>(refusals.floorLoweredDuringHold);
    const saved = this.#toldOf(this.#athletes.saveSettings(before, settings));
    if (saved.ok) this.#live?.changeSettings(saved.value, this.#present());
    return saved;
  }

  /** `simulated`: nobody real, as on a hub of simulated sensors or from a file that says SIMULATED. */
  addAthlete(name: string, simulated = false): Result<Athlete, Refusal> {
    const athleteId = this.#ports.makeId();
    return this.#toldOf(
      this.#athletes.save({ athleteId, name: name.trim(), simulated, settings: initialSettings }),
    );
  }

  renameAthlete(athleteId: string, name: string): Result<Athlete, Refusal> {
    return this.#toldOf(this.#athletes.rename(athleteId, name));
  }

  removeAthlete(athleteId: string): Result<true, Refusal> {
    if (this.#athletes.get(athleteId) === undefined) return failed<Refusal>(refusals.unknownAthlete);
    if (this.session?.athleteIds.includes(athleteId)) return failed<Refusal>(refusals.athleteInSession);
    this.#athletes.remove(athleteId);
    this.#tellAthletes();
    return ok(true);
  }

  /** One who was taken off the list. Sensors that somebody else has meanwhile stay theirs. */
  restoreAthlete(athlete: Athlete, sensorIds: readonly string[]): Result<Athlete, Refusal> {
    const saved = this.#toldOf(this.#athletes.save(athlete));
    const taken = this.#ports.store.sensorAssignments();
    if (saved.ok)
      for (const sensorId of sensorIds)
        if (!taken.has(sensorId)) this.assignSensor(sensorId, athlete.athleteId);
    return saved;
  }

  /** Everybody of whom anything is kept here. */
  athletesOnRecord(): Promise<ReadonlySet<string>> {
    return this.#athletes.onRecord();
  }

  /** Called before somebody is erased, who is not when it rejects. */
  beforeErasing(prepare: (athleteId: string) => Promise<void>): () => void {
    this.#erasing.add(prepare);
    return () => this.#erasing.delete(prepare);
  }

  /** With every recording, plan and entry of theirs (`Store.eraseAthlete`), also of one taken off the list before. */
  async eraseAthlete(athleteId: string): Promise<Result<true, Refusal>> {
    if (!(await this.athletesOnRecord()).has(athleteId)) return failed<Refusal>(refusals.unknownAthlete);
    if (this.#live !== null) return failed<Refusal>(refusals.eraseBetweenSessions);
    for (const id of [athleteId, ...(await ledUnderNameOf(this.#ports.store, athleteId))])
      for (const prepare of this.#erasing) await prepare(id);
    if (this.#live !== null) return failed<Refusal>(refusals.eraseBetweenSessions);
    await this.#athletes.erase(athleteId);
    this.leaders.forget(athleteId);
    for (const { sensorId } of this.#registry.sensorsOf(athleteId)) this.#registry.assign(sensorId, null);
    this.#wantAssignedSensors();
    this.#tellAthletes();
    return ok(true);
  }

  assignSensor(sensorId: string, athleteId: string | null, by = ''): Result<true, Refusal> {
    return this.assignSensors([{ sensorId, athleteId }], by);
  }

  /** All at one moment, in a session too. `by`: a device's name, empty for the hub's own machine. */
  assignSensors(moves: readonly SensorMove[], by = ''): Result<true, Refusal> {
    const isKnown = ({ athleteId }: SensorMove) =>
      athleteId === null || this.#athletes.get(athleteId) !== undefined;
    if (!moves.every(isKnown)) return failed<Refusal>(refusals.unknownAthlete);
    for (const { sensorId, athleteId } of moves) this.#ports.store.assignSensor(sensorId, athleteId);
    const now = this.#live === null ? this.clock.nowMs() : this.#present();
    if (this.#live === null)
      for (const { sensorId, athleteId } of moves) this.#registry.assign(sensorId, athleteId);
    else this.#live.moveSensors(moves, now, by);
    this.#wantAssignedSensors();
    return ok(true);
  }

  /** What a person says to a sensor that pairs; an answer that comes too late does nothing. */
  answerPairing(sensorId: string, requestId: string, answer: PairingAnswer): void {
    for (const source of this.#ports.sources) source.answerPairing?.(sensorId, requestId, answer);
  }

  /** Its source says so with the sensor's state when the key is gone. */
  forgetBond(sensorId: string): void {
    for (const source of this.#ports.sources) source.forgetBond?.(sensorId);
  }

  /**
   * Undefined when everything changed so far is on the disk; else resolves when it is, or with why it cannot be said to
   * be: then it stands in memory only, and is written as soon as the disk takes it.
   */
  whenSaved(): Promise<Result<true, Refusal>> | undefined {
    const saved = this.#ports.store.saved?.();
    return saved?.then(
      () => ok<true>(true),
      (error: unknown) =>
        failed<Refusal>(
          // What the store refuses is never written: asking again would not help.
          error instanceof HubError && error.code === 'data.refused'
            ? refusals.changeNotSaved
            : notSavedYet(faultSaid(error)),
        ),
    );
  }

  /** Something of the watching itself is wrong, or has happened. */
  raiseSupervision(raised: RaisedSupervision): void {
    this.#supervision.raise(raised);
  }

  /** What it is about has another name. */
  renameSupervision(kind: SupervisionAlarm['kind'], before: Said, subject: Said): void {
    this.#supervision.rename(kind, before, subject);
  }

  /** It is right again. */
  clearSupervision(kind: SupervisionAlarm['kind'], subject: Said | null = null): void {
    this.#supervision.clear(kind, subject);
  }

  acknowledgeSupervision(alarmIds: readonly string[]): Result<true, Refusal> {
    for (const { alarmId, kind, session } of this.#supervision.alarms)
      if (kind === 'monitoringStopped' && session !== null && alarmIds.includes(alarmId))
        this.#noteDecided(session.sessionId);
    this.#supervision.acknowledge(alarmIds);
    return ok(true);
  }

  pageState(pageId: string, outputs: PageOutputs): void {
    this.#outputs.said(pageId, outputs);
  }

  pageGone(pageId: string): void {
    this.#outputs.gone(pageId);
  }

  /** A session's head could not be written: without it nothing of the session could ever be read. */
  #headNotWritten({ sessionId }: Session, error: unknown): void {
    this.#ports.log.error('a session could not be started', error);
    this.#notices.add(recordingNotStarted(faultSaid(error)).said);
    if (this.#live?.session.sessionId === sessionId) this.endSession('diskFault');
  }

  /** The emergency card as it is from now on. */
  writeEmergencyCard(card: EmergencyCardRequest, by: string): void {
    this.papers.writeEmergencyCard(card, by);
    this.publish({ type: 'courseChanged' });
  }

  #snapshots(): AthleteSnapshot[] {
    return (this.session?.athleteIds ?? []).flatMap((athleteId) => this.snapshotOf(athleteId) ?? []);
  }

  readonly #stateChanged = (): void => this.publish({ type: 'hubStateChanged' });

  #goRound(): void {
    const lapse = this.#ticks.look({
      nowMs: this.pageClock.nowMs(),
      wallMs: this.pageClock.wallNowMs(),
      bootMs: this.#ports.bootClock?.sinceBootMs(),
    });
    if (lapse !== null && this.#live !== null) this.#lapsed(lapse, this.#live);
    this.#live?.advance(this.#present());
    this.#steps.arm();
    this.#ports.wentRound?.(this.#live !== null);
  }

  /** Nobody was watched for a while, or the clock was set: the recording tells it, and a person is told. */
  #lapsed(lapse: Lapse, live: LiveSession): void {
    const wallNowMs = this.pageClock.wallNowMs();
    if (lapse.type === 'unwatched') {
      const nowMs = live.toSessionMs(this.clock.nowMs());
      const { span, shiftMs } = spanOfLapse(lapse, nowMs, wallNowMs, this.timeScale);
      live.passUnwatched(span, shiftMs);
    }
    this.#keepAlive();
    this.#supervision.raise(lapseAlarm(lapse, live.session, this.#athletes.list(), wallNowMs));
  }

  #timeNow(): TimeNow {
    const { bootClock } = this.#ports;
    return {
      wallMs: this.pageClock.wallNowMs(),
      boot: bootClock && { bootId: bootClock.bootId, bootMs: bootClock.sinceBootMs() },
    };
  }

  #keepAlive(): void {
    const atMs = this.sessionNowMs;
    if (atMs === null) return;
    const { wallMs: nowWallMs, boot } = this.#timeNow();
    this.#recorder.alive({
      atMs,
      wallMs: nowWallMs,
      bootId: boot?.bootId ?? null,
      bootMs: boot?.bootMs ?? 0,
    });
  }

  #noteDecided(sessionId: string): void {
    try {
      this.#ports.supervisionMemory?.noteDecided(sessionId);
    } catch (error) {
      this.#ports.log.error('decision unsaved', error);
    }
  }

  /** Goes on with a session that broke off, or says beside its alarm why a person has to. */
  async #resume(brokenOff: BrokenOff): Promise<void> {
    const { store, log, createPipeline, sources, hubVersion = 'unknown', makeId } = this.#ports;
    const resumed = await resumeSession(brokenOff, {
      store,
      log,
      createPipeline,
      athletes: this.#athletes.list(),
      hubVersion,
      dataOfTheHub: this.simulated || sources.some((source) => source.sessionStarted !== undefined),
      memory: this.#ports.supervisionMemory ?? noSupervisionMemory,
      timeNow: () => this.#timeNow(),
      processNowMs: () => this.clock.nowMs(),
      record: (stored, gap) => this.#recorder.resume(stored, gap),
    });
    if (!resumed.ok) {
      this.#supervision.raise({ ...brokenOff.alarm, reason: resumed.reason });
      return;
    }
    const { session, span, stays, athletes } = resumed.value;
    const members = athletes.map(
      ({ athlete, pipeline, told }) =>
        new MonitoredAthlete(athlete, pipeline, this.#registry, this.publish, told),
    );
    this.#live = new LiveSession({
      session,
      registry: this.#registry,
      publish: this.publish,
      makeId,
      stays,
      athletes: members,
    });
    this.#endedSessionIds.delete(session.sessionId);
    this.#samplesBefore = new Map(athletes.map(({ athlete, samples }) => [athlete.athleteId, samples]));
    this.publish({ type: 'sessionResumed', session, span });
    for (const [index, { known }] of athletes.entries()) members[index]!.push(wentUnwatched(span, known));
    this.#keepAlive();
    // The new alarm before the old one goes, so that nothing is quiet between the two.
    this.#supervision.raise(resumedAlarm(session, this.#athletes.list(), span));
    this.#supervision.watchedAgain(session.athleteIds);
    // It stays where others were broken off too, which nobody goes on with.
    if (store.interruptedSessionIds.length < 2) this.#notices.withdraw(said('notice.interrupted'));
  }

  /** Now, with everything due by now delivered: no person's request and no tick overtakes data of the past. */
  #present(): ProcessMs {
    const now = this.clock.nowMs();
    for (const source of this.#ports.sources) source.deliverUntil?.(now);
    return now;
  }

  #recordingFails(reason: Said | null): void {
    if (reason === null) this.#supervision.clear('recordingFails');
    else
      this.#supervision.raise({
        kind: 'recordingFails',
        priority: this.#live === null ? 'low' : 'medium',
        reason,
      });
  }

  /** What pages and loudspeakers have to present from now on. */
  #callForOutputs(event: LiveEvent): void {
    if (event.type === 'sessionEnded') this.#outputs.sessionOver();
    else if (event.type === 'alarms') {
      const unseen = event.alarms.filter(({ acknowledged }) => !acknowledged);
      this.#outputs.callFor(
        event.athleteId,
        unseen.map(({ alarmId }) => alarmId),
        event.sound.priority,
      );
    } else if (event.type === 'supervisionChanged') {
      const unseen = event.alarms.filter(({ acknowledged }) => !acknowledged);
      this.#outputs.callFor(
        null,
        unseen.map(({ alarmId }) => alarmId),
        this.#supervision.soundPriority,
      );
    }
  }

  /** A time from the future would carry the session's clock with it, past every silence that should alarm. */
  #notAhead(atMs: ProcessMs): ProcessMs {
    const nowMs = this.clock.nowMs();
    return atMs <= nowMs ? atMs : nowMs;
  }

  #newSession(athletes: readonly Athlete[], title: string, leaders: readonly SessionLeader[]): Session {
    const sensors = athletes.flatMap(({ athleteId }) => this.#registry.sensorsOf(athleteId));
    const notReal = sensors.map(({ source }) => source).find((source) => source !== 'bluetooth');
    return {
      sessionId: this.#ports.makeId(),
      startedWallAtMs: this.clock.wallNowMs(),
      zeroMs: this.clock.nowMs(),
      endedAtMs: undefined,
      simulated: this.simulated || athletes.some((athlete) => athlete.simulated),
      source: notReal === 'simulated' || notReal === 'replay' ? notReal : 'live',
      title: title.trim(),
      athleteIds: athletes.map(({ athleteId }) => athleteId),
      unwatched: [],
      leaders,
    };
  }

  #headOf(session: Session, athletes: readonly Athlete[]): SessionStart {
    const { sessionId, startedWallAtMs, simulated, source, title, leaders } = session;
    return {
      sessionId,
      startedWallAtMs,
      simulated,
      source,
      title,
      athletes: athletes.map((athlete) => ({
        athlete,
        sensors: this.#registry.sensorsOf(athlete.athleteId),
      })),
      profiles: this.#ports.profiles?.() ?? [],
      madeBy: this.#ports.hubVersion ?? 'unknown',
      leaders,
    };
  }

  #begin(session: Session, athletes: readonly Athlete[]): LiveSession {
    const { makeId } = this.#ports;
    return new LiveSession({
      session,
      registry: this.#registry,
      publish: this.publish,
      makeId,
      athletes: athletes.map((athlete) => this.#monitored(athlete, {})),
    });
  }

  #monitored(athlete: Athlete, options: Pick<PipelineOptions, 'startAtMs' | 'idPrefix'>): MonitoredAthlete {
    const { createPipeline, store } = this.#ports;
    const prior = storedPriorOf(store, athlete.athleteId);
    const pipeline = createPipeline(athlete.settings, { ...options, ...(prior !== undefined && { prior }) });
    return new MonitoredAthlete(athlete, pipeline, this.#registry, this.publish);
  }

  #listenerOf(source: SensorSource): SensorListener {
    return {
      packet: (packet) => {
        const receivedAtMs = this.#notAhead(packet.receivedAtMs);
        this.answering.packet({ ...packet, receivedAtMs });
        this.#registry.countPacket(packet.sensorId, receivedAtMs, this.clock.wallNowMs());
        this.#live?.packet({ ...packet, receivedAtMs });
      },
      sensorChanged: (status, atMs) => this.#sensorChanged(status, atMs),
      sensorGone: (sensorId) => {
        this.#registry.forget(sensorId);
        this.#stateChanged();
      },
      sourceNotices: (notices) => this.#notices.ofSource(source, notices),
      finished: () => {
        this.#ports.log.info('the replay has come to its end');
        // A replayed recording ends where its data end; a person may still look at the page.
        if (source.source === 'replay' && this.#live !== null) this.endSession('dataEnded');
      },
      mark: (mark) => this.#replayedMark(mark),
      worn: ({ sensorId, athleteHint: athleteId, receivedAtMs }) =>
        this.#live?.moveSensors([{ sensorId, athleteId }], this.#notAhead(receivedAtMs), ''),
    };
  }

  #sensorChanged(status: SensorStatus, atMs: ProcessMs | undefined): void {
    const before = this.#registry.status(status.sensorId);
    this.#registry.update(status);
    this.#stateChanged();
    if (before === undefined || before.link !== status.link)
      this.#live?.link(status, atMs === undefined ? this.#present() : this.#notAhead(atMs));
  }

  #replayedMark(mark: Parameters<NonNullable<SensorListener['mark']>>[0]): void {
    const live = this.#live;
    if (live === null) return;
    const { athleteIds } = live.session;
    const athleteId = athleteIds.includes(mark.athleteHint) ? mark.athleteHint : athleteIds[0];
    if (athleteId === undefined) return;
    const { kind, text } = mark;
    const receivedAtMs = this.#notAhead(mark.receivedAtMs);
    live.addMark({ athleteId, kind, atMs: live.toSessionMs(receivedAtMs), text }, receivedAtMs);
  }

  #tellOutputs(): void {
    const live = this.#live;
    if (live === null) return;
    for (const athleteId of live.session.athleteIds) {
      const atMs = live.toSessionMs(this.#present());
      // Delivering what was due may have ended the session.
      if (this.#live !== live) return;
      live.push(athleteId, { type: 'outputs', atMs, ...this.#outputs.countFor(athleteId) });
    }
  }

  #inSession<Value>(action: (live: LiveSession) => Result<Value, Refusal>): Result<Value, Refusal> {
    return this.#live === null ? failed<Refusal>(refusals.noSession) : action(this.#live);
  }

  #push(
    athleteId: string,
    make: (live: LiveSession, atMs: MonotonicMs) => PipelineEvent,
  ): Result<true, Refusal> {
    return this.#inSession((live) => live.push(athleteId, make(live, live.toSessionMs(this.#present()))));
  }

  #toldOf(saved: Result<Athlete, Refusal>): Result<Athlete, Refusal> {
    if (saved.ok) this.#tellAthletes();
    return saved;
  }

  /** Where the store's list of athletes changes by itself: at a school. */
  athletesReread(): void {
    this.#athletes.reread();
    this.#tellAthletes();
  }

  #tellAthletes(): void {
    this.publish({ type: 'athletesChanged', athletes: this.athletes });
  }

  #wantAssignedSensors(): void {
    const wanted = this.#registry.assignedSensorIds();
    for (const source of this.#ports.sources) source.setWantedSensors?.(wanted);
    this.#stateChanged();
  }
}

const isInHold = (snapshot: AthleteSnapshot | undefined): boolean =>
  snapshot?.phase === 'holding' || snapshot?.phase === 'recovering';
