// From a stored session back to pipeline events, and on to what a reviewing page is sent. Keeps the last few
// derivations, since a page asks for one recording many times while it zooms.

import type { AthleteRecording, MeasureView, RecordingBody } from '../shared/http.ts';

import type { AthleteSettings } from '../shared/views.ts';
import type { Hold } from '../src/holds/hold.ts';
import { measureTable } from '../src/holds/measure-table.ts';
import type { HoldMeasures } from '../src/holds/measures.ts';
import type { Pipeline, PipelineEvent } from '../src/pipeline.ts';
import { type DerivedRecording, deriveRecording } from '../src/sessions/derive-recording.ts';
import { mergeEvents } from '../src/sessions/merge-events.ts';
import type { Store, StoredSession } from './ports.ts';
import { toHoldView } from './to-view.ts';

/** Derivations kept: one for each athlete of the largest course, so that a page may flip through them. */
const keptDerivations = 16;

/** Everything that happened to one athlete of a stored session, in time order. */
export function eventsOfAthlete(
  store: Store,
  stored: StoredSession,
  athleteId: string,
): Generator<PipelineEvent> {
  const sensors = new Map(
    stored.sensors
      .filter((sensor) => sensor.athleteId === athleteId)
      .map((sensor) => [sensor.sensorId, sensor]),
  );
  const rare: PipelineEvent[] = [];
  for (const { sensorId, atMs, link } of stored.linkEvents) {
    const sensor = sensors.get(sensorId);
    if (sensor)
      rare.push({ type: 'link', atMs, sensorId, measures: sensor.kinds, connected: link === 'connected' });
  }
  for (const { mark, removed } of stored.marks) {
    if (mark.athleteId !== athleteId || removed) continue;
    rare.push({
      type: 'mark',
      mark: {
        markId: mark.markId,
        kind: mark.kind,
        atMs: mark.atMs,
        ...(mark.text !== null && { text: mark.text }),
      },
    });
  }
  for (const change of stored.settingsChanges) {
    if (change.athleteId === athleteId)
      rare.push({ type: 'settings', atMs: change.atMs, settings: change.settings });
  }
  function* packets(): Generator<PipelineEvent> {
    for (const { sensorId, characteristic, bytes, atMs } of store.readPackets(stored.session.sessionId, {
      skipDamaged: stored.damage.length > 0,
    })) {
      if (sensors.has(sensorId)) yield { type: 'packet', atMs, sensorId, characteristic, bytes };
    }
  }
  return mergeEvents(packets(), rare);
}

export interface RecordedSessions {
  /** `include` picks athletes; all of them, when left out. */
  read(sessionId: string, include?: (athleteId: string) => boolean): RecordingBody | undefined;
  derive(sessionId: string, athleteId: string): DerivedRecording | undefined;
  /** Forget what was derived of a session: it has changed or is gone. */
  forget(sessionId: string): void;
}

export function createRecordedSessions(
  store: Store,
  createPipeline: (settings: AthleteSettings) => Pipeline,
): RecordedSessions {
  const kept = new Map<string, DerivedRecording>();

  function derive(sessionId: string, athleteId: string): DerivedRecording | undefined {
    const key = `${sessionId} ${athleteId}`;
    const known = kept.get(key);
    if (known !== undefined) {
      kept.delete(key);
      kept.set(key, known);
      return known;
    }
    const stored = store.readSession(sessionId);
    const athlete = stored?.athletes.find((candidate) => candidate.athleteId === athleteId);
    if (stored === undefined || athlete === undefined) return undefined;
    const derived = deriveRecording(
      createPipeline(athlete.settings),
      eventsOfAthlete(store, stored, athleteId),
      stored.durationMs,
    );
    // A session still being recorded grows: what was derived of it is not kept.
    if (stored.session.status !== 'recording') {
      kept.set(key, derived);
      const oldest = kept.keys().next().value;
      if (kept.size > keptDerivations && oldest !== undefined) kept.delete(oldest);
    }
    return derived;
  }

  function athleteRecording(stored: StoredSession, athleteId: string): AthleteRecording | undefined {
    const athlete = stored.athletes.find((candidate) => candidate.athleteId === athleteId);
    const derived = derive(stored.session.sessionId, athleteId);
    if (athlete === undefined || derived === undefined) return undefined;
    const ownMarks = stored.marks.filter(({ mark }) => mark.athleteId === athleteId);
    return {
      athlete,
      holds: derived.holds.map(({ hold, measures, lowestSpo2 }) => ({
        hold: toHoldView(hold, lowestSpo2),
        measures: toMeasureViews(measures, hold),
      })),
      liveHolds: stored.holds
        .filter((entry) => entry.athleteId === athleteId && !entry.withdrawn)
        .map((entry) => entry.hold),
      marks: ownMarks.filter((entry) => !entry.removed).map((entry) => entry.mark),
      removedMarks: ownMarks.filter((entry) => entry.removed).map((entry) => entry.mark),
      alarms: stored.alarms
        .filter((entry) => entry.athleteId === athleteId)
        .map(({ alarm, clearedAtMs }) => ({ alarm, clearedAtMs })),
      gaps: derived.gaps.map(({ sensorId, channel, fromMs, toMs }) => ({
        sensorId,
        fromMs,
        toMs,
        reason: `no ${channelWords[channel]}`,
      })),
      discardedCount: derived.discardedCount,
    };
  }

  return {
    derive,
    read(sessionId, include = () => true) {
      const stored = store.readSession(sessionId);
      if (stored === undefined) return undefined;
      return {
        session: stored.session,
        damage: [...stored.damage],
        durationMs: stored.durationMs,
        athletes: stored.athletes
          .filter(({ athleteId }) => include(athleteId))
          .flatMap(({ athleteId }) => athleteRecording(stored, athleteId) ?? []),
        sensors: stored.sensors.map((sensor) => ({
          ...sensor,
          lastPacketWallAtMs: null,
          packetCount: 0,
          discardedCount: 0,
        })),
      };
    },
    forget(sessionId) {
      for (const key of [...kept.keys()]) if (key.startsWith(`${sessionId} `)) kept.delete(key);
    },
  };
}

const channelWords = {
  heartRateBpm: 'heart rate',
  rrIntervalMs: 'beat intervals',
  spo2Percent: 'saturation',
  pulseRateBpm: 'pulse rate',
  perfusionIndexPercent: 'perfusion index',
  pleth: 'pleth waveform',
} as const;

function toMeasureViews(measures: HoldMeasures, hold: Hold): MeasureView[] {
  return measureTable.map(({ key, label, unit, definition, source }) => {
    const value = measures[key] ?? null;
    const whyNot =
      hold.end === undefined
        ? 'the hold has no end in this recording'
        : 'the signals and marks of this hold do not tell';
    return { key, label, unit, value, whyNot: value === null ? whyNot : null, definition, source };
  });
}
