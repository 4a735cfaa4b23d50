// One athlete's part of a stored session as the content of a session file, and back: ids of the athlete and the session stay
// behind, and whoever reads the file in says whose it is.

import type { StoredPlanRun } from '../../shared/plan-run.ts';
import { monotonicMs, wallMs } from '../../shared/units.ts';
import type { FilePacket } from '../../src/formats/session-file/packet-segment.ts';
import {
  athleteOfFile,
  type SessionContent,
  type SessionFilePlans,
} from '../../src/formats/session-file/session-content.ts';
import type { SensorProfile } from '../../src/profiles/sensor-profile.ts';
import type { StoredPacket, StoredSession } from '../base/ports/stored-session.ts';
import { wornBy } from './review/session-events.ts';

export interface SessionToWrite {
  readonly stored: StoredSession;
  readonly athleteId: string;
  /** By which its sensors are read. */
  readonly profiles: readonly SensorProfile[];
  /** Of all packets of the session; only those of the athlete are taken. */
  readonly packets: readonly StoredPacket[];
  /** Those run in the session, of others too. */
  readonly planRuns: readonly StoredPlanRun[];
}

export function contentOfSession(session: SessionToWrite): {
  readonly content: SessionContent;
  readonly packets: readonly FilePacket[];
} {
  const { stored, athleteId, profiles, planRuns } = session;
  const athlete = stored.athletes.find((each) => each.athleteId === athleteId)!;
  const isOwn = (each: { readonly athleteId: string }): boolean => each.athleteId === athleteId;
  const isTheirs = wornBy(stored, athleteId);
  const { streams, packets } = numberedPackets(session.packets, isTheirs);
  return {
    packets,
    content: {
      head: {
        athleteName: athlete.name,
        title: stored.session.title,
        startedWallAtMs: stored.session.startedWallAtMs,
        durationMs: monotonicMs(stored.durationMs),
        simulated: stored.session.simulated,
        recordedBy: stored.madeBy ?? null,
        incomplete: stored.damage.length > 0,
        settings: { ...athlete.settings, thresholdsPercent: [...athlete.settings.thresholdsPercent] },
        sensors: stored.sensors
          .filter(isOwn)
          .map(({ athleteId: _whose, kinds, ...sensor }) => ({ ...sensor, kinds: [...kinds] })),
        profiles: profiles.map(profileAsWritten),
        streams,
        unwatched: [...stored.session.unwatched],
      },
      events: {
        marks: stored.marks
          .filter(({ mark }) => isOwn(mark))
          .map(({ mark: { athleteId: _whose, ...mark }, ...rest }) => ({ ...mark, ...rest })),
        holds: stored.holds.filter(isOwn).map(({ hold, withdrawn }) => ({ hold, withdrawn })),
        alarms: stored.alarms.filter(isOwn).map(({ alarm, clearedAtMs }) => ({ alarm, clearedAtMs })),
        settingsChanges: stored.settingsChanges
          .filter(isOwn)
          .map(({ atMs, settings }) => ({ atMs, settings })),
        linkEvents: stored.linkEvents.filter(({ sensorId, atMs }) => isTheirs(sensorId, atMs)),
        changes: stored.changes
          .filter(isOwn)
          .map(({ atMs, change, sensor, by }) => ({ atMs, change, sensor, by })),
        schedules: stored.schedules
          .filter(isOwn)
          .map(({ atMs, startAtMs, toleranceMs }) => ({ atMs, startAtMs, toleranceMs })),
        corrections: stored.corrections
          .filter(isOwn)
          .map(({ step }) => step as SessionContent['events']['corrections'][number]),
      },
      plans: { runs: planRuns.flatMap((run) => partOfRun(run, athleteId) ?? []) },
    },
  };
}

/** Streams in the order in which they first sent. */
function numberedPackets(
  all: readonly StoredPacket[],
  isTheirs: (sensorId: string, atMs: number) => boolean,
): { readonly streams: SessionContent['head']['streams']; readonly packets: readonly FilePacket[] } {
  const streams: SessionContent['head']['streams'] = [];
  const numbers = new Map<string, number>();
  const packets: FilePacket[] = [];
  for (const { sensorId, characteristic, atMs, wallAtMs, bytes } of all) {
    if (!isTheirs(sensorId, atMs)) continue;
    const key = `${characteristic} ${sensorId}`;
    let stream = numbers.get(key);
    if (stream === undefined) {
      stream = streams.length;
      numbers.set(key, stream);
      streams.push({ sensorId, characteristic });
    }
    packets.push({ stream, atMs, wallAtMs, bytes });
  }
  return { streams, packets };
}

