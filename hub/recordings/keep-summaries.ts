// Summaries of sessions, worked out in the background for the weeks and for the list of recordings: those of a session that has
// just ended at once, the others when somebody asks.

import type { HubLog } from '../base/log.ts';
import type { HubStore } from '../base/ports/hub-store.ts';
import type { Hub } from '../live/hub.ts';
import type { RecordedSessions } from './recorded-sessions.ts';
import { summariesMadeBy } from './session-summaries.ts';
import { SummaryWork, summaryThreads } from './summary-work.ts';

export interface SummaryKeeping {
  readonly hub: Hub;
  readonly store: HubStore;
  readonly recordings: RecordedSessions;
  readonly log: HubLog;
  readonly hubVersion: string;
}

export function keepSummaries({ hub, store, recordings, log, hubVersion }: SummaryKeeping) {
  const work = new SummaryWork({
    store,
    recordings,
    madeBy: summariesMadeBy(hubVersion),
    mayWork: () => hub.session === null,
    atOnce: summaryThreads + 1,
    warn: (message, error) => log.error(message, error),
  });
  const unsubscribe = hub.subscribe((event) => {
    if (event.type !== 'sessionEnded') return;
    const { sessionId, athleteIds } = event.session;
    // After everyone has heard of the end. Nobody waits: who opens the list or the weeks finds it there.
    setImmediate(() => {
      work.goOn();
      void work.want(athleteIds.map((athleteId) => ({ sessionId, athleteId })));
    });
  });
  return {
    work,
    close() {
      unsubscribe();
      work.close();
    },
  };
}
