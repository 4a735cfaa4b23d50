// What is told of a session that ended or was broken off without a person's will.

import { type WallMs, wallMs } from '../../shared/units.ts';
import type { Athlete, SessionView, SupervisionAlarm } from '../../shared/views.ts';
import type { HubStore } from '../base/ports/hub-store.ts';
import type { Session, SessionEnding } from './live-event.ts';
import type { RaisedSupervision } from './supervision.ts';
import type { Lapse } from './tick-watch.ts';

type OfSession = NonNullable<SupervisionAlarm['session']>;

/** Sessions that the end of an earlier process left open: nobody has been watched since. */
export async function interruptedAlarms(
  store: Pick<HubStore, 'interruptedSessionIds' | 'readSession'>,
  recorded: readonly SessionView[],
): Promise<readonly RaisedSupervision[]> {
  const alarms: RaisedSupervision[] = [];
  for (const { sessionId, startedWallAtMs, endedAtMs, title } of recorded) {
    if (!store.interruptedSessionIds.includes(sessionId)) continue;
    const athletes = (await store.readSession(sessionId))?.athletes ?? [];
    alarms.push({
      kind: 'monitoringStopped',
      priority: 'high',
      cause: 'hubDied',
      // The last thing that is known of it.
      atWallMs: wallMs(startedWallAtMs + (endedAtMs ?? 0)),
      session: { sessionId, title, athletes: athletes.map(({ athleteId, name }) => ({ athleteId, name })) },
    });
  }
  return alarms;
}

export const stoppedAlarm = (
  session: Session,
  athletes: readonly Athlete[],
  cause: Extract<SessionEnding, 'hubStopped' | 'diskFault'>,
  atWallMs: WallMs,
): RaisedSupervision => ({
  kind: 'monitoringStopped',
  priority: 'high',
  cause,
  atWallMs,
  session: ofSession(session, athletes),
});

/** Nobody was watched for a while, or times can no longer be trusted. */
export const lapseAlarm = (
  lapse: Lapse,
  session: Session,
  athletes: readonly Athlete[],
  atWallMs: WallMs,
): RaisedSupervision => ({
  ...(lapse.type === 'unwatched'
    ? { kind: 'monitoringGap', priority: 'high', cause: lapse.cause }
    : { kind: 'clockChanged', priority: 'medium' }),
  atWallMs,
  durationMs: lapse.durationMs,
  session: ofSession(session, athletes),
});

const ofSession = ({ sessionId, title, athleteIds }: Session, athletes: readonly Athlete[]): OfSession => ({
  sessionId,
  title,
  athletes: athletes.flatMap(({ athleteId, name }) =>
    athleteIds.includes(athleteId) ? [{ athleteId, name }] : [],
  ),
});
