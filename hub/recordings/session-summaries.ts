// One summary for each ended session and athlete, worked out once and kept in the store. A question is answered at once with
// what there is by then, so that a page can show it and ask again.

import { type HistoryBody, sessionSummarySchema } from '../../shared/history.ts';
import type { HubStore } from '../base/ports/hub-store.ts';
import type { StoredSessionSummary } from '../base/ports/stored-session.ts';
import type { SummaryWork } from './summary-work.ts';

type Summary = HistoryBody['sessions'][number]['summary'];

/** Raise it whenever detection or a measure of a summary changes: what was kept is then worked out anew. */
const rulesVersion = '12';

/** Names the rules by which this hub makes summaries. */
export const summariesMadeBy = (hubVersion: string): string => `${rulesVersion} ${hubVersion}`;

/** So few are waited for: a session that has just ended is in the first answer. */
const waitedFor = 3;

export interface SummarisedSession {
  readonly listed: StoredSessionSummary;
  /** Null where the recording cannot be read. */
  readonly summary: Summary;
}

export interface SessionSummaries {
  /** Oldest first. */
  readonly sessions: readonly SummarisedSession[];
  /** Not in `sessions` yet, or there by an earlier version's rules. */
  readonly missingCount: number;
  readonly allCount: number;
}

/** What is known of every ended session of the athlete; the rest is being worked out, the newest first. */
export async function summariesOf(
  store: Pick<HubStore, 'listSessions' | 'listSummaries' | 'listOtherSummaries'>,
  work: Pick<SummaryWork, 'want' | 'isUnreadable' | 'madeBy' | 'mayWork'>,
  athleteId: string,
): Promise<SessionSummaries> {
  const { madeBy } = work;
  const ended = (await store.listSessions()).filter(
    ({ session }) => session.status !== 'recording' && session.athleteIds.includes(athleteId),
  );
  let kept = await store.listSummaries(athleteId, madeBy);
  const missingOf = (known: ReadonlyMap<string, unknown>): string[] =>
    ended.flatMap(({ session: { sessionId } }) =>
      parsed(known.get(sessionId)) === null && !work.isUnreadable(sessionId, athleteId) ? [sessionId] : [],
    );
  let missing = missingOf(kept);
  if (missing.length > 0) {
    const done = work.want(missing.map((sessionId) => ({ sessionId, athleteId })));
    if (work.mayWork && missing.length <= waitedFor) {
      await done;
      kept = await store.listSummaries(athleteId, madeBy);
      missing = missingOf(kept);
    }
  }
  const isMissing = new Set(missing);
  const others =
    missing.length === 0 ? new Map<string, unknown>() : await store.listOtherSummaries(athleteId, madeBy);
  const sessions = ended.flatMap((listed): SummarisedSession[] => {
    const { sessionId } = listed.session;
    const summary = parsed(kept.get(sessionId)) ?? parsed(others.get(sessionId));
    return summary === null && isMissing.has(sessionId) ? [] : [{ listed, summary }];
  });
  return { sessions: sessions.reverse(), missingCount: missing.length, allCount: ended.length };
}

const parsed = (body: unknown): Summary => sessionSummarySchema.safeParse(body).data ?? null;
