// One run of a plan under way: the pure runner fed with time, with what the hub's events say of its athletes, and with
// taps; every event kept, and the detector told of each planned start.

import { endCanBeTakenBackMs, type PlanRunEvent } from '../../shared/plan-run.ts';
import { type MonotonicMs, type ProcessMs, processMs } from '../../shared/units.ts';
import { stepPlanRun } from '../../src/plans/plan-run.ts';
import type { AthleteRun, PlanRunState } from '../../src/plans/plan-run-state.ts';
import { markOfLungs } from '../../src/samples/mark.ts';
import type { Hub } from '../live/hub.ts';
import type { LiveEvent, Session, SessionHold } from '../live/live-event.ts';
import type { PlanRunArchive, RunHead } from './plan-run-archive.ts';
import { runTime, WatchedAthlete } from './watched-athlete.ts';

/** A tick this late means that the machine slept or the hub hung: nobody heard the cues in between. */
const awayAfterMs = 5_000;
/** How often the run's last living moment goes to disk. */
const aliveEveryMs = 5_000;
/** How far people stray from a planned start to the early side. Our choice, no source: most wait for the cue. */
const startToleranceMs = 8_000;

/** What is kept of a run that a person ended, so that the end can be taken back as if it had never been said. */
interface BeforeEnd {
  readonly state: PlanRunState;
  /** What has happened to its athletes since. */
  readonly since: PlanRunEvent[];
}

export interface ActivePlanRunParts {
  readonly hub: Hub;
  readonly archive: PlanRunArchive;
  readonly head: RunHead;
  readonly state: PlanRunState;
  readonly events: readonly PlanRunEvent[];
  /** Process time of run time 0. */
  readonly zeroMs: number;
}

export class ActivePlanRun {
  head: RunHead;
  readonly events: PlanRunEvent[];
  readonly #hub: Hub;
  readonly #archive: PlanRunArchive;
  #zeroMs: number;
  readonly #watched: ReadonlyMap<string, WatchedAthlete>;
  /** By athlete: the planned start that the detector was last told. */
  readonly #expectedAtMs = new Map<string, number>();
  /** By athlete: the start whose lungs were marked last. */
  readonly #lungsSaidOf = new Map<string, number>();
  #state: PlanRunState;
  #savedAliveAtMs: number;
  #toldAtMs: MonotonicMs;
  #beforeEnd: BeforeEnd | null = null;

