// Correcting the holds and marks of one athlete's recording: what is asked of the hub, the handles, and what was done so
// far.

import { type Signal, useSignal } from '@preact/signals';
import type { ComponentChild } from 'preact';
import { useEffect, useRef } from 'preact/hooks';
import type { AthleteRecording, CorrectionRequest, RecordingBody } from '../../../shared/http.ts';
import { monotonicMs } from '../../../shared/units.ts';
import type { HoldView } from '../../../shared/views.ts';
import { useApp } from '../../app/app-context.ts';
import { boundaryLimits, freeSpan, withinLimits } from '../../state/boundary-limits.ts';
import { formatDuration, formatWallTime } from '../../state/format.ts';
import type { TimeRange } from '../../state/time-range.ts';
import { type BoundaryHandle, BoundaryHandles, exactTime } from './boundary-handles.tsx';
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

interface NewHold {
  readonly startMs: number;
  readonly endMs: number;
}

interface NewMark {
  readonly kind: 'contraction' | 'note';
  readonly atMs: number;
  readonly text: string;
}

const hasInForce = ({ corrections }: AthleteRecording): boolean =>
  corrections.some(({ state }) => state !== 'undone');

const isCorrectable = (kind: string): kind is NewMark['kind'] => kind === 'contraction' || kind === 'note';

