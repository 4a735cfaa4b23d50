// A running plan, made for hands-free use: one large state a person can see from the mat, cues, and a few big buttons.

import { type ReadonlySignal, useComputed, useSignal, useSignalEffect } from '@preact/signals';
import type { PlanRunEvent } from '../../../shared/plan-run.ts';
import { monotonicMs } from '../../../shared/units.ts';
import type { PlanRunState } from '../../../src/plans/plan-run-state.ts';
import { useApp } from '../../app/app-context.ts';
import { useDocumentTitle } from '../../app/use-document-title.ts';
import { SoundCheckUnlessAlarmed } from '../../components/sound-check.tsx';
import { useAthleteNames } from '../../components/use-athletes.ts';
import type { PlanRunFollower } from '../../state/plan-run-follower.ts';
import { AthleteRunCard, useUnchanged } from './athlete-run-card.tsx';
import { athleteRunOf } from './athlete-run-text.ts';
import { CueFlash, CueSettings } from './cue-panel.tsx';
import { PlannedBesideActualTable } from './planned-beside-actual-table.tsx';
import './plans.css';

export function PlanRunView() {
  const { text, http, hub, planRun: follower, planCues } = useApp();
  const words = text.plans;
  useDocumentTitle(words.run);
  const { player, preferences, lastCue, names } = planCues;
  useSignalEffect(() => {
    if (follower.running.value) planCues.lead();
  });
  const known = useAthleteNames();
  useSignalEffect(() => {
    names.value = known.value;
  });
  const refusal = useSignal<string | null>(null);
  const tap = async (event: PlanRunEvent) => {
    const answer = await http.tapPlanRun(event);
    refusal.value = answer.ok ? null : words.refused(answer.reason);
  };
  const run = follower.run.value;
  if (!follower.loaded.value) return <p class="sheet hint">{words.loading}</p>;
  if (run === null)
    return (
      <section class="sheet sheet--centred">
        <h1 class="quiet-title">{words.noRun}</h1>
        <a class="button" href="/plans">
          {words.toPlans}
        </a>
      </section>
    );
  const shownAthleteIds = follower.shownAthleteIds.value;
  const athleteIds = shownAthleteIds ?? run.options.athletes.map(({ athleteId }) => athleteId);
  return (
    <article class="sheet sheet--wide plan-run">
      <h1>{run.plan.title}</h1>
      <CueFlash cue={lastCue} on={preferences.flash} nowMs={hub.pageNowMs} />
      {refusal.value === null ? null : (
        <p class="notice notice--strong" role="status">
          {refusal.value}
        </p>
      )}
      {hub.recording.value ? <SoundCheckUnlessAlarmed /> : null}
      <div class="athlete-runs">
        {athleteIds.map((athleteId) => (
          <AthleteRunCard
            key={athleteId}
            athleteId={athleteId}
            name={names.value.get(athleteId) ?? ''}
            follower={follower}
            mayAct={hub.mayAct.value && run.endedAtMs === null}
            tap={tap}
          />
        ))}
      </div>
      {run.endedAtMs !== null || !hub.mayAct.value || shownAthleteIds !== null ? null : (
        <WholeRunButtons follower={follower} tap={tap} />
      )}
      <CueSettings player={player} preferences={preferences} cue={lastCue} />
      <section class="step">
        <h2>{words.besideActual}</h2>
        {athleteIds.map((athleteId) => (
          <RunTable
            key={athleteId}
            state={follower.state}
            athleteId={athleteId}
            name={names.value.get(athleteId) ?? ''}
          />
        ))}
        {run.endedAtMs === null || shownAthleteIds !== null ? null : (
          <a class="button" href={`/plan-runs/${run.runId}`}>
            {words.openReview}
          </a>
        )}
      </section>
    </article>
  );
}

function RunTable(props: {
  readonly state: ReadonlySignal<PlanRunState | null>;
  readonly athleteId: string;
  readonly name: string;
}) {
  // The table changes with the records, not ten times a second.
  const athleteRun = useUnchanged(() => athleteRunOf(props.state.value, props.athleteId) ?? null).value;
  return athleteRun === null ? null : <PlannedBesideActualTable athleteRun={athleteRun} name={props.name} />;
}

function WholeRunButtons(props: {
  readonly follower: PlanRunFollower;
  readonly tap: (event: PlanRunEvent) => Promise<void>;
}) {
  const { text } = useApp();
  const words = text.plans;
  const paused = useComputed(
    () =>
      props.follower.state.value?.athleteRuns.some((athleteRun) => athleteRun.pausedAtMs !== null) ?? false,
  );
  const all = (type: 'pause' | 'resume' | 'end') =>
    void props.tap({ type, atMs: monotonicMs(0), athleteId: null });
  return (
    <div class="button-row">
      <button type="button" class="button" onClick={() => all(paused.value ? 'resume' : 'pause')}>
        {paused.value ? words.resume : words.pause}
      </button>
      <button type="button" class="button" onClick={() => all('end')}>
        {words.end}
      </button>
    </div>
  );
}
