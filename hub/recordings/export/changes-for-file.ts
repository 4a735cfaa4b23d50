// Who came, went and changed sensors in a session, as files for other programs carry it. Not translated, like all that
// stands inside files.

import type { StoredChange } from '../../base/ports/stored-session.ts';
import { changeWords } from './table-words.ts';

export interface ChangeForFile {
  readonly atMs: number;
  readonly text: string;
}

export function changesForFile(changes: readonly StoredChange[], athleteId: string): ChangeForFile[] {
  return changes
    .filter((each) => each.athleteId === athleteId)
    .map(({ atMs, change, sensor, by }) => ({
      atMs,
      text: changeWords.whole(changeWords[change], sensor?.name ?? '', by),
    }));
}
