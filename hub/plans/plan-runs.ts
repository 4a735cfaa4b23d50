// Runs a plan in the hub: feeds the pure runner with time, detected holds, alarms and taps, keeps its events on disk,
// and takes a run up again after a restart where the clock says.

import type { DownMessage } from '../../shared/messages/down.ts';
import type { Plan } from '../../shared/plan.ts';
import {
  type CurrentPlanRunBody,
  type PlanRunEvent,
  type PlanRunOptions,
  planRunEventSchema,
  planRunTapTypes,
  type StoredPlanRun,
  storedPlanRunSchema,
} from '../../shared/plan-run.ts';
import { type MonotonicMs, monotonicMs, type ProcessMs, processMs } from '../../shared/units.ts';
import type { HoldView } from '../../shared/views.ts';
import { sayInEnglish } from '../../shared/words/say.ts';
import { oxygenOf } from '../../src/oxygen/athlete-prior.ts';
import { populationOxygen } from '../../src/oxygen/oxygen-parameters.ts';
import type { PlanWarning } from '../../src/plans/check-plan.ts';
import { previewForAthletes } from '../../src/plans/plan-effect.ts';
import { createPlanRun, replayPlanRun, stepPlanRun } from '../../src/plans/plan-run.ts';
import type { PlanRunState } from '../../src/plans/plan-run-state.ts';
import {
  newRecoveryWatch,
  type RecoveryWatch,
  stepRecoveryWatch,
  vitalsOf,
} from '../../src/plans/recovery-watch.ts';
import { failed, ok, type Result } from '../../src/result.ts';
import type { Store } from '../base/ports.ts';
import type { Hub, HubLog } from '../live/hub.ts';
import type { Refusal } from '../live/live-session.ts';
import { unknownAmongAthletes } from '../live/unknown-athlete.ts';
import { storedPriorOf } from '../recorder/stored-prior.ts';

/** How often time is told to the runner. */
const tickMs = 200;
/** A tick this late means that the machine slept or the hub hung: nobody heard the cues in between. */
const awayAfterMs = 5_000;
/** How often the run's last living moment goes to disk. */
const aliveEveryMs = 5_000;
/** After an absence this long the run is ended instead of taken up. */
const longestAwayMs = 3_600_000;
/** The finger's lowest reading of a hold can come this long after it. */
const lowestWithinMs = 60_000;
/** How far people stray from a planned start to the early side. Our choice, no source: most wait for the cue. */
const startToleranceMs = 8_000;

type RunHead = Omit<StoredPlanRun, 'events'>;
type StartRefusal = Refusal & { readonly warnings?: readonly PlanWarning[] };

export interface PlanRuns {
  /** Begins listening to the hub and takes up a run that a stop of the hub interrupted. */
  open(): void;
  close(): void;
  start(plan: Plan, options: PlanRunOptions, longestHoldMs: number | null): Result<RunHead, StartRefusal>;
  /** A person's tap at a page. */
  tap(event: PlanRunEvent): Result<true, Refusal>;
  current(since: number): CurrentPlanRunBody;
  list(): readonly RunHead[];
  read(runId: string): StoredPlanRun | undefined;
  remove(runId: string): Result<true, Refusal>;
}

export interface PlanRunPorts {
  readonly hub: Hub;
  readonly store: Store;
  readonly log: HubLog;
  readonly makeId: () => string;
}

interface Watched {
  recovery: RecoveryWatch;
  vitalsText: string;
  alarmsText: string;
  readonly holds: Map<string, HoldView>;
  /** The last hold that ended, while its lowest reading may still come. */
  last: { readonly holdId: string; readonly endedAtMs: number; lowestSpo2Percent: number | null } | null;
  /** The planned start that the detector was last told. */
  expectedAtMs: number | null;
}

interface ActiveRun {
  head: RunHead;
  state: PlanRunState;
  readonly events: PlanRunEvent[];
  /** Process time of run time 0. */
  readonly zeroMs: number;
  /** Adds to session time to give run time; null before the session's clock has been heard. */
  sessionOffsetMs: number | null;
  savedAliveAtMs: number;
  toldAtMs: number;
  readonly watched: Map<string, Watched>;
}

