// The hub's events as messages to pages: alarms, holds and marks at once; newest values and traces collected for a
// moment; the heartbeat by which a page knows that the hub lives.

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
import {
  toAlarmView,
  toAthleteState,
  toForecastView,
  toHoldView,
  toMarkView,
  toReadout,
  toSessionView,
} from './to-view.ts';
import { createTraceMemory, type TraceMemory } from './trace-memory.ts';

/** Newest values and traces go out this often; alarms, holds and marks at once. */
const updateIntervalMs = 50;
/** A page is told twice a second that the hub lives; it alarms after 2 s of silence. */
const heartbeatIntervalMs = 500;
/** The sensors' state goes out at most this often. */
const sensorsIntervalMs = 1_000;
/** Asks for all of a trace, a sample at the very start of the session included. */
const beforeEverything = monotonicMs(-1);

/** Who gets a message: every page that may see the athlete, or every page when null. */
export type PageListener = (message: DownMessage, athleteId: string | null) => void;

interface AthleteFeed {
  readonly memory: TraceMemory;
  tracedToMs: MonotonicMs;
  latestChanged: boolean;
}

export class PageFeed {
  readonly #hub: Hub;
  readonly #hubVersion: string;
  readonly #hubRunId: string;
  readonly #listeners = new Set<PageListener>();
  readonly #services = new ServiceScope();
  #feeds = new Map<string, AthleteFeed>();
  #heartbeatSequence = 0;
  #sensorsChanged = false;
  #sensorsToldAtMs: ProcessMs | undefined;

  constructor(hub: Hub, hubVersion: string, hubRunId: string) {
    this.#hub = hub;
    this.#hubVersion = hubVersion;
    this.#hubRunId = hubRunId;
  }

  open(): void {
    const { pageClock, session } = this.#hub;
    if (session !== null) this.#takeUp(session);
    this.#services.onClose(this.#hub.subscribe((event) => this.#hear(event)));
    this.#services.onClose(pageClock.every(updateIntervalMs, () => this.#sendUpdates()));
    this.#services.onClose(pageClock.every(heartbeatIntervalMs, () => this.#sendHeartbeat()));
    this.#services.onClose(
      pageClock.every(sensorsIntervalMs, () => {
        if (this.#sensorsChanged || this.#hub.session !== null) this.#sendSensors();
      }),
    );
  }

  async close(): Promise<void> {
    await this.#services.close();
  }

  subscribe(listener: PageListener): () => void {
    this.#listeners.add(listener);
    return () => this.#listeners.delete(listener);
  }

  /** What a page draws the present from; `resume` says what it has already of which session. */
  welcome(resume: { readonly sessionId: string; readonly haveToMs: MonotonicMs } | null): {
    readonly welcome: Omit<WelcomeMessage, 'role' | 'athleteIds' | 'deviceId'>;
    readonly fill: readonly DownMessage[];
  } {
    const { session, clock, timeScale, simulated, sensors, athletes } = this.#hub;
    const sinceMs =
      session !== null && resume?.sessionId === session.sessionId ? resume.haveToMs : beforeEverything;
    const states: AthleteState[] = [];
    const fill: DownMessage[] = [];
    for (const { athleteId } of athletes) {
      const snapshot = this.#hub.snapshotOf(athleteId);
      if (snapshot === undefined) continue;
      states.push(toAthleteState(snapshot));
      fill.push(this.#fillOf(athleteId, sinceMs, snapshot.atMs));
    }
    return {
      fill: [...fill, this.#sessionMessage(session)],
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
        sensors,
      },
    };
  }

  sensors(): SensorsMessage {
    return { type: 'sensors', sensors: this.#hub.sensors, notices: this.#hub.notices.all };
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

  #fillOf(athleteId: string, sinceMs: MonotonicMs, toMs: MonotonicMs): DownMessage {
    const filled = this.#feeds.get(athleteId)?.memory.since(sinceMs) ?? { fromMs: sinceMs, traces: [] };
    const fromMs = monotonicMs(Math.max(0, filled.fromMs));
    return { type: 'trace', athleteId, fromMs, toMs, traces: filled.traces, decimatedCount: 0 };
  }

  #hear(event: LiveEvent): void {
    switch (event.type) {
      case 'sessionStarted':
        this.#feeds = new Map(event.session.athleteIds.map((athleteId) => [athleteId, newFeed()]));
        this.#send(this.#sessionMessage(event.session), null);
        return;
      case 'athleteJoined':
        this.#feeds.set(event.athleteId, newFeed(event.atMs));
        this.#send(this.#sessionMessage(event.session), null);
        return;
      case 'athleteLeft':
        this.#feeds.delete(event.athleteId);
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
        this.#feeds.clear();
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
        this.#feeds.get(event.athleteId)?.memory.add(event.sample);
        this.#latestChanged(event.athleteId);
        return;
      case 'phase':
      case 'forecast':
        this.#latestChanged(event.athleteId);
        return;
      case 'hold': {
        const { athleteId, hold } = event;
        this.#latestChanged(athleteId);
        this.#send({ type: 'hold', athleteId, holdId: hold.hold.holdId, hold: toHoldView(hold) }, athleteId);
        return;
      }
      case 'holdWithdrawn': {
        const { athleteId, holdId } = event;
        this.#latestChanged(athleteId);
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
  #takeUp({ athleteIds }: Session): void {
    const { samplesBefore } = this.#hub;
    this.#feeds = new Map(athleteIds.map((athleteId) => [athleteId, newFeed()]));
    for (const [athleteId, { memory }] of this.#feeds) {
      for (const sample of samplesBefore.get(athleteId) ?? []) memory.add(sample);
      memory.takeNew();
    }
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

  #latestChanged(athleteId: string): void {
    const feed = this.#feeds.get(athleteId);
    if (feed !== undefined) feed.latestChanged = true;
  }

  #sendUpdates(): void {
    for (const [athleteId, feed] of this.#feeds) {
      const snapshot = feed.latestChanged ? this.#hub.snapshotOf(athleteId) : undefined;
      if (snapshot === undefined) continue;
      feed.latestChanged = false;
      const { atMs, phase } = snapshot;
      const traces = feed.memory.takeNew();
      if (traces.length > 0) {
        this.#send(
          { type: 'trace', athleteId, fromMs: feed.tracedToMs, toMs: atMs, traces, decimatedCount: 0 },
          athleteId,
        );
        feed.tracedToMs = atMs;
      }
      this.#send(
        {
          type: 'latest',
          athleteId,
          atMs,
          phase,
          spo2: toReadout(snapshot.latestSpo2),
          heartRate: toReadout(snapshot.latestHeartRate),
          forecast: toForecastView(snapshot.forecast),
          droppedCount: 0,
        },
        athleteId,
      );
    }
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
    this.#sensorsChanged = true;
    const toldAtMs = this.#sensorsToldAtMs;
    if (toldAtMs === undefined || this.#hub.pageClock.nowMs() - toldAtMs >= sensorsIntervalMs)
      this.#sendSensors();
  }

  #sendSensors(): void {
    this.#sensorsChanged = false;
    this.#sensorsToldAtMs = this.#hub.pageClock.nowMs();
    this.#send(this.sensors(), null);
  }

  #send(message: DownMessage, athleteId: string | null): void {
    for (const listener of this.#listeners) listener(message, athleteId);
  }
}

const newFeed = (fromMs = monotonicMs(0)): AthleteFeed => ({
  memory: createTraceMemory(),
  tracedToMs: fromMs,
  latestChanged: true,
});
