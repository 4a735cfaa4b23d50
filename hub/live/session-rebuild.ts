// Makes the pipelines of a session anew from what was recorded of it: bytes, links, marks, settings and planned starts as
// they came, and what was told of holds and alarms, which stands whatever is found again.

import type { MonotonicMs } from '../../shared/units.ts';
import { monotonicMs } from '../../shared/units.ts';
import type { Athlete, UnwatchedSpan } from '../../shared/views.ts';
import type { AthletePrior } from '../../src/oxygen/athlete-prior.ts';
import type { KnownBefore, Pipeline, PipelineEvent, PipelineFactory } from '../../src/pipeline.ts';
import type { Sample } from '../../src/samples/sample.ts';
import { timeOfEvent } from '../../src/sessions/merge-events.ts';
import { isOfLatePackets } from '../base/late-packets.ts';
import type { RecordingsLater } from '../base/ports/hub-store.ts';
import type { StoredPacket, StoredSession } from '../base/ports/stored-session.ts';
import { fromStoredAlarm, fromStoredHold } from '../recorder/from-stored.ts';
import { wearerOf } from '../recorder/sensor-wearers.ts';

/** What detector and forecast look back on, at most (hold-belief.ts), before the hold under way or the end. */
const lookBackMs = 660_000;

export interface RebuiltAthlete {
  readonly athlete: Athlete;
  readonly pipeline: Pipeline;
  /** To be pushed once everybody listens. */
  readonly known: KnownBefore;
  /** Of the stretch that was run through again, in order: what a page draws. */
  readonly samples: readonly Sample[];
}

/** Who is in a session that broke off, and how often each has come to it. */
export interface Membership {
  readonly stays: ReadonlyMap<string, number>;
  /** Those in it, each since when. */
  readonly present: ReadonlyMap<string, MonotonicMs>;
}

/** The head has everybody who ever came; the changes tell who came later and who went. */
export function membershipOf({ session, changes }: StoredSession): Membership {
  const stays = new Map<string, number>();
  const present = new Map<string, MonotonicMs>();
  for (const athleteId of session.athleteIds) {
    const own = changes.filter(
      (one) => one.athleteId === athleteId && (one.change === 'joined' || one.change === 'left'),
    );
    const joins = own.filter(({ change }) => change === 'joined');
    const wasThereFirst = own[0]?.change !== 'joined';
    stays.set(athleteId, joins.length + (wasThereFirst ? 1 : 0));
    if (own.at(-1)?.change !== 'left') present.set(athleteId, joins.at(-1)?.atMs ?? monotonicMs(0));
  }
  return { stays, present };
}

/** Of holds and alarms of a second stay and later; as the hub numbers stays. */
export const stayPrefix = (stays: number): string => (stays <= 1 ? '' : `stay-${stays}-`);

export interface RebuildParts {
  readonly membership: Membership;
  readonly store: Pick<RecordingsLater, 'readPackets'>;
  readonly stored: StoredSession;
  readonly athletes: readonly Athlete[];
  readonly createPipeline: PipelineFactory;
  readonly priorOf: (athleteId: string) => AthletePrior | undefined;
}

/** Rejects with what the store says of packets that cannot be read. */
export async function rebuildAthletes(parts: RebuildParts): Promise<readonly RebuiltAthlete[]> {
  const { store, stored, athletes } = parts;
  const fromMs = rebuiltFrom(stored);
  const packets: StoredPacket[] = [];
  for await (const packet of store.readPackets(stored.session.sessionId))
    if (packet.atMs >= fromMs) packets.push(packet);
  return athletes.map((athlete) => rebuilt(parts, athlete, fromMs, packets));
}

function rebuiltFrom({ holds, durationMs }: StoredSession): number {
  const open = holds
    .filter(({ hold, withdrawn }) => !withdrawn && hold.end === null)
    .map(({ hold }) => hold.start.atMs);
  return Math.max(0, Math.min(durationMs, ...open) - lookBackMs);
}

function rebuilt(
  { stored, createPipeline, priorOf, membership }: RebuildParts,
  athlete: Athlete,
  fromMs: number,
  packets: readonly StoredPacket[],
): RebuiltAthlete {
  const { athleteId } = athlete;
  const prior = priorOf(athleteId);
  const idPrefix = stayPrefix(membership.stays.get(athleteId) ?? 1);
  const holds = holdsOfStay(stored, athleteId, idPrefix);
  const startAtMs = monotonicMs(Math.max(fromMs, membership.present.get(athleteId) ?? 0));
  const pipeline = createPipeline(settingsAt(stored, athleteId, fromMs) ?? athlete.settings, {
    ...(prior !== undefined && { prior }),
    startAtMs,
    idPrefix,
    rebuilt: { holdsBefore: holds.filter(({ hold }) => hold.start.declaredAtMs < fromMs).length },
  });
  const samples: Sample[] = [];
  for (const event of eventsOf(stored, athleteId, startAtMs, packets))
    for (const output of pipeline.push(event)) if (output.type === 'sample') samples.push(output.sample);
  return { athlete, pipeline, known: knownOf(stored, athlete, idPrefix), samples };
}

