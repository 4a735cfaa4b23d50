// From a stored session back to pipeline events, and on to what a reviewing page is sent. Keeps the last few
// derivations, since a page asks for one recording many times while it zooms.

import type { AthleteRecording, CorrectionView, MeasureView, RecordingBody } from '../shared/http.ts';
import type { Channel } from '../shared/schema-parts.ts';
import { wallMs } from '../shared/units.ts';
import type { HoldView } from '../shared/views.ts';
import type { Hold } from '../src/holds/hold.ts';
import { measureTable } from '../src/holds/measure-table.ts';
import type { HoldMeasures } from '../src/holds/measures.ts';
import type { PipelineEvent, PipelineFactory } from '../src/pipeline.ts';
import {
  applyCorrections,
  type CorrectionStep,
  correctionsInForce,
} from '../src/sessions/apply-corrections.ts';
import {
  type DerivedRecording,
  deriveRecording,
  type MeasuredHold,
  measureHolds,
} from '../src/sessions/derive-recording.ts';
import { feelingOfHold } from '../src/sessions/feeling-of-hold.ts';
import { mergeEvents } from '../src/sessions/merge-events.ts';
import { createSampleColumns, type SampleColumns } from '../src/sessions/sample-columns.ts';
import { sensorSamples } from '../src/sessions/sensor-samples.ts';
import type { Store, StoredSession } from './ports.ts';
import { toHoldView } from './to-view.ts';

/** Derivations kept: one for each athlete of the largest course, so that a page may flip through them. */
const keptDerivations = 16;
/** Raw signals kept: a look at what was sent is rare. */
const keptRawCount = 2;

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

/** What the live detector said and did not take back. */
function liveHoldsOf(stored: StoredSession, athleteId: string): Hold[] {
  return stored.holds
    .filter((entry) => entry.athleteId === athleteId && !entry.withdrawn)
    .map(({ hold: { holdId, start, end } }) => ({
      holdId,
      start,
      ...(end !== null && { end }),
      contractionsAtMs: [],
    }));
}

/** A derivation whose `holds` are as corrected by hand; the estimate stands beside. */
export interface CorrectedRecording extends DerivedRecording {
  readonly estimatedHolds: readonly MeasuredHold[];
  /** Of this athlete, undone ones too, in the order they were made. */
  readonly correctionSteps: readonly CorrectionStep[];
  /** In force, but the hold they correct is not found any more. */
  readonly stepsWithoutHold: readonly CorrectionStep[];
}

export interface RecordedSessions {
  /** `include` picks athletes; all of them, when left out. */
  read(sessionId: string, include?: (athleteId: string) => boolean): RecordingBody | undefined;
  readAthlete(sessionId: string, athleteId: string): AthleteRecording | undefined;
  derive(sessionId: string, athleteId: string): CorrectedRecording | undefined;
  /** True when a recording is at hand; working one out takes the hub's whole attention for a second or more. */
  isWorkedOut(sessionId: string): boolean;
  /** Every sample by channel as the sensors sent it: quality is what the sensor itself said, no more. */
  raw(sessionId: string, athleteId: string): ReadonlyMap<Channel, SampleColumns> | undefined;
  /** Call after a correction was added: the next reading has it. What was derived of the signals is kept. */
  corrected(sessionId: string, athleteId: string): void;
  /** Forget what was derived of a session: it has changed or is gone. */
  forget(sessionId: string): void;
}

