// A hub that falls silent while a session runs there is an alarm at the school, until a person has seen it or the hub is heard.

import { isSameSaid, type Said, said } from '../../../shared/said.ts';
import type { Hub } from '../../live/hub.ts';
import type { RoomState } from './rooms.ts';

export function silenceTeller(
  hub: Pick<Hub, 'raiseSupervision' | 'clearSupervision'>,
): (room: RoomState, isSilent: boolean) => void {
  /** By hub: a room may have another name by the time it is heard again. */
  const told = new Map<string, Said>();
  return (room, isSilent) => {
    const before = told.get(room.hub);
    told.delete(room.hub);
    // Two rooms may be called alike: the alarm stands while one of them is silent.
    if (before !== undefined && ![...told.values()].some((each) => isSameSaid(each, before)))
      hub.clearSupervision('roomSilent', before);
    if (!isSilent || !room.isRecording) return;
    const subject = said('said.asTold', { text: room.name });
    told.set(room.hub, subject);
    hub.raiseSupervision({ kind: 'roomSilent', priority: 'high', subject });
  };
}
