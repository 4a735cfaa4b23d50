// What a page asks over its socket: whether it may, and carrying it out.

import type { UpMessage } from '../../shared/messages/up.ts';
import { said } from '../../shared/said.ts';
import type { Result } from '../../src/result.ts';
import type { Refusal } from '../base/refusal.ts';
import type { Hub } from '../live/hub.ts';
import { refusals } from '../live/refusals.ts';
import { maySee, type PageAccess } from './access.ts';
import { isOfOwnRoom } from './visible-part.ts';

/** Everything that is asked of the hub: `hello` and `pageState` are not answered, `takeCues` is a matter between pages. */
export type PageRequest = Exclude<UpMessage, { type: 'hello' | 'pageState' | 'takeCues' }>;

const othersInSession: Refusal = {
  code: 'notAllowed',
  said: said('refusal.othersInSession'),
};

/** Carries out a request, or says why not. */
export function carryOut(hub: Hub, request: PageRequest, access: PageAccess): Result<unknown, Refusal> {
  const refusal = refusalOf(hub, request, access);
  if (refusal !== undefined) return { ok: false, reason: refusal };
  switch (request.type) {
    case 'startSession':
      return hub.startSession(request.athleteIds, request.title, leadersOf(request, access));
    case 'endSession':
      return hub.endSession();
    case 'addMark':
      return hub.addMark(request);
    case 'removeMark':
      return hub.removeMark(request.markId, (athleteId) => maySee(access, athleteId));
    case 'rateHold':
      return hub.rateHold(request.athleteId, request.holdId, request.feeling);
    case 'acknowledgeAlarms':
      return hub.acknowledge(request.athleteId, request.alarmIds, access.deviceName);
    case 'acknowledgeSupervision':
      return hub.acknowledgeSupervision(request.alarmIds);
    case 'pauseAudio':
      return hub.pauseAudio(request.athleteId, request.paused);
    case 'changeSettings':
      return hub.changeSettings(request.athleteId, request.settings);
  }
}

/** Who led is a coach's to say; a coach who says nothing leads it by the name of their device. */
function leadersOf(
  { ledBy }: Extract<PageRequest, { type: 'startSession' }>,
  { role, deviceName }: PageAccess,
): readonly string[] {
  if (role !== 'coach') return [];
  return ledBy ?? (deviceName === '' ? [] : [deviceName]);
}

/** Whoever puts an alarm aside must not wait for a disk; all else is answered when it is on it. */
export const isToBeSaved = ({ type }: PageRequest): boolean =>
  type !== 'acknowledgeAlarms' && type !== 'acknowledgeSupervision' && type !== 'pauseAudio';

function refusalOf(hub: Hub, request: PageRequest, access: PageAccess): Refusal | undefined {
  if (access.role === 'onlooker') return refusals.onlookerChanges;
  if (request.type === 'acknowledgeSupervision' && !mayAcknowledge(hub, request.alarmIds, access))
    return refusals.ownAthleteOnly;
  if ('athleteId' in request && !maySee(access, request.athleteId)) return refusals.ownAthleteOnly;
  if (request.type === 'startSession' && !request.athleteIds.every((id) => maySee(access, id)))
    return refusals.ownAthleteOnly;
  if (request.type === 'endSession' && hub.session?.athleteIds.every((id) => maySee(access, id)) === false)
    return othersInSession;
  return undefined;
}

/** An athlete's page speaks for its own athlete only: what is of others too goes on sounding on theirs. */
function mayAcknowledge(hub: Hub, alarmIds: readonly string[], access: PageAccess): boolean {
  if (access.athleteIds === 'all') return true;
  return hub.supervision
    .filter(({ alarmId }) => alarmIds.includes(alarmId))
    .every(
      (alarm) =>
        isOfOwnRoom(access, alarm) ||
        (alarm.session?.athletes.every(({ athleteId }) => maySee(access, athleteId)) ?? false),
    );
}

/** What a page says of itself. An onlooker may be anywhere and can do nothing: nobody's safety rests on their page. */
export function notePageState(
  hub: Hub,
  pageId: string,
  access: PageAccess,
  { visible, soundReady, presented, sounding }: Extract<UpMessage, { type: 'pageState' }>,
): void {
  if (access.role !== 'onlooker')
    hub.pageState(pageId, { visible, soundReady, presented, sounding, athleteIds: access.athleteIds });
}
