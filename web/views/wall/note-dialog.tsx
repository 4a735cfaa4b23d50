// A note with its time (when the dialog was opened, not when the writing was done), and how the last hold felt.

import { useSignal } from '@preact/signals';
import { useRef } from 'preact/hooks';
import * as z from 'zod/mini';
import { monotonicMs } from '../../../shared/units.ts';
import { useApp } from '../../app/app-context.ts';
import { useDraft } from '../../app/use-draft.ts';
import { Dialog } from '../../components/dialog.tsx';
import { FeelingScale, lastHoldThatIsOver } from '../../components/hold-feeling.tsx';
import type { AthleteModel } from '../../state/athlete-model.ts';
import { formatDuration, isolated } from '../../state/format.ts';

const noteDraftSchema = z.object({ text: z.string(), sessionId: z.string(), atMs: z.nullable(z.number()) });

export function NoteDialog({
  model,
  onClose,
}: {
  readonly model: AthleteModel;
  readonly onClose: () => void;
}) {
  const { text, hub, commands, timers } = useApp();
  const words = text.wall;
  const { athleteId } = model;
  const sessionId = hub.session.value?.sessionId ?? '';
  const draft = useDraft({
    key: `note:${athleteId}`,
    schema: noteDraftSchema,
    athleteId,
    name: text.takeBack.drafts.note,
    path: null,
  });
  // One begun in this session keeps its time; what was written before it stays as words alone.
  const keptAtMs = draft.kept?.sessionId === sessionId ? draft.kept.atMs : null;
  const openedAtMs = useRef(keptAtMs === null ? hub.clock.nowMs(timers.nowMs()) : monotonicMs(keptAtMs));
  const note = useSignal(draft.kept?.text ?? '');
  const write = (written: string) => {
    note.value = written;
    if (written.trim() === '') draft.settle();
    else draft.keep({ text: written, sessionId, atMs: openedAtMs.current });
  };
  const hold = lastHoldThatIsOver(model.holds.value);
  const save = () => {
    const written = note.value.trim();
    draft.settle();
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
          onInput={(event) => write(event.currentTarget.value)}
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