export function useCorrections({ recording, athlete, range, onCorrected }: CorrectionParts): Corrections {
  const { text, http } = useApp();
  const words = text.history.correction;
  const correcting = useSignal(false);
  const busy = useSignal(false);
  const problem = useSignal<string | null>(null);
  const said = useSignal('');
  const waiting = useRef<('undo' | 'redo')[]>([]);
  const added = useSignal<NewHold | null>(null);
  const addedMark = useSignal<NewMark | null>(null);
  const { sessionId } = recording.session;
  const { athleteId } = athlete.athlete;
  const holds = athlete.holds.map(({ hold }) => hold);

  const ask = async (request: CorrectionRequest | 'undo' | 'redo') => {
    if (busy.value) {
      // Two quick presses are two steps back; anything else has a button that waits.
      if (typeof request === 'string') waiting.current.push(request);
      return false;
    }
    busy.value = true;
    const answer =
      request === 'undo'
        ? await http.undoCorrection(sessionId, athleteId)
        : request === 'redo'
          ? await http.redoCorrection(sessionId, athleteId)
          : await http.correct(sessionId, athleteId, request);
    busy.value = false;
    problem.value = answer.ok ? null : words.failed(answer.reason);
    if (!answer.ok) {
      waiting.current = [];
      return false;
    }
    said.value = request === 'undo' ? words.undone : request === 'redo' ? words.redone : words.saved;
    onCorrected(answer.value);
    const next = waiting.current.shift();
    const isPossible = next === 'redo' ? answer.value.canRedo : hasInForce(answer.value);
    if (next !== undefined && isPossible) void ask(next);
    return true;
  };

  const originals = athlete.estimatedHolds.flatMap((hold, index) =>
    (['start', 'end'] as const).flatMap((boundary) => {
      const atMs = hold[boundary]?.atMs;
      if (atMs === undefined) return [];
      const stands = holds.some((each) => each[boundary]?.atMs === atMs);
      return stands
        ? []
        : [
            {
              key: `${hold.holdId}-${boundary}`,
              label: words.original(words.boundary[boundary](index + 1), exactTime(atMs)),
              atMs,
            },
          ];
    }),
  );

  const handles: BoundaryHandle[] = correcting.value
    ? holds.flatMap((hold, index) =>
        (['start', 'end'] as const).flatMap((boundary): BoundaryHandle[] => {
          const atMs = hold[boundary]?.atMs;
          if (atMs === undefined) return [];
          return [
            {
              key: `${hold.holdId}-${boundary}`,
              label: words.boundary[boundary](index + 1),
              atMs,
              what: boundary,
              limits: boundaryLimits(holds, index, boundary, recording.durationMs),
              onMoved: (toMs) =>
                void ask({ type: 'moveBoundary', holdId: hold.holdId, boundary, atMs: monotonicMs(toMs) }),
            },
          ];
        }),
      )
    : [];
  const marks = athlete.marks.filter(({ kind }) => isCorrectable(kind));
  const inRecording = { leastMs: 0, greatestMs: recording.durationMs };
  const markLabel = (mark: AthleteRecording['marks'][number]) =>
    words.markAt(text.markKind[mark.kind], exactTime(mark.atMs));
  originals.push(
    ...marks.flatMap((mark) =>
      mark.originallyAtMs === null
        ? []
        : [
            {
              key: `${mark.markId}-original`,
              label: words.markedAt(text.markKind[mark.kind], exactTime(mark.originallyAtMs)),
              atMs: mark.originallyAtMs,
            },
          ],
    ),
  );
  if (correcting.value)
    handles.push(
      ...marks.map((mark): BoundaryHandle => {
        const { markId } = mark;
        return {
          key: markId,
          label: markLabel(mark),
          atMs: mark.atMs,
          what: mark.kind === 'note' ? 'note' : 'contraction',
          limits: inRecording,
          onMoved: (atMs) => void ask({ type: 'moveMark', markId, atMs: monotonicMs(atMs) }),
          onRemoved: () => void ask({ type: 'removeMark', markId }),
        };
      }),
    );
  const markDraft = addedMark.value;
  if (markDraft !== null)
    handles.push({
      key: 'new-mark',
      label: words.newMark[markDraft.kind],
      atMs: markDraft.atMs,
      what: markDraft.kind,
      limits: inRecording,
      onMoved: (atMs) => (addedMark.value = { ...markDraft, atMs }),
    });
  const beginMark = (kind: NewMark['kind']) => {
    problem.value = null;
    const middleMs = (range.value.fromSeconds + range.value.toSeconds) * 500;
    addedMark.value = { kind, atMs: withinLimits(middleMs, inRecording), text: '' };
  };
  const saveMark = async ({ kind, atMs, text: written }: NewMark) => {
    const note = kind === 'note' ? written : null;
    if (await ask({ type: 'addMark', kind, atMs: monotonicMs(atMs), text: note })) addedMark.value = null;
  };
  const draft = added.value;
  if (draft !== null) {
    const free = { leastMs: 0, greatestMs: recording.durationMs };
    handles.push(
      {
        key: 'new-start',
        label: words.newBoundary.start,
        atMs: draft.startMs,
        what: 'start',
        limits: { ...free, greatestMs: draft.endMs - 1_000 },
        onMoved: (startMs) => (added.value = { ...draft, startMs: withinLimits(startMs, free) }),
      },
      {
        key: 'new-end',
        label: words.newBoundary.end,
        atMs: draft.endMs,
        what: 'end',
        limits: { ...free, leastMs: draft.startMs + 1_000 },
        onMoved: (endMs) => (added.value = { ...draft, endMs: withinLimits(endMs, free) }),
      },
    );
  }
  const begin = () => {
    const span = freeSpan(
      holds,
      range.value.fromSeconds * 1000,
      range.value.toSeconds * 1000,
      recording.durationMs,
    );
    if (span === null) problem.value = words.noRoom;
    else {
      problem.value = null;
      added.value = span;
    }
  };
  const inForce = hasInForce(athlete);
  const keyed = useRef<(event: KeyboardEvent) => void>(() => undefined);
  keyed.current = (event) => {
    const isUndo = (event.ctrlKey || event.metaKey) && !event.altKey && event.key.toLowerCase() === 'z';
    // A field undoes what was typed into it.
    if (!isUndo || event.target instanceof HTMLInputElement) return;
    event.preventDefault();
    if (busy.value || (event.shiftKey ? athlete.canRedo : inForce))
      void ask(event.shiftKey ? 'redo' : 'undo');
  };
  useEffect(() => {
    if (!correcting.value) return undefined;
    const hear = (event: KeyboardEvent) => keyed.current(event);
    addEventListener('keydown', hear);
    return () => removeEventListener('keydown', hear);
  }, [correcting.value]);
  const describe = (each: AthleteRecording['corrections'][number]): string => {
    const { correction } = each;
    if (correction.type === 'addHold')
      return words.did.added(exactTime(correction.startMs), exactTime(correction.endMs));
    if (correction.type === 'removeHold') return words.did.removed;
    if (correction.type === 'addMark')
      return words.did.markAdded(text.markKind[correction.kind], exactTime(correction.atMs));
    if (correction.type === 'removeMark') return words.did.markRemoved;
    if (correction.type === 'moveMark') return words.did.markMoved(exactTime(correction.atMs));
    return words.did.moved(text.history.correction.which[correction.boundary], exactTime(correction.atMs));
  };

  return {
    layer:
      handles.length === 0 && originals.length === 0 ? null : (
        <BoundaryHandles handles={handles} originals={originals} range={range} />
      ),
    removeMark: correcting.value
      ? ({ kind, markId }) => (isCorrectable(kind) ? () => void ask({ type: 'removeMark', markId }) : null)
      : null,
    answerProposal: ({ holdId, start }, isHold) =>
      void ask(
        isHold
          ? { type: 'moveBoundary', holdId, boundary: 'start', atMs: start.atMs }
          : { type: 'removeHold', holdId },
      ),
    removeHold: correcting.value ? (holdId) => void ask({ type: 'removeHold', holdId }) : null,
    tools: (
      <section class="correction-tools" aria-label={words.title}>
        <div class="correction-buttons">
          <button
            type="button"
            class={correcting.value ? 'button button--primary' : 'button'}
            aria-pressed={correcting.value}
            disabled={recording.session.status === 'recording' || !athlete.workedOut}
            onClick={() => {
              correcting.value = !correcting.value;
              added.value = null;
              addedMark.value = null;
              problem.value = null;
            }}
          >
            {correcting.value ? words.done : words.begin}
          </button>
          {correcting.value && draft === null && markDraft === null ? (
            <>
              <button type="button" class="button" onClick={begin}>
                {words.add}
              </button>
              <button type="button" class="button" onClick={() => beginMark('contraction')}>
                {words.addMark.contraction}
              </button>
              <button type="button" class="button" onClick={() => beginMark('note')}>
                {words.addMark.note}
              </button>
            </>
          ) : null}
          {markDraft === null ? null : (
            <form
              class="correction-draft"
              onSubmit={(event) => {
                event.preventDefault();
                void saveMark(markDraft);
              }}
            >
              {markDraft.kind === 'note' ? (
                <label class="field">
                  <span>{words.noteText}</span>
                  <input
                    value={markDraft.text}
                    maxLength={2_000}
                    onInput={(event) => (addedMark.value = { ...markDraft, text: event.currentTarget.value })}
                  />
                </label>
              ) : null}
              <button type="submit" class="button button--primary" disabled={busy.value}>
                {words.saveMark[markDraft.kind](exactTime(markDraft.atMs))}
              </button>
              <button type="button" class="button" onClick={() => (addedMark.value = null)}>
                {text.cancel}
              </button>
            </form>
          )}
          {draft === null ? null : (
            <>
              <button
                type="button"
                class="button button--primary"
                disabled={busy.value}
                onClick={() =>
                  void ask({
                    type: 'addHold',
                    startMs: monotonicMs(draft.startMs),
                    endMs: monotonicMs(draft.endMs),
                  }).then((saved) => {
                    if (saved) added.value = null;
                  })
                }
              >
                {words.saveNew(exactTime(draft.startMs), exactTime(draft.endMs))}
              </button>
              <button type="button" class="button" onClick={() => (added.value = null)}>
                {text.cancel}
              </button>
            </>
          )}
          {correcting.value || inForce || athlete.canRedo ? (
            <>
              <button
                type="button"
                class="button"
                disabled={!inForce || busy.value}
                onClick={() => void ask('undo')}
              >
                {words.undo}
              </button>
              <button
                type="button"
                class="button"
                disabled={!athlete.canRedo || busy.value}
                onClick={() => void ask('redo')}
              >
                {words.redo}
              </button>
            </>
          ) : null}
        </div>
        {correcting.value ? <p class="hint">{words.help}</p> : null}
        {problem.value === null ? null : (
          <p class="notice notice--strong" role="alert">
            {problem.value}
          </p>
        )}
        <p class="visually-hidden" role="status">
          {said}
        </p>
        {athlete.corrections.length === 0 ? null : (
          <details class="explain">
            <summary>
              {words.list(athlete.corrections.filter(({ state }) => state === 'inForce').length)}
            </summary>
            <ol class="correction-list">
              {athlete.corrections.map((each) => (
                <li key={each.correctionId} class={`correction--${each.state}`}>
                  {describe(each)} <small class="hint">{formatWallTime(each.madeWallAtMs)}</small>{' '}
                  <strong>{words.state[each.state]}</strong>
                </li>
              ))}
            </ol>
            <p class="hint">
              {words.estimated(
                athlete.estimatedHolds
                  .map(
                    ({ start, end }) =>
                      `${formatDuration(start.atMs)}\u2013${end === null ? '?' : formatDuration(end.atMs)}`,
                  )
                  .join(', '),
              )}
            </p>
          </details>
        )}
      </section>
    ),
  };
}
