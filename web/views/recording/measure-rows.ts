// The measures of several holds as the rows of a table. Pure.

import type { AthleteRecording } from '../../../shared/http.ts';
import type { Said } from '../../../shared/said.ts';

type HoldWithMeasures = AthleteRecording['holds'][number];
export type Measure = HoldWithMeasures['measures'][number];

export interface MeasureRow {
  readonly key: string;
  /** Where the measure's definition is from. */
  readonly source: Said;
  /** In the order of the holds; undefined for a hold without the measure. */
  readonly ofHolds: readonly (Measure | undefined)[];
}

/** Every hold has the same measures, in the same order; the union is taken all the same. */
export function measureRows(holds: readonly Pick<HoldWithMeasures, 'measures'>[]): MeasureRow[] {
  const byKey = holds.map(({ measures }) => new Map(measures.map((measure) => [measure.key, measure])));
  const first = new Map<string, Measure>();
  for (const { measures } of holds)
    for (const measure of measures) if (!first.has(measure.key)) first.set(measure.key, measure);
  return [...first].map(([key, { source }]) => ({ key, source, ofHolds: byKey.map((map) => map.get(key)) }));
}

/** Why a value is not known, in words; '' where it is known or nothing is said. */
export const whyNotKnown = (measure: Measure | undefined, say: (said: Said) => string): string =>
  measure === undefined || measure.value !== null || measure.whyNot === null ? '' : say(measure.whyNot);

/** The reason given most often, the first of several; undefined where none is given. */
export function mostFrequent(reasons: readonly string[]): string | undefined {
  const counts = new Map<string, number>();
  for (const reason of reasons) counts.set(reason, (counts.get(reason) ?? 0) + 1);
  const most = Math.max(...counts.values());
  return [...counts].find(([, count]) => count === most)?.[0];
}
