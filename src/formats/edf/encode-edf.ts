// Writes an EDF+ file: header fields in exact ASCII, then records of 16-bit samples with their annotation lists.
// Field sizes: Kemp B et al. Electroencephalogr Clin Neurophysiol 1992;82:391-393; Kemp & Olivan 2003.

import { isoTextOf } from '../civil-date.ts';
import { encodeAnnotation, encodeTimekeeping, secondsText } from './annotation-lists.ts';
import type { EdfFile, EdfSignal } from './edf-file.ts';

const annotationLabel = 'EDF Annotations';
/** The format's advice for the size of a record, from the times of small memories; readers may rely on it. */
const mostRecordBytes = 61_440;

/**
 * The bytes of a file. Throws RangeError for what the format cannot hold (a field too long or not ASCII, a scale
 * without extent, samples that do not fill whole records): mistakes of the caller, not of the outside.
 */
export function encodeEdf(file: EdfFile): Uint8Array {
  if (file.kind === 'EDF') throw new RangeError('edf.notPlus');
  const recordCount = file.recordOnsetsS.length;
  for (const signal of file.signals) checkSignal(signal, recordCount);
  const timekeeping = file.recordOnsetsS.map(encodeTimekeeping);
  const lists = file.annotations.map(encodeAnnotation);
  const annotationBytes = annotationRoom(timekeeping, lists);
  const all: EdfSignal[] = [...file.signals, annotationSignal(annotationBytes / 2)];
  const recordBytes = 2 * all.reduce((sum, { samplesPerRecord }) => sum + samplesPerRecord, 0);
  if (recordBytes > mostRecordBytes) throw new RangeError('edf.recordTooLarge');

  const header = headerText(file, all, recordCount);
  const bytes = new Uint8Array(header.length + recordBytes * recordCount);
  for (let i = 0; i < header.length; i += 1) bytes[i] = header.charCodeAt(i);
  const view = new DataView(bytes.buffer);
  let at = header.length;
  let nextList = 0;
  for (let record = 0; record < recordCount; record += 1) {
    for (const { samplesPerRecord, digital } of file.signals) {
      for (let i = 0; i < samplesPerRecord; i += 1) {
        view.setInt16(at, digital[record * samplesPerRecord + i]!, true);
        at += 2;
      }
    }
    let room = annotationBytes - timekeeping[record]!.length;
    let listAt = at + timekeeping[record]!.length;
    bytes.set(timekeeping[record]!, at);
    for (; nextList < lists.length && lists[nextList]!.length <= room; nextList += 1) {
      const list = lists[nextList]!;
      bytes.set(list, listAt);
      listAt += list.length;
      room -= list.length;
    }
    at += annotationBytes;
  }
  return bytes;
}

/**
 * Annotation bytes a record, so that filling records in turn places every list: each record takes at least an even
 * share before a list no longer fits.
 */
function annotationRoom(timekeeping: readonly Uint8Array[], lists: readonly Uint8Array[]): number {
  const sum = lists.reduce((total, list) => total + list.length, 0);
  const greatest = lists.reduce((most, list) => Math.max(most, list.length), 0);
  const share = Math.ceil(sum / Math.max(1, timekeeping.length));
  const clock = timekeeping.reduce((most, list) => Math.max(most, list.length), 0);
  return Math.ceil((clock + greatest + share) / 2) * 2;
}

const annotationSignal = (samplesPerRecord: number): EdfSignal => ({
  label: annotationLabel,
  transducer: '',
  unit: '',
  prefilter: '',
  physicalMin: -1,
  physicalMax: 1,
  digitalMin: -32_768,
  digitalMax: 32_767,
  samplesPerRecord,
  digital: new Int16Array(0),
});

function checkSignal(signal: EdfSignal, recordCount: number): void {
  const { digitalMin, digitalMax, physicalMin, physicalMax, samplesPerRecord, digital } = signal;
  if (!(digitalMin < digitalMax) || physicalMin === physicalMax)
    throw new RangeError('edf.scaleWithoutExtent');
  if (digital.length !== samplesPerRecord * recordCount) throw new RangeError('edf.sampleCount');
}

function headerText(file: EdfFile, signals: readonly EdfSignal[], recordCount: number): string {
  const [date, time] = isoTextOf(file.startMs).slice(0, 19).split('T') as [string, string];
  const [year, month, day] = date.split('-') as [string, string, string];
  const of = (width: number, pick: (signal: EdfSignal) => string): string =>
    signals.map((signal) => field(pick(signal), width)).join('');
  return [
    field('0', 8),
    field(file.patient, 80),
    field(file.recording, 80),
    // From 2085 on the format wants yy here; the full year stands in the recording field anyway.
    field(`${day}.${month}.${Number(year) > 2084 ? 'yy' : year.slice(2)}`, 8),
    field(time.replaceAll(':', '.'), 8),
    field(String(256 * (signals.length + 1)), 8),
    field(file.kind, 44),
    field(String(recordCount), 8),
    field(secondsText(file.recordDurationS), 8),
    field(String(signals.length), 4),
    of(16, ({ label }) => label),
    of(80, ({ transducer }) => transducer),
    of(8, ({ unit }) => unit),
    of(8, ({ physicalMin }) => numberText(physicalMin)),
    of(8, ({ physicalMax }) => numberText(physicalMax)),
    of(8, ({ digitalMin }) => numberText(digitalMin)),
    of(8, ({ digitalMax }) => numberText(digitalMax)),
    of(80, ({ prefilter }) => prefilter),
    of(8, ({ samplesPerRecord }) => String(samplesPerRecord)),
    of(32, () => ''),
  ].join('');
}

function field(text: string, width: number): string {
  if (text.length > width) throw new RangeError('edf.textTooLong');
  if (!/^[\x20-\x7e]*$/.test(text)) throw new RangeError('edf.textNotAscii');
  return text.padEnd(width, ' ');
}

/** A number in at most eight characters that reads back as itself. */
function numberText(value: number): string {
  const text = String(value);
  if (text.length > 8 || text.includes('e')) throw new RangeError('edf.numberTooLong');
  return text;
}

/** ASCII without spaces for a subfield of the patient or recording field; X where nothing is left, as the format says. */
export function edfSubfield(text: string, most: number): string {
  const plain = text
    .normalize('NFKD')
    .replaceAll(/\p{M}/gu, '')
    .trim()
    .replaceAll(/\s+/g, '_')
    .replaceAll(/[^\x21-\x7e]/g, '?')
    .slice(0, most);
  return /[A-Za-z0-9]/.test(plain) ? plain : 'X';
}
