// The plan being edited: as it is now, the changes that can be taken back one by one, and what of it is not saved, which
// outlives the page.

import { type ReadonlySignal, useSignal } from '@preact/signals';
import { useLayoutEffect, useRef } from 'preact/hooks';
import { type Plan, planSchema } from '../../../shared/plan.ts';
import { useApp } from '../../app/app-context.ts';
import { useDraft } from '../../app/use-draft.ts';

/** Changes of the same places that follow each other as quickly as a slider makes them are one. Our choice. */
const sameChangeMs = 600;
const mostSteps = 100;

export interface EditedPlan {
  readonly plan: ReadonlySignal<Plan>;
  /** When an unsaved draft that it began with was written; '' without one. */
  readonly draftAt: ReadonlySignal<string>;
  readonly canStepBack: ReadonlySignal<boolean>;
  /** What it begins with has come to be known: nothing that anybody changed, and not where somebody has changed it. */
  readonly begin: (plan: Plan) => void;
  readonly change: (plan: Plan) => void;
  readonly stepBack: () => void;
  /** As it was opened, without what was not saved. */
  readonly dropDraft: () => void;
  /** As `sent`, under this id; what was changed since is not. */
  readonly saved: (sent: Plan, savedAs: string) => void;
  /** It is left on purpose: what is not saved stays kept. */
  readonly setAside: () => void;
}

export function useEditedPlan(firstPlan: Plan, planId: string | null, builder: string | null): EditedPlan {
  const { text, timers } = useApp();
  const saved = useRef(firstPlan);
  const draft = useDraft({
    key: `plan:${planId ?? `new:${builder}`}`,
    schema: planSchema,
    athleteId: null,
    name: text.takeBack.drafts.plan(firstPlan.title),
    path: planId === null ? `/plans/new/${builder}` : `/plans/${planId}`,
  });
  const plan = useSignal<Plan>(draft.kept ?? firstPlan);
  const draftAt = useSignal(draft.keptAt);
  const past = useSignal<readonly Plan[]>([]);
  const canStepBack = useSignal(false);
  const changedAtMs = useRef(Number.NEGATIVE_INFINITY);
  const changedPlaces = useRef('');
  const take = (next: Plan) => {
    plan.value = next;
    if (JSON.stringify(next) === JSON.stringify(saved.current)) draft.settle();
    else draft.keep(next);
  };
  /** Once it has its own id. */
  const isToBeKept = useRef(false);
  useLayoutEffect(() => {
    if (isToBeKept.current) draft.keep(plan.peek());
    isToBeKept.current = false;
  }, [planId]);
  const keepPast = (steps: readonly Plan[]) => {
    past.value = steps.slice(-mostSteps);
    canStepBack.value = steps.length > 0;
  };
  return {
    plan,
    draftAt,
    canStepBack,
    begin: (next) => {
      const isTouched = JSON.stringify(plan.peek()) !== JSON.stringify(saved.current);
      if (isTouched || past.peek().length > 0) return;
      saved.current = next;
      plan.value = next;
    },
    change: (next) => {
      const nowMs = timers.nowMs();
      const places = placesOfChange(plan.value, next).join();
      if (nowMs - changedAtMs.current > sameChangeMs || places !== changedPlaces.current)
        keepPast([...past.value, plan.value]);
      changedAtMs.current = nowMs;
      changedPlaces.current = places;
      take(next);
    },
    stepBack: () => {
      const before = past.value.at(-1);
      if (before === undefined) return;
      keepPast(past.value.slice(0, -1));
      changedAtMs.current = Number.NEGATIVE_INFINITY;
      take(before);
    },
    dropDraft: () => {
      draftAt.value = '';
      keepPast([...past.value, plan.value]);
      take(saved.current);
    },
    saved: (sent, savedAs) => {
      saved.current = sent;
      draftAt.value = '';
      draft.settle();
      if (plan.value === sent) return;
      if (savedAs === planId) draft.keep(plan.value);
      else isToBeKept.current = true;
    },
    setAside: draft.setAside,
  };
}

/** Where two plans differ: "holds.0.durationMs". */
function placesOfChange(before: unknown, after: unknown, place = ''): string[] {
  if (before === after) return [];
  if (typeof before !== 'object' || typeof after !== 'object' || before === null || after === null)
    return [place];
  const keys = [...new Set([...Object.keys(before), ...Object.keys(after)])];
  return keys.flatMap((key) =>
    placesOfChange(before[key as keyof typeof before], after[key as keyof typeof after], `${place}.${key}`),
  );
}
