// Who came, went and changed sensors in a session, as files for other programs carry it. Not translated, like all that
// stands inside files.

import type { StoredChange } from '../../base/ports/stored-session.ts';

const words: Readonly<Record<StoredChange['change'], string>> = {
  joined: 'came to the session',
  left: 'left the session',
  sensorGiven: 'from here on wears',
  sensorTaken: 'no longer wears',
};

export interface ChangeForFile {
  readonly atMs: number;
  readonly text: string;
}

export function changesForFile(changes: readonly StoredChange[], athleteId: string): ChangeForFile[] {
  return changes
    .filter((each) => each.athleteId === athleteId)
    .map(({ atMs, change, sensor, by }) => ({
      atMs,
      text: `${words[change]}${sensor === null ? '' : ` ${sensor.name}`} (by ${by === '' ? 'the hub’s own machine' : by})`,
    }));
}
