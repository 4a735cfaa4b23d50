// What a plan wanted of one hold beside what it became, in words. Pure.

import { clockText } from '../../../shared/words/formats.ts';
import type { PlannedBesideActual } from '../../../src/plans/planned-beside-actual.ts';
import type { Messages } from '../../i18n/en.ts';
import { formatDuration } from '../../state/format.ts';

/**
 * "0:05 late", by the seconds as both starts are shown, so that a reader's sum agrees; null where either is not known.
 * `beginsAtMs` is where the run's clock begins in the times that are shown.
 */
export function startMovedWords(
  { actualStartAtMs, plannedStartAtMs }: PlannedBesideActual,
  beginsAtMs: number,
  { recorded }: Messages,
): string | null {
  if (actualStartAtMs === null || plannedStartAtMs === null) return null;
  const movedS =
    Math.floor((actualStartAtMs + beginsAtMs) / 1_000) - Math.round((plannedStartAtMs + beginsAtMs) / 1_000);
  if (movedS === 0) return recorded.plan.asPlanned;
  return (movedS > 0 ? recorded.plan.late : recorded.plan.early)(clockText(1_000 * Math.abs(movedS)));
}

/** The recovery before a hold beside the planned one; null where it is not known. */
function recoveryWords(
  { actualRecoveryBeforeMs: actual, plannedRecoveryBeforeMs: planned }: PlannedBesideActual,
  { recorded }: Messages,
): string | null {
  if (actual === null) return null;
  return planned === null
    ? recorded.plan.recoveryOnly(formatDuration(actual))
    : recorded.plan.recovery(formatDuration(actual), formatDuration(planned));
}

/** In one line, for a card. */
export function plannedWords(row: PlannedBesideActual, beginsAtMs: number, text: Messages): string {
  const words = text.recorded.plan;
  const parts = [
    row.stepIndex === null ? words.outside : null,
    row.ceilingMs === null ? null : words.longest(formatDuration(row.ceilingMs)),
    startMovedWords(row, beginsAtMs, text),
    recoveryWords(row, text),
  ];
  return parts.filter((part) => part !== null).join(', ');
}
