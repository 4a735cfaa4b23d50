// One plan's page: a new one from a builder, or one of the library.

import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { Plan } from '../../../shared/plan.ts';
import { sayTitle } from '../../../src/plans/generate-plan.ts';
import { useApp } from '../../app/app-context.ts';
import { beginPlan, isBuilderName } from './plan-builders.ts';
import { firstLongestHoldSeconds, PlanEditor } from './plan-editor.tsx';
import './plans.css';

export function NewPlanView({ builder }: { readonly builder: string }) {
  const { text, say } = useApp();
  if (!isBuilderName(builder)) return <MissingPlan />;
  const plan = beginPlan(builder, firstLongestHoldSeconds, text.plans.builders.rows);
  return (
    <PlanEditor
      plan={builder === 'rows' ? plan : { ...plan, title: say(sayTitle(plan)) }}
      planId={null}
      builder={builder}
    />
  );
}

export function StoredPlanView({ planId }: { readonly planId: string }) {
  const { http, text } = useApp();
  const plan = useSignal<Plan | null | undefined>(undefined);
  useEffect(() => {
    void http.plans().then((answer) => {
      plan.value = answer.ok
        ? (answer.value.plans.find((stored) => stored.planId === planId)?.plan ?? null)
        : null;
    });
  }, [planId]);
  if (plan.value === undefined) return <p class="sheet hint">{text.plans.loading}</p>;
  if (plan.value === null) return <MissingPlan />;
  return <PlanEditor plan={plan.value} planId={planId} builder={null} />;
}

function MissingPlan() {
  const { text } = useApp();
  return (
    <section class="sheet sheet--centred">
      <h1 class="quiet-title">{text.notFound}</h1>
      <a class="button" href="/plans">
        {text.plans.toPlans}
      </a>
    </section>
  );
}
