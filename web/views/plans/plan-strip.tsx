// The plan on an athlete's page: the state a person can see from the mat, the countdown, what can be said of it. Begun and
// over is told by the page's own large controls, which mark it.

import { useSignal } from '@preact/signals';
import { useApp } from '../../app/app-context.ts';
import type { AthleteModel } from '../../state/athlete-model.ts';
import { LapButton, ReadinessButtons } from './athlete-run-buttons.tsx';
import { PlanDialog } from './plan-dialog.tsx';
import { SuggestionCard } from './suggestion-card.tsx';
import { usePlanPart } from './use-plan-part.ts';
import './plan-strip.css';

export function PlanStrip({ model }: { readonly model: AthleteModel }) {
  const { text, planRun } = useApp();
  const words = text.plans;
  const part = usePlanPart(model.athleteId, model);
  const isOpen = useSignal(false);
  const choices = part.choices.value;
  const run = planRun.run.value;
  const suggestion = part.suggestions.value[0];
  const isEnded = run?.endedAtMs !== null;
  return (
    <section class={`plan-strip athlete-run--${choices?.phase ?? 'waiting'}`} aria-label={words.run}>
      <div class="plan-strip-words">
        <p class="plan-strip-phase" aria-live="polite">
          {part.phase}
        </p>
        <p class="plan-strip-next">
          {part.wave.value === null ? '' : `${words.waves.wave(part.wave.value)} \u00b7 `}
          {part.next}
        </p>
      </div>
      <p class="plan-strip-clock" aria-live="off">
        {part.countdown}
      </p>
      {suggestion === undefined ? null : (
        <SuggestionCard suggestion={suggestion} mayAct={part.mayAct.value} own={part.own} />
      )}
      {part.refusal.value === null ? null : (
        <p class="problem" role="status">
          {part.refusal.value}
        </p>
      )}
      <div class="plan-strip-buttons">
        {choices === null || !part.mayAct.value ? null : (
          <>
            <LapButton choices={choices} own={part.own} />
            <ReadinessButtons choices={choices} own={part.own} />
          </>
        )}
        {isEnded && run != null && planRun.shownAthleteIds.value === null ? (
          <a class="button" href={`/plan-runs/${run.runId}`}>
            {words.openReview}
          </a>
        ) : null}
        <button type="button" class="button" onClick={() => (isOpen.value = true)}>
          {words.planOptions}
        </button>
      </div>
      {isOpen.value ? (
        <PlanDialog athleteId={model.athleteId} onClose={() => (isOpen.value = false)} />
      ) : null}
    </section>
  );
}
