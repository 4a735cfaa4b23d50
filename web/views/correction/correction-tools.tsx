// Right above the traces: to begin and end correcting, to add a hold or a mark, to go a step back.

import type { Signal } from '@preact/signals';
import type { AthleteRecording, RecordingBody } from '../../../shared/http.ts';
import { useApp } from '../../app/app-context.ts';
import { ProblemNotice } from '../../components/problem-notice.tsx';
import { freeSpan } from '../../state/boundary-limits.ts';
import type { TimeRange } from '../../state/time-range.ts';
import type {
  CorrectableMark,
  CorrectionEvent,
  CorrectionProblem,
  CorrectionState,
} from './correction-state.ts';
import { NewHoldButtons, NewMarkForm } from './new-draft.tsx';

export interface CorrectionToolsProps {
  readonly recording: RecordingBody;
  readonly athlete: AthleteRecording;
  readonly range: Signal<TimeRange>;
  readonly state: CorrectionState;
  readonly canUndo: boolean;
  readonly dispatch: (event: CorrectionEvent) => void;
}

export function CorrectionTools(props: CorrectionToolsProps) {
  const { recording, athlete, state, canUndo, dispatch } = props;
  const { text } = useApp();
  const words = text.history.correction;
  const { correcting, newHold, newMark } = state;
  const busy = state.asking !== null;
  return (
    <section class="correction-tools" aria-label={words.title}>
      <div class="correction-buttons">
        <button
          type="button"
          class={correcting ? 'button button--primary' : 'button'}
          aria-pressed={correcting}
          disabled={recording.session.status === 'recording' || !athlete.workedOut}
          onClick={() => dispatch({ type: 'correctingToggled' })}
        >
          {correcting ? words.done : words.begin}
        </button>
        {correcting && newHold === null && newMark === null ? <AddButtons {...props} /> : null}
        {newMark === null ? null : <NewMarkForm mark={newMark} busy={busy} dispatch={dispatch} />}
        {newHold === null ? null : <NewHoldButtons hold={newHold} busy={busy} dispatch={dispatch} />}
        {correcting || canUndo || athlete.canRedo ? (
          <>
            <button
              type="button"
              class="button"
              disabled={!canUndo || busy}
              onClick={() => dispatch({ type: 'asked', request: 'undo' })}
            >
              {words.undo}
            </button>
            <button
              type="button"
              class="button"
              disabled={!athlete.canRedo || busy}
              onClick={() => dispatch({ type: 'asked', request: 'redo' })}
            >
              {words.redo}
            </button>
          </>
        ) : null}
      </div>
      {correcting ? (
        <details class="explain">
          <summary>{words.helpTitle}</summary>
          <p class="hint">{words.help}</p>
        </details>
      ) : null}
      {/* A hold that is open on its card says there what went wrong. */}
      <ProblemNotice problem={state.editedHold === null ? problemWords(state.problem, words) : null} />
      <p class="visually-hidden" role="status">
        {state.done === null ? '' : words[state.done]}
      </p>
    </section>
  );
}

export function problemWords(
  problem: CorrectionProblem | null,
  words: ReturnType<typeof useApp>['text']['history']['correction'],
): string | null {
  if (problem === null) return null;
  return problem.code === 'noRoom' ? words.noRoom : words.failed(problem.reason);
}

/** A new hold in the largest free part of what is shown, a new mark in its middle. */
function AddButtons({ recording, athlete, range, dispatch }: CorrectionToolsProps) {
  const { text } = useApp();
  const words = text.history.correction;
  const addHold = () => {
    const { fromSeconds, toSeconds } = range.value;
    const holds = athlete.holds.map(({ hold }) => hold);
    const span = freeSpan(holds, fromSeconds * 1000, toSeconds * 1000, recording.durationMs);
    dispatch({ type: 'holdBegun', span });
  };
  const addMark = (kind: CorrectableMark) => {
    const { fromSeconds, toSeconds } = range.value;
    dispatch({ type: 'markBegun', kind, atMs: ((fromSeconds + toSeconds) / 2) * 1000 });
  };
  return (
    <>
      <button type="button" class="button" onClick={addHold}>
        {words.add}
      </button>
      {(['contraction', 'note'] as const).map((kind) => (
        <button key={kind} type="button" class="button" onClick={() => addMark(kind)}>
          {words.addMark[kind]}
        </button>
      ))}
    </>
  );
}
