// Deleting a recording, or one athlete's part of it: names whom it takes, and puts it into the bin.

import { useSignal } from '@preact/signals';
import { binKeepsDays } from '../../../shared/bin.ts';
import type { RecordingBody } from '../../../shared/http.ts';
import { useApp } from '../../app/app-context.ts';
import { useDelete } from '../../app/use-delete.ts';
import { Dialog } from '../../components/dialog.tsx';
import { ProblemNotice } from '../../components/problem-notice.tsx';
import { formatList } from '../../state/format.ts';

export interface DeleteRecordingProps {
  readonly recording: RecordingBody;
  readonly onClose: () => void;
  /** A part was taken out, or put back again. */
  readonly onChanged: () => void;
}

export function DeleteRecording({ recording, onClose, onChanged }: DeleteRecordingProps) {
  const { text, http, router } = useApp();
  const words = text.list;
  const discard = useDelete();
  const { session } = recording;
  const athletes = recording.athletes.map(({ athlete }) => athlete);
  /** '' for all of it. */
  const whose = useSignal('');
  const problem = useSignal<string | null>(null);
  const title = session.title || text.recordings.untitled;
  const names = formatList(athletes.map(({ name }) => name));
  const remove = async () => {
    const asked = router.path.value;
    const part = athletes.find(({ athleteId }) => athleteId === whose.value);
    problem.value =
      part === undefined
        ? await discard(
            () => http.deleteSession(session.sessionId),
            text.takeBack.recordingDeleted(title),
            (isBack) =>
              isBack ? router.go(`/recordings/${session.sessionId}`) : router.goFrom(asked, '/recordings'),
          )
        : await discard(
            () => http.deletePart(session.sessionId, part.athleteId),
            text.takeBack.partDeleted(part.name, title),
            onChanged,
          );
    if (problem.value === null) onClose();
  };
  return (
    <Dialog
      title={text.recording.deleteTitle}
      onClose={onClose}
      closeLabel={text.cancel}
      actions={
        <button type="button" class="button button--primary" onClick={() => void remove()}>
          {text.recording.deleteConfirm}
        </button>
      }
    >
      {athletes.length < 2 ? (
        <p>{text.bin.whom(names)}</p>
      ) : (
        <fieldset class="choices">
          <legend>{words.deleteWhat}</legend>
          {[
            { athleteId: '', label: words.deleteWhole(names) },
            ...athletes.map(({ athleteId, name }) => ({ athleteId, label: words.deletePart(name) })),
          ].map(({ athleteId, label }) => (
            <label class="tick" key={athleteId}>
              <input
                type="radio"
                name="whose"
                checked={whose.value === athleteId}
                onChange={() => (whose.value = athleteId)}
              />
              <span>{label}</span>
            </label>
          ))}
        </fieldset>
      )}
      <p>{text.recording.deleteText(binKeepsDays)}</p>
      <ProblemNotice problem={problem.value} />
    </Dialog>
  );
}
