// Everything known of an athlete's training as one list for the advice table: recordings, plan runs, the log.

import type { StoredPlanRun } from '../../shared/plan-run.ts';
import type { TrainingEntry } from '../../shared/training-log.ts';
import { createPlanRun, replayPlanRun } from '../../src/plans/plan-run.ts';
import { athleteRunOf } from '../../src/plans/plan-run-state.ts';
import type { TrainingSession } from '../../src/training/advice.ts';
import { isInWater } from '../../src/training/entry-cautions.ts';
import type { RecordingsLater } from '../base/ports/hub-store.ts';
import type { StoredSession } from '../base/ports/stored-session.ts';
import type { PlanRuns } from './plan-runs.ts';

const nothing: Omit<TrainingSession, 'startedWallAtMs' | 'kind'> = {
  hard: false,
  maximalCount: 0,
  alone: false,
  aborted: false,
  comfort: null,
  lowestSpo2Percent: null,
  floorSpo2Percent: null,
  intervalSeries: null,
};

/** In no particular order. A plan run and the recording it was run in count as one session. */
export async function trainingSessionsOf(
  store: RecordingsLater,
  planRuns: PlanRuns,
  athleteId: string,
  entries: readonly TrainingEntry[],
): Promise<readonly TrainingSession[]> {
  const runs = planRuns
    .list()
    .filter((run) => run.options.athletes.some((athlete) => athlete.athleteId === athleteId))
    .flatMap((head) => {
      const stored = planRuns.read(head.runId);
      return stored === undefined
        ? []
        : [{ sessionId: head.sessionId, session: sessionOfRun(stored, athleteId) }];
    });
  const listed = await store.listSessions();
  const recordings: TrainingSession[] = [];
  for (const { session } of listed) {
    if (!session.athleteIds.includes(athleteId)) continue;
    const recorded = sessionOfRecording(await store.readSession(session.sessionId), athleteId);
    if (recorded === undefined) continue;
    recordings.push(
      runs
        .filter((run) => run.sessionId === session.sessionId)
        .reduce((merged, run) => merge(merged, run.session), recorded),
    );
  }
  const recordedIds = new Set(listed.map(({ session }) => session.sessionId));
  return [
    ...recordings,
    ...runs
      .filter((run) => run.sessionId === null || !recordedIds.has(run.sessionId))
      .map((run) => run.session),
    ...entries.map(sessionOfEntry),
  ];
}

/** Comfort said in the plan runs of recorded sessions, by session. */
export function comfortOfSessions(planRuns: PlanRuns, athleteId: string): ReadonlyMap<string, number> {
  const comforts = new Map<string, number>();
  for (const head of planRuns.list()) {
    if (head.sessionId === null) continue;
    if (!head.options.athletes.some((athlete) => athlete.athleteId === athleteId)) continue;
    const stored = planRuns.read(head.runId);
    const comfort = stored === undefined ? null : sessionOfRun(stored, athleteId).comfort;
    if (comfort !== null) comforts.set(head.sessionId, comfort);
  }
  return comforts;
}

function sessionOfRecording(
  stored: StoredSession | undefined,
  athleteId: string,
): TrainingSession | undefined {
  if (stored === undefined) return undefined;
  const holds = stored.holds.filter((hold) => hold.athleteId === athleteId && !hold.withdrawn);
  // A recording without a hold is a look at the sensors, not a training session.
  if (holds.length === 0) return undefined;
  const lowest = holds.flatMap(({ hold }) => (hold.lowestSpo2 === null ? [] : [hold.lowestSpo2.value]));
  const floors = [
    ...stored.athletes
      .filter((athlete) => athlete.athleteId === athleteId)
      .map((athlete) => athlete.settings),
    ...stored.settingsChanges
      .filter((change) => change.athleteId === athleteId)
      .map((change) => change.settings),
  ];
  return {
    ...nothing,
    startedWallAtMs: stored.session.startedWallAtMs,
    kind: 'dry',
    aborted: stored.alarms.some(
      (alarm) => alarm.athleteId === athleteId && alarm.alarm.kind === 'floorBreached',
    ),
    comfort: meanComfort(holds.flatMap(({ hold }) => hold.feeling?.comfort ?? [])),
    lowestSpo2Percent: lowest.length === 0 ? null : Math.min(...lowest),
    floorSpo2Percent: floors.at(-1)?.floorSpo2Percent ?? null,
  };
}

function sessionOfRun(run: StoredPlanRun, athleteId: string): TrainingSession {
  const { plan } = run;
  const base: TrainingSession = {
    ...nothing,
    startedWallAtMs: run.startedWallAtMs,
    kind:
      plan.kind === 'apneaWalk'
        ? 'walk'
        : plan.kind === 'poolIntervals' || plan.kind === 'timedSwim'
          ? 'pool'
          : 'dry',
  };
  const created = createPlanRun(plan, 0, run.options);
  const athleteRun = created.ok
    ? athleteRunOf(replayPlanRun(created.value, run.events), athleteId)
    : undefined;
  if (athleteRun === undefined) return base;
  const done = athleteRun.records.filter(
    (record) => record.startedAtMs !== null && record.endedAtMs !== null,
  );
  const comforts = done.flatMap((record) => (record.comfort === null ? [] : [record.comfort]));
  const maximalCount = done.filter(
    (record) => record.stepIndex !== null && athleteRun.steps[record.stepIndex]?.purpose === 'maximal',
  ).length;
  return {
    ...base,
    hard: maximalCount > 0,
    maximalCount,
    aborted: athleteRun.records.some((record) => record.outcome === 'aborted'),
    comfort: meanComfort(comforts),
    floorSpo2Percent: athleteRun.floorSpo2Percent,
    intervalSeries:
      plan.kind === 'intervalSeries' && done.length > 0
        ? {
            everyMs: athleteRun.everyMs ?? plan.everySeconds * 1_000,
            holdsMs: done
              .filter((record) => record.stepIndex !== null)
              .map((record) => (record.endedAtMs ?? 0) - (record.cuedAtMs ?? record.startedAtMs ?? 0)),
          }
        : null,
  };
}

const sessionOfEntry = (entry: TrainingEntry): TrainingSession => ({
  ...nothing,
  startedWallAtMs: entry.startedWallAtMs,
  kind: isInWater(entry) ? 'pool' : entry.kind === 'apneaWalk' ? 'walk' : 'dry',
  hard: entry.effort === 'hard',
  maximalCount:
    entry.kind === 'maximalDryHold' ||
    entry.kind === 'maximalInWater' ||
    (entry.kind === 'apneaWalk' && entry.maximal)
      ? 1
      : 0,
  alone: entry.buddyName === null,
  comfort: entry.comfort,
});

const merge = (recorded: TrainingSession, run: TrainingSession): TrainingSession => ({
  ...recorded,
  hard: recorded.hard || run.hard,
  maximalCount: recorded.maximalCount + run.maximalCount,
  aborted: recorded.aborted || run.aborted,
  comfort: run.comfort ?? recorded.comfort,
  intervalSeries: run.intervalSeries ?? recorded.intervalSeries,
});

/** Of a session, from its holds; null when nothing was said of any. */
const meanComfort = (comforts: readonly number[]): number | null =>
  comforts.length === 0 ? null : Math.round(comforts.reduce((sum, each) => sum + each, 0) / comforts.length);
