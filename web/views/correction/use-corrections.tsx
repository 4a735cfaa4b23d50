// Correcting the holds of one athlete's recording: what is asked of the hub, the handles, and what was done so far.

import { type Signal, useSignal } from '@preact/signals';
import type { ComponentChild } from 'preact';
import type { AthleteRecording, CorrectionRequest, RecordingBody } from '../../../shared/http.ts';
import { monotonicMs } from '../../../shared/units.ts';
import { useApp } from '../../shell/app-context.ts';
import { boundaryLimits, freeSpan, withinLimits } from '../../state/boundary-limits.ts';
import { formatDuration, formatWallTime } from '../../state/format.ts';
import type { TimeRange } from '../../state/time-range.ts';
import { type BoundaryHandle, BoundaryHandles, exactTime } from './boundary-handles.tsx';

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
}

interface NewHold {
  readonly startMs: number;
  readonly endMs: number;
}

export function useCorrections({ recording, athlete, range, onCorrected }: CorrectionParts): Corrections {
  const { text, http } = useApp();
  const words = text.history.correction;
  const correcting = useSignal(false);
  const busy = useSignal(false);
  const problem = useSignal<string | null>(null);
  const said = useSignal('');
  const added = useSignal<NewHold | null>(null);
  const { sessionId } = recording.session;
  const { athleteId } = athlete.athlete;
  const holds = athlete.holds.map(({ hold }) => hold);

  const ask = async (request: CorrectionRequest | null) => {
    if (busy.value) return false;
    busy.value = true;
    const answer =
      request === null
        ? await http.undoCorrection(sessionId, athleteId)
        : await http.correct(sessionId, athleteId, request);
    busy.value = false;
    problem.value = answer.ok ? null : words.failed(answer.reason);
    if (!answer.ok) return false;
    said.value = request === null ? words.undone : words.saved;
    onCorrected(answer.value);
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
              boundary,
              limits: boundaryLimits(holds, index, boundary, recording.durationMs),
              onMoved: (toMs) =>
                void ask({ type: 'moveBoundary', holdId: hold.holdId, boundary, atMs: monotonicMs(toMs) }),
            },
          ];
        }),
      )
    : [];
  const draft = added.value;
  if (draft !== null) {
    const free = { leastMs: 0, greatestMs: recording.durationMs };
    handles.push(
      {
        key: 'new-start',
        label: words.newBoundary.start,
        atMs: draft.startMs,
        boundary: 'start',
        limits: { ...free, greatestMs: draft.endMs - 1_000 },
        onMoved: (startMs) => (added.value = { ...draft, startMs: withinLimits(startMs, free) }),
      },
      {
        key: 'new-end',
        label: words.newBoundary.end,
        atMs: draft.endMs,
        boundary: 'end',
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
  const inForce = athlete.corrections.some(({ state }) => state !== 'undone');
  const describe = (each: AthleteRecording['corrections'][number]): string => {
    const { correction } = each;
    if (correction.type === 'addHold')
      return words.did.added(exactTime(correction.startMs), exactTime(correction.endMs));
    if (correction.type === 'removeHold') return words.did.removed;
    return words.did.moved(text.history.correction.which[correction.boundary], exactTime(correction.atMs));
  };

  return {
    layer:
      handles.length === 0 && originals.length === 0 ? null : (
        <BoundaryHandles handles={handles} originals={originals} range={range} />
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
              problem.value = null;
            }}
          >
            {correcting.value ? words.done : words.begin}
          </button>
          {correcting.value && draft === null ? (
            <button type="button" class="button" onClick={begin}>
              {words.add}
            </button>
          ) : null}
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
          {correcting.value || inForce ? (
            <button
              type="button"
              class="button"
              disabled={!inForce || busy.value}
              onClick={() => void ask(null)}
            >
              {words.undo}
            </button>
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
