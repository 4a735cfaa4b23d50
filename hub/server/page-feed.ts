// The hub's events as messages to pages: alarms, holds and marks the moment they are, newest values and samples as soon
// as what brought them is done with; the heartbeat by which a page knows that the hub lives.

import type { TraceFill } from '../../shared/live-frame/live-frame.ts';
import { liveFrame } from '../../shared/live-frame/write-live-frame.ts';
import type { CourseMessage } from '../../shared/messages/course.ts';
import type { DownMessage } from '../../shared/messages/down.ts';
import type { SensorsMessage } from '../../shared/messages/sensors.ts';
import type { SupervisionMessage } from '../../shared/messages/supervision.ts';
import type { WelcomeMessage } from '../../shared/messages/welcome.ts';
import { protocolVersion } from '../../shared/protocol-version.ts';
import { type MonotonicMs, monotonicMs, type ProcessMs } from '../../shared/units.ts';
import type { AthleteState } from '../../shared/views.ts';
import { ServiceScope } from '../base/service-scope.ts';
import type { Hub } from '../live/hub.ts';
import type { LiveEvent, Session } from '../live/live-event.ts';
import { type LiveChange, LiveChanges } from './live-changes.ts';
import { SensorChanges } from './sensor-changes.ts';
import {
  toAlarmView,
  toAthleteState,
  toHoldView,
  toLiveState,
  toMarkView,
  toSessionView,
  toShownSensor,
} from './to-view.ts';

/** Newest values that may not go out at once, because there are too many of them, wait so long at most. */
const updateWithinMs = 50;
/** A page is told twice a second that the hub lives; it alarms after 2 s of silence. */
const heartbeatIntervalMs = 500;
/** The sensors' state goes out at most this often. */
const sensorsIntervalMs = 1_000;
/** Asks for all of a trace, a sample at the very start of the session included. */
const beforeEverything = monotonicMs(-1);

export interface PageListener {
  /** For every page that may see the athlete, or every page when null. */
  message(message: DownMessage, athleteId: string | null): void;
  /** For every page, as far as it may see these athletes. */
  live(changes: readonly LiveChange[]): void;
}

export class PageFeed {
  readonly #hub: Hub;
  readonly #hubVersion: string;
  readonly #hubRunId: string;
  readonly #listeners = new Set<PageListener>();
  readonly #services = new ServiceScope();
  readonly #live: LiveChanges;
  readonly #sensorChanges: SensorChanges;
  #isLiveDue = false;
  #cancelUpdate: (() => void) | undefined;
  #heartbeatSequence = 0;
  #sensorsToldAtMs: ProcessMs | undefined;