export function createRecordedSessions(store: Store, createPipeline: PipelineFactory): RecordedSessions {
  const kept = new Map<string, DerivedRecording>();
  const keptCorrected = new Map<string, CorrectedRecording>();
  const keptRaw = new Map<string, ReadonlyMap<Channel, SampleColumns>>();

  function derive(sessionId: string, athleteId: string): CorrectedRecording | undefined {
    const key = `${sessionId} ${athleteId}`;
    const known = keptCorrected.get(key);
    if (known !== undefined && kept.has(key)) {
      estimate(sessionId, athleteId);
      return known;
    }
    const derived = estimate(sessionId, athleteId);
    const stored = store.readSession(sessionId);
    if (derived === undefined || stored === undefined) return undefined;
    const corrected = correct(stored, athleteId, derived);
    if (kept.has(key)) keptCorrected.set(key, corrected);
    return corrected;
  }

  function correct(stored: StoredSession, athleteId: string, derived: DerivedRecording): CorrectedRecording {
    const steps = stored.corrections
      .filter((correction) => correction.athleteId === athleteId)
      .map(({ step }) => step);
    if (correctionsInForce(steps).length === 0)
      return {
        ...derived,
        estimatedHolds: derived.holds,
        correctionSteps: steps,
        stepsWithoutHold: [],
      };
    const contractionsAtMs = stored.marks
      .filter(({ mark, removed }) => mark.athleteId === athleteId && mark.kind === 'contraction' && !removed)
      .map(({ mark }) => mark.atMs)
      .sort((a, b) => a - b);
    const { holds, withoutHold } = applyCorrections(
      derived.holds.map(({ hold }) => hold),
      steps,
      contractionsAtMs,
    );
    return {
      ...derived,
      holds: measureHolds(holds, derived.samples),
      estimatedHolds: derived.holds,
      correctionSteps: steps,
      stepsWithoutHold: withoutHold,
    };
  }

  /** Without corrections. */
  function estimate(sessionId: string, athleteId: string): DerivedRecording | undefined {
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
      createPipeline(athlete.settings, { scope: 'signals' }),
      eventsOfAthlete(store, stored, athleteId),
      stored.durationMs,
      { liveHolds: liveHoldsOf(stored, athleteId) },
    );
    // A session still being recorded grows: what was derived of it is not kept.
    if (stored.session.status !== 'recording') {
      kept.set(key, derived);
      const oldest = kept.keys().next().value;
      if (kept.size > keptDerivations && oldest !== undefined) {
        kept.delete(oldest);
        keptCorrected.delete(oldest);
      }
    }
    return derived;
  }

  function athleteRecording(stored: StoredSession, athleteId: string): AthleteRecording | undefined {
    const athlete = stored.athletes.find((candidate) => candidate.athleteId === athleteId);
    const derived = derive(stored.session.sessionId, athleteId);
    if (athlete === undefined || derived === undefined) return undefined;
    const liveHolds = stored.holds
      .filter((entry) => entry.athleteId === athleteId && !entry.withdrawn)
      .map((entry) => entry.hold);
    const withFeeling = (hold: HoldView): HoldView => {
      const endMs = hold.end?.atMs ?? stored.durationMs;
      const feeling = feelingOfHold({ startMs: hold.start.atMs, endMs }, liveHolds);
      return feeling === undefined ? hold : { ...hold, feeling };
    };
    const ownMarks = stored.marks.filter(({ mark }) => mark.athleteId === athleteId);
    return {
      athlete,
      holds: derived.holds.map(({ hold, measures, lowestSpo2 }) => ({
        hold: withFeeling(toHoldView(hold, lowestSpo2)),
        measures: toMeasureViews(measures, hold),
      })),
      estimatedHolds: derived.estimatedHolds.map(({ hold, lowestSpo2 }) => toHoldView(hold, lowestSpo2)),
      corrections: correctionViews(derived),
      liveHolds,
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

  function raw(sessionId: string, athleteId: string): ReadonlyMap<Channel, SampleColumns> | undefined {
    const key = `${sessionId} ${athleteId}`;
    const known = keptRaw.get(key);
    if (known !== undefined) return known;
    const stored = store.readSession(sessionId);
    if (stored === undefined) return undefined;
    const columns = new Map<Channel, SampleColumns>();
    for (const { channel, atMs, value, quality } of sensorSamples(
      eventsOfAthlete(store, stored, athleteId),
    )) {
      const own = columns.get(channel) ?? createSampleColumns();
      columns.set(channel, own);
      own.append(atMs, value, quality);
    }
    if (stored.session.status !== 'recording') {
      keptRaw.set(key, columns);
      const oldest = keptRaw.keys().next().value;
      if (keptRaw.size > keptRawCount && oldest !== undefined) keptRaw.delete(oldest);
    }
    return columns;
  }

  return {
    derive,
    isWorkedOut(sessionId) {
      const athletes = store.readSession(sessionId)?.athletes ?? [];
      return athletes.every(({ athleteId }) => kept.has(`${sessionId} ${athleteId}`));
    },
    raw,
    readAthlete(sessionId, athleteId) {
      const stored = store.readSession(sessionId);
      return stored === undefined ? undefined : athleteRecording(stored, athleteId);
    },
    corrected(sessionId, athleteId) {
      keptCorrected.delete(`${sessionId} ${athleteId}`);
    },
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
      for (const key of [...kept.keys()]) {
        if (!key.startsWith(`${sessionId} `)) continue;
        kept.delete(key);
        keptCorrected.delete(key);
      }
      for (const key of [...keptRaw.keys()]) if (key.startsWith(`${sessionId} `)) keptRaw.delete(key);
    },
  };
}

function correctionViews({ correctionSteps, stepsWithoutHold }: CorrectedRecording): CorrectionView[] {
  const inForce = new Set(correctionsInForce(correctionSteps));
  const lost = new Set(stepsWithoutHold);
  return correctionSteps.flatMap((step): CorrectionView[] => {
    const { correctionId, madeWallAtMs, correction } = step;
    if (correction.type === 'undo') return [];
    const state = lost.has(step) ? 'holdNotFound' : inForce.has(step) ? 'inForce' : 'undone';
    return [{ correctionId, madeWallAtMs: wallMs(madeWallAtMs), correction, state }];
  });
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
