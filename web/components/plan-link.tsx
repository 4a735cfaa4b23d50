// The way to the plan that is running, from where the session is watched; asked of the hub now and then.

import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import { useApp } from '../app/app-context.ts';

const askEveryMs = 5_000;

export interface PlanLinkProps {
  /** Offers to run one while none is running. */
  readonly offer?: boolean;
}

export function PlanLink({ offer }: PlanLinkProps) {
  const { text, http, hub, timers } = useApp();
  const running = useSignal(false);
  useEffect(() => {
    const ask = async () => {
      const answer = await http.currentPlanRun(0);
      if (answer.ok) running.value = answer.value.run !== null && answer.value.run.endedAtMs === null;
    };
    void ask();
    return timers.every(askEveryMs, () => void ask());
  }, []);
  if (running.value)
    return (
      <a class="button" href="/plan-run">
        {text.plans.openRunShort}
      </a>
    );
  if (offer !== true || !hub.mayAct.value) return null;
  return (
    <a class="button button--quiet" href="/plans">
      {text.plans.offerRun}
    </a>
  );
}