  constructor({ hub, archive, head, state, events, zeroMs }: ActivePlanRunParts) {
    this.#hub = hub;
    this.#archive = archive;
    this.head = head;
    this.#state = state;
    this.events = [...events];
    this.#zeroMs = zeroMs;
    this.#savedAliveAtMs = state.nowMs;
    this.#toldAtMs = runTime(state.nowMs);
    this.#watched = new Map(
      head.options.athletes.map(({ athleteId }) => [
        athleteId,
        new WatchedAthlete({
          athleteId,
          push: (event) => this.push(event),
          floorSpo2Percent: () =>
            hub.athletes.find((athlete) => athlete.athleteId === athleteId)?.settings.floorSpo2Percent ??
            null,
        }),
      ]),
    );
  }

  get ended(): boolean {
    return this.head.endedAtMs !== null;
  }

  get state(): PlanRunState {
    return this.#state;
  }

  /** Run time now, or when it ended. */
  get nowMs(): MonotonicMs {
    return this.head.endedAtMs === null ? this.#clockMs : runTime(this.head.endedAtMs);
  }

  push(event: PlanRunEvent): void {
    if (this.ended) {
      if (event.type !== 'time') this.#beforeEnd?.since.push(event);
      return;
    }
    const before = this.#state;
    const { state, taken } = stepPlanRun(before, event);
    this.#state = state;
    if (event.type !== 'time') {
      this.#archive.saveEvent(this.head.runId, this.events.length, taken);
      this.events.push(taken);
      this.#hub.publish({ type: 'planRunStep', step: taken });
    }
    this.#tellDetector();
    if (!state.ended || this.ended) return;
    if (event.type === 'end') this.#beforeEnd = { state: before, since: [] };
    this.head = { ...this.head, endedAtMs: state.nowMs };
    this.#archive.saveHead(this.head, state.nowMs);
    this.#hub.publish({ type: 'planRunChanged' });
  }

  /** As if a person had not just ended it: it stands where the clock says. Answers whether that was still possible. */
  takeBackEnd(): boolean {
    const before = this.#beforeEnd;
    if (before === null || !this.#endCanBeTakenBack) return false;
    this.#beforeEnd = null;
    // The end was the last event, since nothing is taken in after it.
    this.events.pop();
    this.#archive.removeEvent(this.head.runId, this.events.length);
    this.#state = before.state;
    this.head = { ...this.head, endedAtMs: null };
    const atMs = this.#clockMs;
    this.saveAlive(atMs);
    for (const event of before.since) this.push(event);
    this.push({ type: 'time', atMs });
    this.#toldAtMs = atMs;
    this.#hub.publish({ type: 'planRunChanged' });
    return true;
  }

  get #clockMs(): MonotonicMs {
    return this.#timeOf(this.#hub.clock.nowMs());
  }

  /** As long as that, what happens to its athletes is still heard. */
  get #endCanBeTakenBack(): boolean {
    const { endedAtMs } = this.head;
    const withinMs = endCanBeTakenBackMs * this.#hub.timeScale;
    return this.#beforeEnd !== null && endedAtMs !== null && this.#clockMs - endedAtMs <= withinMs;
  }

  tick(): void {
    if (this.ended) {
      if (this.#endCanBeTakenBack) for (const watched of this.#watched.values()) watched.time(this.#clockMs);
      return;
    }
    const atMs = this.nowMs;
    if (atMs - this.#toldAtMs > awayAfterMs * this.#hub.timeScale)
      this.push({ type: 'away', atMs, fromMs: this.#toldAtMs });
    else this.push({ type: 'time', atMs });
    this.#toldAtMs = atMs;
    for (const watched of this.#watched.values()) watched.time(atMs);
    if (!this.ended && atMs - this.#savedAliveAtMs >= aliveEveryMs * this.#hub.timeScale)
      this.saveAlive(atMs);
  }

  /** Time up to `atMs` is accounted for: the run was taken up there. */
  takenUpAt(atMs: MonotonicMs): void {
    this.#toldAtMs = atMs;
  }

  saveAlive(atMs: number = this.#state.nowMs): void {
    this.#savedAliveAtMs = atMs;
    this.#archive.saveHead(this.head, atMs);
  }

  /** A session has begun: the run belongs to its recording, where it had none and is of the same people. */
  sessionStarted({ sessionId, athleteIds }: Session): void {
    const isOfThese = this.head.options.athletes.some(({ athleteId }) => athleteIds.includes(athleteId));
    if (this.ended || this.head.sessionId !== null || !isOfThese) return;
    this.head = { ...this.head, sessionId };
    this.saveAlive();
    this.#hub.publish({ type: 'planRunChanged' });
  }

  hear(event: LiveEvent): void {
    if (event.type === 'unwatched' && event.shiftMs > 0) this.#slept(event.shiftMs);
    const watched = 'athleteId' in event ? this.#watched.get(event.athleteId) : undefined;
    if ((this.ended && !this.#endCanBeTakenBack) || watched === undefined) return;
    const nowMs = this.#clockMs;
    switch (event.type) {
      case 'sample':
        this.#hearSample(watched, event.athleteId, nowMs);
        return;
      case 'alarms':
        watched.alarms(event.alarms, nowMs);
        return;
      case 'hold':
        watched.hold(this.#runHold(event.hold), nowMs);
        return;
      case 'holdWithdrawn':
        watched.holdWithdrawn(this.#runHoldId(event.holdId), nowMs);
        return;
      // Nothing of these is a plan's; those of no athlete don't come here at all.
      case 'sessionStarted':
      case 'sessionResumed':
      case 'unwatched':
      case 'sessionEnded':
      case 'athleteJoined':
      case 'athleteLeft':
      case 'sensorMoved':
      case 'athletesChanged':
      case 'mark':
      case 'hubStateChanged':
      case 'planRunChanged':
      case 'planRunStep':
      case 'packet':
      case 'phase':
      case 'forecast':
      case 'link':
      case 'settings':
      case 'learnt':
      case 'supervisionChanged':
      case 'courseChanged':
        return;
    }
  }

  /** The process's clock stood while the computer slept: the run is where the clock says. */
  #slept(shiftMs: number): void {
    if (this.ended) return;
    const fromMs = this.nowMs;
    this.#zeroMs -= shiftMs;
    this.#toldAtMs = this.nowMs;
    this.push({ type: 'away', atMs: this.nowMs, fromMs });
  }

  /** The newest readings, whichever sensor they come from (a strap's heart rate, else the oximeter's pulse rate). */
  #hearSample(watched: WatchedAthlete, athleteId: string, nowMs: MonotonicMs): void {
    const snapshot = this.#hub.snapshotOf(athleteId);
    if (snapshot === undefined) return;
    for (const [channel, sample] of [
      ['saturation', snapshot.latestSpo2],
      ['heartRate', snapshot.latestHeartRate],
    ] as const)
      if (sample?.quality === 'good')
        watched.reading(channel, sample, this.#timeOfSession(sample.atMs), nowMs);
  }

  #runHold(live: SessionHold) {
    const { holdId, start, end } = live.hold;
    return {
      holdId: this.#runHoldId(holdId),
      startedAtMs: this.#timeOfSession(start.atMs),
      endedAtMs: end === undefined ? null : this.#timeOfSession(end.atMs),
      live,
    };
  }

  /** A hold's id is unique in its session only, and a run can see two sessions. */
  #runHoldId(sessionHoldId: string): string {
    return `${this.#hub.session?.sessionId.slice(0, 12) ?? 'none'}.${sessionHoldId}`.slice(0, 64);
  }

  #timeOf(at: ProcessMs): MonotonicMs {
    return runTime(at - this.#zeroMs);
  }

  #timeOfSession(atMs: MonotonicMs): MonotonicMs {
    return runTime((this.#hub.session?.zeroMs ?? this.#zeroMs) + atMs - this.#zeroMs);
  }

  /** Planned starts of holds are a prior for the detector. */
  #tellDetector(): void {
    for (const athleteRun of this.#state.athleteRuns) {
      const { athleteId, phase, plannedStartAtMs } = athleteRun;
      if (phase === 'waiting' || phase === 'open') this.#sayLungs(athleteRun);
      const atMs = phase === 'waiting' || phase === 'open' ? plannedStartAtMs : null;
      if (atMs === null || atMs === this.#expectedAtMs.get(athleteId)) continue;
      this.#expectedAtMs.set(athleteId, atMs);
      this.#hub.expectHold(athleteId, processMs(this.#zeroMs + atMs), startToleranceMs);
    }
  }

  /** The lungs that a plan names for its next start are marked, as a person would: the forecast and a review read it. */
  #sayLungs({ athleteId, steps, nextIndex }: AthleteRun): void {
    if (this.#lungsSaidOf.get(athleteId) === nextIndex) return;
    this.#lungsSaidOf.set(athleteId, nextIndex);
    const lungs = steps[nextIndex]?.lungs ?? null;
    if (lungs === null || !this.#hub.session?.athleteIds.includes(athleteId)) return;
    this.#hub.addMark({ athleteId, kind: markOfLungs[lungs], atMs: null, text: null });
  }
}
