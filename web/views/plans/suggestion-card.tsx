// A change that the run suggests, with its reason; made only when a person says so.

import type { Suggestion } from '../../../src/plans/suggest-adjustments.ts';
import { useApp } from '../../app/app-context.ts';
import type { AthleteRunEvent } from './athlete-run-text.ts';

export function SuggestionCard(props: {
  readonly suggestion: Suggestion;
  readonly mayAct: boolean;
  readonly own: (event: AthleteRunEvent) => void;
}) {
  const { text, say } = useApp();
  const words = text.plans;
  const { text: what, reason, change } = props.suggestion;
  return (
    <div class="notice plan-suggestion" role="status">
      <p>
        <strong>{say(what)}</strong> {say(reason)}
      </p>
      {!props.mayAct ? null : change === null ? (
        <button type="button" class="button button--primary" onClick={() => props.own({ type: 'end' })}>
          {words.endNow}
        </button>
      ) : (
        <button type="button" class="button" onClick={() => props.own({ type: 'change', change })}>
          {words.apply}
        </button>
      )}
    </div>
  );
}
