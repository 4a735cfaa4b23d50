// Everything the page knows of the hub, as signals, and how each message changes it: one batch a message. No DOM.

import { batch, computed, type ReadonlySignal, signal } from '@preact/signals';
import type { DownMessage } from '../../shared/messages/down.ts';
import type { HelloMessage } from '../../shared/messages/hello.ts';
import type { MarkedMessage } from '../../shared/messages/marked.ts';
import type { WelcomeMessage } from '../../shared/messages/welcome.ts';
import type { Said } from '../../shared/said.ts';
import type { AlarmPriority, Role } from '../../shared/schema-parts.ts';
import { type MonotonicMs, monotonicMs } from '../../shared/units.ts';
import type { Athlete, HoldView, PresentPage, SensorView, SessionView } from '../../shared/views.ts';
import type { LinkState } from '../connection/hub-connection.ts';
import { higherPriority, soundingPriority } from './alarm-order.ts';
import { AthleteModel } from './athlete-model.ts';
import type { HubRequests } from './hub-requests.ts';
import type { MarkOutbox } from './mark-outbox.ts';
import type { PlanRunFollower } from './plan-run-follower.ts';
import { SessionClock } from './session-clock.ts';

export interface HubInfo {
  readonly version: string;
  readonly simulated: boolean;
  readonly timeScale: number;
}

export interface Refusal {
  readonly number: number;
  readonly said: Said;
}

/** How long the page's own alarm can be silenced by a person who sees it. Of our own choosing. */
const pageAlarmPauseMs = 60_000;

export class HubState {
  readonly link = signal<LinkState>('connecting');
  /** Page time at which the hub fell silent; meaningful while the link is not live. */
  readonly silentSincePageMs = signal<number | null>(null);
  readonly hub = signal<HubInfo | null>(null);
  readonly session = signal<SessionView | null>(null);
  readonly athletes = signal<readonly AthleteModel[]>([]);
  readonly sensors = signal<readonly SensorView[]>([]);
  /** What a person should know of the hub itself. */
  readonly notices = signal<readonly Said[]>([]);
  /** Who is at a page now; told to coaches only. */
  readonly presence = signal<readonly PresentPage[]>([]);
  /** What this page may do. The hub refuses the rest anyway; the page does not offer it. */
  readonly role = signal<Role>('onlooker');
  /** The joined device this page runs on; null on the hub's own machine. */
  readonly deviceId = signal<string | null>(null);
  readonly mayAct = computed(() => this.role.value !== 'onlooker');
  /** The session's time now as the page estimates it; moves on by `tick`. */
  readonly nowMs = signal<MonotonicMs | null>(null);
  /** Records of lists that could not be read, by their place. */
  readonly setAside = signal<readonly string[]>([]);
  readonly malformed = signal<{ readonly count: number; readonly lastReason: string } | null>(null);
  readonly droppedCount = signal(0);
  readonly decimatedCount = signal(0);
  readonly refusals = signal<readonly Refusal[]>([]);
  /** A session this page was watching that the hub no longer runs, though nobody ended it. */
  readonly interruptedSessionId = signal<string | null>(null);
  /** The last session that ended while this page watched. */
  readonly endedSessionId = signal<string | null>(null);
  /** Marks that could not be delivered before their session was over. */
  readonly lostMarkCount = signal(0);
  /** The athlete whose alarms this page sounds, or null for all. */
  readonly listeningTo = signal<string | null>(null);
  /** Page time until which the page's own alarm is silenced. */
  readonly pageAlarmPausedUntilMs = signal(0);
  readonly pageNowMs = signal(0);

  readonly recording = computed(() => this.session.value?.status === 'recording');
  readonly hubSilent = computed(() => this.link.value !== 'live');
  /** The page's own alarm: a session is on, as far as anyone knows, and the hub does not answer. */
  readonly pageAlarm: ReadonlySignal<boolean> = computed(
    () => this.recording.value && this.link.value !== 'live' && this.link.value !== 'connecting',
  );
  /** The sound this page should be making now. */
  readonly soundPriority: ReadonlySignal<AlarmPriority | null> = computed(() => {
    let priority: AlarmPriority | null = null;
    if (this.pageAlarm.value && this.pageNowMs.value >= this.pageAlarmPausedUntilMs.value) priority = 'high';
    const only = this.listeningTo.value;
    for (const model of this.athletes.value) {
      if (only !== null && model.athleteId !== only) continue;
      priority = higherPriority(priority, soundingPriority(model.sound.value, this.nowMs.value));
    }
    return priority;
  });

