// The plan that the hub runs, and those it has run: starts one, hands it what happens and what people tap, and takes it
// up again after a restart where the clock says.

import type { Plan } from '../../shared/plan.ts';
import {
  type CurrentPlanRunBody,
  type PlanRunEvent,
  type PlanRunOptions,
  planRunTapTypes,
  type StoredPlanRun,
} from '../../shared/plan-run.ts';
import { said } from '../../shared/said.ts';
import { monotonicMs } from '../../shared/units.ts';
import { sayInEnglish } from '../../shared/words/say.ts';
import { populationOxygen } from '../../src/oxygen/oxygen-parameters.ts';
import { oxygenOf } from '../../src/oxygen/trait-values.ts';
import type { PlanWarning } from '../../src/plans/check-plan.ts';
import { previewForAthletes } from '../../src/plans/plan-effect.ts';
import { createPlanRun, replayPlanRun } from '../../src/plans/plan-run.ts';
import { failed, ok, type Result } from '../../src/result.ts';
import type { HubLog } from '../base/log.ts';
import type { HubStore } from '../base/ports/hub-store.ts';
import type { Refusal } from '../base/refusal.ts';
import { ServiceScope } from '../base/service-scope.ts';
import type { Hub } from '../live/hub.ts';
import { refusals } from '../live/refusals.ts';
import { storedPriorOf } from '../recorder/stored-prior.ts';
import { ActivePlanRun } from './active-plan-run.ts';
import { type KeptRun, PlanRunArchive, type RunHead } from './plan-run-archive.ts';

/** How often time is told to the runner. */
const tickMs = 200;
/** After an absence this long the run is ended instead of taken up. */
const longestAwayMs = 3_600_000;

const planRefusals = {
  running: { code: 'planRunning', said: said('refusal.planRunning') },
  thisRuns: { code: 'planRunning', said: said('refusal.thisPlanRuns') },
  noneRuns: { code: 'notFound', said: said('refusal.noPlanRuns') },
  twice: { code: 'badRequest', said: said('refusal.athleteTwice') },
  ofTheHub: { code: 'badRequest', said: said('refusal.ofTheHub') },
  endStands: { code: 'notFound', said: said('refusal.endStands') },
  noSuchRun: { code: 'notFound', said: said('refusal.unknownPlanRun') },
} as const satisfies Record<string, Refusal>;

type StartRefusal = Refusal & { readonly warnings?: readonly PlanWarning[] };
type BoundaryTap = Extract<PlanRunEvent, { type: 'holdStarted' | 'holdEnded' }>;

export interface PlanRunPorts {
  readonly hub: Hub;
  readonly store: HubStore;
  readonly log: HubLog;
  readonly makeId: () => string;
}

export class PlanRuns {
  readonly #ports: PlanRunPorts;
  readonly #archive: PlanRunArchive;
  readonly #services = new ServiceScope();
  #active: ActivePlanRun | null = null;

  constructor(ports: PlanRunPorts) {
    this.#ports = ports;
    this.#archive = new PlanRunArchive(ports.store, ports.log);
  }

