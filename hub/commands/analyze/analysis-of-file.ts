// One file, whatever import reads, as an analysis: its holds with their measures, and the alarms of the live pipeline.

import { type Said, said } from '../../../shared/said.ts';
import { monotonicMs } from '../../../shared/units.ts';
import { computeSessionMeasures, type SessionMeasures } from '../../../src/holds/measures.ts';
import { createPipeline, type PipelineEvent } from '../../../src/pipeline.ts';
import { deriveRecording } from '../../../src/sessions/derive-recording.ts';
import type { ImportedRecording } from '../../../src/sessions/imported-recording.ts';
import { recordingOfFile, sessionOfFile } from '../../recordings/import/recording-of-file.ts';
import { type AnalysisJson, toAnalysisJson } from './analysis-json.ts';
import { analysisOfStored } from './analysis-of-stored.ts';
import { settingsWith } from './analysis-settings.ts';

export interface FileAnalysis {
  readonly analysis: AnalysisJson;
  readonly session: SessionMeasures;
  readonly simulated: boolean;
  readonly durationMs: number;
  /** How the file was understood, and what a person should know of it. */
  readonly notices: readonly Said[];
}

/** Throws HubError with one sentence for a file that cannot be read. */
export function analysisOfFile(
  path: string,
  floorPercent: number | undefined,
  onReading?: (share: number) => void,
  onAnalysing?: (share: number) => void,
): FileAnalysis {
  const session = sessionOfFile(path, onReading);
  if (session !== undefined)
    return analysisOfStored({ ...session, packets: () => session.packets }, floorPercent, onAnalysing);
  const recording = recordingOfFile(path, onReading);
  const { durationMs, simulated } = recording;
  const derived = deriveRecording(
    createPipeline(settingsWith(undefined, floorPercent)),
    eventsOf(recording),
    durationMs,
    { onProgress: (reachedMs) => onAnalysing?.(reachedMs / Math.max(1, durationMs)) },
  );
  return {
    analysis: toAnalysisJson(derived),
    session: computeSessionMeasures(
      derived.holds.map(({ hold }) => hold),
      derived.holds.map(({ measures }) => measures),
    ),
    simulated,
    durationMs,
    notices: [
      ...(recording.format === 'longCsv' ? [] : [recording.readAs]),
      ...recording.notices,
      ...(simulated ? [said('import.simulated')] : []),
    ],
  };
}

function* eventsOf({ samples, marks }: ImportedRecording): Generator<PipelineEvent> {
  let nextMark = 0;
  function* marksUntil(untilMs: number): Generator<PipelineEvent> {
    for (; nextMark < marks.length && marks[nextMark]!.atMs <= untilMs; nextMark += 1) {
      const { kind, atMs, text } = marks[nextMark]!;
      const markId = `mark-${nextMark + 1}`;
      yield {
        type: 'mark',
        mark: { markId, kind, atMs: monotonicMs(atMs), ...(text !== null && { text }) },
      };
    }
  }
  for (const { channel, atMs, value, quality } of samples) {
    yield* marksUntil(atMs);
    // A file does not say which sensor; heart rate and intervals come from one, the rest from the other.
    const fromStrap = channel === 'heartRateBpm' || channel === 'rrIntervalMs';
    yield {
      type: 'sample',
      sample: {
        channel,
        atMs: monotonicMs(atMs),
        value,
        sensorId: fromStrap ? 'file-strap' : 'file-oximeter',
        quality,
        reasons: [],
      },
    };
  }
  yield* marksUntil(Number.POSITIVE_INFINITY);
}
