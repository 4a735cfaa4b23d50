// The hub's own alarm outputs beside the hub: they sound what its alarms call for, and one that fails is an alarm itself.

import type { Said } from '../../shared/said.ts';
import type { Hub } from '../live/hub.ts';
import { newsOfAthlete, newsOfWatching } from './alarm-news.ts';
import { type AlarmOutputs, ofTheWatching } from './alarm-outputs.ts';

/** Until the returned function is called. `named`: outputs are told names of people, by the owner's wish only. */
export function soundAlarms(hub: Hub, outputs: AlarmOutputs, named = false): () => void {
  const tell = (subject: Said, reason: Said | null): void => {
    if (reason === null) hub.clearSupervision('outputFailed', subject);
    else
      hub.raiseSupervision({
        kind: 'outputFailed',
        priority: hub.session === null ? 'low' : 'medium',
        subject,
        reason,
      });
  };
  const follow = (): void =>
    outputs.setPriority(
      ofTheWatching,
      hub.supervision.find(({ acknowledged }) => !acknowledged)?.priority ?? null,
      newsOfWatching(hub.supervision),
    );
  const whoIs = (athleteId: string): string => {
    const name = hub.athletes.find((each) => each.athleteId === athleteId)?.name;
    if (named && name !== undefined) return name;
    return `athlete ${(hub.session?.athleteIds.indexOf(athleteId) ?? -1) + 1}`;
  };
  outputs.onHealth(tell);
  // What stands from before: a session that a crash broke off.
  follow();
  return hub.subscribe((event) => {
    switch (event.type) {
      case 'alarms': {
        const zeroWallMs = hub.session?.startedWallAtMs;
        const news =
          zeroWallMs === undefined ? [] : newsOfAthlete(event.alarms, whoIs(event.athleteId), zeroWallMs);
        outputs.setPriority(event.athleteId, event.sound.priority, news);
        return;
      }
      case 'supervisionChanged':
        follow();
        return;
      case 'courseChanged':
        outputs.setDrill(hub.drill.sounds);
        return;
      case 'sessionStarted':
      case 'sessionResumed':
        outputs.setInUse(true);
        // What was only good to know matters now.
        for (const { name, reason } of outputs.faults) tell(name, reason);
        return;
      case 'sessionEnded':
        outputs.setInUse(false);
        outputs.silenceAthletes();
        return;
      default:
        return;
    }
  });
}
