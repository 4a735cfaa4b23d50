// The holds of one athlete as files carry them: as corrected, how each end came about, how it felt, and every measure.

import type { BoundarySource } from '../../../shared/schema-parts.ts';
import { sayInEnglish } from '../../../shared/words/say.ts';
import type { HoldForFile } from '../../../src/formats/hold-for-file.ts';
import { measureTable } from '../../../src/holds/measure-table.ts';
import type { MeasuredHold } from '../../../src/sessions/derive-recording.ts';
import { feelingOfHold } from '../../../src/sessions/feeling-of-hold.ts';
import type { StoredSession } from '../../base/ports/stored-session.ts';

export const sourceWords: Readonly<Record<BoundarySource, string>> = {
  detected: 'estimated',
  mark: 'marked',
  corrected: 'corrected',
};

export function holdsForFile({
  stored,
  athlete,
  holds,
}: {
  readonly stored: StoredSession;
  readonly athlete: { readonly athleteId: string };
  /** As corrected. */
  readonly holds: readonly MeasuredHold[];
}): HoldForFile[] {
  const said = stored.holds
    .filter((each) => each.athleteId === athlete.athleteId && !each.withdrawn)
    .map(({ hold }) => hold);
  return holds.map(({ hold, measures, lowestSpo2 }) => {
    const endMs = hold.end?.atMs ?? null;
    const feeling = feelingOfHold({ startMs: hold.start.atMs, endMs: endMs ?? stored.durationMs }, said);
    return {
      holdId: hold.holdId,
      startMs: hold.start.atMs,
      endMs,
      start: sourceWords[hold.start.source],
      end: hold.end === undefined ? null : sourceWords[hold.end.source],
      isProposed: hold.proposed === true,
      lowestSpo2: lowestSpo2 === undefined ? null : { atMs: lowestSpo2.atMs, value: lowestSpo2.value },
      comfort: feeling?.comfort ?? null,
      feeling: feeling?.note ?? null,
      measures: measureTable.map(({ key, unit }) => ({
        key,
        unit,
        label: sayInEnglish({ code: `measure.${key}`, params: {} }),
        value: measures[key] ?? null,
      })),
    };
  });
}
