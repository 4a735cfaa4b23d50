// What the live detector said of one athlete's holds and did not take back.

import type { HoldView } from '../../shared/views.ts';
import type { StoredSession } from '../base/ports/stored-session.ts';

export const holdsToldLive = (stored: StoredSession, athleteId: string): HoldView[] =>
  stored.holds.filter((entry) => entry.athleteId === athleteId && !entry.withdrawn).map(({ hold }) => hold);
