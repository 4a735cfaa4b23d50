// A hold put right on its own card: its start and end to the second by buttons, keys or typing, taking it away, or going on
// with handles on the traces.

import { useLayoutEffect, useRef } from 'preact/hooks';
import { useApp } from '../../app/app-context.ts';
import { TimeStepper } from '../../components/number-stepper.tsx';
import { ProblemNotice } from '../../components/problem-notice.tsx';
import { type Limits, withinLimits } from '../../state/boundary-limits.ts';
import type { EditedHold } from './correction-state.ts';

/** On the card a boundary goes so far at once; further by handles. Our choice: so the slider stays fine enough. */
const reachMs = 120_000;
const coarseSeconds = 10;

export interface HoldCorrectionProps {
  readonly number: number;
  readonly edited: EditedHold;
  /** As they stand, which the slider's reach is taken round. */
  readonly startAtMs: number;
  readonly endAtMs: number | null;
  readonly limitsOf: (boundary: 'start' | 'end') => Limits;
  readonly busy: boolean;
  /** Why it was not saved, worded. */
  readonly problem: string | null;
  readonly onMoved: (boundary: 'start' | 'end', atMs: number) => void;
  readonly onSave: () => void;
  readonly onLeave: () => void;
  readonly onRemove: () => void;
  readonly onTraces: () => void;
}

export function HoldCorrection(props: HoldCorrectionProps) {
  const { number, edited, startAtMs, endAtMs, busy, problem, onSave, onLeave, onRemove, onTraces } = props;
  const { text } = useApp();
  const words = text.history.correction;
  const form = useRef<HTMLFormElement>(null);
  // Before the paint: afterwards it would take the focus from whoever is in the other field already.
  useLayoutEffect(() => form.current?.querySelector('input')?.focus({ preventScroll: true }), []);
  return (
    <form
      class="hold-correction"
      ref={form}
      aria-label={words.correctHold(number)}
      onSubmit={(event) => {
        event.preventDefault();
        onSave();
      }}
      onKeyDown={(event) => {
        if (event.key === 'Escape') onLeave();
      }}
    >
      <Boundary {...props} boundary="start" atMs={edited.startMs} wasAtMs={startAtMs} />
      {edited.endMs === null || endAtMs === null ? null : (
        <Boundary {...props} boundary="end" atMs={edited.endMs} wasAtMs={endAtMs} />
      )}
      <ProblemNotice problem={problem} />
      <div class="correction-buttons">
        <button type="submit" class="button button--primary" disabled={busy}>
          {words.saveHold}
        </button>
        <button type="button" class="button" onClick={onLeave}>
          {text.cancel}
        </button>
        <button type="button" class="button" onClick={onTraces}>
          {words.onTraces}
        </button>
        <button
          type="button"
          class="button"
          disabled={busy}
          aria-label={words.removeHold(number)}
          onClick={onRemove}
        >
          {words.remove}
        </button>
      </div>
    </form>
  );
}

interface BoundaryProps extends HoldCorrectionProps {
  readonly boundary: 'start' | 'end';
  readonly atMs: number;
  readonly wasAtMs: number;
}

function Boundary({ boundary, atMs, wasAtMs, limitsOf, onMoved }: BoundaryProps) {
  const words = useApp().text.history.correction;
  const limits = limitsOf(boundary);
  const reach = {
    leastMs: Math.max(limits.leastMs, wasAtMs - reachMs),
    greatestMs: Math.min(limits.greatestMs, wasAtMs + reachMs),
  };
  return (
    <TimeStepper
      label={words.which[boundary]}
      value={atMs / 1_000}
      least={reach.leastMs / 1_000}
      most={reach.greatestMs / 1_000}
      step={coarseSeconds}
      onChange={(seconds) => onMoved(boundary, withinLimits(seconds * 1_000, reach))}
    />
  );
}
