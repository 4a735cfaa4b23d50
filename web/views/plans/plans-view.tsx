// The plan library: build one, the own ones, a plan file brought along, and what was run here.

import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { StoredPlan } from '../../../shared/plan.ts';
import { describeShape } from '../../../src/plans/describe-plan.ts';
import { parsePlanFile, planProblemText } from '../../../src/plans/plan-file.ts';
import { useApp } from '../../app/app-context.ts';
import { useDocumentTitle } from '../../app/use-document-title.ts';
import { ProblemNotice } from '../../components/problem-notice.tsx';
import { formatWallTime } from '../../state/format.ts';
import type { FollowedRun } from '../../state/plan-run-follower.ts';
import { builderNames } from './plan-builders.ts';
import './plans.css';

export function PlansView() {
  const { text, say, http, hub, router, planRun } = useApp();
  const words = text.plans;
  useDocumentTitle(words.title);
  const plans = useSignal<readonly StoredPlan[] | null>(null);
  const runs = useSignal<readonly FollowedRun[]>([]);
  const problem = useSignal<string | null>(null);
  const fileProblems = useSignal<readonly string[]>([]);
  const live = hub.link.value === 'live';
  const load = async () => {
    const [planAnswer, runAnswer] = await Promise.all([http.plans(), http.planRuns()]);
    problem.value = planAnswer.ok ? null : words.failed(planAnswer.reason);
    if (planAnswer.ok) plans.value = planAnswer.value.plans;
    if (runAnswer.ok) runs.value = runAnswer.value.runs;
  };
  useEffect(() => void load(), [live]);
  const bring = async (file: File | undefined) => {
    if (file === undefined) return;
    const asked = router.path.value;
    const parsed = parsePlanFile(await file.text());
    if (!parsed.ok) {
      fileProblems.value = parsed.reason.map((each) => planProblemText(file.name, each, say));
      return;
    }
    fileProblems.value = [];
    const saved = await http.savePlan(parsed.value, null);
    if (saved.ok) router.goFrom(asked, `/plans/${saved.value.planId}`);
    else problem.value = saved.reason;
  };
  return (
    <article class="sheet plans">
      <h1>{words.title}</h1>
      <p>{words.lead}</p>
      <ProblemNotice problem={problem.value} onAgain={() => void load()} />
      {!planRun.running.value ? null : (
        <p class="notice notice--strong">
          {words.running}
          <a class="button button--primary" href="/plan-run">
            {words.openRun}
          </a>
        </p>
      )}
      <section class="step">
        <h2>{words.build}</h2>
        <ul class="plan-choices">
          {builderNames.map((name) => (
            <li key={name}>
              <a class="button button--wide" href={`/plans/new/${name}`}>
                {words.builders[name]}
              </a>
            </li>
          ))}
        </ul>
      </section>
      <section class="step">
        <h2>{words.own}</h2>
        {plans.value?.length === 0 ? <p class="hint">{words.noOwn}</p> : null}
        <ul class="plan-list">
          {(plans.value ?? []).map(({ planId, plan }) => (
            <li key={planId}>
              <a href={`/plans/${planId}`}>
                <strong>{plan.title}</strong>
                <span class="hint">{say(describeShape(plan))}</span>
              </a>
            </li>
          ))}
        </ul>
        <label class="field">
          <span>{words.bring}</span>
          <input
            type="file"
            accept=".json,application/json"
            onChange={(event) => void bring(event.currentTarget.files?.[0])}
          />
        </label>
        {fileProblems.value.length === 0 ? null : (
          <div class="problem" role="alert">
            <p>{words.fileProblem}</p>
            <ul>
              {fileProblems.value.map((each) => (
                <li key={each}>
                  <code>{each}</code>
                </li>
              ))}
            </ul>
          </div>
        )}
      </section>
      <section class="step">
        <h2>{words.past}</h2>
        {runs.value.length === 0 ? <p class="hint">{words.noPast}</p> : null}
        <ul class="plan-list">
          {runs.value.map((run) => (
            <li key={run.runId}>
              <a href={run.endedAtMs === null ? '/plan-run' : `/plan-runs/${run.runId}`}>
                <strong>{run.plan.title}</strong>
                <span class="hint">{formatWallTime(run.startedWallAtMs)}</span>
              </a>
            </li>
          ))}
        </ul>
      </section>
    </article>
  );
}
