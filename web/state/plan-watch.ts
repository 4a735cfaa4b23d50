// Whom of a plan's athletes nobody watches: no session records them, so nothing is measured and no alarm can come. Pure.

import type { SessionView } from '../../shared/views.ts';

export function unwatchedIds(
  athleteIds: readonly string[],
  session: Pick<SessionView, 'status' | 'athleteIds'> | null,
): readonly string[] {
  if (session === null || session.status !== 'recording') return athleteIds;
  return athleteIds.filter((athleteId) => !session.athleteIds.includes(athleteId));
}
