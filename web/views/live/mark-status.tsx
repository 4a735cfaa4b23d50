// What became of the last marks made on this page, and one control to take the last one back.

import { useComputed } from '@preact/signals';
import { useApp } from '../../app/app-context.ts';
import type { AthleteModel } from '../../state/athlete-model.ts';
import { formatDuration } from '../../state/format.ts';

export function MarkStatus({ model }: { readonly model: AthleteModel }) {
  const { text, commands, outbox } = useApp();
  const last = useComputed(() => outbox.own.value.findLast((mark) => mark.athleteId === model.athleteId));
  const troubled = useComputed(() =>
    outbox.pending.value.filter((mark) => mark.athleteId === model.athleteId && mark.state !== 'sent'),
  );
  return (
    <div
      class={`mark-status${last.value === undefined && troubled.value.length === 0 ? ' is-empty' : ''}`}
      role="status"
    >
      {troubled.value.map((mark) => (
        <span class="mark-trouble" key={mark.requestId}>
          {(mark.state === 'waiting' ? text.live.waiting : text.live.unconfirmed)(
            text.markKind[mark.kind],
            formatDuration(mark.atMs),
          )}
        </span>
      ))}
      <button
        type="button"
        class="button button--quiet"
        disabled={last.value === undefined}
        onClick={() => commands.undo(model.athleteId)}
      >
        {last.value === undefined
          ? text.live.nothingToUndo
          : text.live.undo(text.markKind[last.value.kind], formatDuration(last.value.atMs))}
      </button>
    </div>
  );
}
