// Which plan the session is for: none, one of the own, or a new one. Its page opens with the start of the session.

import { type Signal, useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { StoredPlan } from '../../../shared/plan.ts';
import { useApp } from '../../app/app-context.ts';

export function PlanPicker({ path }: { readonly path: Signal<string> }) {
  const { text, http, hub } = useApp();
  const words = text.setup;
  const plans = useSignal<readonly StoredPlan[]>([]);
  const live = hub.link.value === 'live';
  useEffect(() => {
    if (!live) return;
    void http.plans().then((answer) => {
      if (answer.ok) plans.value = answer.value.plans;
    });
  }, [live]);
  return (
    <>
      <label class="field">
        <span>{words.howLabel}</span>
        <select value={path.value} onChange={(event) => (path.value = event.currentTarget.value)}>
          <option value="">{words.selfPaced}</option>
          {plans.value.length === 0 ? null : (
            <optgroup label={words.ownPlans}>
              {plans.value.map(({ planId, plan }) => (
                <option key={planId} value={planId}>
                  {plan.title}
                </option>
              ))}
            </optgroup>
          )}
          <optgroup label={words.newPlans}>
            {Object.entries(text.plans.builders).map(([name, label]) => (
              <option key={name} value={`new/${name}`}>
                {label}
              </option>
            ))}
          </optgroup>
        </select>
      </label>
      {path.value === '' ? null : <p class="hint">{words.planNext}</p>}
    </>
  );
}
