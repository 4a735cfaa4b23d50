// One athlete's part of the plan that runs: what it says, what can be done about it, and the telling of it to the hub.

import { type ReadonlySignal, useComputed, useSignal } from '@preact/signals';
import { useRef } from 'preact/hooks';
import { monotonicMs } from '../../../shared/units.ts';
import type { AthleteRun } from '../../../src/plans/plan-run-state.ts';
import type { Suggestion } from '../../../src/plans/suggest-adjustments.ts';
import { useApp } from '../../app/app-context.ts';
import { useEndOffer } from '../../app/use-end-offer.ts';
import type { AthleteModel } from '../../state/athlete-model.ts';
import {
  type AthleteRunChoices,
  type AthleteRunEvent,
  alarmedText,
  athleteRunChoices,
  athleteRunOf,
  countdownText,
  nextText,
  phaseText,
} from './athlete-run-text.ts';
import { wavesOf } from './plan-start.ts';

/** A computed value that stays the same object while it is equal: a run is told ten times a second. */
export function useUnchanged<Value>(compute: () => Value): ReadonlySignal<Value> {
  const last = useRef<{ readonly value: Value; readonly text: string } | null>(null);
  return useComputed(() => {
    const value = compute();
    const text = JSON.stringify(value);
    if (last.current?.text !== text) last.current = { value, text };
    return last.current.value;
  });
}

export interface PlanPart {
  readonly choices: ReadonlySignal<AthleteRunChoices | null>;
  readonly phase: ReadonlySignal<string>;
  readonly next: ReadonlySignal<string>;
  readonly countdown: ReadonlySignal<string>;
  /** From 1 where there are several; null elsewhere. */
  readonly wave: ReadonlySignal<number | null>;
  readonly suggestions: ReadonlySignal<readonly Suggestion[]>;
  readonly mayAct: ReadonlySignal<boolean>;
  readonly refusal: ReadonlySignal<string | null>;
  readonly own: (event: AthleteRunEvent) => void;
}

/** Whether the plan that runs, or on its own page the one that has just ended, holds this athlete. */
export function useIsInPlan(athleteId: string): ReadonlySignal<boolean> {
  const { planRun, router } = useApp();
  return useComputed(() => {
    const run = planRun.run.value;
    if (run === null || (run.endedAtMs !== null && router.path.value !== '/plan-run')) return false;
    return run.options.athletes.some((athlete) => athlete.athleteId === athleteId);
  });
}

export function usePlanPart(athleteId: string, model: AthleteModel | undefined): PlanPart {
  const { text, say, hub, http, planRun } = useApp();
  const offerToGoOn = useEndOffer();
  const words = text.plans;
  const athleteRun = useComputed<AthleteRun | undefined>(() => athleteRunOf(planRun.state.value, athleteId));
  const refusal = useSignal<string | null>(null);
  return {
    choices: useUnchanged(() =>
      athleteRun.value === undefined ? null : athleteRunChoices(athleteRun.value),
    ),
    phase: useComputed(
      () =>
        alarmedText(athleteRun.value?.phase, model?.alarms.value ?? [], words) ??
        phaseText(athleteRun.value, words),
    ),
    next: useComputed(() => (athleteRun.value === undefined ? '' : nextText(athleteRun.value, words, say))),
    countdown: useComputed(() =>
      athleteRun.value === undefined ? '' : countdownText(athleteRun.value, planRun.state.value?.nowMs ?? 0),
    ),
    wave: useComputed(() => {
      const waves = wavesOf(planRun.run.value?.options ?? { athletes: [] });
      const index = waves.findIndex(({ athleteIds }) => athleteIds.includes(athleteId));
      return waves.length < 2 || index < 0 ? null : index + 1;
    }),
    suggestions: useUnchanged(() =>
      planRun.suggestions.value.filter((suggestion) => suggestion.athleteId === athleteId),
    ),
    mayAct: useComputed(() => hub.mayAct.value && planRun.run.value?.endedAtMs === null),
    refusal,
    own: (event) =>
      void http.tapPlanRun({ ...event, atMs: monotonicMs(0), athleteId }).then((answer) => {
        refusal.value = answer.ok ? null : words.refused(answer.reason);
        // The end of one's run is the end of the plan where nobody else is in it.
        if (answer.ok && event.type === 'end' && planRun.run.value?.options.athletes.length === 1)
          offerToGoOn();
      }),
  };
}

/** How the last effort was, told to the run; and to the recording, where there is one. */
export function useSayComfort(athleteId: string): (comfort: number) => void {
  const { http, planRun } = useApp();
  return (comfort) => {
    if (athleteRunOf(planRun.state.peek(), athleteId) === undefined || !planRun.running.peek()) return;
    void http.tapPlanRun({ type: 'comfort', comfort, atMs: monotonicMs(0), athleteId });
  };
}
