// Everything known of an athlete's training as one list for the advice table: recordings, plan runs, the log.

import type { SessionDetails } from '../../shared/session-details.ts';
import type { TrainingEntry } from '../../shared/training-log.ts';
import type { TrainingSession } from '../../src/training/advice.ts';
import { isInWater } from '../../src/training/entry-cautions.ts';
import { minutesOfEntry } from '../../src/training/training-load.ts';
import type { RecordingsLater } from '../base/ports/hub-store.ts';
import type { StoredSession } from '../base/ports/stored-session.ts';
import { doneRecords, meanComfort, type RunOfAthlete } from './athlete-runs.ts';

export interface TrainingSources {
  readonly store: RecordingsLater;
  /** Of the athlete. */
  readonly runs: readonly RunOfAthlete[];
  readonly entries: readonly TrainingEntry[];
  readonly detailsOf: (sessionId: string) => SessionDetails | null;
  /** Days since 1970 by the calendar of the hub's place. */
  readonly localDayOf: (wallMs: number) => number;
  /** Older ones say nothing that is advised on. */
  readonly sinceWallMs: number;
}

type Dayless = Omit<TrainingSession, 'localDay'>;

const nothing: Omit<Dayless, 'startedWallAtMs' | 'kind'> = {
  effort: null,
  minutes: null,
  maximalCount: 0,
  company: null,
  calledOff: null,
  floorAlarmHolds: [],
  comfort: null,
  lowestSpo2Percent: null,
  floorSpo2Percent: null,
  intervalSeries: null,
};

/** In no particular order. A plan run and the recording it was run in count as one session. */
export async function trainingSessionsOf(
  { store, runs, entries, detailsOf, localDayOf, sinceWallMs }: TrainingSources,
  athleteId: string,
): Promise<readonly TrainingSession[]> {
  const ofRuns = runs.map((each) => ({ sessionId: each.run.sessionId, session: sessionOfRun(each) }));
  const listed = await store.listSessions();
  const recordings: Dayless[] = [];
  let newestOld: Dayless | undefined;
  for (const { session, durationMs, holdCount } of listed) {
    if (!session.athleteIds.includes(athleteId)) continue;
    // The last of long ago says how long the break was; nothing else of it counts.
    if (session.startedWallAtMs < sinceWallMs) {
      if (holdCount > 0) newestOld ??= { ...nothing, startedWallAtMs: session.startedWallAtMs, kind: 'dry' };
      continue;
    }
    const recorded = sessionOfRecording(await store.readSession(session.sessionId), athleteId, durationMs);
    if (recorded === undefined) continue;
    const merged = ofRuns
      .filter((run) => run.sessionId === session.sessionId)
      .reduce((whole, run) => merge(whole, run.session), recorded);
    recordings.push(withDetails(merged, detailsOf(session.sessionId)));
  }
  const recordedIds = new Set(listed.map(({ session }) => session.sessionId));
  return [
    ...(newestOld === undefined ? [] : [newestOld]),
    ...recordings,
    ...ofRuns
      .filter((run) => run.sessionId === null || !recordedIds.has(run.sessionId))
      .map((run) => run.session),
    ...entries.map(sessionOfEntry),
  ].map((session) => ({ ...session, localDay: localDayOf(session.startedWallAtMs) }));
}

function sessionOfRecording(
  stored: StoredSession | undefined,
  athleteId: string,
  durationMs: number,
): Dayless | undefined {
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
    minutes: durationMs / 60_000,
    floorAlarmHolds: floorAlarmHolds(stored, athleteId, holds),
    comfort: meanComfort(holds.flatMap(({ hold }) => hold.feeling?.comfort ?? [])),
    lowestSpo2Percent: lowest.length === 0 ? null : Math.min(...lowest),
    floorSpo2Percent: floors.at(-1)?.floorSpo2Percent ?? null,
  };
}

/** The last hold that had begun when the alarm of the floor was raised, for each; counted from one, each once. */
function floorAlarmHolds(
  stored: StoredSession,
  athleteId: string,
  holds: StoredSession['holds'],
): readonly number[] {
  const starts = holds.map(({ hold }) => hold.start.atMs).toSorted((one, other) => one - other);
  const numbers = stored.alarms
    .filter((each) => each.athleteId === athleteId && each.alarm.kind === 'floorBreached')
    .map(({ alarm }) => starts.filter((atMs) => atMs <= alarm.raisedAtMs).length)
    .filter((number) => number > 0);
  return [...new Set(numbers)].toSorted((one, other) => one - other);
}

function sessionOfRun({ run, athleteRun, calledOff }: RunOfAthlete): Dayless {
  const { plan } = run;
  const base: Dayless = {
    ...nothing,
    startedWallAtMs: run.startedWallAtMs,
    kind:
      plan.kind === 'apneaWalk'
        ? 'walk'
        : plan.kind === 'poolIntervals' || plan.kind === 'timedSwim'
          ? 'pool'
          : 'dry',
    minutes: run.endedAtMs === null ? null : run.endedAtMs / 60_000,
  };
  if (athleteRun === undefined) return base;
  const done = doneRecords(athleteRun);
  return {
    ...base,
    maximalCount: done.filter(
      ({ stepIndex }) => stepIndex !== null && athleteRun.steps[stepIndex]?.purpose === 'maximal',
    ).length,
    calledOff:
      calledOff === null
        ? null
        : {
            title: plan.title,
            holdNumber: calledOff.holdNumber,
            plannedCount: calledOff.plannedCount,
            why: calledOff.why,
          },
    comfort: meanComfort(done.flatMap(({ comfort }) => comfort ?? [])),
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

const sessionOfEntry = (entry: TrainingEntry): Dayless => ({
  ...nothing,
  startedWallAtMs: entry.startedWallAtMs,
  kind: isInWater(entry) ? 'pool' : entry.kind === 'apneaWalk' ? 'walk' : 'dry',
  effort: entry.effort,
  minutes: minutesOfEntry(entry),
  maximalCount:
    entry.kind === 'maximalDryHold' ||
    entry.kind === 'maximalInWater' ||
    (entry.kind === 'apneaWalk' && entry.maximal)
      ? 1
      : 0,
  company: entry.buddyName === null ? 'alone' : 'accompanied',
  comfort: entry.comfort,
});

const merge = (recorded: Dayless, run: Dayless): Dayless => ({
  ...recorded,
  maximalCount: recorded.maximalCount + run.maximalCount,
  calledOff: run.calledOff ?? recorded.calledOff,
  comfort: run.comfort ?? recorded.comfort,
  intervalSeries: run.intervalSeries ?? recorded.intervalSeries,
});

const withDetails = (session: Dayless, details: SessionDetails | null): Dayless =>
  details === null ? session : { ...session, effort: details.effort, company: details.company };
