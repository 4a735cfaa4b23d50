// What was told of a session without some of its people, as a hub's recorder leaves it when they are erased there
// (recorder/session-tables.ts): their entries, the links of sensors while they wore them, and their place in the head.

import type { Told } from '../../../shared/school/kept-messages.ts';
import type { StoredPacket, StoredSensor } from '../../base/ports/stored-session.ts';
import { wearerOf } from '../../recorder/sensor-wearers.ts';
import { readEntry } from '../../recorder/stored-shapes.ts';

interface RawHead {
  readonly athletes: readonly { readonly athleteId: string }[];
  readonly binned?: readonly { readonly athleteId: string | null }[];
}

export const athletesOfHead = ({ head }: Pick<Told, 'head'>): readonly string[] =>
  (JSON.parse(head) as RawHead).athletes.map(({ athleteId }) => athleteId);

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

export function withoutAthletes(told: Told, athleteIds: ReadonlySet<string>): Told {
  const isTheirs = wornBy(told, athleteIds);
  const { binned, ...head } = JSON.parse(told.head) as RawHead;
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
    entries: told.entries.filter((entry) => !goes(entry)),
    corrections: told.corrections.filter(({ athleteId }) => !athleteIds.has(athleteId)),
  };
}
