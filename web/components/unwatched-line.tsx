// How much of a hold nobody watched, said beside it: it is one hold, and part of it was not seen.

import type { HoldView, SessionView } from '../../shared/views.ts';
import { useApp } from '../app/app-context.ts';
import { formatAge } from '../state/format.ts';

/** Milliseconds of the hold that lie in stretches in which nobody was watched; a hold under way reaches to `nowMs`. */
export function unwatchedMsOf(
  { start, end }: Pick<HoldView, 'start' | 'end'>,
  unwatched: SessionView['unwatched'],
  nowMs: number,
): number {
  const untilMs = end?.atMs ?? nowMs;
  return unwatched.reduce(
    (sum, span) => sum + Math.max(0, Math.min(untilMs, span.toMs) - Math.max(start.atMs, span.fromMs)),
    0,
  );
}

export function UnwatchedLine({
  hold,
  unwatched,
  nowMs,
}: {
  readonly hold: Pick<HoldView, 'start' | 'end'>;
  readonly unwatched: SessionView['unwatched'];
  readonly nowMs: number;
}) {
  const { text } = useApp();
  const ms = unwatchedMsOf(hold, unwatched, nowMs);
  return ms < 1_000 ? null : <span class="hold-unwatched">, {text.readout.unwatched(formatAge(ms))}</span>;
}