/** As a profile's file has it: bytes in hex, and the version of such files. */
function profileAsWritten(profile: SensorProfile): Record<string, unknown> {
  const text = JSON.stringify({ profile: 1, ...profile }, (_key, value: unknown) =>
    value instanceof Uint8Array ? Buffer.from(value).toString('hex') : value,
  );
  return JSON.parse(text) as Record<string, unknown>;
}

function partOfRun(run: StoredPlanRun, athleteId: string): SessionFilePlans['runs'][number] | undefined {
  const own = run.options.athletes.find((each) => each.athleteId === athleteId);
  if (own === undefined) return undefined;
  const events = run.events.flatMap((event) => {
    if (!('athleteId' in event) || event.athleteId === null) return event;
    return event.athleteId === athleteId ? { ...event, athleteId: athleteOfFile } : [];
  });
  return {
    startedWallAtMs: run.startedWallAtMs,
    // One that a hub's end cut off is over wherever it is read in.
    endedAtMs: run.endedAtMs ?? events.reduce((last, { atMs }) => Math.max(last, atMs), 0),
    plan: run.plan,
    options: { ...run.options, athletes: [{ ...own, athleteId: athleteOfFile }] },
    events,
  };
}

export interface Whose {
  readonly sessionId: string;
  readonly athleteId: string;
  readonly athleteName: string;
}

/** The session that the file was made of, as far as it holds it: over, and of one athlete. */
export function sessionOfContent(
  { head, events }: SessionContent,
  profiles: readonly SensorProfile[],
  { sessionId, athleteId, athleteName }: Whose,
): StoredSession {
  return {
    session: {
      sessionId,
      startedWallAtMs: head.startedWallAtMs,
      endedAtMs: head.durationMs,
      status: 'ended',
      simulated: head.simulated,
      source: 'import',
      title: head.title,
      athleteIds: [athleteId],
      unwatched: head.unwatched,
      // Files say nothing of who led: they go where erasing does not reach.
      leaders: [],
    },
    athletes: [{ athleteId, name: athleteName, simulated: head.simulated, settings: head.settings }],
    profiles,
    madeBy: head.recordedBy ?? undefined,
    sensors: head.sensors.map((sensor) => ({ ...sensor, athleteId })),
    marks: events.marks.map(({ removed, saidAtMs, removedAtMs, ...mark }) => ({
      mark: { ...mark, athleteId },
      removed,
      ...(saidAtMs !== undefined && { saidAtMs }),
      ...(removedAtMs !== undefined && { removedAtMs }),
    })),
    holds: events.holds.map((each) => ({ ...each, athleteId })),
    alarms: events.alarms.map((each) => ({ ...each, athleteId })),
    settingsChanges: events.settingsChanges.map((each) => ({ ...each, athleteId })),
    linkEvents: events.linkEvents,
    changes: events.changes.map((each) => ({ ...each, athleteId })),
    schedules: events.schedules.map((each) => ({ ...each, athleteId })),
    alive: undefined,
    corrections: events.corrections.map((step) => ({ athleteId, step })),
    durationMs: head.durationMs,
    damage: [],
  };
}

/** The plan runs of the file as this hub keeps them. */
export const planRunsOfContent = (
  { plans }: SessionContent,
  { sessionId, athleteId }: Pick<Whose, 'sessionId' | 'athleteId'>,
  makeId: () => string,
): StoredPlanRun[] =>
  plans.runs.map(({ options, events, ...run }) => ({
    ...run,
    runId: makeId(),
    sessionId,
    options: { ...options, athletes: options.athletes.map((each) => ({ ...each, athleteId })) },
    events: events.map((event) =>
      'athleteId' in event && event.athleteId !== null ? { ...event, athleteId } : event,
    ),
  }));

export const packetOfFile = (
  { head }: SessionContent,
  { stream, atMs, wallAtMs, bytes }: FilePacket,
): StoredPacket => ({ ...head.streams[stream]!, atMs: monotonicMs(atMs), wallAtMs: wallMs(wallAtMs), bytes });
