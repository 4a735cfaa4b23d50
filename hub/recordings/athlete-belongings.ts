// What the hub keeps of one athlete, counted: what erasing them takes away.

import type { Belongings } from '../../shared/http.ts';
import type { Athletes } from '../base/ports/athletes.ts';
import type { Documents } from '../base/ports/documents.ts';
import type { Recordings } from '../base/ports/recordings.ts';

export function belongingsOf(
  store: Athletes & Documents & Recordings,
  athleteId: string,
  deviceCount: number,
): Belongings {
  const theirs = store.listSessions().filter(({ session }) => session.athleteIds.includes(athleteId));
  let holds = 0;
  let marks = 0;
  let corrections = 0;
  for (const { session } of theirs) {
    const stored = store.readSession(session.sessionId);
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
    holds,
    marks,
    corrections,
    trainingEntries: documentsOf('training'),
    planRuns: documentsOf('planRunAthlete'),
    sensors: [...store.sensorAssignments().values()].filter((wearer) => wearer === athleteId).length,
    devices: deviceCount,
  };
}
