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

/** What is being added and not saved. */
export interface CorrectionDraft {
  readonly newHold: NewHold | null;
  readonly newMark: NewMark | null;
}

export type CorrectionStep = 'undo' | 'redo';
export type Asked = CorrectionRequest | CorrectionStep;

/** What went wrong: no room for a hold in what is shown, or the hub's own sentence. */
export type CorrectionProblem =
  | { readonly code: 'noRoom' }
  | { readonly code: 'refused'; readonly reason: string };

export interface CorrectionState {
  readonly correcting: boolean;
  /** With the hub now; null where nothing is. */
  readonly asking: Asked | null;
  /** Pressed meanwhile: two quick presses are two steps back. */
  readonly waiting: readonly CorrectionStep[];
  readonly problem: CorrectionProblem | null;
  readonly done: 'saved' | 'undone' | 'redone' | null;
  readonly newHold: NewHold | null;
  readonly newMark: NewMark | null;
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
  | { readonly type: 'draftLeft' }
  /** What was left or kept before comes back. */
  | { readonly type: 'draftTaken'; readonly draft: CorrectionDraft };

export const idleCorrection: CorrectionState = {
  correcting: false,
  asking: null,
  waiting: [],
  problem: null,
  done: null,
  newHold: null,
  newMark: null,
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
      return { ...state, correcting: !state.correcting, newHold: null, newMark: null, problem: null };
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
    case 'draftLeft':
      return { ...state, newHold: null, newMark: null };
    case 'draftTaken':
      return { ...state, correcting: true, problem: null, ...event.draft };
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
  const isPossible = (step: CorrectionStep) => (step === 'redo' ? given.canRedo : given.canUndo);
  // Steps that are not possible any more are left out.
  const next = state.waiting.findIndex(isPossible);
  return {
    ...state,
    asking: state.waiting[next] ?? null,
    waiting: next === -1 ? [] : state.waiting.slice(next + 1),
    problem: null,
    done: type === 'undo' ? 'undone' : type === 'redo' ? 'redone' : 'saved',
    newHold: type === 'addHold' ? null : state.newHold,
    newMark: type === 'addMark' ? null : state.newMark,
  };
}
