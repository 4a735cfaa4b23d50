// A plan that was run: planned beside actual for each athlete, rebuilt from its events.

import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { PlanRunBody } from '../../../shared/plan-run.ts';
import { describeShape } from '../../../src/plans/describe-plan.ts';
import type { AthleteRun } from '../../../src/plans/plan-run-state.ts';
import { athleteRunsOf } from '../../../src/plans/stored-run.ts';
import { useApp } from '../../app/app-context.ts';
import { useDelete } from '../../app/use-delete.ts';
import { useDocumentTitle } from '../../app/use-document-title.ts';
import { ProblemNotice } from '../../components/problem-notice.tsx';
import { useAthleteNames } from '../../components/use-athletes.ts';
import { formatWallTime } from '../../state/format.ts';
import { PlannedBesideActualTable } from './planned-beside-actual-table.tsx';
import { settledAthleteRun } from './settled-athlete-run.ts';
import { useRecordingOfRun } from './use-recording-of-run.ts';
import './plans.css';

export function PlanRunReviewView({ runId }: { readonly runId: string }) {
  const { text, say, http, router, hub } = useApp();
  const words = text.plans;
  const discard = useDelete();
  const run = useSignal<PlanRunBody | null>(null);
  const names = useAthleteNames();
  const problem = useSignal<string | null>(null);
  useDocumentTitle(run.value?.plan.title ?? words.besideActual);
  useEffect(() => {
    void http.planRun(runId).then((answer) => {
      problem.value = answer.ok ? null : words.failed(answer.reason);
      if (answer.ok) run.value = answer.value;
    });
  }, [runId]);
  const recording = useRecordingOfRun(run.value);
  const stored = run.value;
  if (stored === null) return <p class="sheet hint">{problem.value ?? words.loading}</p>;
  const settledOf = (athleteRun: AthleteRun): AthleteRun => {
    const holds = recording?.holdsOf.get(athleteRun.athleteId);
    return recording === null || holds === undefined
      ? athleteRun
      : settledAthleteRun(athleteRun, stored, recording.startedWallAtMs, holds);
  };
  return (
    <article class="sheet sheet--wide">
      <h1>{stored.plan.title}</h1>
      <p class="hint">
        {formatWallTime(stored.startedWallAtMs)} {'\u00b7'} {say(describeShape(stored.plan))}
      </p>
      {athleteRunsOf(stored)
        .filter(({ athleteId }) => stored.shownAthleteIds?.includes(athleteId) ?? true)
        .map((athleteRun) => (
          <section class="step" key={athleteRun.athleteId}>
            <PlannedBesideActualTable
              athleteRun={settledOf(athleteRun)}
              name={names.value.get(athleteRun.athleteId) ?? ''}
            />
            {athleteRun.endReason === null ? null : <p>{words.endReason[athleteRun.endReason]}</p>}
          </section>
        ))}
      {recording === null ? null : <p class="hint">{text.recorded.plan.settled}</p>}
      <div class="button-row no-print">
        {stored.sessionId === null ? null : (
          <a class="button" href={`/recordings/${stored.sessionId}`}>
            {text.live.openRecording}
          </a>
        )}
        <button type="button" class="button" onClick={() => print()}>
          {words.print}
        </button>
        {hub.role.value === 'coach' ? (
          <button
            type="button"
            class="button"
            onClick={() => {
              const asked = router.path.value;
              void discard(
                () => http.deletePlanRun(runId),
                text.takeBack.planRunDeleted(stored.plan.title),
                (isBack) => (isBack ? router.go(`/plan-runs/${runId}`) : router.goFrom(asked, '/plans')),
              ).then((reason) => {
                if (reason !== null) problem.value = words.refused(reason);
              });
            }}
          >
            {words.remove}
          </button>
        ) : null}
      </div>
      <ProblemNotice problem={problem.value} />
    </article>
  );
}