  constructor(hub: Hub, hubVersion: string, hubRunId: string) {
    this.#hub = hub;
    this.#hubVersion = hubVersion;
    this.#hubRunId = hubRunId;
    this.#live = new LiveChanges((athleteId) => {
      const snapshot = hub.snapshotOf(athleteId);
      return snapshot && toLiveState(snapshot);
    });
    this.#sensorChanges = new SensorChanges(() => this.sensors());
  }

  open(): void {
    const { pageClock, session } = this.#hub;
    if (session !== null) this.#takeUp(session);
    this.#services.onClose(this.#hub.subscribe((event) => this.#hear(event)));
    this.#services.onClose(() => this.#cancelUpdate?.());
    this.#services.onClose(pageClock.every(heartbeatIntervalMs, () => this.#sendHeartbeat()));
    this.#services.onClose(pageClock.every(sensorsIntervalMs, () => this.#sendSensors()));
  }

  async close(): Promise<void> {
    await this.#services.close();
  }

  subscribe(listener: PageListener): () => void {
    this.#listeners.add(listener);
    return () => this.#listeners.delete(listener);
  }

  /**
   * What a page draws the present from; `resume` says what it has already of which session. Everybody else is first told what is
   * new, so that what follows is new to all.
   */
  welcome(resume: { readonly sessionId: string; readonly haveToMs: MonotonicMs } | null): {
    readonly welcome: Omit<WelcomeMessage, 'role' | 'athleteIds' | 'deviceId'>;
    readonly fill: readonly TraceFill[];
    readonly session: DownMessage;
  } {
    this.#sendLive('everyone');
    this.#sendSensors();
    const { session, clock, timeScale, simulated, sensors, athletes } = this.#hub;
    const sinceMs =
      session !== null && resume?.sessionId === session.sessionId ? resume.haveToMs : beforeEverything;
    const states: AthleteState[] = [];
    const fill: TraceFill[] = [];
    for (const { athleteId } of athletes) {
      const snapshot = this.#hub.snapshotOf(athleteId);
      if (snapshot === undefined) continue;
      states.push(toAthleteState(snapshot));
      fill.push(this.#fillOf(athleteId, sinceMs, snapshot.atMs));
    }
    return {
      fill,
      session: this.#sessionMessage(session),
      welcome: {
        type: 'welcome',
        protocolVersion,
        hubVersion: this.#hubVersion,
        hubRunId: this.#hubRunId,
        wallNowMs: clock.wallNowMs(),
        timeScale,
        simulated,
        session: session === null ? null : toSessionView(session),
        endedSessionId: resume !== null && this.#hub.wasEnded(resume.sessionId) ? resume.sessionId : null,
        athletes: states,
        sensors: sensors.map(toShownSensor),
      },
    };
  }

  /** Right after its welcome: the state that live frames say the changes of. */
  whole(maySee: (athleteId: string) => boolean): Uint8Array {
    return liveFrame(this.#live.whole(maySee));
  }

  sensors(): SensorsMessage {
    const { sensors, notices } = this.#hub;
    return {
      type: 'sensors',
      whole: true,
      sensors: sensors.map(toShownSensor),
      gone: [],
      notices: notices.all,
    };
  }

  supervision(): SupervisionMessage {
    return { type: 'supervision', alarms: [...this.#hub.supervision] };
  }

  course(): CourseMessage {
    const { papers, drill } = this.#hub;
    return { type: 'course', emergencyCard: papers.emergencyCard, drill: drill.current };
  }

  coachWords(): DownMessage[] {
    return this.#hub.mail.standing.map((words) => ({ type: 'coachWords', words }));
  }

  #fillOf(athleteId: string, sinceMs: MonotonicMs, toMs: MonotonicMs): TraceFill {
    const filled = this.#live.since(athleteId, sinceMs);
    const fromMs = monotonicMs(Math.max(0, filled.fromMs));
    return { athleteId, fromMs, toMs, traces: filled.traces };
  }

  #hear(event: LiveEvent): void {
    switch (event.type) {
      case 'sessionStarted':
        this.#begin(event.session);
        this.#send(this.#sessionMessage(event.session), null);
        return;
      case 'athleteJoined':
        this.#live.join(event.athleteId, this.#hub.pageClock.nowMs(), event.atMs);
        this.#sendRestSoon();
        this.#send(this.#sessionMessage(event.session), null);
        return;
      case 'athleteLeft':
        this.#live.leave(event.athleteId);
        this.#send(this.#sessionMessage(event.session), null);
        return;
      case 'sessionResumed':
        this.#takeUp(event.session);
        this.#send(this.#sessionMessage(event.session), null);
        return;
      case 'unwatched':
        this.#send(this.#sessionMessage(event.session), null);
        return;
      case 'sessionEnded':
        this.#live.clear();
        this.#send(this.#sessionMessage(event.session), null);
        return;
      case 'athletesChanged':
        this.#send(this.#sessionMessage(this.#hub.session), null);
        return;
      case 'coachWords':
      case 'courseChanged':
        this.#hearCourse(event);
        return;
      case 'hubStateChanged':
        this.#sensorsChange();
        return;
      case 'sample':
        if (this.#live.add(event.athleteId, event.sample)) this.#liveSoon();
        return;
      case 'phase':
      case 'forecast':
        this.#liveChanged(event.athleteId);
        return;
      case 'hold': {
        const { athleteId, hold } = event;
        this.#liveChanged(athleteId);
        this.#send({ type: 'hold', athleteId, holdId: hold.hold.holdId, hold: toHoldView(hold) }, athleteId);
        return;
      }
      case 'holdWithdrawn': {
        const { athleteId, holdId } = event;
        this.#liveChanged(athleteId);
        this.#send({ type: 'hold', athleteId, holdId, hold: null }, athleteId);
        return;
      }
      case 'alarms': {
        const { athleteId, atMs, alarms, sound } = event;
        this.#send({ type: 'alarms', athleteId, atMs, alarms: alarms.map(toAlarmView), sound }, athleteId);
        return;
      }
      case 'supervisionChanged':
        this.#send({ type: 'supervision', alarms: [...event.alarms] }, null);
        return;
      case 'mark': {
        const { mark, removed, requestId } = event;
        this.#send(
          { type: 'marked', mark: toMarkView(mark), removed, requestId: requestId ?? null },
          mark.athleteId,
        );
        return;
      }
      // The sensors' state follows, which says whose each is.
      case 'sensorMoved':
      case 'packet':
      case 'link':
      case 'settings':
      case 'learnt':
      // Each page is sent its own part of a plan's run, by its socket.
      case 'planRunChanged':
      case 'planRunStep':
        return;
    }
  }

  /** A session that runs already: a page that joins is filled in with what was read before, which nobody was sent. */
  #takeUp(session: Session): void {
    this.#begin(session);
    for (const [athleteId, samples] of this.#hub.samplesBefore) this.#live.fill(athleteId, samples);
  }

  #begin({ athleteIds }: Session): void {
    this.#live.clear();
    const nowMs = this.#hub.pageClock.nowMs();
    for (const athleteId of athleteIds) this.#live.join(athleteId, nowMs);
    this.#sendRestSoon();
  }

  #hearCourse(event: Extract<LiveEvent, { type: 'coachWords' | 'courseChanged' }>): void {
    if (event.type === 'courseChanged') this.#send(this.course(), null);
    else this.#send({ type: 'coachWords', words: event.words }, event.athleteId);
  }

  #sessionMessage(session: Session | null): DownMessage {
    return {
      type: 'session',
      session: session === null ? null : toSessionView(session),
      athletes: [...this.#hub.athletes],
    };
  }

  #liveChanged(athleteId: string): void {
    this.#live.touch(athleteId);
    this.#liveSoon();
  }

  /** Once what is under way is done: the alarms that follow from a reading are then on their way before it. */
  #liveSoon(): void {
    if (this.#isLiveDue) return;
    this.#isLiveDue = true;
    this.#hub.pageClock.soon(() => {
      this.#isLiveDue = false;
      this.#sendLive('atOnce');
    });
  }

  #sendLive(whose: 'everyone' | 'atOnce'): void {
    const changes = this.#live.take(this.#hub.pageClock.nowMs(), whose);
    if (changes.length > 0) for (const listener of this.#listeners) listener.live(changes);
    if (whose === 'atOnce' && this.#live.isWaiting) this.#sendRestSoon();
  }

  #sendRestSoon(): void {
    this.#cancelUpdate ??= this.#hub.pageClock.after(updateWithinMs, () => {
      this.#cancelUpdate = undefined;
      this.#sendLive('everyone');
    });
  }

  #sendHeartbeat(): void {
    this.#heartbeatSequence += 1;
    const { clock, sessionNowMs } = this.#hub;
    this.#send(
      {
        type: 'heartbeat',
        sequence: this.#heartbeatSequence,
        wallNowMs: clock.wallNowMs(),
        atMs: sessionNowMs,
      },
      null,
    );
  }

  /** At once when the last is long enough ago, else with the next tick. */
  #sensorsChange(): void {
    const toldAtMs = this.#sensorsToldAtMs;
    if (toldAtMs === undefined || this.#hub.pageClock.nowMs() - toldAtMs >= sensorsIntervalMs)
      this.#sendSensors();
  }

  #sendSensors(): void {
    const changes = this.#sensorChanges.take();
    if (changes === undefined) return;
    this.#sensorsToldAtMs = this.#hub.pageClock.nowMs();
    this.#send(changes, null);
  }

  #send(message: DownMessage, athleteId: string | null): void {
    for (const listener of this.#listeners) listener.message(message, athleteId);
  }
}
