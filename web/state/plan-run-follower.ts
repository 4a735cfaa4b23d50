// Follows the plan that the hub runs: takes its events as the hub sends them, rebuilds the run with the same core, and
// tells cues as they come due by the page's own clock, so that a countdown does not hang on the network. No DOM.

import { computed, type ReadonlySignal, signal } from '@preact/signals';
import type { CurrentPlanRunBody, PlanRunEvent } from '../../shared/plan-run.ts';
import { type MonotonicMs, monotonicMs } from '../../shared/units.ts';
import type { Cue } from '../../src/plans/cue.ts';
import { createPlanRun, stepPlanRun } from '../../src/plans/plan-run.ts';
import type { PlanRunState } from '../../src/plans/plan-run-state.ts';
import { type Suggestion, suggestAdjustments } from '../../src/plans/suggest-adjustments.ts';

/** How often the page's own time moves. */
const tickEveryMs = 100;
/** A cue older than this is not given any more: it would say something that is no longer so. */
const cueLateMs = 2_500;

export interface FollowerTimers {
  nowMs(): number;
  every(intervalMs: number, callback: () => void): () => void;
}

export type FollowedRun = NonNullable<CurrentPlanRunBody['run']>;

export class PlanRunFollower {
  readonly run = signal<FollowedRun | null>(null);
  readonly running = computed(() => this.run.value?.endedAtMs === null);
  readonly state = signal<PlanRunState | null>(null);
  readonly suggestions = signal<readonly Suggestion[]>([]);
  /** The athletes to show, where this page may not see all; null for all. */
  readonly shownAthleteIds = signal<readonly string[] | null>(null);
  readonly #loaded = signal(false);
  readonly #timers: FollowerTimers;
  readonly #cueListeners = new Set<(cue: Cue) => void>();
  /** As of the last event: time that only passed is not in it, so that a late event still falls in its place. */
  #confirmed: PlanRunState | null = null;
  #eventCount = 0;
  #hubNowMs = 0;
  #heardAtMs = 0;
  #timeScale = 1;
  #told = new Set<string>();

  constructor(timers: FollowerTimers) {
    this.#timers = timers;
  }

  /** The hub has said once whether a plan runs. */
  get loaded(): ReadonlySignal<boolean> {
    return this.#loaded;
  }

  /** Begins ticking; the returned function stops. */
  start(): () => void {
    return this.#timers.every(tickEveryMs, () => this.tick());
  }

  /** Hears each cue once, as it comes due. */
  onCue(listener: (cue: Cue) => void): () => void {
    this.#cueListeners.add(listener);
    return () => this.#cueListeners.delete(listener);
  }

  /** Run time now, by the page's clock since the hub last said it. */
  nowMs(): MonotonicMs {
    const sinceMs = (this.#timers.nowMs() - this.#heardAtMs) * this.#timeScale;
    return monotonicMs(this.#hubNowMs + Math.max(0, sinceMs));
  }

  tick(): void {
    const confirmed = this.#confirmed;
    if (confirmed === null) return;
    if (this.run.value?.endedAtMs !== null) {
      this.state.value = confirmed;
      return;
    }
    const step = stepPlanRun(confirmed, { type: 'time', atMs: this.nowMs() });
    this.state.value = step.state;
    this.suggestions.value = suggestAdjustments(step.state);
    this.#tell(step.cues);
  }

  /** What the hub sends: the run, and its events from number `since` on. */
  take(body: CurrentPlanRunBody): void {
    this.#hubNowMs = body.nowMs;
    this.#heardAtMs = this.#timers.nowMs();
    this.#timeScale = body.timeScale;
    const runChanged = body.run?.runId !== this.run.value?.runId;
    const events = body.since === this.#eventCount && !runChanged ? body.events : null;
    if (body.run === null) {
      this.#confirmed = null;
      this.#eventCount = 0;
      this.state.value = null;
      this.suggestions.value = [];
    } else if (events === null && body.since !== 0) {
      // What came before is missing: the hub sends all of it again at the next welcome.
      this.#eventCount = 0;
      this.#confirmed = null;
      this.#loaded.value = true;
      this.run.value = null;
      return;
    } else {
      if (runChanged || this.#confirmed === null || body.since === 0) {
        const created = createPlanRun(body.run.plan, 0, body.run.options);
        this.#confirmed = created.ok ? created.value : null;
        this.#eventCount = 0;
        if (runChanged) this.#told = new Set();
      }
      this.#replay(body.events);
      if (body.run.endedAtMs !== null && this.#confirmed !== null)
        this.#confirmed = stepPlanRun(this.#confirmed, {
          type: 'time',
          atMs: monotonicMs(body.run.endedAtMs),
        }).state;
    }
    this.shownAthleteIds.value = body.shownAthleteIds ?? null;
    this.run.value = body.run;
    this.#loaded.value = true;
    this.tick();
  }

  #replay(events: readonly PlanRunEvent[]): void {
    for (const event of events) {
      if (this.#confirmed === null) return;
      const step = stepPlanRun(this.#confirmed, event);
      this.#confirmed = step.state;
      this.#eventCount += 1;
      this.#tell(step.cues);
    }
  }

  #tell(cues: readonly Cue[]): void {
    const oldestMs = this.nowMs() - cueLateMs * this.#timeScale;
    for (const cue of cues) {
      if (cue.atMs < oldestMs) continue;
      const key = `${cue.atMs}/${cue.athleteId}/${cue.kind}`;
      if (this.#told.has(key)) continue;
      this.#told.add(key);
      for (const listener of this.#cueListeners) listener(cue);
    }
  }
}
