// What stands out in an athlete's training, each with its reason and its source.

import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { Advice } from '../../../src/training/advice.ts';
import { useApp } from '../../app/app-context.ts';

export function AdviceList({ athleteId }: { readonly athleteId: string }) {
  const { text, say, http } = useApp();
  const words = text.history.weeks;
  const advice = useSignal<readonly Advice[] | null>(null);
  const problem = useSignal<string | null>(null);
  useEffect(() => {
    let current = true;
    void http.advice(athleteId).then((answer) => {
      if (!current) return;
      if (answer.ok) advice.value = answer.value.advice;
      else problem.value = words.adviceFailed(answer.reason);
    });
    return () => {
      current = false;
    };
  }, [athleteId]);
  return (
    <section class="step">
      <h2>{words.advice}</h2>
      {problem.value === null ? null : <p class="problem">{problem.value}</p>}
      {advice.value?.length === 0 ? <p class="hint">{words.noAdvice}</p> : null}
      <ul class="training-list">
        {advice.value?.map((each) => (
          <li key={each.key}>
            <strong>{say(each.suggestion)}</strong>
            <span>
              {words.adviceWhy}: {say(each.reason)}
            </span>
            <small class="hint">
              {words.adviceSource}: {say(each.source)}
            </small>
          </li>
        ))}
      </ul>
    </section>
  );
}
