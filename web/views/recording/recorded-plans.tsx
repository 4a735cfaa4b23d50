// The plans that were run while this recording was made, planned beside actual, by the holds as they stand here.

import { useApp } from '../../app/app-context.ts';
import { PlannedBesideActualTable } from '../plans/planned-beside-actual-table.tsx';
import '../plans/plans.css';
import type { RecordedRun } from './use-recorded-runs.ts';

export function RecordedPlans({
  runs,
  name,
}: {
  readonly runs: readonly RecordedRun[];
  readonly name: string;
}) {
  const { text } = useApp();
  const words = text.recorded.plan;
  if (runs.length === 0) return null;
  return (
    <section class="step">
      <h2>{words.title}</h2>
      {runs.map(({ run, athleteRun, beganAtMs }) => (
        <div key={run.runId} class="recorded-plan">
          <p>
            {run.plan.title}{' '}
            {athleteRun.endReason === null ? null : (
              <span class="hint">{text.plans.endReason[athleteRun.endReason]}</span>
            )}
          </p>
          <PlannedBesideActualTable athleteRun={athleteRun} name={name} beginsAtMs={beganAtMs} />
          <a class="button button--quiet back-link" href={`/plan-runs/${run.runId}`}>
            {words.openRun}
          </a>
        </div>
      ))}
      <p class="hint">{words.settled}</p>
    </section>
  );
}
