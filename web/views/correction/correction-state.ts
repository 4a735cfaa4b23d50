// Correcting a recording, as a reducer: what is being added, what was asked of the hub, what waits behind it and what came
// of it. Pure; the hook beside it sends whatever `asking` says.

import type { CorrectionRequest } from '../../../shared/http.ts';
import { shortestCorrectedHoldMs } from '../../../src/sessions/apply-corrections.ts';
import { type Limits, withinLimits } from '../../state/boundary-limits.ts';

/** A hold before it is saved. */
export interface NewHold {
  readonly startMs: number;
  readonly endMs: number;
}

export type CorrectableMark = 'contraction' | 'note';

/** A mark before it is saved. `text` is of a note. */
export interface NewMark {
  readonly kind: CorrectableMark;
  readonly atMs: number;
  readonly text: string;
}

/** A hold whose boundaries are being put right on its card, as they would be saved. */
export interface EditedHold {
  readonly holdId: string;
  readonly startMs: number;
  /** Null of a hold without an end. */
  readonly endMs: number | null;
}

/** What is being added or changed and not saved. */
export interface CorrectionDraft {
  readonly newHold: NewHold | null;
  readonly newMark: NewMark | null;
  readonly editedHold: EditedHold | null;
}

const noDraft: CorrectionDraft = { newHold: null, newMark: null, editedHold: null };

export type CorrectionStep = 'undo' | 'redo';
export type Asked = CorrectionRequest | CorrectionStep;

/** What went wrong: no room for a hold in what is shown, or the hub's own sentence. */
export type CorrectionProblem =
  | { readonly code: 'noRoom' }
  | { readonly code: 'refused'; readonly reason: string };

export interface CorrectionState extends CorrectionDraft {
  readonly correcting: boolean;
  /** With the hub now; null where nothing is. */
  readonly asking: Asked | null;
  /** Pressed meanwhile: two quick presses are two steps back; and the second boundary of a hold. */
  readonly waiting: readonly Asked[];
  readonly problem: CorrectionProblem | null;
  readonly done: 'saved' | 'undone' | 'redone' | null;
}

/** What the hub answered; the steps that are possible from there on where it did as asked. */
export type CorrectionAnswer =
  | { readonly ok: true; readonly canUndo: boolean; readonly canRedo: boolean }
  | { readonly ok: false; readonly reason: string };

export type CorrectionEvent =
  | { readonly type: 'correctingToggled' }
  | { readonly type: 'asked'; readonly request: Asked }
  | { readonly type: 'answered'; readonly answer: CorrectionAnswer }
  /** `span` is what is free for it; null where nothing is. */
  | { readonly type: 'holdBegun'; readonly span: NewHold | null }
  | { readonly type: 'holdBoundaryMoved'; readonly boundary: 'start' | 'end'; readonly atMs: number }
  | { readonly type: 'markBegun'; readonly kind: CorrectableMark; readonly atMs: number }
  | { readonly type: 'markMoved'; readonly atMs: number }
  | { readonly type: 'noteWritten'; readonly text: string }
  | { readonly type: 'holdOpened'; readonly hold: EditedHold }
  /** Within what the neighbours leave it. */
  | { readonly type: 'openedMoved'; readonly boundary: 'start' | 'end'; readonly atMs: number }
  /** `requests` in the order in which they are possible; none where nothing was moved. */
  | { readonly type: 'openedSaved'; readonly requests: readonly CorrectionRequest[] }
  | { readonly type: 'draftLeft' }
  /** What was left or kept before comes back. */
  | { readonly type: 'draftTaken'; readonly draft: CorrectionDraft };

export const idleCorrection: CorrectionState = {
  correcting: false,
  asking: null,
  waiting: [],
  problem: null,
  done: null,
  ...noDraft,
};

/** Where a new hold's boundary may be, in a recording of `durationMs`. */
export const newHoldLimits = (
  { startMs, endMs }: NewHold,
  boundary: 'start' | 'end',
  durationMs: number,
): Limits =>
  boundary === 'start'
    ? { leastMs: 0, greatestMs: endMs - shortestCorrectedHoldMs }
    : { leastMs: startMs + shortestCorrectedHoldMs, greatestMs: durationMs };

