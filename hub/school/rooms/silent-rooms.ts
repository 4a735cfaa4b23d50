// A hub that falls silent while a session runs there is an alarm at the school, until a person has seen it or the hub is heard;
// it bears the room's name of now, under which people look for it.

import { isSameSaid, type Said, said } from '../../../shared/said.ts';
import type { Hub } from '../../live/hub.ts';
import type { RoomState } from './rooms.ts';

export function silenceTeller(
  hub: Pick<Hub, 'raiseSupervision' | 'renameSupervision' | 'clearSupervision'>,
): (room: RoomState, isSilent: boolean) => void {
  /** By hub: a room may have another name by the time it is heard again. */
  const told = new Map<string, Said>();
  return (room, isSilent) => {
    const before = told.get(room.hub);
    told.delete(room.hub);
    // Two rooms may be called alike: the alarm stands while one of them is silent.
    const isAlone = before !== undefined && ![...told.values()].some((each) => isSameSaid(each, before));
    const subject = isSilent && room.isRecording ? said('said.asTold', { text: room.name }) : undefined;
    // The same alarm under another name: who has seen it is not called again.
    if (isAlone && subject !== undefined) hub.renameSupervision('roomSilent', before, subject);
    else if (isAlone) hub.clearSupervision('roomSilent', before);
    if (subject === undefined) return;
    told.set(room.hub, subject);
    hub.raiseSupervision({ kind: 'roomSilent', priority: 'high', subject });
  };
}
