// Which of an athlete's past sessions are looked at: of a plan, a tag, a place, and holds with lungs of one kind. Pure.

import type { HistoryBody } from '../../shared/history.ts';
import type { HoldLungs } from '../../shared/schema-parts.ts';

type PastSession = HistoryBody['sessions'][number];

/** '' for all of each. */
export interface WeeksFilter {
  readonly plan: string;
  readonly tag: string;
  readonly place: string;
  readonly lungs: HoldLungs | '';
}

export const everySession: WeeksFilter = { plan: '', tag: '', place: '', lungs: '' };

export const isNarrowed = (filter: WeeksFilter): boolean =>
  Object.values(filter).some((value) => value !== '');

/** What there is to choose from, each list by how often it occurs. */
export interface WeeksChoices {
  readonly plans: readonly string[];
  readonly tags: readonly string[];
  readonly places: readonly string[];
  readonly lungs: readonly HoldLungs[];
}

export function weeksChoices(sessions: readonly PastSession[]): WeeksChoices {
  const said = new Set(sessions.flatMap(({ summary }) => summary?.lungs ?? []));
  return {
    plans: byCount(sessions.flatMap(({ plans }) => plans)),
    tags: byCount(sessions.flatMap(({ details }) => details?.tags ?? [])),
    places: byCount(sessions.flatMap(({ details }) => details?.place || [])),
    lungs: lungsInOrder.filter((each) => said.has(each)),
  };
}

const lungsInOrder: readonly HoldLungs[] = ['full', 'half', 'emptied'];

/** In the order given. Where lungs are chosen, a session keeps only those holds, and goes where it has none. */
export function filteredSessions(
  sessions: readonly PastSession[],
  { plan, tag, place, lungs }: WeeksFilter,
): readonly PastSession[] {
  return sessions.flatMap((session): readonly PastSession[] => {
    const { plans, details } = session;
    const fits =
      (plan === '' || plans.includes(plan)) &&
      (tag === '' || (details?.tags.some((each) => isSame(each, tag)) ?? false)) &&
      (place === '' || isSame(details?.place ?? '', place));
    if (!fits) return [];
    return lungs === '' ? [session] : withLungs(session, lungs);
  });
}

function withLungs(session: PastSession, lungs: HoldLungs): readonly PastSession[] {
  const { summary } = session;
  if (summary === null) return [];
  const keeps = summary.holdIds.map((_, index) => summary.lungs[index] === lungs);
  if (!keeps.includes(true)) return [];
  const kept = <Value>(column: readonly Value[]): Value[] => column.filter((_, index) => keeps[index]);
  return [
    {
      ...session,
      planRows: kept(session.planRows),
      summary: {
        holdIds: kept(summary.holdIds),
        startAtMs: kept(summary.startAtMs),
        durationUncertaintyS: kept(summary.durationUncertaintyS),
        measures: Object.fromEntries(
          Object.entries(summary.measures).map(([key, column]) => [key, kept(column)]),
        ),
        lungs: kept(summary.lungs),
        comfort: kept(summary.comfort),
      },
    },
  ];
}

const isSame = (one: string, other: string): boolean => one.toLowerCase() === other.toLowerCase();

/** Each once, in its most recent spelling, the most frequent first. `values` are in order of date. */
function byCount(values: readonly string[]): string[] {
  const known = new Map<string, { spelling: string; count: number }>();
  for (const value of values) {
    const key = value.toLowerCase();
    known.set(key, { spelling: value, count: (known.get(key)?.count ?? 0) + 1 });
  }
  return [...known.values()]
    .toSorted((one, other) => other.count - one.count)
    .map(({ spelling }) => spelling);
}
