// Starting a plan: at once where a session watches everybody in it, else after a question; with monitoring if wanted.

import { type ReadonlySignal, useSignal } from '@preact/signals';
import type { Plan } from '../../../shared/plan.ts';
import { useApp } from '../../app/app-context.ts';
import { unwatchedIds } from '../../state/plan-watch.ts';
import { type PlanStart, planRunOptions } from './plan-start.ts';

export interface PlanStarting {
  readonly isStarting: ReadonlySignal<boolean>;
  /** Whom nobody would watch, while that is asked about; null otherwise. */
  readonly asking: ReadonlySignal<readonly string[] | null>;
  readonly start: () => void;
  readonly startWithout: () => void;
  /** Begins a session of everybody in the plan, then the plan. */
  readonly startWith: () => void;
  readonly leave: () => void;
}

export function usePlanStart(parts: {
  readonly plan: ReadonlySignal<Plan>;
  readonly choices: () => PlanStart;
  readonly onRefused: (reason: string) => void;
  readonly onStarted: () => void;
}): PlanStarting {
  const { http, hub, router, commands, text } = useApp();
  const isStarting = useSignal(false);
  const asking = useSignal<readonly string[] | null>(null);
  const go = async (choices: PlanStart) => {
    asking.value = null;
    isStarting.value = true;
    const plan = parts.plan.value;
    const asked = router.path.value;
    const started = await http.startPlanRun(plan, planRunOptions(plan, choices), choices.longestHoldMs);
    isStarting.value = false;
    if (started.ok) {
      parts.onStarted();
      router.goFrom(asked, '/plan-run');
    } else parts.onRefused(text.plans.refused(started.reason));
  };
  return {
    isStarting,
    asking,
    start: () => {
      const choices = parts.choices();
      const unwatched = unwatchedIds(choices.athleteIds, hub.session.value);
      if (unwatched.length === 0) void go(choices);
      else asking.value = unwatched;
    },
    startWithout: () => void go(parts.choices()),
    startWith: () => {
      const choices = parts.choices();
      asking.value = null;
      isStarting.value = true;
      void commands.startSession(choices.athleteIds, parts.plan.value.title).then((answer) => {
        isStarting.value = false;
        // What the hub refuses, it says itself, in the frame. Sensors tell of holds now, and people mark them.
        if (answer.type === 'done') void go({ ...choices, assumeFromCues: false });
      });
    },
    leave: () => {
      asking.value = null;
    },
  };
}
