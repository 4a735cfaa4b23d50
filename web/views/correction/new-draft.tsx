// What is being added to a recording, before it is saved: its time, the text of a note, and a way to leave it.

import { monotonicMs } from '../../../shared/units.ts';
import { useApp } from '../../app/app-context.ts';
import { formatExactTime } from '../../state/format.ts';
import type { CorrectionEvent, NewHold, NewMark } from './correction-state.ts';

interface DraftProps {
  readonly busy: boolean;
  readonly dispatch: (event: CorrectionEvent) => void;
}

export function NewMarkForm({ mark, busy, dispatch }: DraftProps & { readonly mark: NewMark }) {
  const { text } = useApp();
  const words = text.history.correction;
  const { kind, atMs } = mark;
  const save = (event: Event) => {
    event.preventDefault();
    const note = kind === 'note' ? mark.text : null;
    dispatch({ type: 'asked', request: { type: 'addMark', kind, atMs: monotonicMs(atMs), text: note } });
  };
  return (
    <form class="correction-draft" onSubmit={save}>
      {kind === 'note' ? (
        <label class="field">
          <span>{words.noteText}</span>
          <input
            value={mark.text}
            maxLength={2_000}
            onInput={(event) => dispatch({ type: 'noteWritten', text: event.currentTarget.value })}
          />
        </label>
      ) : null}
      <button type="submit" class="button button--primary" disabled={busy}>
        {words.saveMark[kind](formatExactTime(atMs))}
      </button>
      <LeaveButton dispatch={dispatch} />
    </form>
  );
}

export function NewHoldButtons({ hold, busy, dispatch }: DraftProps & { readonly hold: NewHold }) {
  const { text } = useApp();
  const { startMs, endMs } = hold;
  const save = () =>
    dispatch({
      type: 'asked',
      request: { type: 'addHold', startMs: monotonicMs(startMs), endMs: monotonicMs(endMs) },
    });
  return (
    <>
      <button type="button" class="button button--primary" disabled={busy} onClick={save}>
        {text.history.correction.saveNew(formatExactTime(startMs), formatExactTime(endMs))}
      </button>
      <LeaveButton dispatch={dispatch} />
    </>
  );
}

function LeaveButton({ dispatch }: Pick<DraftProps, 'dispatch'>) {
  const { text } = useApp();
  return (
    <button type="button" class="button" onClick={() => dispatch({ type: 'draftLeft' })}>
      {text.cancel}
    </button>
  );
}
