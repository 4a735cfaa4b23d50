// Names of people in what others did: who led a session, who put an alarm aside, who moved somebody. They go when the person is
// erased, since nothing else of such a row is theirs.

import { foldedName } from '../../shared/name-text.ts';
import type { SessionLeader } from '../../shared/views.ts';
import type { HubStore } from '../base/ports/hub-store.ts';

/** Who is to be named nowhere any more: by the id under which they led, and by their names. */
export interface Unnamed {
  readonly leaderIds: ReadonlySet<string>;
  /** Folded. */
  readonly names: ReadonlySet<string>;
}

interface HeadOfNames {
  readonly athletes: readonly { readonly athleteId: string; readonly name: string }[];
  readonly leaders?: readonly SessionLeader[] | undefined;
}

/** Of an erased id, which is an athlete's or that of who led; `listed`: what athletes are called now. */
export function unnamedOf(
  ids: ReadonlySet<string>,
  heads: Iterable<HeadOfNames>,
  listed: Iterable<{ readonly athleteId: string; readonly name: string }> = [],
): Unnamed {
  const names = new Set<string>();
  const add = (name: string): unknown => foldedName(name) !== '' && names.add(foldedName(name));
  for (const { athleteId, name } of listed) if (ids.has(athleteId)) add(name);
  for (const { athletes, leaders = [] } of heads) {
    for (const { athleteId, name } of athletes) if (ids.has(athleteId)) add(name);
    for (const { leaderId, name } of leaders) if (ids.has(leaderId)) add(name);
  }
  return { leaderIds: ids, names };
}

const isUnnamed = ({ leaderIds, names }: Unnamed, { leaderId, name }: SessionLeader): boolean =>
  leaderIds.has(leaderId) || names.has(foldedName(name));

/** The head without them, or undefined where they do not lead. */
export function headUnnamed<Head extends { readonly leaders?: readonly SessionLeader[] | undefined }>(
  head: Head,
  who: Unnamed,
): Head | undefined {
  const { leaders = [], ...rest } = head;
  const kept = leaders.filter((leader) => !isUnnamed(who, leader));
  if (kept.length === leaders.length) return undefined;
  return { ...rest, ...(kept.length > 0 && { leaders: kept }) } as unknown as Head;
}

/** Kinds of entries that say by whose device something was done. */
export const kindsThatName: readonly string[] = ['alarm', 'change'];

/** The body of such an entry without their name, or undefined where it does not name them. JSON. */
export function entryUnnamed(body: string, { names }: Unnamed): string | undefined {
  const entry = JSON.parse(body) as {
    readonly by?: unknown;
    readonly alarm?: { readonly acknowledgedBy?: unknown };
  };
  const isTheirs = (name: unknown): boolean => typeof name === 'string' && names.has(foldedName(name));
  if (isTheirs(entry.by)) return JSON.stringify({ ...entry, by: '' });
  if (!isTheirs(entry.alarm?.acknowledgedBy)) return undefined;
  return JSON.stringify({ ...entry, alarm: { ...entry.alarm, acknowledgedBy: null } });
}

/** Folded: what somebody is called here, be they an athlete or one who led. */
export async function namesOf(
  store: Pick<HubStore, 'listSessions' | 'listBinned' | 'listAthletes'>,
  id: string,
): Promise<ReadonlySet<string>> {
  const called = store.listAthletes().filter(({ athleteId }) => athleteId === id);
  const names = new Set(called.map(({ name }) => foldedName(name)));
  for (const { session, athleteNames } of await store.listSessions()) {
    const at = session.athleteIds.indexOf(id);
    if (at >= 0) names.add(foldedName(athleteNames[at] ?? ''));
  }
  for (const { athletes } of await store.listBinned())
    for (const { athleteId, name } of athletes) if (athleteId === id) names.add(foldedName(name));
  for (const { session } of [...(await store.listSessions()), ...(await store.listBinned())])
    for (const { leaderId, name } of session.leaders) if (leaderId === id) names.add(foldedName(name));
  names.delete('');
  return names;
}

/** Other ids of who led under a name of theirs: whoever is erased leads nothing either. */
export async function ledUnderNameOf(
  store: Pick<HubStore, 'listSessions' | 'listBinned' | 'listAthletes'>,
  id: string,
): Promise<readonly string[]> {
  const names = await namesOf(store, id);
  const ids = new Set<string>();
  for (const { session } of [...(await store.listSessions()), ...(await store.listBinned())])
    for (const { leaderId, name } of session.leaders) if (names.has(foldedName(name))) ids.add(leaderId);
  ids.delete(id);
  return [...ids];
}
