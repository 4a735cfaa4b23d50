// A marked hold that breathing has probably ended: says so and takes a person's word. Until then it goes on for every alarm.

import { useComputed } from '@preact/signals';
import { armedAfterProbableEndMs } from '../../../src/holds/hold.ts';
import { useApp } from '../../app/app-context.ts';
import type { AthleteModel } from '../../state/athlete-model.ts';
import { formatDuration } from '../../state/format.ts';
import './probable-end-bar.css';

export function ProbableEndBar({ model }: { readonly model: AthleteModel }) {
  const { hub, text, commands, outbox, preferences } = useApp();
  const words = text.probableEnd;
  const hold = useComputed(() => {
    const last = model.holds.value.at(-1);
    return last === undefined || last.end !== null || last.probableEnd === undefined ? null : last;
  });
  // A tap counts at once; the hub's word replaces it.
  const answered = useComputed(() =>
    outbox.pending.value.some(
      ({ athleteId, kind }) =>
        athleteId === model.athleteId && (kind === 'holdEnd' || kind === 'stillHolding'),
    ),
  );
  const shown = hold.value;
  if (shown?.probableEnd === undefined || answered.value) return null;
  const { atMs, declaredAtMs } = shown.probableEnd;
  const nowMs = hub.nowMs.value ?? declaredAtMs;
  const leftMs = Math.max(0, declaredAtMs + armedAfterProbableEndMs - nowMs);
  return (
    <section class="probable-end" aria-label={words.title}>
      <p>
        <strong>{words.says(formatDuration(atMs - shown.start.atMs), formatDuration(nowMs - atMs))}</strong>{' '}
        {words.without(formatDuration(leftMs))}
      </p>
      <div class="probable-end-answers">
        <button
          type="button"
          class="button"
          aria-keyshortcuts={preferences.shortcutKeys.value ? 'h' : undefined}
          onClick={() => commands.mark(model.athleteId, 'stillHolding')}
        >
          {words.stillHolding}
        </button>
        <button
          type="button"
          class="button button--primary"
          onClick={() => commands.mark(model.athleteId, 'holdEnd', null, atMs)}
        >
          {words.accept}
        </button>
      </div>
    </section>
  );
}
