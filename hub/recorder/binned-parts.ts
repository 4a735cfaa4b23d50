// What a reader is shown of a recording of which one athlete's part lies in the bin: nothing of theirs, packets included.

import type { StoredPacket, StoredSession } from '../base/ports/stored-session.ts';
import { wearerOf } from './sensor-wearers.ts';
import type { SessionHead } from './stored-shapes.ts';

/** The athletes whose parts are in the bin; empty for most. */
export const binnedAthleteIds = ({ binned }: Pick<SessionHead, 'binned'>): ReadonlySet<string> =>
  new Set((binned ?? []).flatMap(({ athleteId }) => (athleteId === null ? [] : [athleteId])));

/** Nothing of it shows. */
export function isWhollyBinned(head: Pick<SessionHead, 'binned' | 'athletes'>): boolean {
  const { binned = [], athletes } = head;
  if (binned.length === 0) return false;
  const hidden = binnedAthleteIds(head);
  return (
    binned.some(({ athleteId }) => athleteId === null) ||
    athletes.every(({ athleteId }) => hidden.has(athleteId))
  );
}

/** The recording as it would be without them. */
export function withoutParts(stored: StoredSession, hidden: ReadonlySet<string>): StoredSession {
  if (hidden.size === 0) return stored;
  const shows = ({ athleteId }: { readonly athleteId: string }): boolean => !hidden.has(athleteId);
  const isShown = showsPacket(stored.sensors, hidden);
  return {
    ...stored,
    session: {
      ...stored.session,
      athleteIds: stored.session.athleteIds.filter((athleteId) => shows({ athleteId })),
    },
    athletes: stored.athletes.filter(shows),
    sensors: stored.sensors.filter(shows),
    marks: stored.marks.filter(({ mark }) => shows(mark)),
    holds: stored.holds.filter(shows),
    alarms: stored.alarms.filter(shows),
    settingsChanges: stored.settingsChanges.filter(shows),
    linkEvents: stored.linkEvents.filter(isShown),
    changes: stored.changes.filter(shows),
    schedules: stored.schedules.filter(shows),
    corrections: stored.corrections.filter(shows),
  };
}

/** Whether a packet, or an event of a sensor, is of somebody who shows. */
export function showsPacket(
  sensors: StoredSession['sensors'],
  hidden: ReadonlySet<string>,
): (packet: Pick<StoredPacket, 'sensorId' | 'atMs'>) => boolean {
  return ({ sensorId, atMs }) => {
    const wearer = wearerOf(sensors, sensorId, atMs);
    return wearer === undefined || !hidden.has(wearer);
  };
}