/** Not those of an earlier stay in the session, which the athlete's present pipeline never knew. */
const holdsOfStay = ({ holds }: StoredSession, athleteId: string, idPrefix: string) =>
  holds.filter((one) => one.athleteId === athleteId && one.hold.holdId.startsWith(`${idPrefix}hold-`));

/** In force at a time of the session; undefined where the athlete is not of it. */
function settingsAt({ athletes, settingsChanges }: StoredSession, athleteId: string, atMs: number) {
  const changed = settingsChanges.findLast((one) => one.athleteId === athleteId && one.atMs <= atMs);
  return changed?.settings ?? athletes.find((one) => one.athleteId === athleteId)?.settings;
}

/** What was told of the athlete until the recording broke off. */
function knownOf(stored: StoredSession, { athleteId, settings }: Athlete, idPrefix: string): KnownBefore {
  const { session } = stored;
  const contractionsAtMs = stored.marks
    .filter(({ mark, removed }) => mark.athleteId === athleteId && mark.kind === 'contraction' && !removed)
    .map(({ mark }) => mark.atMs);
  return {
    settings,
    holds: holdsOfStay(stored, athleteId, idPrefix)
      .filter((one) => !one.withdrawn)
      .map((one) => fromStoredHold(one, contractionsAtMs))
      .sort((one, other) => one.hold.start.atMs - other.hold.start.atMs),
    // What nobody ended is read as ended with the recording (stored-alarm.ts).
    alarms: stored.alarms
      .filter((one) => one.athleteId === athleteId && one.clearedAtMs === session.endedAtMs)
      .map(fromStoredAlarm),
    alarmIdPrefix: `${idPrefix}again-${session.unwatched.length + 1}`,
  };
}

/** As they came, from `fromMs` on: a mark counts from when it was said. */
function eventsOf(
  stored: StoredSession,
  athleteId: string,
  fromMs: number,
  packets: readonly StoredPacket[],
): readonly PipelineEvent[] {
  const placed: { readonly atMs: number; readonly event: PipelineEvent }[] = [];
  const add = (event: PipelineEvent, atMs: number = timeOfEvent(event)): void => {
    if (atMs >= fromMs) placed.push({ atMs, event });
  };
  const kindsOf = new Map(stored.sensors.map(({ sensorId, kinds }) => [sensorId, kinds]));
  const isTheirs = (sensorId: string, atMs: number): boolean =>
    wearerOf(stored.sensors, sensorId, atMs) === athleteId;
  // Of a hub that only stood still, what the sensors sent meanwhile came after.
  for (const span of stored.session.unwatched)
    if (span.cause !== 'hubStalled') add({ type: 'unwatched', fromMs: span.fromMs, atMs: span.toMs });
  for (const { sensorId, atMs, link, detail } of stored.linkEvents)
    if (isTheirs(sensorId, atMs) && !isOfLatePackets(detail))
      add({
        type: 'link',
        atMs,
        sensorId,
        measures: kindsOf.get(sensorId) ?? [],
        connected: link === 'connected',
        isNew: link === 'connecting',
      });
  for (const { sensorId, athleteId: wearer, untilMs } of stored.sensors)
    if (wearer === athleteId && untilMs !== undefined) add({ type: 'sensorGone', atMs: untilMs, sensorId });
  for (const change of stored.settingsChanges)
    if (change.athleteId === athleteId)
      add({ type: 'settings', atMs: change.atMs, settings: change.settings });
  for (const { athleteId: of, ...schedule } of stored.schedules)
    if (of === athleteId) add({ type: 'schedule', ...schedule });
  for (const { mark, removed, saidAtMs, removedAtMs } of stored.marks) {
    if (mark.athleteId !== athleteId) continue;
    const { markId, kind, atMs, text } = mark;
    const saidMs: MonotonicMs = saidAtMs ?? atMs;
    if (removed && removedAtMs === undefined) continue;
    add({ type: 'mark', mark: { markId, kind, atMs, ...(text !== null && { text }) } }, saidMs);
    if (removed && removedAtMs !== undefined) add({ type: 'markRemoved', atMs: removedAtMs, markId });
  }
  for (const { sensorId, characteristic, bytes, atMs } of packets)
    if (isTheirs(sensorId, atMs))
      placed.push({ atMs, event: { type: 'packet', atMs, sensorId, characteristic, bytes } });
  // A link or a mark before the bytes of its time; the sort keeps the order of equals.
  return placed.sort((one, other) => one.atMs - other.atMs).map(({ event }) => event);
}

/** The event by which a pipeline made anew goes on. */
export const wentUnwatched = ({ fromMs, toMs }: UnwatchedSpan, known: KnownBefore): PipelineEvent => ({
  type: 'unwatched',
  fromMs: monotonicMs(fromMs),
  atMs: toMs,
  known,
});
