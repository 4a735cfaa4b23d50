// The records of EDF, EDF+ and BDF files: samples in digital numbers and annotations with their times. Never throws.

import { type Said, said } from '../../../shared/said.ts';
import { failed, ok, type Result } from '../../result.ts';
import type { ByteSource } from '../import-file.ts';
import { decodeAnnotations } from './annotation-lists.ts';
import type { EdfAnnotation, EdfFile, EdfSignal } from './edf-file.ts';
import { type EdfFault, type EdfHead, type EdfHeader, readEdfHeader } from './edf-header.ts';

/** Samples of a signal that are read at once: a record may be hours long. */
const samplesPerPiece = 65_536;
/** No recording has more; a file with more is made to be hard to read. */
const mostAnnotations = 500_000;

export interface RecordReader {
  /** Seconds after the header's start, by record. */
  readonly onsetsS: Float64Array;
  readonly annotations: readonly EdfAnnotation[];
  /** What was read round, of the header too. */
  readonly notices: readonly Said[];
  /** One record of one signal, in pieces; `first` is the place of the piece in the record. */
  samples(head: EdfHead, record: number): Iterable<{ readonly first: number; readonly digital: Int32Array }>;
}

/** Reads through all annotations, which say when records begin. Bytes are only those of whole records. */
export function readEdfRecords(source: ByteSource, header: EdfHeader): Result<RecordReader, EdfFault> {
  const { heads, recordCount, recordBytes, headerBytes, recordDurationS, bytesPerSample, kind } = header;
  const notices = [...header.notices];
  const annotations: EdfAnnotation[] = [];
  const onsetsS = new Float64Array(recordCount);
  const lists = heads.filter(({ isAnnotations }) => isAnnotations);
  let unreadable = 0;
  let leftOut = 0;
  let backwards = 0;
  for (let record = 0; record < recordCount; record += 1) {
    const recordAt = headerBytes + record * recordBytes;
    let onsetS: number | undefined;
    for (const { byteInRecord, samplesPerRecord } of lists) {
      const found = decodeAnnotations(
        source.read(recordAt + byteInRecord, bytesPerSample * samplesPerRecord),
      );
      unreadable += found.unreadable;
      onsetS ??= found.recordOnsetS;
      for (const annotation of found.annotations)
        if (annotations.length < mostAnnotations) annotations.push(annotation);
        else leftOut += 1;
    }
    if (onsetS === undefined && kind === 'EDF+D' && record === 0 && recordCount === 1) onsetS = 0;
    if (onsetS === undefined && kind === 'EDF+D')
      return failed({
        byteOffset: recordAt,
        said: said('file.atByte', {
          byte: recordAt,
          what: said('edf.recordWithoutBeginning', { record: record + 1 }),
        }),
      });
    const expectedS = record === 0 ? 0 : onsetsS[record - 1]! + recordDurationS;
    // A clock that goes back would lay one record over another.
    if (onsetS !== undefined && record > 0 && onsetS <= onsetsS[record - 1]!) {
      backwards += 1;
      onsetS = expectedS;
    }
    onsetsS[record] = onsetS ?? expectedS;
  }
  if (backwards > 0) notices.push(said('edf.recordsBackwards', { count: backwards }));
  if (unreadable > 0) notices.push(said('edf.annotationsUnreadable', { count: unreadable }));
  if (leftOut > 0) notices.push(said('edf.annotationsLeftOut', { count: leftOut, most: mostAnnotations }));
  return ok({
    onsetsS,
    annotations,
    notices,
    *samples(head, record) {
      const at = headerBytes + record * recordBytes + head.byteInRecord;
      for (let first = 0; first < head.samplesPerRecord; first += samplesPerPiece) {
        const count = Math.min(samplesPerPiece, head.samplesPerRecord - first);
        const bytes = source.read(at + bytesPerSample * first, bytesPerSample * count);
        yield { first, digital: digitalOfBytes(bytes, bytesPerSample) };
      }
    },
  });
}

/** Little-endian two's complement of two or three bytes. */
function digitalOfBytes(bytes: Uint8Array, bytesPerSample: 2 | 3): Int32Array {
  const count = Math.floor(bytes.length / bytesPerSample);
  const digital = new Int32Array(count);
  if (bytesPerSample === 2)
    for (let i = 0; i < count; i += 1) digital[i] = ((bytes[2 * i]! | (bytes[2 * i + 1]! << 8)) << 16) >> 16;
  else
    for (let i = 0; i < count; i += 1)
      digital[i] = ((bytes[3 * i]! | (bytes[3 * i + 1]! << 8) | (bytes[3 * i + 2]! << 16)) << 8) >> 8;
  return digital;
}

/** A whole file at once. Of a 24-bit file, samples are held inside 16 bits. */
export function decodeEdf(bytes: Uint8Array): Result<EdfFile, EdfFault> {
  const source: ByteSource = {
    length: bytes.length,
    read: (at, length) => bytes.subarray(at, Math.min(bytes.length, at + length)),
  };
  const header = readEdfHeader(source);
  if (!header.ok) return header;
  const records = readEdfRecords(source, header.value);
  if (!records.ok) return records;
  const { kind, patient, recording, startMs, recordDurationS, recordCount, heads } = header.value;
  const signals = heads
    .filter(({ isAnnotations }) => !isAnnotations)
    .map((head): EdfSignal => {
      const { isAnnotations: _, byteInRecord: __, ...rest } = head;
      const digital = new Int16Array(head.samplesPerRecord * recordCount);
      for (let record = 0; record < recordCount; record += 1)
        for (const piece of records.value.samples(head, record))
          digital.set(piece.digital, record * head.samplesPerRecord + piece.first);
      return { ...rest, digital };
    });
  return ok({
    kind,
    patient,
    recording,
    startMs: startMs ?? 0,
    recordDurationS,
    recordOnsetsS: [...records.value.onsetsS],
    signals,
    annotations: records.value.annotations,
  });
}
