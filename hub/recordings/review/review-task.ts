// What a review asks to be worked out, and the working out itself. It knows no store and no thread: packets are given
// to it, and it runs wherever it is called.

import type { StoredPlanRun } from '../../../shared/plan-run.ts';
import type { Channel } from '../../../shared/schema-parts.ts';
import { monotonicMs, wallMs } from '../../../shared/units.ts';
import type { Hold } from '../../../src/holds/hold.ts';
import { pipelineFactory } from '../../../src/pipeline.ts';
import type { SensorProfile } from '../../../src/profiles/sensor-profile.ts';
import { characteristicOf, profileOfStream } from '../../../src/profiles/stream-name.ts';
import type { Sample } from '../../../src/samples/sample.ts';
import { applyCorrections } from '../../../src/sessions/apply-corrections.ts';
import type { CorrectedMarks } from '../../../src/sessions/correct-marks.ts';
import { type CorrectionStep, correctionsInForce } from '../../../src/sessions/correction-steps.ts';
import {
  type DerivedGap,
  deriveRecording,
  type MeasuredHold,
  measureHolds,
} from '../../../src/sessions/derive-recording.ts';
import { waveCharacteristic } from '../../../src/sessions/exact-packet.ts';
import { type PackedSamples, packSamples, unpackSamples } from '../../../src/sessions/packed-samples.ts';
import {
  type ColumnBuffers,
  createSampleColumns,
  type SampleColumns,
} from '../../../src/sessions/sample-columns.ts';
import { samplesAsSent } from '../../../src/sessions/sensor-samples.ts';
import { type SessionSummary, summariseSession } from '../../../src/sessions/session-summary.ts';
import type { PlethSecond } from '../../../src/signal/pleth-breathing.ts';
import type { PacketColumns, StoredPacket, StoredSession } from '../../base/ports/stored-session.ts';
import {
  csvFile,
  edfFile,
  extractFile,
  fhirFile,
  measuresFile,
  parquetFile,
  type RecordingToExport,
  wfdbFile,
} from '../export/recording-files.ts';
import { sessionArchive } from '../export/session-archive.ts';
import { holdsToldLive } from '../told-live.ts';
import { eventsOfPackets, liveHoldsOf } from './session-events.ts';

/** One athlete of a stored session; `profiles` read its sensors. Everything in a task can be cloned. */
export interface ReviewSubject {
  readonly stored: StoredSession;
  readonly athleteId: string;
  readonly profiles: readonly SensorProfile[];
}

export const fileFormats = [
  'session',
  'csv',
  'measures',
  'edf',
  'fhir',
  'parquet',
  'wfdb',
  'extract',
] as const;
export type FileFormat = (typeof fileFormats)[number];

export type ReviewTask =
  /** From the packets: what the sensors sent, then samples with their quality, gaps, and holds with measures. */
  | { readonly type: 'derive'; readonly subject: ReviewSubject }
  /** From the packets: the few figures of each hold that weeks are looked back over, as corrected. */
  | {
      readonly type: 'summarise';
      readonly subject: ReviewSubject;
      /** As corrected. */
      readonly marks: CorrectedMarks['marks'];
      readonly correctionSteps: readonly CorrectionStep[];
    }
  /** Measures of other holds than were found; takes no packets. */
  | {
      readonly type: 'measure';
      readonly holds: readonly Hold[];
      readonly samples: PackedSamples;
      readonly plethSeconds: ReadonlyMap<number, PlethSecond>;
      readonly unwatched: StoredSession['session']['unwatched'];
    }
  /** From the packets: a file for other programs. */
  | {
      readonly type: 'file';
      readonly format: FileFormat;
      readonly subject: ReviewSubject;
      readonly holds: readonly MeasuredHold[];
      readonly gaps: readonly DerivedGap[];
      /** Those run in the session, for a session file. */
      readonly planRuns: readonly StoredPlanRun[];
    };

export type ChannelBuffers = ReadonlyMap<Channel, ColumnBuffers>;

