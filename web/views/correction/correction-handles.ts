// The handles over a recording's traces while it is corrected: one a boundary or mark, each with how far it may go and what
// moving it asks for; and where the estimate, or the mark as it was given, was. Pure.

import type { AthleteRecording, CorrectionRequest } from '../../../shared/http.ts';
import { monotonicMs } from '../../../shared/units.ts';
import { shortestCorrectedHoldMs } from '../../../src/sessions/apply-corrections.ts';
import type { Messages } from '../../i18n/en.ts';
import { boundaryLimits } from '../../state/boundary-limits.ts';
import { formatExactTime } from '../../state/format.ts';
import type { BoundaryHandle, OriginalTime } from './boundary-handles.tsx';
import {
  type CorrectableMark,
  type CorrectionEvent,
  type CorrectionState,
  type EditedHold,
  newHoldLimits,
} from './correction-state.ts';

type MarkInRecording = AthleteRecording['marks'][number];
type Dispatch = (event: CorrectionEvent) => void;
type MarkToCorrect = MarkInRecording & { readonly kind: CorrectableMark };

const boundaries = ['start', 'end'] as const;

export const isCorrectable = (mark: MarkInRecording): mark is MarkToCorrect =>
  mark.kind === 'contraction' || mark.kind === 'note';

export interface HandleParts {
  readonly athlete: AthleteRecording;
  readonly durationMs: number;
  readonly state: CorrectionState;
  readonly text: Messages;
  readonly dispatch: Dispatch;
}

export const correctionHandles = (parts: HandleParts): BoundaryHandle[] => [
  ...boundaryHandles(parts),
  ...(parts.state.correcting ? markHandles(parts) : []),
  ...newMarkHandles(parts),
  ...newHoldHandles(parts),
];

/** Of all holds; while nothing is corrected on the traces, of the one that is open on its card. */
function boundaryHandles({ athlete, durationMs, state, text, dispatch }: HandleParts): BoundaryHandle[] {
  const { correcting, editedHold } = state;
  const holds = asEdited(athlete, editedHold);
  return holds.flatMap((hold, index) =>
    boundaries.flatMap((boundary): BoundaryHandle[] => {
      const { holdId } = hold;
      const isOpen = holdId === editedHold?.holdId;
      const atMs = hold[boundary]?.atMs;
      if (atMs === undefined || !(correcting || isOpen)) return [];
      return [
        {
          key: `${holdId}-${boundary}`,
          label: text.history.correction.boundary[boundary](index + 1),
          atMs,
          what: boundary,
          limits: boundaryLimits(holds, index, boundary, durationMs),
          onMoved: (toMs) =>
            dispatch(
              isOpen
                ? { type: 'openedMoved', boundary, atMs: toMs }
                : {
                    type: 'asked',
                    request: { type: 'moveBoundary', holdId, boundary, atMs: monotonicMs(toMs) },
                  },
            ),
        },
      ];
    }),
  );
}

interface HoldTimes {
  readonly holdId: string;
  readonly start: { readonly atMs: number };
  readonly end: { readonly atMs: number } | null;
}

/** The athlete's holds, the open one as it would be saved. */
export const asEdited = (
  { holds }: Pick<AthleteRecording, 'holds'>,
  edited: EditedHold | null,
): readonly HoldTimes[] =>
  holds.map(({ hold }) =>
    hold.holdId !== edited?.holdId
      ? hold
      : {
          holdId: hold.holdId,
          start: { atMs: edited.startMs },
          end: edited.endMs === null ? null : { atMs: edited.endMs },
        },
  );

/** What the hub is asked for to save an open hold, in an order in which it never ends before it begins. */
export function requestsOfEdited(
  { holds }: Pick<AthleteRecording, 'holds'>,
  { holdId, startMs, endMs }: EditedHold,
): readonly CorrectionRequest[] {
  const hold = holds.find((each) => each.hold.holdId === holdId)?.hold;
  if (hold === undefined) return [];
  const move = (boundary: 'start' | 'end', atMs: number): CorrectionRequest[] =>
    hold[boundary]?.atMs === atMs
      ? []
      : [{ type: 'moveBoundary', holdId, boundary, atMs: monotonicMs(atMs) }];
  const start = move('start', startMs);
  const end = endMs === null ? [] : move('end', endMs);
  const isLater = hold.end !== null && startMs >= hold.end.atMs - shortestCorrectedHoldMs;
  return isLater ? [...end, ...start] : [...start, ...end];
}

function markHandles({ athlete, durationMs, text, dispatch }: HandleParts): BoundaryHandle[] {
  return athlete.marks.filter(isCorrectable).map(
    ({ markId, kind, atMs }): BoundaryHandle => ({
      key: markId,
      label: text.history.correction.markAt(text.markKind[kind], formatExactTime(atMs)),
      atMs,
      what: kind,
      limits: { leastMs: 0, greatestMs: durationMs },
      onMoved: (toMs) =>
        dispatch({ type: 'asked', request: { type: 'moveMark', markId, atMs: monotonicMs(toMs) } }),
      onRemoved: () => dispatch({ type: 'asked', request: { type: 'removeMark', markId } }),
    }),
  );
}

function newMarkHandles({ state: { newMark }, durationMs, text, dispatch }: HandleParts): BoundaryHandle[] {
  if (newMark === null) return [];
  return [
    {
      key: 'new-mark',
      label: text.history.correction.newMark[newMark.kind],
      atMs: newMark.atMs,
      what: newMark.kind,
      limits: { leastMs: 0, greatestMs: durationMs },
      onMoved: (atMs) => dispatch({ type: 'markMoved', atMs }),
    },
  ];
}

function newHoldHandles({ state: { newHold }, durationMs, text, dispatch }: HandleParts): BoundaryHandle[] {
  if (newHold === null) return [];
  return boundaries.map((boundary) => ({
    key: `new-${boundary}`,
    label: text.history.correction.newBoundary[boundary],
    atMs: boundary === 'start' ? newHold.startMs : newHold.endMs,
    what: boundary,
    limits: newHoldLimits(newHold, boundary, durationMs),
    onMoved: (atMs) => dispatch({ type: 'holdBoundaryMoved', boundary, atMs }),
  }));
}

/** Estimated boundaries that no hold has any more, and marks that were moved, each where it was. */
export function originalTimes(
  { holds, estimatedHolds, marks }: Pick<AthleteRecording, 'holds' | 'estimatedHolds' | 'marks'>,
  text: Messages,
): OriginalTime[] {
  const words = text.history.correction;
  const ofBoundaries = estimatedHolds.flatMap((estimated, index) =>
    boundaries.flatMap((boundary): OriginalTime[] => {
      const atMs = estimated[boundary]?.atMs;
      if (atMs === undefined || holds.some(({ hold }) => hold[boundary]?.atMs === atMs)) return [];
      const label = words.original(words.boundary[boundary](index + 1), formatExactTime(atMs));
      return [{ key: `${estimated.holdId}-${boundary}`, label, atMs }];
    }),
  );
  const ofMarks = marks.filter(isCorrectable).flatMap(({ markId, kind, originallyAtMs }): OriginalTime[] => {
    if (originallyAtMs === null) return [];
    const label = words.markedAt(text.markKind[kind], formatExactTime(originallyAtMs));
    return [{ key: `${markId}-original`, label, atMs: originallyAtMs }];
  });
  return [...ofBoundaries, ...ofMarks];
}
