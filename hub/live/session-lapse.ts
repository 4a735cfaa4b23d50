// What is told of a session that ended or was broken off without a person's will.

import { type MonotonicMs, monotonicMs, type WallMs, wallMs } from '../../shared/units.ts';
import type { Athlete, SessionView, SupervisionAlarm, UnwatchedSpan } from '../../shared/views.ts';
import type { HubStore } from '../base/ports/hub-store.ts';
import type { Session, SessionEnding } from './live-event.ts';
import type { RaisedSupervision } from './supervision.ts';
import type { Lapse } from './tick-watch.ts';

type OfSession = NonNullable<SupervisionAlarm['session']>;

/**
 * Sessions that the end of an earlier process left open: nobody has been watched since. Also the newest one, where a process
 * died between closing it in the recorder and telling anybody.
 */
export async function interruptedAlarms(
  store: Pick<HubStore, 'interruptedSessionIds' | 'readSession'>,
  recorded: readonly SessionView[],
  /** A person has ended it or seen its alarm, though the recorder could not write it any more: no alarm. */
  decidedSessionId: string | null,
): Promise<readonly RaisedSupervision[]> {
  const alarms: RaisedSupervision[] = [];
  for (const [index, view] of recorded.entries()) {
    const { sessionId, startedWallAtMs, endedAtMs, title, status } = view;
    const isNewest = index === 0 && status === 'interrupted';
    const isOpen = store.interruptedSessionIds.includes(sessionId);
    if (sessionId === decidedSessionId || !(isOpen || isNewest)) continue;
    const stored = await store.readSession(sessionId);
    // Of recordings from before signs of life were kept, nobody noted what a person decided.
    if (!isOpen && stored?.alive === undefined) continue;
    const athletes = stored?.athletes ?? [];
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

/** A session that stopped against anyone's will and that nobody has acknowledged or gone on with. */
export interface BrokenOff {
  readonly session: SessionView;
  readonly cause: 'hubDied' | 'hubStopped';
  readonly alarm: SupervisionAlarm;
}

/** The newest; also one whose alarm stands from a process before the last, which died before it could go on. */
export function brokenOffSession(
  alarms: readonly SupervisionAlarm[],
  recorded: readonly SessionView[],
): BrokenOff | undefined {
  return alarms
    .flatMap((alarm): BrokenOff[] => {
      const { kind, cause, acknowledged, session } = alarm;
      if (kind !== 'monitoringStopped' || acknowledged) return [];
      if (cause !== 'hubDied' && cause !== 'hubStopped') return [];
      const stored = recorded.find(({ sessionId }) => sessionId === session?.sessionId);
      return stored === undefined ? [] : [{ session: stored, cause, alarm }];
    })
    .sort((one, other) => other.session.startedWallAtMs - one.session.startedWallAtMs)[0];
}

/**
 * The session goes on. Medium: while the hub was away every page alarmed high, and what is wrong now alarms by itself; left is
 * that somebody looks.
 */
export const resumedAlarm = (
  session: Session,
  athletes: readonly Athlete[],
  { fromMs, toMs, toWallMs, cause }: UnwatchedSpan,
): RaisedSupervision => ({
  kind: 'monitoringGap',
  priority: 'medium',
  cause,
  atWallMs: toWallMs,
  durationMs: toMs - fromMs,
  session: ofSession(session, athletes),
});

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

/**
 * The stretch that ends now, and by how much session time has to be put forward for it. A scaled session lives faster than
 * the clocks that tell of the lapse.
 */
export function spanOfLapse(
  { durationMs, stoodMs, cause }: Extract<Lapse, { type: 'unwatched' }>,
  sessionNowMs: MonotonicMs,
  wallNowMs: WallMs,
  timeScale: number,
): { readonly span: UnwatchedSpan; readonly shiftMs: number } {
  const shiftMs = stoodMs * timeScale;
  const toMs = monotonicMs(sessionNowMs + shiftMs);
  const fromMs = monotonicMs(Math.max(0, toMs - durationMs * timeScale));
  const span = { fromMs, toMs, fromWallMs: wallMs(wallNowMs - durationMs), toWallMs: wallNowMs, cause };
  return { span, shiftMs };
}

const ofSession = ({ sessionId, title, athleteIds }: Session, athletes: readonly Athlete[]): OfSession => ({
  sessionId,
  title,
  athletes: athletes.flatMap(({ athleteId, name }) =>
    athleteIds.includes(athleteId) ? [{ athleteId, name }] : [],
  ),
});
