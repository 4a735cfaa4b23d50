// Correcting one athlete's holds and marks: the reducer's state as a signal, the hub asked for what it asks, and the parts
// that the recording's view lays out.

import { type Signal, useSignal } from '@preact/signals';
import type { ComponentChild } from 'preact';
import type { AthleteRecording, RecordingBody } from '../../../shared/http.ts';
import type { HoldView } from '../../../shared/views.ts';
import { useApp } from '../../app/app-context.ts';
import type { TimeRange } from '../../state/time-range.ts';
import { BoundaryHandles } from './boundary-handles.tsx';
import { correctionHandles, isCorrectable, originalTimes } from './correction-handles.ts';
import {
  type Asked,
  type CorrectionEvent,
  type CorrectionState,
  idleCorrection,
  reduceCorrection,
} from './correction-state.ts';
import { CorrectionTools } from './correction-tools.tsx';
import { useCorrectionDraft } from './use-correction-draft.ts';
import { useCorrectionKeys } from './use-correction-keys.ts';
import './correction.css';

export interface CorrectionParts {
  readonly recording: RecordingBody;
  readonly athlete: AthleteRecording;
  readonly range: Signal<TimeRange>;
  readonly onCorrected: (athlete: AthleteRecording) => void;
}

export interface Corrections {
  /** Laid over the traces. */
  readonly layer: ComponentChild;
  /** Buttons and what was done, for under the traces. */
  readonly tools: ComponentChild;
  /** Takes a hold away; null while nothing is being corrected. */
  readonly removeHold: ((holdId: string) => void) | null;
  /** Answers a proposal, whether or not anything is being corrected: it stands as it is, or goes. */
  readonly answerProposal: (hold: HoldView, isHold: boolean) => void;
  /** The same for a mark; null too for a mark that cannot be corrected. */
  readonly removeMark: ((mark: AthleteRecording['marks'][number]) => (() => void) | null) | null;
}

const hasInForce = ({ corrections }: AthleteRecording): boolean =>
  corrections.some(({ state }) => state !== 'undone');

export function useCorrections({ recording, athlete, range, onCorrected }: CorrectionParts): Corrections {
  const { text, http } = useApp();
  const { durationMs } = recording;
  const { sessionId } = recording.session;
  const { athleteId } = athlete.athlete;
  const drafts = useCorrectionDraft(sessionId, athleteId);
  const state = useSignal<CorrectionState>(
    drafts.kept === null ? idleCorrection : { ...idleCorrection, correcting: true, ...drafts.kept },
  );

  const send = async (asked: Asked) => {
    const answer =
      asked === 'undo'
        ? await http.undoCorrection(sessionId, athleteId)
        : asked === 'redo'
          ? await http.redoCorrection(sessionId, athleteId)
          : await http.correct(sessionId, athleteId, asked);
    if (answer.ok) onCorrected(answer.value);
    dispatch({
      type: 'answered',
      answer: answer.ok
        ? { ok: true, canUndo: hasInForce(answer.value), canRedo: answer.value.canRedo }
        : answer,
    });
  };
  const dispatch = (event: CorrectionEvent) => {
    const before = state.value;
    state.value = reduceCorrection(before, event, durationMs);
    drafts.hear(before, state.value, event, (draft) => dispatch({ type: 'draftTaken', draft }));
    const { asking } = state.value;
    if (asking !== null && (before.asking === null || event.type === 'answered')) void send(asking);
  };
  const ask = (request: Asked) => dispatch({ type: 'asked', request });

  const canUndo = hasInForce(athlete);
  useCorrectionKeys(
    state.value.correcting,
    // While the hub is at work nobody knows yet what will be possible: the step waits.
    (step) => state.value.asking !== null || (step === 'redo' ? athlete.canRedo : canUndo),
    ask,
  );
  const { correcting } = state.value;
  const handles = correctionHandles({ athlete, durationMs, state: state.value, text, dispatch });
  const originals = originalTimes(athlete, text);
  return {
    layer:
      handles.length === 0 && originals.length === 0 ? null : (
        <BoundaryHandles handles={handles} originals={originals} range={range} />
      ),
    tools: (
      <CorrectionTools
        recording={recording}
        athlete={athlete}
        range={range}
        state={state.value}
        canUndo={canUndo}
        dispatch={dispatch}
      />
    ),
    removeHold: correcting ? (holdId) => ask({ type: 'removeHold', holdId }) : null,
    removeMark: correcting
      ? (mark) => (isCorrectable(mark) ? () => ask({ type: 'removeMark', markId: mark.markId }) : null)
      : null,
    answerProposal: ({ holdId, start }, isHold) =>
      ask(
        isHold
          ? { type: 'moveBoundary', holdId, boundary: 'start', atMs: start.atMs }
          : { type: 'removeHold', holdId },
      ),
  };
}
