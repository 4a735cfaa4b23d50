// One summary for each ended session and athlete, worked out once. Working out is done in small helpings and never
// beside a running session, whose alarms must not wait for it.

import type { HistoryBody } from '../shared/history.ts';
import { summariseSession } from '../src/sessions/session-summary.ts';
import type { Clock, Store } from './ports.ts';
import type { RecordedSessions } from './recorded-session.ts';

type Summary = HistoryBody['sessions'][number]['summary'];

export interface SessionSummaries {
  /** Every ended session of the athlete, oldest first, after working out what fits into `budgetMs` (at least one). */
  history(athleteId: string, budgetMs: number, comfortOf: ReadonlyMap<string, number>): HistoryBody;
}

export interface SummaryParts {
  readonly store: Store;
  readonly recordings: RecordedSessions;
  readonly clock: Clock;
  readonly isRecording: () => boolean;
  readonly warn: (message: string, error: unknown) => void;
}

export function createSessionSummaries(parts: SummaryParts): SessionSummaries {
  const { store, recordings, clock } = parts;
  const known = new Map<string, Summary>();
  const keyOf = (sessionId: string, athleteId: string) => `${sessionId} ${athleteId}`;
  recordings.onChange((sessionId) => {
    for (const key of [...known.keys()]) if (key.startsWith(`${sessionId} `)) known.delete(key);
  });

  function workOut(sessionId: string, athleteId: string): Summary {
    try {
      const derived = recordings.derive(sessionId, athleteId);
      return derived === undefined ? null : summariseSession(derived.holds);
    } catch (error) {
      parts.warn(`recording ${sessionId} cannot be summarised`, error);
      return null;
    }
  }

  return {
    history(athleteId, budgetMs, comfortOf) {
      const startedAtMs = clock.nowMs();
      const ended = store
        .listSessions()
        .filter(({ session }) => session.status !== 'recording' && session.athleteIds.includes(athleteId));
      const waitsForSession = parts.isRecording();
      let missingCount = 0;
      let workedOut = 0;
      const sessions: HistoryBody['sessions'] = [];
      // The newest first: what a person looks for is most likely recent.
      for (const { session, durationMs } of ended) {
        const { sessionId, title, startedWallAtMs, simulated } = session;
        const key = keyOf(sessionId, athleteId);
        if (!known.has(key)) {
          const mayWork = !waitsForSession && (workedOut === 0 || clock.nowMs() - startedAtMs < budgetMs);
          if (!mayWork) {
            missingCount += 1;
            continue;
          }
          known.set(key, workOut(sessionId, athleteId));
          workedOut += 1;
        }
        const summary = known.get(key) ?? null;
        const comfort = comfortOf.get(sessionId) ?? null;
        sessions.push({ sessionId, title, startedWallAtMs, simulated, durationMs, comfort, summary });
      }
      return { sessions: sessions.reverse(), missingCount, waitsForSession };
    },
  };
}
