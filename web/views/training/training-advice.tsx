// What stands out in an athlete's training, beside the log: each with its reason and its source.

import type { Advice } from '../../../src/training/advice.ts';
import { useApp } from '../../app/app-context.ts';

export function TrainingAdvice({ advice }: { readonly advice: readonly Advice[] }) {
  const { text, say } = useApp();
  const words = text.plans.training;
  return (
    <section class="step">
      <h2>{text.history.weeks.advice}</h2>
      {advice.length === 0 ? <p class="hint">{words.noAdvice}</p> : null}
      <ul class="training-list">
        {advice.map(({ key, suggestion, reason, source }) => (
          <li key={key}>
            <strong>{say(suggestion)}</strong>
            <span>{say(reason)}</span>
            <small class="hint">{words.adviceSource(say(source))}</small>
          </li>
        ))}
      </ul>
    </section>
  );
}