  readonly clock = new SessionClock();
  readonly #outbox: MarkOutbox;
  readonly #requests: HubRequests;
  readonly #planRun: PlanRunFollower;
  #refusalNumber = 0;

  constructor(parts: {
    readonly outbox: MarkOutbox;
    readonly requests: HubRequests;
    readonly planRun: PlanRunFollower;
  }) {
    this.#outbox = parts.outbox;
    this.#requests = parts.requests;
    this.#planRun = parts.planRun;
  }

  athleteById(athleteId: string): AthleteModel | undefined {
    return this.athletes.value.find((model) => model.athleteId === athleteId);
  }

  sensorsOf(athleteId: string): readonly SensorView[] {
    return this.sensors.value.filter((sensor) => sensor.athleteId === athleteId);
  }

  /** What the page has, for `hello`: the least of what it has of each athlete. */
  resume(): HelloMessage['resume'] {
    const session = this.session.value;
    if (session === null || this.athletes.value.length === 0) return null;
    let haveToMs = Number.POSITIVE_INFINITY;
    for (const model of this.athletes.value) haveToMs = Math.min(haveToMs, model.haveToMs ?? 0);
    return { sessionId: session.sessionId, haveToMs: monotonicMs(haveToMs) };
  }

  linkChanged(link: LinkState, pageNowMs: number): void {
    batch(() => {
      this.link.value = link;
      this.silentSincePageMs.value = link === 'live' ? null : (this.silentSincePageMs.value ?? pageNowMs);
      if (link === 'live') this.pageAlarmPausedUntilMs.value = 0;
    });
  }

  /** The same record is asked for again and again: each is said once. */
  recordsSetAside(records: readonly string[]): void {
    const all = new Set([...this.setAside.value, ...records]);
    if (all.size > this.setAside.value.length) this.setAside.value = [...all];
  }

  malformedReceived(reason: string): void {
    this.malformed.value = { count: (this.malformed.value?.count ?? 0) + 1, lastReason: reason };
  }

  /** Lets the page's clock pass; called a few times a second. */
  tick(pageNowMs: number): void {
    batch(() => {
      this.pageNowMs.value = pageNowMs;
      this.nowMs.value = this.recording.value ? this.clock.nowMs(pageNowMs) : this.nowMs.value;
      this.#outbox.tick(pageNowMs);
    });
  }

  pausePageAlarm(pageNowMs: number): void {
    this.pageAlarmPausedUntilMs.value = pageNowMs + pageAlarmPauseMs;
  }

