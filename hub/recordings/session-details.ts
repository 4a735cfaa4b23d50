// What a person noted about sessions, as documents: one an athlete and session, of the session's group.

import { type SessionDetails, sessionDetailsSchema } from '../../shared/session-details.ts';
import type { Documents, StoredDocument } from '../base/ports/documents.ts';

type Reading = Pick<Documents, 'listDocuments' | 'readDocument'>;
type Writing = Pick<Documents, 'saveDocument' | 'removeDocument' | 'listDocuments'>;

const idOf = (sessionId: string, athleteId: string): string => `${sessionId} ${athleteId}`;

const bodyOf = (document: StoredDocument | undefined): SessionDetails | null =>
  sessionDetailsSchema.safeParse(document?.body).data ?? null;

export const detailsOf = (store: Reading, sessionId: string, athleteId: string): SessionDetails | null =>
  bodyOf(store.readDocument('sessionDetails', idOf(sessionId, athleteId)));

/** Of every session and athlete, by session, then athlete. */
export function allDetails(store: Reading): ReadonlyMap<string, ReadonlyMap<string, SessionDetails>> {
  const bySession = new Map<string, Map<string, SessionDetails>>();
  for (const document of store.listDocuments('sessionDetails')) {
    const details = bodyOf(document);
    const { groupId, athleteId } = document;
    if (details === null || groupId === null || athleteId === null) continue;
    const known = bySession.get(groupId);
    if (known === undefined) bySession.set(groupId, new Map([[athleteId, details]]));
    else known.set(athleteId, details);
  }
  return bySession;
}

export function saveDetails(
  store: Writing,
  sessionId: string,
  athleteId: string,
  details: SessionDetails,
): void {
  store.saveDocument({
    kind: 'sessionDetails',
    documentId: idOf(sessionId, athleteId),
    groupId: sessionId,
    athleteId,
    body: details,
  });
}

/** For good: of a whole session, or of one athlete's part. */
export function removeDetails(store: Writing, sessionId: string, ofAthleteId: string | null): void {
  for (const { documentId, athleteId } of store.listDocuments('sessionDetails', sessionId))
    if (ofAthleteId === null || athleteId === ofAthleteId) store.removeDocument('sessionDetails', documentId);
}
