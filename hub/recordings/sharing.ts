// Who agreed to be shown beside others. Nobody has until they say so.

import { sharingSchema } from '../../shared/session-details.ts';
import type { Documents } from '../base/ports/documents.ts';

export const hasAgreed = (store: Pick<Documents, 'readDocument'>, athleteId: string): boolean =>
  sharingSchema.safeParse(store.readDocument('sharing', athleteId)?.body).data?.agreed === true;

export function saveAgreement(
  store: Pick<Documents, 'saveDocument'>,
  athleteId: string,
  agreed: boolean,
): void {
  store.saveDocument({ kind: 'sharing', documentId: athleteId, groupId: null, athleteId, body: { agreed } });
}