  /** Begins listening to the hub and takes up a run that a stop of the hub interrupted. */
  open(): void {
    const { hub } = this.#ports;
    for (const kept of this.#archive.list()) this.#takeUp(kept);
    this.#services.onClose(() => {
      if (this.#active?.ended === false) this.#active.saveAlive();
    });
    this.#services.onClose(
      hub.subscribe((event) => {
        if (event.type === 'sessionStarted') this.#active?.sessionStarted(event.session);
        else this.#active?.hear(event);
      }),
    );
    this.#services.onClose(hub.pageClock.every(tickMs, () => this.#active?.tick()));
  }

  async close(): Promise<void> {
    await this.#services.close();
  }

  start(plan: Plan, options: PlanRunOptions, longestHoldMs: number | null): Result<RunHead, StartRefusal> {
    if (this.#active?.ended === false) return failed<StartRefusal>(planRefusals.running);
    const { hub, makeId } = this.#ports;
    const lowest = this.#previewedLowest(plan, options, longestHoldMs);
    if (!lowest.ok) return lowest;
    const created = createPlanRun(plan, 0, options, lowest.value);
    if (!created.ok)
      return failed<StartRefusal>({
        code: 'needsChoice',
        said: said('refusal.needsChoice', {
          warnings: created.reason.map((warning) => sayInEnglish(warning.said)).join(' '),
        }),
        warnings: created.reason,
      });
    const head: RunHead = {
      runId: makeId(),
      sessionId: hub.session?.sessionId ?? null,
      startedWallAtMs: hub.clock.wallNowMs(),
      endedAtMs: null,
      plan,
      options,
    };
    const archive = this.#archive;
    const zeroMs = hub.clock.nowMs();
    this.#active = new ActivePlanRun({ hub, archive, head, state: created.value, events: [], zeroMs });
    archive.saveHead(head, 0);
    archive.saveAthletes(head);
    hub.publish({ type: 'planRunChanged' });
    return ok(head);
  }

  /** Runs that came with an imported session. All are over. */
  adopt(runs: readonly StoredPlanRun[]): void {
    for (const { events, ...head } of runs) {
      this.#archive.saveHead(head, head.endedAtMs ?? 0);
      this.#archive.saveAthletes(head);
      for (const [index, event] of events.entries()) this.#archive.saveEvent(head.runId, index, event);
    }
  }

  /** Those run in a session, whole. */
  ofSession(sessionId: string): StoredPlanRun[] {
    return this.#archive
      .list()
      .filter(({ head }) => head.sessionId === sessionId)
      .map(({ head }) => ({ ...head, events: this.#archive.eventsOf(head.runId) }));
  }

  /** A person's tap at a page. */
  tap(event: PlanRunEvent): Result<true, Refusal> {
    const run = this.#active;
    if (run === null || run.ended) return failed<Refusal>(planRefusals.noneRuns);
    if (!(planRunTapTypes as readonly string[]).includes(event.type))
      return failed<Refusal>(planRefusals.ofTheHub);
    if (event.type === 'holdStarted' || event.type === 'holdEnded') return this.#tapBoundary(run, event);
    run.push({ ...event, atMs: run.nowMs });
    return ok(true);
  }

  /** Within `endCanBeTakenBackMs` of a person's ending it. */
  takeBackEnd(): Result<true, Refusal> {
    return this.#active?.takeBackEnd() === true ? ok(true) : failed<Refusal>(planRefusals.endStands);
  }

  current(since: number): CurrentPlanRunBody {
    const { timeScale } = this.#ports.hub;
    const run = this.#active;
    if (run === null) return { run: null, nowMs: 0, timeScale, since: 0, events: [] };
    const from = since >= 0 && since <= run.events.length ? since : 0;
    return { run: run.head, nowMs: run.nowMs, timeScale, since: from, events: run.events.slice(from) };
  }

  /** The newest first. */
  list(): readonly RunHead[] {
    return this.#archive
      .list()
      .map(({ head }) => head)
      .toSorted((one, other) => other.startedWallAtMs - one.startedWallAtMs);
  }

  read(runId: string): StoredPlanRun | undefined {
    const kept = this.#archive.read(runId);
    return kept === undefined ? undefined : { ...kept.head, events: this.#archive.eventsOf(runId) };
  }

  /** One that is to be taken away is let go of, unless it is running. */
  letGo(runId: string): Result<RunHead, Refusal> {
    const kept = this.#archive.read(runId);
    if (kept === undefined) return failed<Refusal>(planRefusals.noSuchRun);
    if (this.#active?.head.runId === runId) {
      if (!this.#active.ended) return failed<Refusal>(planRefusals.thisRuns);
      this.#active = null;
      this.#ports.hub.publish({ type: 'planRunChanged' });
    }
    return ok(kept.head);
  }

  /** The lowest saturation that the plan is expected to bring the athletes to; undefined where that is not known. */
  #previewedLowest(
    plan: Plan,
    options: PlanRunOptions,
    longestHoldMs: number | null,
  ): Result<Parameters<typeof createPlanRun>[3], StartRefusal> {
    const { hub, store } = this.#ports;
    const ids = options.athletes.map(({ athleteId }) => athleteId);
    if (new Set(ids).size < ids.length) return failed<StartRefusal>(planRefusals.twice);
    const known = new Map(hub.athletes.map((athlete) => [athlete.athleteId, athlete]));
    const floors = ids.flatMap((id) => known.get(id)?.settings.floorSpo2Percent ?? []);
    if (floors.length < ids.length) return failed<StartRefusal>(refusals.unknownAmongAthletes);
    const oxygen = ids.map((id) => {
      const prior = storedPriorOf(store, id);
      return prior === undefined ? populationOxygen : oxygenOf(prior);
    });
    const { effect } = previewForAthletes(plan, oxygen, Math.max(...floors), longestHoldMs);
    return ok(typeof effect === 'string' ? undefined : effect.lowest);
  }

  #tapBoundary(run: ActivePlanRun, event: BoundaryTap): Result<true, Refusal> {
    const { hub } = this.#ports;
    const { athleteId } = event;
    // While a session is recorded a tap is a mark of it, and comes back as a hold.
    if (hub.session?.athleteIds.includes(athleteId)) {
      const kind = event.type === 'holdStarted' ? 'holdStart' : 'holdEnd';
      const marked = hub.addMark({ athleteId, kind, atMs: null, text: null });
      return marked.ok ? ok(true) : marked;
    }
    const atMs = run.nowMs;
    run.push(
      event.type === 'holdStarted'
        ? { ...event, atMs, startedAtMs: atMs, source: 'mark', holdId: `tap.${run.events.length}` }
        : { ...event, atMs, endedAtMs: atMs, source: 'mark', holdId: null },
    );
    return ok(true);
  }

  #takeUp({ head, aliveAtMs }: KeptRun): void {
    if (head.endedAtMs !== null) return;
    const { hub } = this.#ports;
    const { clock } = hub;
    const events = this.#archive.eventsOf(head.runId);
    const acceptedWarnings = [...head.options.acceptedWarnings];
    const created = createPlanRun(head.plan, 0, { ...head.options, acceptedWarnings });
    if (!created.ok) return;
    const state = replayPlanRun(created.value, events);
    // The process's own clock began anew: what spans the absence is the session's, where it was taken up, or the wall clock.
    const { session, sessionNowMs } = hub;
    const inSession = session !== null && sessionNowMs !== null && head.sessionId === session.sessionId;
    const nowWallMs = inSession ? session.startedWallAtMs + sessionNowMs : clock.wallNowMs();
    const elapsedMs = Math.max(state.nowMs, aliveAtMs, nowWallMs - head.startedWallAtMs);
    const fromMs = monotonicMs(Math.max(state.nowMs, aliveAtMs));
    const atMs = monotonicMs(elapsedMs);
    const zeroMs = clock.nowMs() - elapsedMs;
    const run = new ActivePlanRun({ hub, archive: this.#archive, head, state, events, zeroMs });
    run.push({ type: 'away', atMs, fromMs });
    if (elapsedMs - fromMs > longestAwayMs && !run.state.ended)
      run.push({ type: 'end', atMs, athleteId: null });
    run.takenUpAt(atMs);
    if (!run.ended) this.#active = run;
  }
}