  refuse(said: Said): void {
    this.#refusalNumber += 1;
    this.refusals.value = [...this.refusals.value, { number: this.#refusalNumber, said }].slice(-3);
  }

  dismissRefusal(number: number): void {
    this.refusals.value = this.refusals.value.filter((refusal) => refusal.number !== number);
  }

  apply(message: DownMessage, pageNowMs: number): void {
    batch(() => this.#apply(message, pageNowMs));
  }

  #apply(message: DownMessage, pageNowMs: number): void {
    switch (message.type) {
      case 'welcome':
        this.#welcome(message, pageNowMs);
        return;
      case 'heartbeat':
        if (message.atMs !== null) this.#stamp(message.atMs, pageNowMs);
        return;
      case 'session':
        this.#sessionChanged(message.session, message.athletes);
        return;
      case 'sensors':
        this.sensors.value = message.sensors;
        this.notices.value = message.notices;
        return;
      case 'presence':
        this.presence.value = message.pages;
        return;
      case 'refused':
        if (message.requestId !== null) {
          this.#outbox.refused(message.requestId);
          this.#requests.refused(message.requestId, message.said);
        }
        this.refuse(message.said);
        return;
      case 'done':
        this.#requests.done(message.requestId);
        return;
      case 'marked':
        this.#marked(message);
        return;
      case 'planRun':
        this.#planRun.take(message.current);
        return;
    }
    const model = this.athleteById(message.athleteId);
    if (model === undefined) return;
    switch (message.type) {
      case 'latest':
        this.#stamp(message.atMs, pageNowMs);
        model.phase.value = message.phase;
        model.spo2.value = message.spo2;
        model.heartRate.value = message.heartRate;
        model.forecast.value = message.forecast;
        this.droppedCount.value += message.droppedCount;
        return;
      case 'trace':
        model.addTraces(message.fromMs, message.toMs, message.traces);
        this.decimatedCount.value += message.decimatedCount;
        return;
      case 'alarms':
        model.takeAlarms(message.alarms, message.sound, pageNowMs);
        return;
      case 'hold':
        model.holds.value = withHold(model.holds.value, message.holdId, message.hold);
        return;
    }
  }

  #stamp(atMs: number, pageNowMs: number): void {
    this.clock.stamp(atMs, pageNowMs);
    this.nowMs.value = this.clock.nowMs(pageNowMs);
  }

  #welcome(message: WelcomeMessage, pageNowMs: number): void {
    this.hub.value = {
      version: message.hubVersion,
      simulated: message.simulated,
      timeScale: message.timeScale,
    };
    this.role.value = message.role;
    this.deviceId.value = message.deviceId;
    this.clock.setTimeScale(message.timeScale);
    const former = this.session.value;
    const same = former !== null && former.sessionId === message.session?.sessionId;
    if (!same) {
      if (former?.status === 'recording') this.interruptedSessionId.value = former.sessionId;
      this.#newSession();
    }
    this.session.value = message.session;
    this.sensors.value = message.sensors;
    this.athletes.value = message.athletes.map((state) => {
      const model =
        (same ? this.athleteById(state.athlete.athleteId) : undefined) ?? new AthleteModel(state.athlete);
      model.replace(state, pageNowMs);
      return model;
    });
    for (const state of message.athletes) this.#stamp(state.atMs, pageNowMs);
    if (same) {
      this.#outbox.reconcile(
        message.athletes.flatMap((state) => state.marks),
        pageNowMs,
      );
    }
  }

  #sessionChanged(session: SessionView | null, athletes: readonly Athlete[]): void {
    const former = this.session.value;
    if (session !== null && former?.sessionId !== session.sessionId) {
      this.#newSession();
      this.interruptedSessionId.value = null;
      this.endedSessionId.value = null;
      this.athletes.value = athletes.map((athlete) => new AthleteModel(athlete));
    } else {
      this.athletes.value = athletes.map((athlete) => {
        const model = this.athleteById(athlete.athleteId) ?? new AthleteModel(athlete);
        model.athlete.value = athlete;
        return model;
      });
    }
    if (former?.status === 'recording' && session?.status !== 'recording') {
      this.endedSessionId.value = former.sessionId;
    }
    this.session.value = session;
  }

  #newSession(): void {
    this.lostMarkCount.value = this.#outbox.reset().length;
    this.clock.reset();
    this.nowMs.value = null;
    this.droppedCount.value = 0;
    this.decimatedCount.value = 0;
  }

  #marked({ mark, removed, requestId }: MarkedMessage): void {
    const model = this.athleteById(mark.athleteId);
    if (removed) this.#outbox.removed(mark.markId);
    else this.#outbox.confirm(mark, requestId);
    if (model === undefined) return;
    const others = model.marks.value.filter((entry) => entry.markId !== mark.markId);
    model.marks.value = removed ? others : [...others, mark].sort((a, b) => a.atMs - b.atMs);
  }
}

/** The holds with one of them added, replaced or withdrawn, in order of their starts. */
function withHold(holds: readonly HoldView[], holdId: string, hold: HoldView | null): readonly HoldView[] {
  const others = holds.filter((entry) => entry.holdId !== holdId);
  return hold === null ? others : [...others, hold].sort((a, b) => a.start.atMs - b.start.atMs);
}