export function createPlanRuns(ports: PlanRunPorts): PlanRuns {
  const { hub, store, log, makeId } = ports;
  const { clock } = hub;
  const stops: (() => void)[] = [];
  let active: ActiveRun | null = null;

  const runTime = (run: ActiveRun, now: ProcessMs = clock.nowMs()): MonotonicMs =>
    monotonicMs(Math.max(0, now - run.zeroMs));

  function write(action: () => void): void {
    try {
      action();
    } catch (error) {
      // The run goes on in memory: a full disk must not leave people without their cues.
      log.error('a plan run could not be written', error);
    }
  }

  function saveHead(run: ActiveRun, aliveAtMs: number): void {
    run.savedAliveAtMs = aliveAtMs;
    const { options, ...rest } = run.head;
    const { athletes: _athletes, ...shared } = options;
    write(() =>
      store.saveDocument({
        kind: 'planRun',
        documentId: run.head.runId,
        groupId: null,
        athleteId: null,
        body: { ...rest, options: shared, aliveAtMs },
      }),
    );
  }

  /** One document an athlete, so that erasing an athlete takes their part of the run along. */
  function saveAthletes(run: ActiveRun): void {
    for (const athlete of run.head.options.athletes)
      write(() =>
        store.saveDocument({
          kind: 'planRunAthlete',
          documentId: `${run.head.runId}/${athlete.athleteId}`,
          groupId: run.head.runId,
          athleteId: athlete.athleteId,
          body: athlete,
        }),
      );
  }

  function push(run: ActiveRun, event: PlanRunEvent): void {
    const step = stepPlanRun(run.state, event);
    run.state = step.state;
    if (event.type !== 'time') {
      const index = run.events.length;
      run.events.push(step.taken);
      write(() =>
        store.saveDocument({
          kind: 'planRunEvent',
          documentId: `${run.head.runId}/${String(index).padStart(6, '0')}`,
          groupId: run.head.runId,
          athleteId: 'athleteId' in step.taken ? step.taken.athleteId : null,
          body: step.taken,
        }),
      );
    }
    tellDetector(run);
    if (!run.state.ended) return;
    run.head = { ...run.head, endedAtMs: run.state.nowMs };
    saveHead(run, run.state.nowMs);
  }

  /** Planned starts of holds are a prior for the detector. */
  function tellDetector(run: ActiveRun): void {
    for (const lane of run.state.lanes) {
      const watched = run.watched.get(lane.athleteId);
      const atMs = lane.phase === 'waiting' || lane.phase === 'open' ? lane.plannedStartAtMs : null;
      if (watched === undefined || atMs === null || atMs === watched.expectedAtMs) continue;
      watched.expectedAtMs = atMs;
      hub.expectHold(lane.athleteId, processMs(run.zeroMs + atMs), startToleranceMs);
    }
  }

  function tick(): void {
    const run = active;
    if (run === null || run.head.endedAtMs !== null) return;
    const atMs = runTime(run);
    if (atMs - run.toldAtMs > awayAfterMs * hub.timeScale)
      push(run, { type: 'away', atMs, fromMs: monotonicMs(run.toldAtMs) });
    else push(run, { type: 'time', atMs });
    run.toldAtMs = atMs;
    for (const [athleteId, watched] of run.watched) {
      watched.recovery = stepRecoveryWatch(watched.recovery, { type: 'time', atMs });
      tellVitals(run, athleteId, watched, atMs);
    }
    if (run.head.endedAtMs === null && atMs - run.savedAliveAtMs >= aliveEveryMs * hub.timeScale)
      saveHead(run, atMs);
  }

  function tellVitals(run: ActiveRun, athleteId: string, watched: Watched, atMs: MonotonicMs): void {
    const vitals = vitalsOf(watched.recovery);
    const text = JSON.stringify(vitals);
    if (text === watched.vitalsText) return;
    watched.vitalsText = text;
    push(run, { type: 'vitals', atMs, athleteId, ...vitals });
  }

  function hear(message: DownMessage): void {
    const run = active;
    if (run === null || run.head.endedAtMs !== null) return;
    const atMs = runTime(run);
    if (message.type === 'heartbeat' && message.atMs !== null) run.sessionOffsetMs = atMs - message.atMs;
    if (message.type === 'session') run.sessionOffsetMs = null;
    if (!('athleteId' in message) || message.type === 'trace') return;
    const watched = run.watched.get(message.athleteId);
    if (watched === undefined) return;
    const { athleteId } = message;
    switch (message.type) {
      case 'latest':
        run.sessionOffsetMs ??= atMs - message.atMs;
        for (const [channel, readout] of [
          ['saturation', message.spo2],
          ['heartRate', message.heartRate],
        ] as const) {
          if (readout === null || readout.quality !== 'good') continue;
          if (channel === 'saturation') noteLowest(run, athleteId, watched, readout.value, atMs);
          const readAtMs = monotonicMs(readout.atMs + run.sessionOffsetMs);
          watched.recovery = stepRecoveryWatch(watched.recovery, {
            type: 'reading',
            channel,
            atMs: readAtMs,
            value: readout.value,
          });
        }
        tellVitals(run, athleteId, watched, atMs);
        return;
      case 'alarms': {
        const present = [
          ...new Set(message.alarms.filter((alarm) => alarm.conditionPresent).map((alarm) => alarm.kind)),
        ].toSorted();
        const text = present.join();
        if (text === watched.alarmsText) return;
        watched.alarmsText = text;
        push(run, { type: 'alarms', atMs, athleteId, present });
        return;
      }
      case 'hold':
        hearHold(run, athleteId, watched, message.holdId, message.hold, atMs);
        return;
    }
  }

  function hearHold(
    run: ActiveRun,
    athleteId: string,
    watched: Watched,
    sessionHoldId: string,
    hold: HoldView | null,
    atMs: MonotonicMs,
  ): void {
    // A hold's id is unique in its session only, and a run can see two sessions.
    const holdId = `${hub.session?.sessionId.slice(0, 12) ?? 'none'}.${sessionHoldId}`.slice(0, 64);
    const before = watched.holds.get(holdId);
    if (hold === null) {
      watched.holds.delete(holdId);
      if (before === undefined) return;
      if (before.end === null) watched.recovery = { ...watched.recovery, holding: false };
      push(run, { type: 'holdWithdrawn', atMs, athleteId, holdId });
      return;
    }
    watched.holds.set(holdId, hold);
    const offsetMs = run.sessionOffsetMs ?? atMs - (hold.end ?? hold.start).declaredAtMs;
    const toRun = (sessionMs: number) => monotonicMs(Math.max(0, sessionMs + offsetMs));
    const startedAtMs = toRun(hold.start.atMs);
    const endedAtMs = hold.end === null ? null : toRun(hold.end.atMs);
    if (before === undefined) {
      watched.recovery = stepRecoveryWatch(watched.recovery, { type: 'holdStarted', atMs });
      push(run, { type: 'holdStarted', atMs, athleteId, holdId, startedAtMs, source: hold.start.source });
    }
    if (hold.end !== null && endedAtMs !== null && (before === undefined || before.end === null)) {
      watched.recovery = stepRecoveryWatch(watched.recovery, { type: 'holdEnded', atMs });
      const lowestSpo2Percent = hold.lowestSpo2?.value ?? null;
      watched.last = { holdId, endedAtMs, lowestSpo2Percent };
      pushEnded(run, athleteId, holdId, endedAtMs, hold.end.source, lowestSpo2Percent, atMs);
      return;
    }
    if (
      before !== undefined &&
      (before.start.atMs !== hold.start.atMs || before.end?.atMs !== hold.end?.atMs)
    )
      push(run, { type: 'holdRevised', atMs, athleteId, holdId, startedAtMs, endedAtMs });
  }

  function pushEnded(
    run: ActiveRun,
    athleteId: string,
    holdId: string,
    endedAtMs: MonotonicMs,
    source: 'detected' | 'mark' | 'corrected',
    lowestSpo2Percent: number | null,
    atMs: MonotonicMs,
  ): void {
    const floorSpo2Percent =
      hub.athletes.find((athlete) => athlete.athleteId === athleteId)?.settings.floorSpo2Percent ?? null;
    push(run, {
      type: 'holdEnded',
      atMs,
      athleteId,
      holdId,
      endedAtMs,
      source,
      lowestSpo2Percent,
      floorSpo2Percent,
    });
  }

  /** The lowest reading of a hold comes after it: told again when it is lower by a whole point. */
  function noteLowest(
    run: ActiveRun,
    athleteId: string,
    watched: Watched,
    spo2Percent: number,
    atMs: MonotonicMs,
  ): void {
    const { last } = watched;
    if (last === null) return;
    if (atMs - last.endedAtMs > lowestWithinMs || watched.recovery.holding) {
      watched.last = null;
      return;
    }
    if (last.lowestSpo2Percent !== null && spo2Percent > last.lowestSpo2Percent - 1) return;
    last.lowestSpo2Percent = spo2Percent;
    const end = watched.holds.get(last.holdId)?.end;
    pushEnded(
      run,
      athleteId,
      last.holdId,
      monotonicMs(last.endedAtMs),
      end?.source ?? 'detected',
      spo2Percent,
      atMs,
    );
  }

  function activate(head: RunHead, state: PlanRunState, events: PlanRunEvent[], zeroMs: number): ActiveRun {
    return {
      head,
      state,
      events,
      zeroMs,
      sessionOffsetMs: null,
      savedAliveAtMs: state.nowMs,
      toldAtMs: state.nowMs,
      watched: new Map(
        head.options.athletes.map(({ athleteId }): [string, Watched] => [
          athleteId,
          {
            recovery: newRecoveryWatch,
            vitalsText: JSON.stringify(vitalsOf(newRecoveryWatch)),
            alarmsText: '',
            holds: new Map(),
            last: null,
            expectedAtMs: null,
          },
        ]),
      ),
    };
  }

  /** Every stored run that can still be read and has an athlete left. */
  function readHead(body: unknown, runId: string): (RunHead & { readonly aliveAtMs: number }) | undefined {
    const athletes = store.listDocuments('planRunAthlete', runId).map((document) => document.body);
    if (typeof body !== 'object' || body === null || athletes.length === 0) return undefined;
    const { options, aliveAtMs, ...rest } = body as {
      readonly options?: object;
      readonly aliveAtMs?: unknown;
    };
    const parsed = storedPlanRunSchema.safeParse({ ...rest, options: { ...options, athletes }, events: [] });
    if (!parsed.success) return undefined;
    const { events: _events, ...head } = parsed.data;
    return { ...head, aliveAtMs: typeof aliveAtMs === 'number' ? aliveAtMs : 0 };
  }

  const readEvents = (runId: string): PlanRunEvent[] =>
    store.listDocuments('planRunEvent', runId).flatMap((document) => {
      const parsed = planRunEventSchema.safeParse(document.body);
      return parsed.success ? [parsed.data] : [];
    });

  function takeUp(): void {
    for (const document of store.listDocuments('planRun')) {
      const found = readHead(document.body, document.documentId);
      if (found === undefined || found.endedAtMs !== null) continue;
      const { aliveAtMs, ...head } = found;
      const events = readEvents(head.runId);
      const created = createPlanRun(head.plan, 0, {
        ...head.options,
        acceptedWarnings: [...head.options.acceptedWarnings],
      });
      if (!created.ok) continue;
      const state = replayPlanRun(created.value, events);
      // The process's own clock began anew: only the wall clock spans the absence.
      const elapsedMs = Math.max(state.nowMs, aliveAtMs, clock.wallNowMs() - head.startedWallAtMs);
      const run = activate(head, state, events, clock.nowMs() - elapsedMs);
      const fromMs = monotonicMs(Math.max(state.nowMs, aliveAtMs));
      const atMs = monotonicMs(elapsedMs);
      push(run, { type: 'away', atMs, fromMs });
      if (elapsedMs - fromMs > longestAwayMs && !run.state.ended)
        push(run, { type: 'end', atMs, athleteId: null });
      run.toldAtMs = atMs;
      if (run.head.endedAtMs === null) active = run;
    }
  }

  return {
    open() {
      takeUp();
      stops.push(
        hub.subscribe((message) => hear(message)),
        hub.pageClock.every(tickMs, tick),
      );
    },
    close() {
      for (const stop of stops.splice(0)) stop();
      if (active !== null && active.head.endedAtMs === null) saveHead(active, active.state.nowMs);
    },
    start(plan, options, longestHoldMs) {
      if (active !== null && active.head.endedAtMs === null)
        return failed({ code: 'planRunning', message: 'A plan is already running. End it first.' });
      const athletes = options.athletes.map(({ athleteId }) =>
        hub.athletes.find((athlete) => athlete.athleteId === athleteId),
      );
      if (new Set(options.athletes.map(({ athleteId }) => athleteId)).size < options.athletes.length)
        return failed({ code: 'badRequest', message: 'An athlete can be in a plan only once.' });
      const floors = athletes.flatMap((athlete) =>
        athlete === undefined ? [] : [athlete.settings.floorSpo2Percent],
      );
      if (floors.length < athletes.length) return failed(unknownAmongAthletes);
      const { effect } = previewForAthletes(
        plan,
        options.athletes.map(({ athleteId }) => {
          const prior = storedPriorOf(store, athleteId);
          return prior === undefined ? populationOxygen : oxygenOf(prior);
        }),
        Math.max(...floors),
        longestHoldMs,
      );
      const created = createPlanRun(plan, 0, options, typeof effect === 'string' ? undefined : effect.lowest);
      if (!created.ok)
        return failed({
          code: 'needsChoice',
          message: created.reason.map((warning) => sayInEnglish(warning.said)).join(' '),
          warnings: created.reason,
        });
      const head: RunHead = {
        runId: makeId(),
        sessionId: hub.session?.sessionId ?? null,
        startedWallAtMs: clock.wallNowMs(),
        endedAtMs: null,
        plan,
        options,
      };
      active = activate(head, created.value, [], clock.nowMs());
      saveHead(active, 0);
      saveAthletes(active);
      return ok(head);
    },
    tap(event) {
      const run = active;
      if (run === null || run.head.endedAtMs !== null)
        return failed({ code: 'notFound', message: 'No plan is running.' });
      if (!(planRunTapTypes as readonly string[]).includes(event.type))
        return failed({ code: 'badRequest', message: 'This is for the hub itself to say.' });
      const atMs = runTime(run);
      if (event.type === 'holdStarted' || event.type === 'holdEnded') {
        // While a session is recorded a tap is a mark of it, and comes back as a hold.
        if (hub.session?.athleteIds.includes(event.athleteId)) {
          const kind = event.type === 'holdStarted' ? 'holdStart' : 'holdEnd';
          const marked = hub.addMark({ athleteId: event.athleteId, kind, atMs: null, text: null });
          return marked.ok ? ok(true) : failed(marked.reason);
        }
        push(
          run,
          event.type === 'holdStarted'
            ? { ...event, atMs, startedAtMs: atMs, source: 'mark', holdId: `tap.${run.events.length}` }
            : { ...event, atMs, endedAtMs: atMs, source: 'mark', holdId: null },
        );
        return ok(true);
      }
      push(run, { ...event, atMs });
      return ok(true);
    },
    current(since) {
      const { timeScale } = hub;
      if (active === null) return { run: null, nowMs: 0, timeScale, since: 0, events: [] };
      const from = since >= 0 && since <= active.events.length ? since : 0;
      return {
        run: active.head,
        nowMs: active.head.endedAtMs ?? runTime(active),
        timeScale,
        since: from,
        events: active.events.slice(from),
      };
    },
    list() {
      return store
        .listDocuments('planRun')
        .flatMap((document) => {
          const found = readHead(document.body, document.documentId);
          if (found === undefined) return [];
          const { aliveAtMs: _aliveAtMs, ...head } = found;
          return [head];
        })
        .toReversed();
    },
    read(runId) {
      const document = store.readDocument('planRun', runId);
      const found = document === undefined ? undefined : readHead(document.body, runId);
      if (found === undefined) return undefined;
      const { aliveAtMs: _aliveAtMs, ...head } = found;
      return { ...head, events: readEvents(runId) };
    },
    remove(runId) {
      if (active?.head.runId === runId) {
        if (active.head.endedAtMs === null)
          return failed({ code: 'planRunning', message: 'This plan is running. End it first.' });
        active = null;
      }
      return store.removeDocument('planRun', runId)
        ? ok(true)
        : failed({ code: 'notFound', message: 'There is no such run; it may have been deleted.' });
    },
  };
}
