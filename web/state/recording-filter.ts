// Which recordings of the list are shown: by words, athlete, days and kind, a page at a time. Pure.

import type { SessionsBody } from '../../shared/http.ts';

export type ListedRecording = SessionsBody['sessions'][number];
export const recordingKinds = ['live', 'simulated', 'replay', 'import', 'interrupted'] as const;
export type RecordingKind = (typeof recordingKinds)[number];

export interface RecordingFilter {
  /** Words of titles and names; each has to be found. */
  readonly search: string;
  /** '' for all. */
  readonly athleteId: string;
  /** Local days as a date field writes them, "2031-04-02"; '' for none. */
  readonly fromDay: string;
  readonly untilDay: string;
  /** '' for all. */
  readonly kind: RecordingKind | '';
}

export const noFilter: RecordingFilter = { search: '', athleteId: '', fromDay: '', untilDay: '', kind: '' };

export const recordingsPerPage = 40;

export const isFiltered = (filter: RecordingFilter): boolean =>
  Object.values(filter).some((value) => value.trim() !== '');

/** `dayOf` gives the local day of a time, as a date field writes it. */
export function filteredRecordings(
  recordings: readonly ListedRecording[],
  filter: RecordingFilter,
  untitled: string,
  dayOf: (wallAtMs: number) => string,
): readonly ListedRecording[] {
  const words = plain(filter.search).split(' ').filter(Boolean);
  return recordings.filter(({ session, athleteNames }) => {
    const day = dayOf(session.startedWallAtMs);
    const found = plain([session.title || untitled, ...athleteNames].join(' '));
    return (
      words.every((word) => found.includes(word)) &&
      (filter.athleteId === '' || session.athleteIds.includes(filter.athleteId)) &&
      (filter.fromDay === '' || day >= filter.fromDay) &&
      (filter.untilDay === '' || day <= filter.untilDay) &&
      isOfKind(session, filter.kind)
    );
  });
}

/** The page within bounds, counted from 0, and how many there are; at least one. */
export function pageOf<Item>(
  items: readonly Item[],
  page: number,
): { readonly page: number; readonly pages: number; readonly items: readonly Item[] } {
  const pages = Math.max(1, Math.ceil(items.length / recordingsPerPage));
  const shown = Math.min(Math.max(0, page), pages - 1);
  return {
    page: shown,
    pages,
    items: items.slice(shown * recordingsPerPage, (shown + 1) * recordingsPerPage),
  };
}

/** Everybody in the list, by name. */
export function athletesOfList(
  recordings: readonly ListedRecording[],
): { readonly athleteId: string; readonly name: string }[] {
  const names = new Map<string, string>();
  for (const { session, athleteNames } of recordings)
    for (const [index, athleteId] of session.athleteIds.entries())
      if (!names.has(athleteId)) names.set(athleteId, athleteNames[index] ?? athleteId);
  return [...names]
    .map(([athleteId, name]) => ({ athleteId, name }))
    .toSorted((one, other) => one.name.localeCompare(other.name));
}

/** As a date field writes the local day of a time. */
export function localDayText(wallAtMs: number): string {
  const date = new Date(wallAtMs);
  const two = (number: number) => String(number).padStart(2, '0');
  return `${String(date.getFullYear()).padStart(4, '0')}-${two(date.getMonth() + 1)}-${two(date.getDate())}`;
}

const isOfKind = ({ source, status }: ListedRecording['session'], kind: RecordingFilter['kind']): boolean =>
  kind === '' || (kind === 'interrupted' ? status === 'interrupted' : source === kind);

/** Accents, case and spaces keep nobody from finding a name. */
const plain = (text: string): string =>
  text.normalize('NFD').replaceAll(/\p{M}/gu, '').toLocaleLowerCase().replaceAll(/\s+/g, ' ').trim();
