// Makes a labelled extract of a recording: what the sensors sent and what a person marked, on a time that begins at 0.
// Nothing that names a person, a sensor, a place or a day goes in; texts of marks stay out.

import type { LabelledExtract } from '../../../shared/labelled-extract.ts';
import type { Channel, MarkKind } from '../../../shared/schema-parts.ts';
import type { Hold } from '../../holds/hold.ts';
import type { Sample } from '../../samples/sample.ts';

export interface RecordingForExtract {
  readonly simulated: boolean;
  readonly durationMs: number;
  /** As the sensors sent them, in time order. */
  readonly samples: readonly Sample[];
  /** As corrected. */
  readonly holds: readonly Hold[];
  readonly marks: readonly { readonly kind: MarkKind; readonly atMs: number }[];
}

const bySomeone = ({ start, end }: Hold): boolean =>
  start.source !== 'detected' && end !== undefined && end.source !== 'detected';

/** Samples that their sensor called bad are left out. `lungs` and the oximeter's place are for the person to add. */
export function extractOfRecording(recording: RecordingForExtract): LabelledExtract {
  const sensorNumbers = new Map<string, number>();
  const series = new Map<string, { channel: Channel; sensor: number; timesMs: number[]; values: number[] }>();
  for (const { channel, sensorId, atMs, value, quality } of recording.samples) {
    if (quality === 'bad' || !Number.isFinite(value)) continue;
    const sensor = sensorNumbers.get(sensorId) ?? sensorNumbers.size + 1;
    sensorNumbers.set(sensorId, sensor);
    const key = `${channel} ${sensor}`;
    const own = series.get(key) ?? { channel, sensor, timesMs: [], values: [] };
    series.set(key, own);
    own.timesMs.push(Math.round(atMs));
    own.values.push(value);
  }
  const holds = recording.holds
    .filter(bySomeone)
    .map(({ start, end }) => ({
      startMs: Math.round(start.atMs),
      endMs: Math.round(end!.atMs),
      lungs: null,
    }))
    .filter(({ startMs, endMs }) => endMs > startMs)
    .sort((a, b) => a.startMs - b.startMs);
  return {
    format: 'slackwater labelled extract',
    version: 1,
    simulated: recording.simulated,
    durationMs: Math.round(recording.durationMs),
    everyHoldIsMarked: false,
    oximeter: null,
    series: [...series.values()],
    holds,
    contractionsMs: recording.marks
      .filter(({ kind }) => kind === 'contraction')
      .map(({ atMs }) => Math.round(atMs)),
  };
}
