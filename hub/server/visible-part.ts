// The part of a message that a page may see. An athlete's page hears of nobody else; who is present is for coaches.

import type { CoachWords } from '../../shared/course.ts';
import type { CourseMessage } from '../../shared/messages/course.ts';
import type { DownMessage } from '../../shared/messages/down.ts';
import type { SessionView, SupervisionAlarm } from '../../shared/views.ts';
import { maySee, maySeeSession, type PageAccess } from './access.ts';
import type { LiveChange } from './live-changes.ts';

/** The session with only the visible athletes; null when none of them is in it. */
export function visibleSession(access: PageAccess, session: SessionView): SessionView | null {
  if (!maySeeSession(access, session.sessionId)) return null;
  // Of a coach's own rooms everybody is seen.
  if (access.athleteIds === 'all' || access.rooms !== undefined) return session;
  const athleteIds = session.athleteIds.filter((athleteId) => maySee(access, athleteId));
  // An onlooker may be anywhere.
  const leaders = access.role === 'onlooker' ? [] : session.leaders;
  return athleteIds.length === 0 ? null : { ...session, athleteIds, leaders };
}

/**
 * Sensors worn by visible athletes; an unassigned sensor is shown only to those who see everyone. Codes of sensors that
 * pair, and who may answer them, are for coaches.
 */
export function visibleSensors<
  Sensor extends { readonly athleteId: string | null; readonly pairing?: unknown },
>(access: PageAccess, sensors: readonly Sensor[]): Sensor[] {
  return sensors
    .filter(
      ({ athleteId }) => access.athleteIds === 'all' || (athleteId !== null && maySee(access, athleteId)),
    )
    .map((sensor) => {
      if (access.role === 'coach' || sensor.pairing === undefined) return sensor;
      const { pairing: _forCoaches, ...shown } = sensor;
      return shown as Sensor;
    });
}

/** A room that is silent, of a coach who looks after it. */
export const isOfOwnRoom = ({ rooms }: PageAccess, { kind, subject }: SupervisionAlarm): boolean =>
  kind === 'roomSilent' && rooms !== undefined && rooms.names.includes(String(subject?.params['text']));

/** Those of sessions with a visible athlete, who alone is named. Outputs, devices and the recorder are for coaches. */
function visibleSupervision(access: PageAccess, alarms: readonly SupervisionAlarm[]): SupervisionAlarm[] {
  return alarms.flatMap((alarm) => {
    const { session } = alarm;
    if (isOfOwnRoom(access, alarm)) return alarm;
    // Who might wear whose sensors names others.
    if (session === null || alarm.kind === 'signalsExchanged') return [];
    const athletes = session.athletes.filter(({ athleteId }) => maySee(access, athleteId));
    return athletes.length === 0 ? [] : { ...alarm, session: { ...session, athletes } };
  });
}

/** Who acknowledged a drill is for coaches; the card is for everybody who may have to help. */
function visibleCourse({ role }: PageAccess, message: CourseMessage): CourseMessage {
  const { drill } = message;
  return role === 'coach' || drill === null
    ? message
    : { ...message, drill: { ...drill, acknowledgements: [] } };
}

/** For the athlete alone, once they may be shown, and for coaches. */
const maySeeWords = ({ role, athleteIds }: PageAccess, { athleteId, state }: CoachWords): boolean =>
  role === 'coach' ||
  (role === 'athlete' && state !== 'waiting' && athleteIds !== 'all' && athleteIds.includes(athleteId));

/** Those of visible athletes: the very same list where nothing is left out. */
export function visibleChanges(access: PageAccess, changes: readonly LiveChange[]): readonly LiveChange[] {
  if (access.athleteIds === 'all') return changes;
  return changes.filter(({ state }) => maySee(access, state.athleteId));
}

/** The message as this page may have it: the very same object where nothing is left out, undefined for nothing. */
export function visiblePart(access: PageAccess, message: DownMessage): DownMessage | undefined {
  if (message.type === 'presence') return access.role === 'coach' ? message : undefined;
  if (message.type === 'course') return visibleCourse(access, message);
  if (message.type === 'coachWords') return maySeeWords(access, message.words) ? message : undefined;
  if (access.role === 'coach' && access.athleteIds === 'all') return message;
  const sensors = 'sensors' in message ? visibleSensors(access, message.sensors) : [];
  if (access.athleteIds === 'all') return 'sensors' in message ? { ...message, sensors } : message;
  switch (message.type) {
    case 'welcome':
      return {
        ...message,
        session: message.session === null ? null : visibleSession(access, message.session),
        athletes: message.athletes.filter(({ athlete }) => maySee(access, athlete.athleteId)),
        sensors,
      };
    case 'session':
      return {
        ...message,
        session: message.session === null ? null : visibleSession(access, message.session),
        athletes: message.athletes.filter(({ athleteId }) => maySee(access, athleteId)),
      };
    case 'sensors':
      return { ...message, sensors };
    case 'supervision':
      return { ...message, alarms: visibleSupervision(access, message.alarms) };
    case 'marked':
      return maySee(access, message.mark.athleteId) ? message : undefined;
    case 'heartbeat':
    case 'cueSpeaker':
    case 'done':
    case 'refused':
    // Made for this page alone (visible-plan-run.ts).
    case 'planRun':
      return message;
    case 'latest':
    case 'trace':
    case 'alarms':
    case 'hold':
      return maySee(access, message.athleteId) ? message : undefined;
  }
}
