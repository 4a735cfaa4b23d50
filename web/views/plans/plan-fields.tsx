// The fields of a plan: those of its kind, the lead-in, and what its shortest recovery is. Each change is a new plan.

import type { Plan } from '../../../shared/plan.ts';
import { explainMinimumRecovery } from '../../../src/plans/minimum-recovery.ts';
import { useApp } from '../../app/app-context.ts';
import { TimeStepper } from '../../components/number-stepper.tsx';
import { KindFields } from './kind-fields.tsx';

export interface PlanFieldsProps {
  readonly plan: Plan;
  readonly onChange: (plan: Plan) => void;
}

export function PlanFields({ plan, onChange }: PlanFieldsProps) {
  const { text, say } = useApp();
  const words = text.plans;
  return (
    <div class="plan-fields">
      <KindFields plan={plan} onChange={onChange} />
      <TimeStepper
        label={words.leadIn}
        least={10}
        most={600}
        step={10}
        value={plan.leadInSeconds}
        onChange={(leadInSeconds) => onChange({ ...plan, leadInSeconds })}
      />
      <details class="explain">
        <summary>{words.minimumRecovery}</summary>
        <p>{say(explainMinimumRecovery(plan))}</p>
      </details>
    </div>
  );
}
