// What the plans run in an athlete's recorded sessions tell of them: titles, comfort, and which row of a plan a hold was.

import { doneRecords, meanComfort, type RunOfAthlete } from './athlete-runs.ts';

interface PlannedHold {
  /** On the session's time. */
  readonly fromMs: number;
  readonly toMs: number;
  readonly row: number;
}

export interface PlannedSession {
  readonly plans: readonly string[];
  readonly comfort: number | null;
  readonly holds: readonly PlannedHold[];
}

/** By session. */
export function plannedSessions(
  runs: readonly RunOfAthlete[],
  startOf: (sessionId: string) => number | undefined,
): ReadonlyMap<string, PlannedSession> {
  const sessions = new Map<string, PlannedSession>();
  // Oldest first, so that titles stand in the order in which they were run.
  for (const { run, athleteRun } of runs.toReversed()) {
    const { sessionId } = run;
    const startedWallAtMs = sessionId === null ? undefined : startOf(sessionId);
    if (sessionId === null || startedWallAtMs === undefined) continue;
    const before = sessions.get(sessionId) ?? { plans: [], comfort: null, holds: [] };
    const done = athleteRun === undefined ? [] : doneRecords(athleteRun);
    const offsetMs = run.startedWallAtMs - startedWallAtMs;
    sessions.set(sessionId, {
      plans: [...new Set([...before.plans, run.plan.title])],
      comfort: meanComfort(done.flatMap(({ comfort }) => comfort ?? [])) ?? before.comfort,
      holds: [
        ...before.holds,
        ...done.flatMap(({ stepIndex, startedAtMs, endedAtMs }) =>
          stepIndex === null
            ? []
            : [{ fromMs: startedAtMs! + offsetMs, toMs: endedAtMs! + offsetMs, row: stepIndex + 1 }],
        ),
      ],
    });
  }
  return sessions;
}

/** The row that shares most of a hold's time; null where none shares half of the shorter. */
export function planRowOf(
  hold: { fromMs: number; toMs: number },
  planned: readonly PlannedHold[],
): number | null {
  let best: { readonly sharedMs: number; readonly row: number } | null = null;
  for (const { fromMs, toMs, row } of planned) {
    const sharedMs = Math.min(hold.toMs, toMs) - Math.max(hold.fromMs, fromMs);
    const shorterMs = Math.min(hold.toMs - hold.fromMs, toMs - fromMs);
    if (sharedMs * 2 >= shorterMs && sharedMs > (best?.sharedMs ?? 0)) best = { sharedMs, row };
  }
  return best?.row ?? null;
}
