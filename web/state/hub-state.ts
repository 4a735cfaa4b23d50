// Everything the page knows of the hub, as signals, and how each message changes it: one batch a message. No DOM.

import { batch, computed, type ReadonlySignal, signal } from '@preact/signals';
import type { CoachWords, Drill, EmergencyCard } from '../../shared/course.ts';
import type { DownMessage } from '../../shared/messages/down.ts';
import type { HelloMessage } from '../../shared/messages/hello.ts';
import type { MarkedMessage } from '../../shared/messages/marked.ts';
import type { RefusedMessage } from '../../shared/messages/refused.ts';
import type { SensorsMessage } from '../../shared/messages/sensors.ts';
import type { WelcomeMessage } from '../../shared/messages/welcome.ts';
import { notSavedYetCode, type Said } from '../../shared/said.ts';
import type { AlarmPriority, Role } from '../../shared/schema-parts.ts';
import { type MonotonicMs, monotonicMs, wallMs } from '../../shared/units.ts';
import type {
  Athlete,
  HoldView,
  PresentPage,
  SessionView,
  ShownSensor,
  SupervisionAlarm,
} from '../../shared/views.ts';
import type { LinkState } from '../connection/hub-connection.ts';
import { higherPriority, soundingPriority } from './alarm-order.ts';
import { AthleteModel, bufferedFromAfar } from './athlete-model.ts';
import type { HubRequests } from './hub-requests.ts';
import type { MarkOutbox } from './mark-outbox.ts';
import type { PlanRunFollower } from './plan-run-follower.ts';
import { SessionClock } from './session-clock.ts';
import { type AlarmEntry, standingEntries } from './standing-alarms.ts';
import { UnsavedChanges } from './unsaved-changes.ts';
import type { RememberedSession, WatchedSession, WatchedSessionMemory } from './watched-session.ts';

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

/** How often the page's clock ticks; messages move it no oftener. Our choice: ages are shown in whole seconds. */
export const pageTickMs = 200;

export class HubState {
  readonly link = signal<LinkState>('connecting');
  /** Page time at which the hub fell silent; meaningful while the link is not live. */
  readonly silentSincePageMs = signal<number | null>(null);
  readonly hub = signal<HubInfo | null>(null);
  /** Of the hub's process; another after it was started anew. Null before its first welcome. */
  readonly hubRunId = signal<string | null>(null);
  readonly session = signal<SessionView | null>(null);
  readonly athletes = signal<readonly AthleteModel[]>([]);
  readonly sensors = signal<readonly ShownSensor[]>([]);
  /** What a person should know of the hub itself. */
  readonly notices = signal<readonly Said[]>([]);
  /** What to do in an emergency here; kept while the hub is silent. Null where nobody has written it. */
  readonly emergencyCard = signal<EmergencyCard | null>(null);
  /** An alarm drill that goes on. */
  readonly drill = signal<Drill | null>(null);
  /** The page that gives the cues of plans aloud; null where none was chosen. */
  readonly cueSpeaker = signal<{ readonly speakerId: string; readonly device: string } | null>(null);
  /** The last message of a coach to each athlete, by athlete. */
  readonly coachWords = signal<ReadonlyMap<string, CoachWords>>(new Map());
  /** Drills acknowledged on this page. */
  readonly seenDrillId = signal<string | null>(null);
  /** It calls here until somebody at this page has acknowledged it, and never beside anything real. */
  readonly drillCalls = computed(
    () =>
      this.drill.value !== null &&
      this.drill.value.drillId !== this.seenDrillId.value &&
      this.link.value === 'live',
  );
  /** Who is at a page now; told to coaches only. */
  readonly presence = signal<readonly PresentPage[]>([]);
  /** What this page may do. The hub refuses the rest anyway; the page does not offer it. */
  readonly role = signal<Role>('onlooker');
  /** At a school, a coach of some rooms: what is of the school as a whole is for others. */
  readonly isOfSomeRooms = signal(false);
  /** The joined device this page runs on; null on the hub's own machine. */
  readonly deviceId = signal<string | null>(null);
  /** Looked at from a school: alarms are acknowledged from there, everything else is done in the room. */
  readonly fromAfar: boolean;
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
  /** Alarms of the watching itself that the hub holds. */
  readonly supervision = signal<readonly SupervisionAlarm[]>([]);
  /** Those this page holds by itself: a session it watched is gone, and no hub says why. */
  readonly ownSupervision = signal<readonly SupervisionAlarm[]>([]);
  /** Those silenced on this page alone, by somebody who may not answer for all. */
  readonly hushedAlarmIds = signal<ReadonlySet<string>>(new Set());
  /** Page time until which the page's own alarm is silenced. */
  readonly pageAlarmPausedUntilMs = signal(0);
  readonly pageNowMs = signal(0);

