// Which recordings of the list are shown: by words, athlete, who led it, time, kind, plan, tag, place and condition, a page at a time; and
// what there is to choose from.

import type { SessionsBody } from '../../shared/http.ts';
import { foldedName as plain } from '../../shared/name-text.ts';

export type ListedRecording = SessionsBody['sessions'][number];
export const recordingKinds = ['live', 'simulated', 'replay', 'import', 'interrupted'] as const;
export type RecordingKind = (typeof recordingKinds)[number];
/** What was noted of somebody's session that a person would look for. */
export const recordingConditions = ['hard', 'alone', 'poorSleep', 'unwell', 'withoutNotes'] as const;
export type RecordingCondition = (typeof recordingConditions)[number];

export interface RecordingFilter {
  /** Words of titles, names, of who led it too, plans, tags, places and notes; each has to be found. */
  readonly search: string;
  /** '' for all, of each. */
  readonly athleteId: string;
  /** By name. */
  readonly leader: string;
  /** At a school: the hub that recorded it. */
  readonly room: string;
  readonly kind: RecordingKind | '';
  readonly plan: string;
  readonly tag: string;
  readonly place: string;
  readonly condition: RecordingCondition | '';
  /** Unix ms, from and until before; null for no bound. */
  readonly fromMs: number | null;
  readonly untilMs: number | null;
}

export const recordingsPerPage = 40;

/** What is searched of each, made once: the list is asked for again with every letter typed. */
const texts = new WeakMap<ListedRecording, string>();

/** In the order given. `untitled` is what a recording without a title is called. */
export function foundRecordings(
  recordings: readonly ListedRecording[],
  filter: RecordingFilter,
  untitled: string,
): readonly ListedRecording[] {
  const words = plain(filter.search).split(' ').filter(Boolean);
  const { athleteId, leader, room, kind, plan, tag, place, condition, fromMs, untilMs } = filter;
  const [plainLeader, plainTag, plainPlace] = [plain(leader), plain(tag), plain(place)];
  return recordings.filter((recording) => {
    const { session, plans, details } = recording;
    // Of one athlete who is looked for, only what was noted of theirs counts.
    const noted = athleteId === '' ? details : details.filter((each) => each.athleteId === athleteId);
    return (
      (athleteId === '' || session.athleteIds.includes(athleteId)) &&
      (leader === '' || session.leaders.some(({ name }) => plain(name) === plainLeader)) &&
      // Ids of a school's recordings begin with it.
      (room === '' || session.sessionId.startsWith(`${room}.`)) &&
      (fromMs === null || session.startedWallAtMs >= fromMs) &&
      (untilMs === null || session.startedWallAtMs < untilMs) &&
      isOfKind(session, kind) &&
      (plan === '' || plans.includes(plan)) &&
      (tag === '' || noted.some((each) => each.details.tags.some((own) => plain(own) === plainTag))) &&
      (place === '' || noted.some((each) => plain(each.details.place) === plainPlace)) &&
      (condition === '' || isInCondition(noted, condition)) &&
      (words.length === 0 || words.every((word) => textOf(recording, untitled).includes(word)))
    );
  });
}

function textOf(recording: ListedRecording, untitled: string): string {
  const { session, athleteNames, plans, details } = recording;
  let text = texts.get(recording);
  if (text === undefined) {
    const noted = details.flatMap(({ details: { place, tags, note, buddyName } }) => [
      place,
      ...tags.map((tag) => `#${tag}`),
      note,
      buddyName,
    ]);
    const leaders = session.leaders.map(({ name }) => name);
    text = plain([session.title, ...athleteNames, ...leaders, ...plans, ...noted].join(' '));
    texts.set(recording, text);
  }
  return session.title === '' ? `${text} ${plain(untitled)}` : text;
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

export interface RecordingChoices {
  /** Everybody in the list, by name, each by the newest. */
  readonly athletes: { readonly athleteId: string; readonly name: string }[];
  /** Names of who led, each as in the newest. */
  readonly leaders: string[];
  readonly plans: string[];
  readonly tags: string[];
  readonly places: string[];
}

/** `recordings` newest first. */
export function recordingChoices(recordings: readonly ListedRecording[]): RecordingChoices {
  const names = new Map<string, string>();
  const plans = new Set<string>();
  const leaders = new Map<string, string>();
  const tags = new Map<string, string>();
  const places = new Map<string, string>();
  const put = (known: Map<string, string>, value: string) => {
    const key = plain(value);
    if (key !== '' && !known.has(key)) known.set(key, value);
  };
  for (const { session, athleteNames, plans: own, details } of recordings) {
    for (const [index, athleteId] of session.athleteIds.entries())
      if (!names.has(athleteId)) names.set(athleteId, athleteNames[index] ?? athleteId);
    for (const { name } of session.leaders) put(leaders, name);
    for (const plan of own) plans.add(plan);
    for (const { details: noted } of details) {
      put(places, noted.place);
      for (const tag of noted.tags) put(tags, tag);
    }
  }
  const byName = (one: string, other: string): number => one.localeCompare(other);
  return {
    athletes: [...names]
      .map(([athleteId, name]) => ({ athleteId, name }))
      .toSorted((one, other) => byName(one.name, other.name)),
    leaders: [...leaders.values()].toSorted(byName),
    plans: [...plans].toSorted(byName),
    tags: [...tags.values()].toSorted(byName),
    places: [...places.values()].toSorted(byName),
  };
}

const isOfKind = ({ source, status }: ListedRecording['session'], kind: RecordingFilter['kind']): boolean =>
  kind === '' || (kind === 'interrupted' ? status === 'interrupted' : source === kind);

function isInCondition(noted: ListedRecording['details'], condition: RecordingCondition): boolean {
  switch (condition) {
    case 'hard':
      return noted.some(({ details }) => details.effort === 'hard');
    case 'alone':
      return noted.some(({ details }) => details.company === 'alone');
    case 'poorSleep':
      return noted.some(({ details }) => details.sleep === 'poor');
    case 'unwell':
      return noted.some(({ details: { illness } }) => illness === 'unwell' || illness === 'ill');
    case 'withoutNotes':
      return noted.length === 0;
  }
}
