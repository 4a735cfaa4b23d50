// A note with its time (when the dialog was opened, not when the writing was done), and how the last hold felt.

import { useSignal } from '@preact/signals';
import { useRef } from 'preact/hooks';
import { useApp } from '../../app/app-context.ts';
import { Dialog } from '../../components/dialog.tsx';
import { FeelingScale, lastHoldThatIsOver } from '../../components/hold-feeling.tsx';
import type { AthleteModel } from '../../state/athlete-model.ts';
import { formatDuration, isolated } from '../../state/format.ts';

export function NoteDialog({
  model,
  onClose,
}: {
  readonly model: AthleteModel;
  readonly onClose: () => void;
}) {
  const { text, hub, commands, timers } = useApp();
  const words = text.wall;
  const openedAtMs = useRef(hub.clock.nowMs(timers.nowMs()));
  const note = useSignal('');
  const hold = lastHoldThatIsOver(model.holds.value);
  const save = () => {
    const written = note.value.trim();
    if (written !== '') commands.mark(model.athleteId, 'note', written, openedAtMs.current);
    onClose();
  };
  return (
    <Dialog
      title={words.noteFor(isolated(model.athlete.value.name))}
      onClose={onClose}
      closeLabel={text.cancel}
      actions={
        <button type="button" class="button button--primary" onClick={save}>
          {words.noteSave}
        </button>
      }
    >
      <label class="field">
        <span>
          {openedAtMs.current === null
            ? words.noteText
            : words.noteTextAt(formatDuration(openedAtMs.current))}
        </span>
        <textarea
          rows={3}
          maxLength={2000}
          value={note.value}
          onInput={(event) => (note.value = event.currentTarget.value)}
        />
      </label>
      {hold === null || hold.end === null ? null : (
        <FeelingScale
          legend={text.feeling.lastHold(formatDuration(hold.end.atMs - hold.start.atMs))}
          comfort={hold.feeling?.comfort ?? null}
          onPick={(comfort) =>
            commands.rateHold(model.athleteId, hold.holdId, { comfort, note: hold.feeling?.note ?? null })
          }
        />
      )}
    </Dialog>
  );
}
