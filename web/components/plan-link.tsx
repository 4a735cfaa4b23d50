// The way to the plan that is running, from where the session is watched.

import { useApp } from '../shell/app-context.ts';

export interface PlanLinkProps {
  /** Offers to run one while none is running. */
  readonly offer?: boolean;
}

export function PlanLink({ offer }: PlanLinkProps) {
  const { text, hub, planRun } = useApp();
  if (planRun.running.value)
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
