// The table that a new plan begins with: made from the holds of those who are chosen and the model of their saturation, made
// anew when others are chosen, until somebody changes it by hand.

import { type ReadonlySignal, useComputed, useSignal, useSignalEffect } from '@preact/signals';
import { useEffect, useRef } from 'preact/hooks';
import type { HistoryBody } from '../../../shared/history.ts';
import type { Athlete } from '../../../shared/views.ts';
import {
  type PastHold,
  sharedBasis,
  type TableBasis,
  type TableForAthletes,
  type TableModel,
  tableBasisOf,
  tableForAthletes,
} from '../../../src/plans/table-basis.ts';
import { useApp } from '../../app/app-context.ts';
import { localDay } from '../../state/calendar.ts';
import { type BuilderName, tableShapeOf } from './plan-builders.ts';

export interface AthletesTable {
  /** Null for a plan that is no such table, and until the hub has told of everybody chosen. */
  readonly table: ReadonlySignal<TableForAthletes | null>;
  /** Made round a hold of a person's own choice: theirs to answer for, with the plan's warnings. */
  readonly around: (comfortableSeconds: number) => TableForAthletes | null;
}

export function useAthletesTable(
  builder: BuilderName | null,
  chosen: ReadonlySignal<readonly Athlete[]>,
  model: ReadonlySignal<TableModel | null>,
): AthletesTable {
  const shape = builder === null ? null : tableShapeOf(builder);
  const bases = useBases(shape === null ? null : chosen);
  const basis = useComputed<TableBasis | null>(() => {
    const known = chosen.value.flatMap(({ athleteId }) => bases.value.get(athleteId) ?? []);
    return known.length < chosen.value.length ? null : sharedBasis(known);
  });
  const table = useComputed(() =>
    shape === null || basis.value === null || model.value === null
      ? null
      : tableForAthletes(shape, basis.value, model.value),
  );
  return {
    table,
    around: (comfortableSeconds) =>
      shape === null
        ? null
        : tableForAthletes(shape, { ...(basis.value ?? sharedBasis([])), comfortableSeconds }, null),
  };
}

/** Sessions that are worked out for the first time come to be known while the plan is open. */
const askAgainMs = 500;

/** By athlete, asked for until all of it is worked out; where the hub does not answer, nothing is known of them. */
function useBases(
  chosen: ReadonlySignal<readonly Athlete[]> | null,
): ReadonlySignal<ReadonlyMap<string, TableBasis>> {
  const { http, timers } = useApp();
  const bases = useSignal<ReadonlyMap<string, TableBasis>>(new Map());
  const asked = useSignal<ReadonlySet<string>>(new Set());
  const open = useRef(true);
  useEffect(
    () => () => {
      open.current = false;
    },
    [],
  );
  const ask = async (athleteId: string): Promise<void> => {
    const answer = await http.history(athleteId);
    if (!open.current) return;
    const basis = tableBasisOf(answer.ok ? pastHoldsOf(answer.value) : [], localDay(Date.now()));
    bases.value = new Map([...bases.peek(), [athleteId, basis]]);
    // While a session is recorded nothing more is worked out: what is known has to do.
    if (answer.ok && answer.value.missingCount > 0 && !answer.value.waitsForSession)
      timers.after(askAgainMs, () => void ask(athleteId));
  };
  useSignalEffect(() => {
    for (const { athleteId } of chosen?.value ?? []) {
      if (asked.peek().has(athleteId)) continue;
      asked.value = new Set([...asked.peek(), athleteId]);
      void ask(athleteId);
    }
  });
  return bases;
}

/** Every finished hold at rest: of recordings, which are of dry holds. */
function pastHoldsOf({ sessions }: Pick<HistoryBody, 'sessions'>): PastHold[] {
  return sessions.flatMap(({ sessionId, startedWallAtMs, summary, comfort }) => {
    const atDay = localDay(startedWallAtMs);
    return (summary?.measures['durationS'] ?? []).flatMap((durationS, index): PastHold[] =>
      durationS === null
        ? []
        : [
            {
              sessionId,
              atDay,
              durationS,
              comfort: summary?.comfort[index] ?? comfort,
              spo2BackS: summary?.measures['spo2BackToBaselineS']?.[index] ?? null,
              heartRateBackS: summary?.measures['heartRateBackS']?.[index] ?? null,
            },
          ],
    );
  });
}