  readonly recording = computed(() => this.session.value?.status === 'recording');
  readonly hubSilent = computed(() => this.link.value !== 'live');
  /** Nothing tells of the present: the hub is silent, or the session is over and its last figures still stand. */
  readonly isPresentUnknown = computed(() => this.hubSilent.value || !this.recording.value);
  /** The page's own alarm: a session is on, as far as anyone knows, and the hub does not answer. */
  readonly pageAlarm: ReadonlySignal<boolean> = computed(
    () =>
      (this.recording.value || this.#remembered.value !== null) &&
      this.link.value !== 'live' &&
      this.link.value !== 'connecting',
  );
  /** A session is on only as far as this page remembers: a person may know better. */
  readonly onlyRemembers = computed(() => !this.recording.value && this.#remembered.value !== null);
  get rememberedTitle(): string {
    return this.#remembered.value?.title ?? '';
  }
  /** Alarms of the watching itself as this page shows them. */
  readonly watching: ReadonlySignal<readonly SupervisionAlarm[]> = computed(() => {
    const told = new Set(this.supervision.value.map(({ session }) => session?.sessionId));
    const own = this.ownSupervision.value.filter(({ session }) => !told.has(session?.sessionId));
    return [...this.supervision.value, ...own].map((alarm) =>
      this.hushedAlarmIds.value.has(alarm.alarmId) ? { ...alarm, acknowledged: true } : alarm,
    );
  });
  /** Every alarm that stands, as the frame shows them. */
  readonly alarmEntries: ReadonlySignal<readonly AlarmEntry[]> = computed(() =>
    standingEntries(
      this.athletes.value.map(({ athleteId, athlete, alarms }) => ({
        athleteId,
        name: athlete.value.name,
        alarms: alarms.value,
      })),
      this.watching.value,
    ),
  );
  /** The sound this page should be making now. */
  readonly soundPriority: ReadonlySignal<AlarmPriority | null> = computed(() => {
    let priority: AlarmPriority | null = null;
    if (this.pageAlarm.value && this.pageNowMs.value >= this.pageAlarmPausedUntilMs.value) priority = 'high';
    for (const model of this.athletes.value)
      priority = higherPriority(priority, soundingPriority(model.sound.value, this.nowMs.value));
    for (const alarm of this.watching.value)
      if (!alarm.acknowledged) priority = higherPriority(priority, alarm.priority);
    return priority ?? (this.drillCalls.value ? 'high' : null);
  });

  readonly clock = new SessionClock();
  /** What this page changed that is not on the hub's disk. */
  readonly unsaved = new UnsavedChanges((requestId) => this.#outbox.saved(requestId));
  readonly #outbox: MarkOutbox;
  readonly #requests: HubRequests;
  readonly #planRun: PlanRunFollower;
  readonly #memory: WatchedSessionMemory | undefined;
  /** The session that was watched before this page was loaded, until the hub has said what became of it. */
  readonly #remembered = signal<RememberedSession | null>(null);
  #refusalNumber = 0;

  constructor(parts: {
    readonly outbox: MarkOutbox;
    readonly requests: HubRequests;
    readonly planRun: PlanRunFollower;
    /** Where a reload finds what was watched before it; nowhere when left out. */
    readonly watchedSession?: WatchedSessionMemory;
    readonly fromAfar?: boolean;
  }) {
    this.fromAfar = parts.fromAfar ?? false;
    this.#outbox = parts.outbox;
    this.#requests = parts.requests;
    this.#planRun = parts.planRun;
    this.#memory = parts.watchedSession;
    this.#remembered.value = parts.watchedSession?.load() ?? null;
  }

  /** A person has seen these here; on this page alone. */
  hush(alarmIds: readonly string[]): void {
    this.hushedAlarmIds.value = new Set([...this.hushedAlarmIds.value, ...alarmIds]);
    this.ownSupervision.value = this.ownSupervision.value.filter(
      ({ alarmId }) => !alarmIds.includes(alarmId),
    );
  }

  athleteById(athleteId: string): AthleteModel | undefined {
    return this.athletes.value.find((model) => model.athleteId === athleteId);
  }

  sensorsOf(athleteId: string): readonly ShownSensor[] {
    return this.sensors.value.filter((sensor) => sensor.athleteId === athleteId);
  }

  /** What the page has, for `hello`: the least of what it has of each athlete. */
  resume(): HelloMessage['resume'] {
    const session = this.session.value;
    const remembered = this.#remembered.value;
    if (remembered?.byThisTab === true)
      return { sessionId: remembered.sessionId, haveToMs: 0 as MonotonicMs };
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

  /** A person knows that the session this page remembers is over. */
  forgetRemembered(): void {
    this.#remembered.value = null;
    this.#memory?.save(null);
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
        this.sensors.value = message.whole ? message.sensors : withChanges(this.sensors.value, message);
        this.notices.value = message.notices;
        return;
      case 'supervision':
        this.supervision.value = message.alarms;
        this.#remember();
        return;
      case 'cueSpeaker':
        this.cueSpeaker.value = message.speaker;
        return;
      case 'coachWords':
        this.coachWords.value = new Map([...this.coachWords.value, [message.words.athleteId, message.words]]);
        return;
      case 'course':
        this.emergencyCard.value = message.emergencyCard;
        this.drill.value = message.drill;
        return;
      case 'presence':
        this.presence.value = message.pages;
        return;
      case 'refused':
        this.#refused(message);
        return;
      case 'done':
        this.unsaved.answered(message.requestId);
        this.#outbox.saved(message.requestId);
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

  /** What stands but isn't saved is no refusal: it is done, and listed until the disk has it. */
  #refused({ requestId, said }: RefusedMessage): void {
    if (requestId !== null && said.code === notSavedYetCode) {
      this.unsaved.standsUnsaved(requestId);
      this.#requests.done(requestId);
      return;
    }
    if (requestId !== null) {
      this.unsaved.answered(requestId);
      this.#outbox.refused(requestId);
      this.#requests.refused(requestId, said);
    }
    this.refuse(said);
  }

  /** Every number with an age follows `nowMs`: messages, of which dozens come a second, move it no oftener than `tick` does. */
  #stamp(atMs: number, pageNowMs: number): void {
    this.clock.stamp(atMs, pageNowMs);
    const nowMs = this.clock.nowMs(pageNowMs);
    const shownMs = this.nowMs.peek();
    if (nowMs === null || shownMs === null || Math.abs(nowMs - shownMs) >= pageTickMs * this.clock.timeScale)
      this.nowMs.value = nowMs;
  }

  #welcome(message: WelcomeMessage, pageNowMs: number): void {
    this.hub.value = {
      version: message.hubVersion,
      simulated: message.simulated,
      timeScale: message.timeScale,
    };
    this.hubRunId.value = message.hubRunId;
    this.unsaved.connectedTo(message.hubRunId);
    this.role.value = message.role;
    this.isOfSomeRooms.value = message.role === 'coach' && message.athleteIds !== 'all';
    this.deviceId.value = message.deviceId;
    this.clock.setTimeScale(message.timeScale);
    const former = this.session.value;
    const same = former !== null && former.sessionId === message.session?.sessionId;
    // What another page watched, this one need not miss: the hub tells what it still holds of it.
    const remembered = this.#remembered.value?.byThisTab === true ? this.#remembered.value : null;
    const watched = former?.status === 'recording' ? this.#watchedNow() : remembered;
    this.#remembered.value = null;
    if (watched !== null && watched.sessionId !== message.session?.sessionId) {
      if (watched.sessionId === message.endedSessionId) this.endedSessionId.value = watched.sessionId;
      else this.#lost(watched, message);
    }
    if (!same) this.#newSession();
    this.supervision.value = [];
    this.session.value = message.session;
    this.sensors.value = message.sensors;
    this.athletes.value = message.athletes.map((state) => {
      const model =
        (same ? this.athleteById(state.athlete.athleteId) : undefined) ?? this.#newModel(state.athlete);
      model.replace(state, pageNowMs);
      return model;
    });
    for (const state of message.athletes) this.#stamp(state.atMs, pageNowMs);
    this.#remember();
    if (same) this.#reconcile(message, pageNowMs);
    else this.unsaved.reconnected(new Set());
  }

  #reconcile({ athletes }: WelcomeMessage, pageNowMs: number): void {
    const { there, sentAgain, withdrawn } = this.#outbox.reconcile(
      athletes.flatMap((state) => state.marks),
      pageNowMs,
    );
    for (const requestId of sentAgain) this.unsaved.sentAgain(requestId);
    this.unsaved.reconnected(there);
    for (const { markId, athleteId, kind, atMs } of withdrawn)
      this.unsaved.withdrawn(markId, { type: 'mark', athleteId, kind, atMs });
  }

