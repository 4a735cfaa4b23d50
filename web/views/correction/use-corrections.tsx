// Correcting one athlete's holds and marks: the reducer's state as a signal, the hub asked for what it asks, and the parts
// that the recording's view lays out.

import { type Signal, useSignal } from '@preact/signals';
import type { ComponentChild } from 'preact';
import { useRef } from 'preact/hooks';
import type { AthleteRecording, RecordingBody } from '../../../shared/http.ts';
import type { HoldView } from '../../../shared/views.ts';
import { useApp } from '../../app/app-context.ts';
import { boundaryLimits } from '../../state/boundary-limits.ts';
import type { TimeRange } from '../../state/time-range.ts';
import { BoundaryHandles } from './boundary-handles.tsx';
import {
  asEdited,
  correctionHandles,
  isCorrectable,
  originalTimes,
  requestsOfEdited,
} from './correction-handles.ts';
import { CorrectionList } from './correction-list.tsx';
import {
  type Asked,
  type CorrectionEvent,
  type CorrectionState,
  idleCorrection,
  reduceCorrection,
} from './correction-state.ts';
import { CorrectionTools, problemWords } from './correction-tools.tsx';
import { HoldCorrection } from './hold-correction.tsx';
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
  /** Buttons, for right above the traces. */
  readonly tools: ComponentChild;
  /** What was corrected, for under them; null where nothing was. */
  readonly list: ComponentChild;
  /** On a hold's card; null while nothing can be corrected. */
  readonly onCard: {
    readonly open: (hold: HoldView) => void;
    /** The form on the card of the hold that is open; null on any other. `onTraces` brings that hold's traces into sight. */
    readonly form: (hold: HoldView, number: number, onTraces: () => void) => ComponentChild;
  } | null;
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
  const offerUndo = useOfferUndo({ recording, athlete, range, onCorrected });
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
    if (answer.ok && typeof asked === 'object') offerUndo(asked, state.value, answer.value);
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
    drafts.hear(
      before,
      state.value,
      event,
      (draft) => dispatch({ type: 'draftTaken', draft }),
      ({ editedHold }) => editedHold === null || requestsOfEdited(athlete, editedHold).length > 0,
    );
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
    list: <CorrectionList corrections={athlete.corrections} estimatedHolds={athlete.estimatedHolds} />,
    onCard: mayCorrect(recording, athlete)
      ? {
          open: ({ holdId, start, end }) =>
            dispatch({
              type: 'holdOpened',
              hold: { holdId, startMs: start.atMs, endMs: end?.atMs ?? null },
            }),
          form: (hold, number, onTraces) => (
            <FormOnCard
              hold={hold}
              number={number}
              state={state.value}
              athlete={athlete}
              durationMs={durationMs}
              dispatch={dispatch}
              onTraces={onTraces}
            />
          ),
        }
      : null,
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

/** Not while it is recorded, nor before its holds are known. */
const mayCorrect = ({ session }: RecordingBody, { workedOut }: AthleteRecording): boolean =>
  session.status !== 'recording' && workedOut;

interface FormOnCardProps {
  readonly hold: HoldView;
  readonly number: number;
  readonly state: CorrectionState;
  readonly athlete: AthleteRecording;
  readonly durationMs: number;
  readonly dispatch: (event: CorrectionEvent) => void;
  readonly onTraces: () => void;
}

function FormOnCard({ hold, number, state, athlete, durationMs, dispatch, onTraces }: FormOnCardProps) {
  const { text } = useApp();
  const { editedHold } = state;
  if (editedHold?.holdId !== hold.holdId) return null;
  return (
    <HoldCorrection
      number={number}
      edited={editedHold}
      startAtMs={hold.start.atMs}
      endAtMs={hold.end?.atMs ?? null}
      limitsOf={(boundary) => boundaryLimits(asEdited(athlete, editedHold), number - 1, boundary, durationMs)}
      busy={state.asking !== null}
      problem={problemWords(state.problem, text.history.correction)}
      onMoved={(boundary, atMs) => dispatch({ type: 'openedMoved', boundary, atMs })}
      onSave={() => dispatch({ type: 'openedSaved', requests: requestsOfEdited(athlete, editedHold) })}
      onLeave={() => dispatch({ type: 'draftLeft' })}
      onRemove={() => dispatch({ type: 'asked', request: { type: 'removeHold', holdId: hold.holdId } })}
      onTraces={onTraces}
    />
  );
}

/**
 * What was corrected on a card is offered to be taken back in the bar, since the traces' own way back is far from there. Of
 * a hold whose both ends were moved, both are.
 */
function useOfferUndo({ recording, athlete, onCorrected }: CorrectionParts) {
  const { text, http, takeBacks } = useApp();
  const words = text.history.correction;
  const now = useRef(athlete);
  now.current = athlete;
  const steps = useRef<string[]>([]);
  const { sessionId } = recording.session;
  const { athleteId } = athlete.athlete;
  const inForce = ({ corrections }: AthleteRecording) =>
    corrections.filter(({ state }) => state !== 'undone');
  return (
    asked: Exclude<Asked, string>,
    { editedHold, waiting }: CorrectionState,
    after: AthleteRecording,
  ) => {
    const isOfCard =
      (asked.type === 'moveBoundary' || asked.type === 'removeHold') && asked.holdId === editedHold?.holdId;
    const newest = inForce(after).at(-1)?.correctionId;
    if (!isOfCard || newest === undefined) return;
    steps.current = [...steps.current, newest];
    if (waiting.some((each) => typeof each === 'object')) return;
    const own = steps.current;
    steps.current = [];
    takeBacks.offer({
      done: asked.type === 'removeHold' ? words.did.removed : words.holdSaved,
      actions: [
        {
          label: text.takeBack.undo,
          act: async () => {
            const last = inForce(now.current).slice(-own.length);
            if (last.map(({ correctionId }) => correctionId).join() !== own.join()) return words.notTheLast;
            for (const _step of own) {
              const answer = await http.undoCorrection(sessionId, athleteId);
              if (!answer.ok) return answer.reason;
              onCorrected(answer.value);
            }
            return null;
          },
        },
      ],
    });
  };
}
