// A recording read from a file, as the parts of a session that the store takes: sealed packets, marks, and the holds the
// live detector would have said. One part at a time, so that memory does not grow with the recording.

import { monotonicMs, wallMs } from '../../../shared/units.ts';
import type { AthleteSettings } from '../../../shared/views.ts';
import type { SessionContent } from '../../../src/formats/session-file/session-content.ts';
import type { Hold } from '../../../src/holds/hold.ts';
import { createPipeline, type PipelineEvent } from '../../../src/pipeline.ts';
import type { Sample } from '../../../src/samples/sample.ts';
import { lowestSpo2Of } from '../../../src/sessions/derive-recording.ts';
import type { ImportedMark, ImportedSample } from '../../../src/sessions/imported-recording.ts';
import type { SealedChunk } from '../../base/ports/session-log.ts';
import type { StoredHold, StoredPacket } from '../../base/ports/stored-session.ts';
import { encodeChunk, isChunkOf } from '../../recorder/packet-chunk.ts';
import { toKeptHold } from '../../recorder/to-stored.ts';
import { packetsOfSamples } from './packets-of-samples.ts';
import type { SessionFile } from './session-of-file.ts';

export interface RecordingToStore {
  /** In time order, from 0. */
  readonly samples: Iterable<ImportedSample>;
  readonly marks: readonly ImportedMark[];
  /** Any rate of a strap at all: without, intervals give the rate. */
  readonly hasRates: boolean;
  readonly startedWallAtMs: number;
  readonly durationMs: number;
  /** Of the athlete it is for. */
  readonly settings: AthleteSettings;
}

export type SessionPart =
  | { readonly type: 'packets'; readonly chunk: SealedChunk; readonly reachedMs: number }
  /** What a session file holds beside packets, whole. */
  | { readonly type: 'kept'; readonly content: SessionContent }
  | { readonly type: 'marks'; readonly marks: readonly ImportedMark[] }
  | {
      readonly type: 'end';
      readonly holds: readonly StoredHold['hold'][];
      readonly leftOutCount: number;
    };

export const importSensorIds = { strap: 'import:strap', oximeter: 'import:oximeter' } as const;

/** Samples made to packets together: readings of one moment are in one packet. */
const sliceMs = 10_000;
const mostSliceSamples = 50_000;
/** A sealed chunk of this is a millisecond or two of the hub's time. */
const chunkBytes = 2 ** 17;
const packetOverheadBytes = 20;
const marksPerPart = 250;

export function* sessionParts(recording: RecordingToStore): Generator<SessionPart> {
  const { marks, hasRates, startedWallAtMs, durationMs } = recording;
  const live = createLiveHolds(recording.settings);
  let leftOutCount = 0;
  let nextMark = 0;
  const marksUntil = (atMs: number): void => {
    for (; nextMark < marks.length && marks[nextMark]!.atMs <= atMs; nextMark += 1)
      live.push(eventOfMark(marks[nextMark]!, nextMark));
  };
  function* packets(): Generator<StoredPacket> {
    for (const slice of slicesOf(recording.samples)) {
      const made = packetsOfSamples(slice, hasRates);
      leftOutCount += made.leftOutCount;
      for (const { device, characteristic, atMs, bytes } of made.packets) {
        const sensorId = importSensorIds[device];
        marksUntil(atMs);
        live.push({ type: 'packet', atMs, sensorId, characteristic, bytes });
        yield { sensorId, characteristic, bytes, atMs, wallAtMs: wallMs(startedWallAtMs + atMs) };
      }
    }
  }
  yield* sealedParts(packets());
  marksUntil(Number.POSITIVE_INFINITY);
  live.push({ type: 'advance', atMs: monotonicMs(durationMs) });
  for (let at = 0; at < marks.length; at += marksPerPart)
    yield { type: 'marks', marks: marks.slice(at, at + marksPerPart) };
  yield { type: 'end', holds: live.holds(), leftOutCount };
}

/** Packets in the store's own pieces. */
function* sealedParts(packets: Iterable<StoredPacket>): Generator<SessionPart> {
  let pending: StoredPacket[] = [];
  let pendingBytes = 0;
  const seal = (): SessionPart => {
    const body = encodeChunk(pending);
    // As the recorder does: a chunk that does not read back as it was must not be kept.
    if (!isChunkOf(body, pending)) throw new Error('chunkNotReadBack');
    const lastAtMs = pending.reduce((last, { atMs }) => Math.max(last, atMs), 0);
    const part: SessionPart = {
      type: 'packets',
      chunk: { packetCount: pending.length, lastAtMs, body },
      reachedMs: lastAtMs,
    };
    pending = [];
    pendingBytes = 0;
    return part;
  };
  for (const packet of packets) {
    pending.push(packet);
    pendingBytes += packet.bytes.length + packetOverheadBytes;
    if (pendingBytes >= chunkBytes) yield seal();
  }
  if (pending.length > 0) yield seal();
}

/** A session file's own: every packet as it was, then all that stands beside. */
export function* keptParts({ content, packets }: SessionFile): Generator<SessionPart> {
  yield* sealedParts(packets());
  yield { type: 'kept', content };
  yield { type: 'end', holds: [], leftOutCount: 0 };
}

function* slicesOf(samples: Iterable<ImportedSample>): Generator<ImportedSample[]> {
  let slice: ImportedSample[] = [];
  let endMs = sliceMs;
  for (const sample of samples) {
    if (slice.length > 0 && (sample.atMs >= endMs || slice.length >= mostSliceSamples)) {
      yield slice;
      slice = [];
    }
    if (sample.atMs >= endMs) endMs = (Math.floor(sample.atMs / sliceMs) + 1) * sliceMs;
    slice.push(sample);
  }
  if (slice.length > 0) yield slice;
}

const eventOfMark = ({ kind, atMs, text }: ImportedMark, index: number): PipelineEvent => ({
  type: 'mark',
  mark: {
    markId: `mark-${index}`,
    kind,
    atMs: monotonicMs(atMs),
    ...(text !== null && { text }),
  },
});

/** What the live detector would have said, with the lowest saturation of each hold, to the second where readings are many. */
function createLiveHolds(settings: AthleteSettings) {
  const pipeline = createPipeline(settings);
  const holds = new Map<string, Hold>();
  /** The lowest usable saturation of each second that has one. */
  const lowest: Sample[] = [];
  return {
    push(event: PipelineEvent): void {
      for (const output of pipeline.push(event)) {
        if (output.type === 'hold') {
          if (output.event.type === 'holdWithdrawn') holds.delete(output.event.holdId);
          else if (output.event.type !== 'phaseChanged')
            holds.set(output.event.hold.holdId, output.event.hold);
        } else if (output.type === 'sample') {
          const { sample } = output;
          if (sample.channel !== 'spo2Percent' || sample.quality !== 'good') continue;
          const last = lowest.at(-1);
          const isSameSecond =
            last !== undefined && Math.floor(last.atMs / 1_000) === Math.floor(sample.atMs / 1_000);
          if (!isSameSecond) lowest.push(sample);
          else if (sample.value < last.value) lowest[lowest.length - 1] = sample;
        }
      }
    },
    holds(): StoredHold['hold'][] {
      const inOrder = [...holds.values()].sort((a, b) => a.start.atMs - b.start.atMs);
      return inOrder.map((hold, index) => {
        const least = lowestSpo2Of(hold, lowest, inOrder[index + 1]?.start.atMs);
        return toKeptHold(hold, least);
      });
    },
  };
}