/** What is known of a recording after working it out, without what stands in the store. */
export interface WorkedOut {
  /** With the quality the pipeline gave. */
  readonly cleaned: ChannelBuffers;
  /** As the sensors sent them. */
  readonly sent: ChannelBuffers;
  /** All but waveforms, to measure other holds by. */
  readonly samples: PackedSamples;
  readonly plethSeconds: ReadonlyMap<number, PlethSecond>;
  readonly gaps: readonly DerivedGap[];
  readonly discardedCount: number;
  readonly holds: readonly MeasuredHold[];
}

/** Said on the way. */
export type ReviewNews =
  /** About how much of the work is done, 0 to 1. */
  | { readonly type: 'progress'; readonly share: number }
  /** What standard sensors sent, by channel, waves left out: for a page to draw long before the rest is known. */
  | { readonly type: 'preview'; readonly sent: ChannelBuffers };

export interface ReviewResults {
  readonly derive: WorkedOut;
  readonly summarise: SessionSummary;
  readonly measure: readonly MeasuredHold[];
  readonly file: Uint8Array<ArrayBuffer>;
}
export type ResultOf<Task extends ReviewTask> = ReviewResults[Task['type']];

/** Reading the packets and running the pipeline over them is about this much of the work; finding holds is the rest. */
const signalsShare = 0.6;

export function runReviewTask<Task extends ReviewTask>(
  task: Task,
  packets: readonly StoredPacket[],
  tell: (news: ReviewNews) => void,
): ResultOf<Task> {
  // The type of the result follows from the type of the task, which the compiler cannot see in a switch.
  return run(task, packets, tell) as ResultOf<Task>;
}

function run(
  task: ReviewTask,
  packets: readonly StoredPacket[],
  tell: (news: ReviewNews) => void,
): ReviewResults[keyof ReviewResults] {
  switch (task.type) {
    case 'derive':
      return derive(task.subject, packets, tell);
    case 'summarise':
      return summarise(task, packets);
    case 'measure':
      return measureHolds(task.holds, unpackSamples(task.samples), task.plethSeconds, task.unwatched);
    case 'file':
      return file(task, packets);
  }
}

function derive(
  subject: ReviewSubject,
  packets: readonly StoredPacket[],
  tell: (news: ReviewNews) => void,
): WorkedOut {
  const { stored, athleteId, profiles } = subject;
  // Of one reading of the packets with what is judged: decoding a wave twice took a seventh of the work.
  const sent = new SentColumns();
  const athlete = stored.athletes.find((candidate) => candidate.athleteId === athleteId)!;
  const derived = deriveRecording(
    pipelineFactory(profiles)(athlete.settings, { scope: 'signals', onSent: (sample) => sent.take(sample) }),
    eventsOfPackets(stored, athleteId, packets),
    stored.durationMs,
    {
      liveHolds: liveHoldsOf(stored, athleteId),
      unwatched: stored.session.unwatched,
      onProgress: (reachedMs) =>
        tell({ type: 'progress', share: (signalsShare * reachedMs) / Math.max(1, stored.durationMs) }),
    },
  );
  const { columns, samples, plethSeconds, gaps, discardedCount, holds } = derived;
  return {
    cleaned: buffersOf(columns),
    sent: buffersOf(sent.byChannel),
    samples: packSamples(samples),
    plethSeconds,
    gaps,
    discardedCount,
    holds,
  };
}

function summarise(
  { subject, marks, correctionSteps }: Extract<ReviewTask, { type: 'summarise' }>,
  packets: readonly StoredPacket[],
): SessionSummary {
  const { stored, athleteId, profiles } = subject;
  const { unwatched } = stored.session;
  const athlete = stored.athletes.find((candidate) => candidate.athleteId === athleteId)!;
  const derived = deriveRecording(
    pipelineFactory(profiles)(athlete.settings, { scope: 'signals' }),
    eventsOfPackets(stored, athleteId, packets),
    stored.durationMs,
    { liveHolds: liveHoldsOf(stored, athleteId), unwatched, withoutColumns: true },
  );
  const said = marks.map(({ mark }) => mark);
  let { holds } = derived;
  if (correctionsInForce(correctionSteps).length > 0) {
    const corrected = applyCorrections(
      holds.map(({ hold }) => hold),
      correctionSteps,
      said.flatMap(({ kind, atMs }) => (kind === 'contraction' ? atMs : [])),
    );
    holds = measureHolds(corrected.holds, derived.samples, derived.plethSeconds, unwatched);
  }
  return summariseSession(
    holds.filter(({ hold }) => hold.proposed !== true),
    { marks: said, liveHolds: holdsToldLive(stored, athleteId) },
  );
}

