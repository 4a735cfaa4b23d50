// Reads EDF, EDF+C and EDF+D bytes from anywhere to values or to one sentence with the place of the fault. Never throws.

import { failed, ok, type Result } from '../../result.ts';
import { unixMsOf } from '../civil-date.ts';
import { decodeAnnotations } from './annotation-lists.ts';
import { type EdfAnnotation, type EdfFile, type EdfSignal, edfMonths } from './edf-file.ts';

export interface EdfFault {
  /** From the beginning of the file. */
  readonly byteOffset: number;
  /** One sentence without a full stop that begins with the place. */
  readonly message: string;
}

const mostSignals = 256;
const annotationLabel = 'EDF Annotations';

/** Thrown and caught inside this file alone, so that a parser of many fields stays readable. */
class Stop extends Error {
  readonly fault: EdfFault;
  constructor(byteOffset: number, text: string) {
    super(text);
    this.fault = { byteOffset, message: `byte ${byteOffset}: ${text}` };
  }
}

export function decodeEdf(bytes: Uint8Array): Result<EdfFile, EdfFault> {
  try {
    return ok(decode(bytes));
  } catch (error) {
    if (error instanceof Stop) return failed(error.fault);
    throw error;
  }
}

/** True for bytes that begin as EDF does; says nothing of the rest. */
export const looksLikeEdf = (bytes: Uint8Array): boolean =>
  bytes.length >= 8 && bytes[0] === 0x30 && bytes.subarray(1, 8).every((byte) => byte === 0x20);

