// What the hub keeps of one athlete, counted: what erasing them takes away.

import type { BinnedItem } from '../../shared/bin.ts';
import type { Belongings } from '../../shared/http.ts';
import { foldedName } from '../../shared/name-text.ts';
import type { HubStore } from '../base/ports/hub-store.ts';
import { namesOf } from '../recorder/led-by.ts';

export async function belongingsOf(
  store: HubStore,
  binned: readonly BinnedItem[],
  athleteId: string,
  deviceCount: number,
): Promise<Belongings> {
  const listed = await store.listSessions();
  const theirs = listed.filter(({ session }) => session.athleteIds.includes(athleteId));
  const names = await namesOf(store, athleteId);
  let holds = 0;
  let marks = 0;
  let corrections = 0;
  for (const { session } of theirs) {
    const stored = await store.readSession(session.sessionId);
    if (stored === undefined) continue;
    holds += stored.holds.filter((hold) => hold.athleteId === athleteId && !hold.withdrawn).length;
    marks += stored.marks.filter(({ mark }) => mark.athleteId === athleteId).length;
    corrections += stored.corrections.filter((correction) => correction.athleteId === athleteId).length;
  }
  const documentsOf = (kind: 'training' | 'planRunAthlete'): number =>
    store.listDocuments(kind).filter((document) => document.athleteId === athleteId).length;
  return {
    ownRecordings: theirs.filter(({ session }) => session.athleteIds.length === 1).length,
    sharedRecordings: theirs.filter(({ session }) => session.athleteIds.length > 1).length,
    ledRecordings: listed.filter(({ session }) =>
      session.leaders.some(({ name }) => names.has(foldedName(name))),
    ).length,
    holds,
    marks,
    corrections,
    trainingEntries: documentsOf('training'),
    planRuns: documentsOf('planRunAthlete'),
    sensors: [...store.sensorAssignments().values()].filter((wearer) => wearer === athleteId).length,
    devices: deviceCount,
    binned: binned.filter(({ athletes }) => athletes.some((each) => each.athleteId === athleteId)).length,
  };
}