  #sessionChanged(session: SessionView | null, athletes: readonly Athlete[]): void {
    const former = this.session.value;
    // The hub's list has those too who are not in the session, or who left it.
    const present =
      session === null
        ? athletes
        : athletes.filter(({ athleteId }) => session.athleteIds.includes(athleteId));
    if (session !== null && former?.sessionId !== session.sessionId) {
      this.#newSession();
      this.interruptedSessionId.value = null;
      this.endedSessionId.value = null;
      // Watched again by somebody's will.
      this.ownSupervision.value = this.ownSupervision.value.filter(
        (alarm) => !alarm.session?.athletes.every(({ athleteId }) => session.athleteIds.includes(athleteId)),
      );
      this.athletes.value = present.map((athlete) => this.#newModel(athlete));
    } else {
      this.athletes.value = present.map((athlete) => {
        const model = this.athleteById(athlete.athleteId) ?? this.#newModel(athlete);
        model.athlete.value = athlete;
        return model;
      });
    }
    if (former?.status === 'recording' && session?.status !== 'recording') {
      this.endedSessionId.value = former.sessionId;
    }
    this.session.value = session;
    this.#remember();
  }

  #newModel(athlete: Athlete): AthleteModel {
    return this.fromAfar ? new AthleteModel(athlete, bufferedFromAfar) : new AthleteModel(athlete);
  }

  #watchedNow(): WatchedSession | null {
    const session = this.session.value;
    if (session === null || session.status !== 'recording') return null;
    return {
      sessionId: session.sessionId,
      title: session.title,
      athletes: this.athletes.value
        .filter(({ athleteId }) => session.athleteIds.includes(athleteId))
        .map(({ athleteId, athlete }) => ({ athleteId, name: athlete.value.name })),
      seenWallAtMs: session.startedWallAtMs + (this.nowMs.value ?? 0),
    };
  }

  #remember(): void {
    this.#memory?.save(this.#watchedNow() ?? this.#stoppedUnseen());
  }

  /** What nobody ended: a hub that stopped in order tells so, and is gone before a page that is loaded anew could ask. */
  #stoppedUnseen(): WatchedSession | null {
    const alarm = this.supervision.value.find(
      ({ kind, acknowledged, session }) => kind === 'monitoringStopped' && !acknowledged && session !== null,
    );
    return alarm === undefined ? null : { ...alarm.session!, seenWallAtMs: alarm.atWallMs };
  }

  /** A session that was being watched is gone. The hub says why, if it knows; until a person has seen it, this page does. */
  #lost(watched: WatchedSession, { wallNowMs }: WelcomeMessage): void {
    this.interruptedSessionId.value = watched.sessionId;
    const { sessionId, title, athletes, seenWallAtMs } = watched;
    const alarm: SupervisionAlarm = {
      alarmId: `own-${sessionId}`.slice(0, 64),
      kind: 'monitoringStopped',
      priority: 'high',
      cause: null,
      atWallMs: wallMs(Math.min(seenWallAtMs, wallNowMs)),
      conditionPresent: true,
      acknowledged: false,
      subject: null,
      reason: null,
      durationMs: null,
      session: { sessionId, title, athletes: [...athletes] },
    };
    this.ownSupervision.value = [
      ...this.ownSupervision.value.filter(({ alarmId }) => alarmId !== alarm.alarmId),
      alarm,
    ];
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

/** The sensors with some of them added, replaced or gone; each stays where it was. */
function withChanges(
  sensors: readonly ShownSensor[],
  { sensors: changed, gone }: SensorsMessage,
): readonly ShownSensor[] {
  const all = new Map(sensors.map((sensor) => [sensor.sensorId, sensor]));
  for (const sensor of changed) all.set(sensor.sensorId, sensor);
  for (const sensorId of gone) all.delete(sensorId);
  return [...all.values()];
}
