// The hub's own alarm outputs as a listener: they sound what each athlete's alarms call for, until the session is over.

import type { LiveListener } from '../live/live-event.ts';
import type { AlarmOutputs } from './alarm-outputs.ts';

export const soundAlarms =
  (outputs: AlarmOutputs): LiveListener =>
  (event) => {
    if (event.type === 'alarms') outputs.setPriority(event.athleteId, event.sound.priority);
    if (event.type === 'sessionEnded') outputs.silence();
  };
