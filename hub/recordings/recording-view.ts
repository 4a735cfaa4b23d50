// A stored recording with what was worked out of it, in the shape that a reviewing page is sent.

import type { AthleteRecording, CorrectionView, MeasureView, RecordingBody } from '../../shared/http.ts';
import { said } from '../../shared/said.ts';
import { wallMs } from '../../shared/units.ts';
import type { HoldView } from '../../shared/views.ts';
import { measureTable } from '../../src/holds/measure-table.ts';
import type { HoldMeasures } from '../../src/holds/measures.ts';
import { type CorrectedMarks, correctMarks } from '../../src/sessions/correct-marks.ts';
import { type CorrectionStep, correctionsInForce, lastUndone } from '../../src/sessions/correction-steps.ts';
import type { MeasuredHold } from '../../src/sessions/derive-recording.ts';
import { feelingOfHold } from '../../src/sessions/feeling-of-hold.ts';
import type { StoredSession } from '../base/ports/stored-session.ts';
import { toKeptHold } from '../recorder/to-stored.ts';
import type { CorrectedRecording } from './corrected-recording.ts';
import { holdsToldLive } from './told-live.ts';

/** The session, where this athlete is in it. */
export const athleteIn = (stored: StoredSession | undefined, athleteId: string): StoredSession | undefined =>
  stored?.athletes.some((athlete) => athlete.athleteId === athleteId) === true ? stored : undefined;

export const stepsOf = (stored: StoredSession, athleteId: string): CorrectionStep[] =>
  stored.corrections.filter((correction) => correction.athleteId === athleteId).map(({ step }) => step);

/** The athlete's marks as corrected. */
export const marksOf = (stored: StoredSession, athleteId: string): CorrectedMarks =>
  correctMarks(
    stored.marks
      .filter(({ mark, removed }) => mark.athleteId === athleteId && !removed)
      .map(({ mark }) => mark),
    stepsOf(stored, athleteId),
  );

export function recordingBodyOf(stored: StoredSession, athletes: AthleteRecording[]): RecordingBody {
  return {
    session: stored.session,
    damage: [...stored.damage],
    durationMs: stored.durationMs,
    athletes,
    sensors: stored.sensors.map((sensor) => ({
      ...sensor,
      lastPacketWallAtMs: null,
      packetCount: 0,
      discardedCount: 0,
    })),
  };
}

/** Without `derived`, holds are as they were said live, and nothing is measured. */
export function athleteRecordingOf(
  stored: StoredSession,
  athleteId: string,
  derived: CorrectedRecording | undefined,
): AthleteRecording {
  const athlete = stored.athletes.find((candidate) => candidate.athleteId === athleteId)!;
  const liveHolds = holdsToldLive(stored, athleteId);
  const withFeeling = (hold: HoldView): HoldView => {
    const endMs = hold.end?.atMs ?? stored.durationMs;
    const feeling = feelingOfHold({ startMs: hold.start.atMs, endMs }, liveHolds);
    return feeling === undefined ? hold : { ...hold, feeling };
  };
  const corrected = marksOf(stored, athleteId);
  return {
    athlete,
    workedOut: derived !== undefined,
    holds:
      derived?.holds.map(({ hold, measures, whyNot, lowestSpo2 }) => ({
        hold: withFeeling(toKeptHold(hold, lowestSpo2)),
        measures: toMeasureViews(measures, whyNot),
      })) ?? liveHolds.map((hold) => ({ hold, measures: [] })),
    estimatedHolds: derived?.estimatedHolds.map(({ hold, lowestSpo2 }) => toKeptHold(hold, lowestSpo2)) ?? [],
    corrections: derived === undefined ? [] : correctionViews(derived),
    liveHolds,
    marks: corrected.marks.map(({ mark, how, originallyAtMs }) => ({
      ...mark,
      athleteId,
      how,
      originallyAtMs,
    })),
    removedMarks: [
      ...stored.marks
        .filter((entry) => entry.removed && entry.mark.athleteId === athleteId)
        .map((entry) => entry.mark),
      ...corrected.removed.map((mark) => ({ ...mark, athleteId })),
    ],
    canRedo: lastUndone(stepsOf(stored, athleteId)) !== undefined,
    alarms: stored.alarms
      .filter((entry) => entry.athleteId === athleteId)
      .map(({ alarm, clearedAtMs }) => ({ alarm, clearedAtMs })),
    changes: stored.changes
      .filter((entry) => entry.athleteId === athleteId)
      .map(({ atMs, change, sensor, by }) => ({ atMs, change, sensorName: sensor?.name ?? null, by })),
    gaps: [
      // Of all sensors, and known before anything is worked out.
      ...stored.session.unwatched.map(({ fromMs, toMs, cause }) => ({
        sensorId: 'hub',
        fromMs,
        toMs,
        reason: said(`gap.${cause}`),
      })),
      ...(derived?.gaps.map(({ sensorId, channel, fromMs, toMs }) => ({
        sensorId,
        fromMs,
        toMs,
        reason: said(`gap.${channel}`),
      })) ?? []),
    ],
    discardedCount: derived?.discardedCount ?? 0,
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

function toMeasureViews(measures: HoldMeasures, whyNot: MeasuredHold['whyNot']): MeasureView[] {
  return measureTable.map(({ key, unit, source }) => {
    const value = measures[key] ?? null;
    const reason = whyNot[key];
    return {
      key,
      unit,
      value,
      whyNot: value !== null || reason === undefined ? null : said(`measure.why.${reason}`),
      source,
    };
  });
}
