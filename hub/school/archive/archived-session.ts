// What a hub told of a session, as the program's own shape of a stored session, by the hub's own ids.

import type { Said } from '../../../shared/said.ts';
import type { Told } from '../../../shared/school/kept-messages.ts';
import type { MonotonicMs, WallMs } from '../../../shared/units.ts';
import type { StoredCorrection, StoredSession } from '../../base/ports/stored-session.ts';
import { binnedAthleteIds, showsPacket, withoutParts } from '../../recorder/binned-parts.ts';
import { bodyOf } from '../../recorder/rows.ts';
import { alarmsWithEnds } from '../../recorder/stored-alarm.ts';
import { readEntry } from '../../recorder/stored-shapes.ts';

type Entry = Told['entries'][number];

/** Those of a kind in the order they were first saved; what fits no shape is told as damage. */
function entriesOf<Kind extends Entry['kind']>(
  told: Told,
  kind: Kind,
  damage: Said[],
): NonNullable<ReturnType<typeof readEntry<Kind>>>[] {
  return told.entries.flatMap((entry) => {
    if (entry.kind !== kind) return [];
    const read = readEntry(kind, JSON.parse(entry.body));
    if (read !== undefined) return [read];
    damage.push({ code: `damage.${kind}`, params: {} });
    return [];
  });
}

export interface ArchivedSession {
  /** Without what lies in the hub's bin. */
  readonly session: StoredSession;
  /** Whether a packet is of somebody whose part does not lie there. */
  readonly isShown: ReturnType<typeof showsPacket>;
}

export function sessionOfTold(told: Told): ArchivedSession {
  const damage: Said[] = [];
  const body = bodyOf({ body: told.head });
  const { simulated, source, title, athletes, profiles, madeBy, leaders = [] } = body;
  const session = {
    sessionId: told.sessionId,
    startedWallAtMs: told.startedWallAtMs as WallMs,
    endedAtMs: told.endedAtMs as MonotonicMs | null,
    status: told.status,
    simulated,
    source,
    title,
    athleteIds: athletes.map(({ athleteId }) => athleteId),
    unwatched: entriesOf(told, 'unwatched', damage),
    leaders,
  };
  const sensors = entriesOf(told, 'sensor', damage);
  const hidden = binnedAthleteIds(body);
  const shown = withoutParts(
    {
      session,
      athletes,
      profiles,
      madeBy,
      sensors,
      marks: entriesOf(told, 'mark', damage),
      holds: entriesOf(told, 'hold', damage),
      alarms: alarmsWithEnds(entriesOf(told, 'alarm', damage), session),
      settingsChanges: entriesOf(told, 'settings', damage),
      linkEvents: entriesOf(told, 'link', damage),
      changes: entriesOf(told, 'change', damage),
      schedules: entriesOf(told, 'schedule', damage),
      alive: entriesOf(told, 'alive', damage).at(-1),
      corrections: told.corrections.map((each) => JSON.parse(each.body) as StoredCorrection),
      durationMs: told.durationMs,
      damage,
    },
    hidden,
  );
  return { session: shown, isShown: showsPacket(sensors, hidden) };
}
