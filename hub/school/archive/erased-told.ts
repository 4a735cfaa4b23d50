// What was told of a session without some of its people, as a hub's recorder leaves it when they are erased there
// (recorder/session-tables.ts): their entries, the links of sensors while they wore them, and their place in the head.

import type { Told } from '../../../shared/school/kept-messages.ts';
import type { SessionLeader } from '../../../shared/views.ts';
import type { StoredPacket, StoredSensor } from '../../base/ports/stored-session.ts';
import { entryUnnamed, headUnnamed, kindsThatName, type Unnamed } from '../../recorder/led-by.ts';
import { wearerOf } from '../../recorder/sensor-wearers.ts';
import { readEntry } from '../../recorder/stored-shapes.ts';

interface RawHead {
  readonly athletes: readonly { readonly athleteId: string; readonly name: string }[];
  readonly leaders?: readonly SessionLeader[];
  readonly binned?: readonly { readonly athleteId: string | null }[];
}

export const headOf = ({ head }: Pick<Told, 'head'>): RawHead => JSON.parse(head) as RawHead;

export const leadersOfHead = (told: Pick<Told, 'head'>): readonly SessionLeader[] =>
  headOf(told).leaders ?? [];

export const athletesOfHead = (told: Pick<Told, 'head'>): readonly string[] =>
  headOf(told).athletes.map(({ athleteId }) => athleteId);

/** Whether a packet, or an event of a sensor, is of one of them. */
export function wornBy(
  told: Told,
  athleteIds: ReadonlySet<string>,
): (packet: Pick<StoredPacket, 'sensorId' | 'atMs'>) => boolean {
  const sensors = told.entries.flatMap(({ kind, body }): StoredSensor[] => {
    const read = kind === 'sensor' ? readEntry('sensor', JSON.parse(body)) : undefined;
    return read === undefined ? [] : [read];
  });
  return ({ sensorId, atMs }) => {
    const wearer = wearerOf(sensors, sensorId, atMs);
    return wearer !== undefined && athleteIds.has(wearer);
  };
}

/** Also as who led, by the ids of that and by their names. */
export function withoutPeople(told: Told, who: Unnamed): Told {
  const athleteIds = who.leaderIds;
  const isTheirs = wornBy(told, athleteIds);
  const read = headOf(told);
  const { binned, ...head } = headUnnamed(read, who) ?? read;
  const stillBinned = binned?.filter((each) => each.athleteId === null || !athleteIds.has(each.athleteId));
  const goes = ({ kind, athleteId, body }: Told['entries'][number]): boolean => {
    if (kind !== 'link') return athleteId !== null && athleteIds.has(athleteId);
    const link = readEntry('link', JSON.parse(body));
    return link === undefined || isTheirs(link);
  };
  return {
    ...told,
    head: JSON.stringify({
      ...head,
      athletes: head.athletes.filter(({ athleteId }) => !athleteIds.has(athleteId)),
      ...(stillBinned !== undefined && stillBinned.length > 0 && { binned: stillBinned }),
    }),
    entries: told.entries
      .filter((entry) => !goes(entry))
      .map((entry) => {
        const body = kindsThatName.includes(entry.kind) ? entryUnnamed(entry.body, who) : undefined;
        return body === undefined ? entry : { ...entry, body };
      }),
    corrections: told.corrections.filter(({ athleteId }) => !athleteIds.has(athleteId)),
  };
}
