// One summary for each ended session and athlete, worked out once and kept in the store. A question is answered after a
// moment with what there is by then, so that a page can show it and ask again.

import { type HistoryBody, sessionSummarySchema } from '../../shared/history.ts';
import { summariseSession } from '../../src/sessions/session-summary.ts';
import type { Clock } from '../base/ports/clock.ts';
import type { HubStore } from '../base/ports/hub-store.ts';
import type { RecordedSessions } from './recorded-sessions.ts';

type Summary = HistoryBody['sessions'][number]['summary'];

/** Raise it whenever detection or a measure of a summary changes: what was kept is then worked out anew. */
const rulesVersion = '6';

/** Names the rules by which this hub makes summaries. */
export const summariesMadeBy = (hubVersion: string): string => `${rulesVersion} ${hubVersion}`;

export interface SessionSummaries {
  /** Every ended session of the athlete, oldest first, after working out what fits into `budgetMs` (at least one). */
  history(
    athleteId: string,
    budgetMs: number,
    comfortOf: ReadonlyMap<string, number>,
    signal?: AbortSignal,
  ): Promise<HistoryBody>;
}

export interface SummaryParts {
  readonly store: Pick<HubStore, 'listSessions' | 'readSession' | 'saveSummary' | 'listSummaries'>;
  readonly recordings: RecordedSessions;
  readonly clock: Clock;
  readonly warn: (message: string, error: unknown) => void;
  readonly hubVersion: string;
}

export function createSessionSummaries(parts: SummaryParts): SessionSummaries {
  const { store, recordings, clock } = parts;
  const madeBy = summariesMadeBy(parts.hubVersion);
  /** Sessions that could not be read: tried once in the life of a hub, not at every question. */
  const unreadable = new Set<string>();

  async function workOut(
    sessionId: string,
    athleteId: string,
    signal: AbortSignal | undefined,
  ): Promise<Summary> {
    try {
      const derived = await recordings.derive(sessionId, athleteId, {
        urgency: 'background',
        ...(signal !== undefined && { signal }),
      });
      // It may have been deleted meanwhile.
      if (derived === undefined || (await store.readSession(sessionId)) === undefined) return null;
      const summary = summariseSession(derived.holds.filter(({ hold }) => hold.proposed !== true));
      await store.saveSummary(sessionId, athleteId, madeBy, summary);
      return summary;
    } catch (error) {
      if (signal?.aborted === true) throw error;
      parts.warn(`recording ${sessionId} cannot be summarised`, error);
      unreadable.add(`${sessionId} ${athleteId}`);
      return null;
    }
  }

  return {
    async history(athleteId, budgetMs, comfortOf, signal) {
      const startedAtMs = clock.nowMs();
      const kept = await store.listSummaries(athleteId, madeBy);
      const listed = await store.listSessions();
      const ended = listed.filter(
        ({ session }) => session.status !== 'recording' && session.athleteIds.includes(athleteId),
      );
      let missingCount = 0;
      let workedOut = 0;
      const sessions: HistoryBody['sessions'] = [];
      // The newest first: what a person looks for is most likely recent.
      for (const { session, durationMs } of ended) {
        const { sessionId, title, startedWallAtMs, simulated } = session;
        let summary: Summary = sessionSummarySchema.safeParse(kept.get(sessionId)).data ?? null;
        if (summary === null && !unreadable.has(`${sessionId} ${athleteId}`)) {
          const mayWork = workedOut === 0 || clock.nowMs() - startedAtMs < budgetMs;
          if (!mayWork) {
            missingCount += 1;
            continue;
          }
          summary = await workOut(sessionId, athleteId, signal);
          workedOut += 1;
        }
        const comfort = comfortOf.get(sessionId) ?? null;
        sessions.push({ sessionId, title, startedWallAtMs, simulated, durationMs, comfort, summary });
      }
      return { sessions: sessions.reverse(), missingCount };
    },
  };
}
