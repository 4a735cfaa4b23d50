// An EDF file in memory, through its bytes, as the recording that an import would read.

import type { EdfFile } from '../../src/formats/edf/edf-file.ts';
import { encodeEdf } from '../../src/formats/edf/encode-edf.ts';
import {
  type EdfSignalChoice,
  openEdf,
  readEdf,
  suggestEdfChoices,
} from '../../src/formats/edf/recording-of-edf.ts';
import { type ByteSource, collectRecording, type LocalTime, utc } from '../../src/formats/import-file.ts';
import type { ImportedRecording } from '../../src/sessions/imported-recording.ts';
import { inWords } from './in-words.ts';

export const byteSource = (bytes: Uint8Array): ByteSource => ({
  length: bytes.length,
  read: (at, length) => bytes.subarray(at, Math.max(at, Math.min(bytes.length, at + length))),
});

export function recordingOfEdfBytes(
  bytes: Uint8Array,
  choices?: readonly EdfSignalChoice[],
  zone: LocalTime = utc,
): ImportedRecording {
  const opened = openEdf(byteSource(bytes));
  if (!opened.ok) throw new Error(inWords(opened.reason.said));
  const read = collectRecording((sink) =>
    readEdf(opened.value, choices ?? suggestEdfChoices(opened.value.header), zone, sink),
  );
  if (!read.ok) throw new Error(inWords(read.reason.said));
  return read.value;
}

/** Not of a plain EDF file, which is not written. */
export const recordingOfEdfFile = (file: EdfFile, choices?: readonly EdfSignalChoice[]): ImportedRecording =>
  recordingOfEdfBytes(encodeEdf(file), choices);