export function reduceCorrection(
  state: CorrectionState,
  event: CorrectionEvent,
  durationMs: number,
): CorrectionState {
  switch (event.type) {
    case 'correctingToggled':
      return { ...state, ...noDraft, correcting: !state.correcting, problem: null };
    case 'asked':
      return ask(state, event.request);
    case 'answered':
      return answer(state, event.answer);
    case 'holdBegun':
      return event.span === null
        ? { ...state, problem: { code: 'noRoom' } }
        : { ...state, problem: null, newHold: event.span };
    case 'holdBoundaryMoved': {
      if (state.newHold === null) return state;
      const atMs = withinLimits(event.atMs, newHoldLimits(state.newHold, event.boundary, durationMs));
      const moved = event.boundary === 'start' ? { startMs: atMs } : { endMs: atMs };
      return { ...state, newHold: { ...state.newHold, ...moved } };
    }
    case 'markBegun': {
      const atMs = withinLimits(event.atMs, { leastMs: 0, greatestMs: durationMs });
      return { ...state, problem: null, newMark: { kind: event.kind, atMs, text: '' } };
    }
    case 'markMoved':
      return state.newMark === null ? state : { ...state, newMark: { ...state.newMark, atMs: event.atMs } };
    case 'noteWritten':
      return state.newMark === null ? state : { ...state, newMark: { ...state.newMark, text: event.text } };
    case 'holdOpened':
      return { ...state, ...noDraft, problem: null, editedHold: event.hold };
    case 'openedMoved': {
      if (state.editedHold === null) return state;
      const moved = event.boundary === 'start' ? { startMs: event.atMs } : { endMs: event.atMs };
      return { ...state, editedHold: { ...state.editedHold, ...moved } };
    }
    case 'openedSaved': {
      const [first, ...others] = event.requests;
      if (first === undefined) return { ...state, editedHold: null };
      return state.asking === null ? { ...state, asking: first, waiting: others } : state;
    }
    case 'draftLeft':
      return { ...state, ...noDraft };
    case 'draftTaken':
      return {
        ...state,
        correcting: event.draft.editedHold === null,
        problem: null,
        ...event.draft,
      };
  }
}

/** One thing at a time: steps wait their turn, anything else has a button that waits. */
function ask(state: CorrectionState, request: Asked): CorrectionState {
  if (state.asking === null) return { ...state, asking: request };
  return typeof request === 'string' ? { ...state, waiting: [...state.waiting, request] } : state;
}

function answer(state: CorrectionState, given: CorrectionAnswer): CorrectionState {
  if (!given.ok)
    return { ...state, asking: null, waiting: [], problem: { code: 'refused', reason: given.reason } };
  const { asking } = state;
  const type = typeof asking === 'string' ? asking : asking?.type;
  const isPossible = (waiting: Asked) =>
    typeof waiting !== 'string' || (waiting === 'redo' ? given.canRedo : given.canUndo);
  // Steps that are not possible any more are left out.
  const next = state.waiting.findIndex(isPossible);
  const asked = state.waiting[next] ?? null;
  // The hold on its card is saved when the last of its boundaries is, and gone when it is removed.
  const isMoreToCome = typeof asked === 'object' && asked !== null;
  const isOfOpened =
    typeof asking === 'object' &&
    (asking?.type === 'moveBoundary' || asking?.type === 'removeHold') &&
    asking.holdId === state.editedHold?.holdId;
  return {
    ...state,
    asking: asked,
    waiting: next === -1 ? [] : state.waiting.slice(next + 1),
    problem: null,
    done: type === 'undo' ? 'undone' : type === 'redo' ? 'redone' : 'saved',
    newHold: type === 'addHold' ? null : state.newHold,
    newMark: type === 'addMark' ? null : state.newMark,
    editedHold: isOfOpened && !isMoreToCome ? null : state.editedHold,
  };
}