function decode(bytes: Uint8Array): EdfFile {
  const text = (at: number, width: number): string => {
    if (at + width > bytes.length) throw new Stop(bytes.length, 'the file ends inside its header');
    let result = '';
    for (let i = at; i < at + width; i += 1) result += String.fromCharCode(bytes[i]!);
    return result.trimEnd();
  };
  const wholeNumber = (at: number, width: number, name: string, least: number, most: number): number => {
    const found = text(at, width).trim();
    const value = /^[+-]?\d+$/.test(found) ? Number(found) : Number.NaN;
    if (!(value >= least && value <= most))
      throw new Stop(
        at,
        `${name} must be a whole number from ${least} to ${most}, but ${quote(found)} was found`,
      );
    return value;
  };
  const decimal = (at: number, name: string): number => {
    const found = text(at, 8).trim();
    const value = /^[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?$/.test(found) ? Number(found) : Number.NaN;
    if (!Number.isFinite(value))
      throw new Stop(at, `${name} must be a number, but ${quote(found)} was found`);
    return value;
  };

  if (bytes[0] === 0xff) throw new Stop(0, 'this is a 24-bit BDF file; only 16-bit EDF and EDF+ are read');
  if (!looksLikeEdf(bytes))
    throw new Stop(0, 'this is not an EDF file: it does not begin with "0" and seven spaces');
  const patient = text(8, 80);
  const recording = text(88, 80);
  const startMs = startOf(text(168, 8), text(176, 8), recording);
  const headerBytes = wholeNumber(184, 8, 'the size of the header', 256, 256 * (mostSignals + 1));
  const reserved = text(192, 44);
  const kind = reserved.startsWith('EDF+C') ? 'EDF+C' : reserved.startsWith('EDF+D') ? 'EDF+D' : 'EDF';
  const statedCount = wholeNumber(236, 8, 'the number of records', -1, 99_999_999);
  const recordDurationS = decimal(244, 'the duration of a record');
  const signalCount = wholeNumber(252, 4, 'the number of signals', 1, mostSignals);
  if (headerBytes !== 256 * (signalCount + 1))
    throw new Stop(
      184,
      `the header of ${signalCount} signals has ${256 * (signalCount + 1)} bytes, not ${headerBytes}`,
    );
  if (bytes.length < headerBytes) throw new Stop(bytes.length, 'the file ends inside its header');

  let column = 256;
  const columnOf = (width: number): ((index: number) => number) => {
    const start = column;
    column += width * signalCount;
    return (index) => start + width * index;
  };
  const [labelAt, transducerAt, unitAt] = [columnOf(16), columnOf(80), columnOf(8)];
  const [physicalMinAt, physicalMaxAt] = [columnOf(8), columnOf(8)];
  const [digitalMinAt, digitalMaxAt] = [columnOf(8), columnOf(8)];
  const [prefilterAt, samplesAt] = [columnOf(80), columnOf(8)];
  const heads = Array.from({ length: signalCount }, (_, index) => {
    const label = text(labelAt(index), 16);
    const head = {
      label,
      transducer: text(transducerAt(index), 80),
      unit: text(unitAt(index), 8),
      prefilter: text(prefilterAt(index), 80),
      physicalMin: decimal(physicalMinAt(index), `the physical minimum of ${quote(label)}`),
      physicalMax: decimal(physicalMaxAt(index), `the physical maximum of ${quote(label)}`),
      digitalMin: wholeNumber(
        digitalMinAt(index),
        8,
        `the digital minimum of ${quote(label)}`,
        -32_768,
        32_767,
      ),
      digitalMax: wholeNumber(
        digitalMaxAt(index),
        8,
        `the digital maximum of ${quote(label)}`,
        -32_768,
        32_767,
      ),
      samplesPerRecord: wholeNumber(
        samplesAt(index),
        8,
        `the samples a record of ${quote(label)}`,
        1,
        10_000_000,
      ),
    };
    if (head.digitalMin >= head.digitalMax)
      throw new Stop(digitalMinAt(index), `the digital scale of ${quote(label)} has no extent`);
    if (head.physicalMin === head.physicalMax)
      throw new Stop(physicalMinAt(index), `the physical scale of ${quote(label)} has no extent`);
    return head;
  });
  const isAnnotations = (label: string): boolean => kind !== 'EDF' && label === annotationLabel;
  const hasSamples = heads.some(({ label }) => !isAnnotations(label));
  if (recordDurationS < 0 || (recordDurationS === 0 && hasSamples))
    throw new Stop(244, 'the duration of a record must be more than 0 s');

  const recordBytes = 2 * heads.reduce((sum, { samplesPerRecord }) => sum + samplesPerRecord, 0);
  const presentCount = Math.floor((bytes.length - headerBytes) / recordBytes);
  // -1 is written while a recording is under way and stays where the writer was stopped.
  const recordCount = statedCount === -1 ? presentCount : statedCount;
  if (presentCount < recordCount)
    throw new Stop(
      bytes.length,
      `the file is cut off: it ends inside record ${presentCount + 1} of ${recordCount}`,
    );
  if (statedCount !== -1 && bytes.length > headerBytes + recordBytes * recordCount)
    throw new Stop(headerBytes + recordBytes * recordCount, 'there is more in the file than its header says');
  if (recordCount === 0) throw new Stop(headerBytes, 'the file has a header and no records');

  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  const signals: EdfSignal[] = heads.map((head) => ({
    ...head,
    digital: new Int16Array(isAnnotations(head.label) ? 0 : head.samplesPerRecord * recordCount),
  }));
  const annotations: EdfAnnotation[] = [];
  const recordOnsetsS: number[] = [];
  let at = headerBytes;
  for (let record = 0; record < recordCount; record += 1) {
    let onsetS: number | undefined;
    for (const { label, samplesPerRecord, digital } of signals) {
      if (isAnnotations(label)) {
        const found = decodeAnnotations(bytes.subarray(at, at + 2 * samplesPerRecord));
        if (!found.ok) throw new Stop(at, found.reason);
        onsetS ??= found.value.recordOnsetS;
        annotations.push(...found.value.annotations);
      } else {
        const first = record * samplesPerRecord;
        for (let i = 0; i < samplesPerRecord; i += 1) digital[first + i] = view.getInt16(at + 2 * i, true);
      }
      at += 2 * samplesPerRecord;
    }
    if (onsetS === undefined && kind === 'EDF+D')
      throw new Stop(at - recordBytes, `record ${record + 1} does not say when it begins`);
    const before = recordOnsetsS.at(-1);
    if (onsetS !== undefined && before !== undefined && onsetS <= before)
      throw new Stop(at - recordBytes, `record ${record + 1} begins before the one before it`);
    recordOnsetsS.push(onsetS ?? (before === undefined ? 0 : before + recordDurationS));
  }
  return {
    kind,
    patient,
    recording,
    startMs,
    recordDurationS,
    recordOnsetsS,
    signals: signals.filter(({ label }) => !isAnnotations(label)),
    annotations,
  };
}

/** The full year stands in EDF+'s recording field; a two-digit one is of 1985 to 2084 (Kemp & Olivan 2003 s2.1.3). */
function startOf(dateText: string, timeText: string, recording: string): number {
  const date = /^(\d\d)[.\-/:](\d\d)[.\-/:](\d\d|yy)$/.exec(dateText.trim());
  const time = /^(\d\d)[.:-](\d\d)[.:-](\d\d)$/.exec(timeText.trim());
  if (date === null) throw new Stop(168, `the start date must be dd.mm.yy, but ${quote(dateText)} was found`);
  if (time === null) throw new Stop(176, `the start time must be hh.mm.ss, but ${quote(timeText)} was found`);
  const stated = /^Startdate (\d\d)-([A-Z]{3})-(\d{4})(?: |$)/.exec(recording);
  const month = stated === null ? -1 : edfMonths.indexOf(stated[2] as (typeof edfMonths)[number]);
  const [day, monthNumber, year] =
    stated !== null && month >= 0
      ? [Number(stated[1]), month + 1, Number(stated[3])]
      : [Number(date[1]), Number(date[2]), Number(date[3]) + (Number(date[3]) >= 85 ? 1900 : 2000)];
  const startMs = unixMsOf({
    year,
    month: monthNumber,
    day,
    hour: Number(time[1]),
    minute: Number(time[2]),
    second: Number(time[3]),
    millisecond: 0,
  });
  if (startMs === undefined) throw new Stop(168, `${quote(dateText)} ${quote(timeText)} is no date and time`);
  return startMs;
}

/** A piece of someone's file, short and without control characters. */
function quote(text: string): string {
  const shown = text.replaceAll(/[^\x20-\x7e]/g, '?');
  return `"${shown.length > 40 ? `${shown.slice(0, 40)}...` : shown}"`;
}