/** Samples as sensors sent them, by channel. */
class SentColumns {
  readonly byChannel = new Map<Channel, SampleColumns>();

  take({ channel, atMs, value, quality }: Sample): void {
    let columns = this.byChannel.get(channel);
    if (columns === undefined) {
      columns = createSampleColumns();
      this.byChannel.set(channel, columns);
    }
    columns.append(atMs, value, quality);
  }
}

/** True for packets that a preview reads: few, and quick to read. */
export function isForPreview(stream: string, profiles: readonly SensorProfile[]): boolean {
  if (stream === waveCharacteristic) return false;
  const profile = profileOfStream(profiles, stream);
  return !(profile?.link.notify === characteristicOf(stream) && profile.fields.some(isWave));
}
const isWave = ({ gives }: SensorProfile['fields'][number]): boolean => gives === 'pleth';

/** `streams` in the order of their packets. */
export function previewOf(subject: ReviewSubject, streams: readonly PacketColumns[]): ChannelBuffers {
  const { stored, athleteId, profiles } = subject;
  const sent = new SentColumns();
  for (const sample of samplesAsSent(eventsOfPackets(stored, athleteId, packetsOf(streams)), profiles))
    sent.take(sample);
  return buffersOf(sent.byChannel);
}

function* packetsOf(streams: readonly PacketColumns[]): Generator<StoredPacket> {
  for (const { sensorId, characteristic, atMs, wallAtMs, offsets, bytes } of streams)
    for (let index = 0; index < atMs.length; index += 1)
      yield {
        sensorId,
        characteristic,
        bytes: bytes.subarray(offsets[index], offsets[index + 1]),
        atMs: monotonicMs(atMs[index]!),
        wallAtMs: wallMs(wallAtMs[index]!),
      };
}

const buffersOf = (
  columns: ReadonlyMap<Channel, { readonly buffers: () => ColumnBuffers }>,
): ChannelBuffers => new Map([...columns].map(([channel, own]) => [channel, own.buffers()]));

function file(
  { subject, format, holds, gaps, planRuns }: Extract<ReviewTask, { type: 'file' }>,
  packets: readonly StoredPacket[],
): Uint8Array<ArrayBuffer> {
  const { stored, athleteId, profiles } = subject;
  if (format === 'session')
    return new Uint8Array(sessionArchive({ stored, athleteId, profiles, packets, planRuns }));
  const recording: RecordingToExport = {
    stored,
    athlete: stored.athletes.find((candidate) => candidate.athleteId === athleteId)!,
    events: eventsOfPackets(stored, athleteId, packets),
    profiles,
    holds,
    gaps,
  };
  if (format === 'edf') return new Uint8Array(edfFile(recording));
  if (format === 'parquet') return new Uint8Array(parquetFile(recording));
  if (format === 'wfdb') return new Uint8Array(wfdbFile(recording));
  const encoder = new TextEncoder();
  if (format === 'fhir') return encoder.encode(fhirFile(recording));
  if (format === 'measures') return encoder.encode(measuresFile(recording));
  if (format === 'extract') return encoder.encode(extractFile(recording));
  const chunks = [...csvFile(recording)].map((chunk) => encoder.encode(chunk));
  const bytes = new Uint8Array(chunks.reduce((sum, chunk) => sum + chunk.length, 0));
  let at = 0;
  for (const chunk of chunks) {
    bytes.set(chunk, at);
    at += chunk.length;
  }
  return bytes;
}

/** The buffers in news or a result that a thread may hand over instead of copying. */
export function buffersToHandOver(value: unknown): ArrayBuffer[] {
  const found: ArrayBuffer[] = [];
  const look = (each: unknown): void => {
    if (ArrayBuffer.isView(each)) {
      if (each.buffer instanceof ArrayBuffer) found.push(each.buffer);
    } else if (each instanceof Map) for (const inner of each.values()) look(inner);
    else if (typeof each === 'object' && each !== null && !Array.isArray(each))
      for (const inner of Object.values(each)) look(inner);
  };
  look(value);
  return found;
}
