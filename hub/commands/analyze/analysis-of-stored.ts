// One athlete's part of a session that a hub recorded, from its store or from a session file, as an analysis: the very
// holds and measures that its page shows, corrections and all, beside the alarms that the live pipeline raises.

import { type Said, said } from '../../../shared/said.ts';
import { computeSessionMeasures } from '../../../src/holds/measures.ts';
import { createPipeline, pipelineFactory } from '../../../src/pipeline.ts';
import type { SensorProfile } from '../../../src/profiles/sensor-profile.ts';
import { applyCorrections } from '../../../src/sessions/apply-corrections.ts';
import { correctionsInForce } from '../../../src/sessions/correction-steps.ts';
import { deriveRecording, measureHolds } from '../../../src/sessions/derive-recording.ts';
import type { StoredPacket, StoredSession } from '../../base/ports/stored-session.ts';
import { marksOf, stepsOf } from '../../recordings/recording-view.ts';
import { eventsOfPackets, liveHoldsOf } from '../../recordings/review/session-events.ts';
import { toAnalysisJson } from './analysis-json.ts';
import type { FileAnalysis } from './analysis-of-file.ts';
import { settingsWith } from './analysis-settings.ts';

export interface SessionToAnalyse {
  readonly stored: StoredSession;
  readonly athleteId: string;
  readonly profiles: readonly SensorProfile[];
  /** Gone through twice. */
  packets(): Iterable<StoredPacket>;
  readonly notices: readonly Said[];
}

export function analysisOfStored(
  session: SessionToAnalyse,
  floorPercent: number | undefined,
  onAnalysing?: (share: number) => void,
): FileAnalysis {
  const { stored, athleteId, profiles } = session;
  const { durationMs } = stored;
  const { unwatched, simulated } = stored.session;
  const athlete = stored.athletes.find((each) => each.athleteId === athleteId)!;
  const share = (begin: number) => (reachedMs: number) =>
    onAnalysing?.(begin + (0.5 * reachedMs) / Math.max(1, durationMs));
  const events = () => eventsOfPackets(stored, athleteId, session.packets());
  // As a review works it out (review-task.ts): by what was said live, without guessing again what was.
  const derived = deriveRecording(
    pipelineFactory(profiles)(athlete.settings, { scope: 'signals' }),
    events(),
    durationMs,
    { liveHolds: liveHoldsOf(stored, athleteId), unwatched, onProgress: share(0) },
  );
  const { alarms } = deriveRecording(
    createPipeline(settingsWith(athlete.settings, floorPercent), profiles),
    events(),
    durationMs,
    { unwatched, onProgress: share(0.5) },
  );
  const steps = stepsOf(stored, athleteId);
  const holds =
    correctionsInForce(steps).length === 0
      ? derived.holds
      : measureHolds(
          applyCorrections(
            derived.holds.map(({ hold }) => hold),
            steps,
            marksOf(stored, athleteId).marks.flatMap(({ mark }) =>
              mark.kind === 'contraction' ? mark.atMs : [],
            ),
          ).holds,
          derived.samples,
          derived.plethSeconds,
          unwatched,
        );
  return {
    analysis: toAnalysisJson({ ...derived, holds, alarms }),
    session: computeSessionMeasures(
      holds.map(({ hold }) => hold),
      holds.map(({ measures }) => measures),
    ),
    simulated,
    durationMs,
    notices: [...session.notices, ...(simulated ? [said('import.simulated')] : [])],
  };
}
