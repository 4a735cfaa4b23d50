// The header of EDF, EDF+, BDF and BDF+ files from anywhere, to values or to a fault with its place. What
// can be read round is, and is said: a cut end, bytes too many, a signal without a scale, a date that is none.

import { type Said, said } from '../../../shared/said.ts';
import { failed, ok, type Result } from '../../result.ts';
import { unixMsOf } from '../civil-date.ts';
import type { ByteSource } from '../import-file.ts';
import { type EdfFile, type EdfSignal, edfMonths } from './edf-file.ts';

export interface EdfFault {
  /** From the beginning of the file. */
  readonly byteOffset: number;
  /** Begins with the place. */
  readonly said: Said;
}

export interface EdfHead extends Omit<EdfSignal, 'digital'> {
  readonly isAnnotations: boolean;
  /** Where the signal's samples begin in each record. */
  readonly byteInRecord: number;
}

export interface EdfHeader extends Pick<EdfFile, 'kind' | 'patient' | 'recording' | 'recordDurationS'> {
  /** 3 in BDF, whose samples have 24 bits. */
  readonly bytesPerSample: 2 | 3;
  /** Null where the header's date or time is none. Local time as if UTC. */
  readonly startMs: number | null;
  readonly headerBytes: number;
  readonly recordBytes: number;
  /** Whole records that are there. */
  readonly recordCount: number;
  /** Annotations too. */
  readonly heads: readonly EdfHead[];
  /** What was read round. */
  readonly notices: readonly Said[];
}

const mostSignals = 512;

/** Thrown and caught inside this file alone, so that a parser of many fields stays readable. */
class Stop extends Error {
  readonly fault: EdfFault;
  constructor(byteOffset: number, what: Said) {
    super(what.code);
    this.fault = { byteOffset, said: said('file.atByte', { byte: byteOffset, what }) };
  }
}

export function readEdfHeader(source: ByteSource): Result<EdfHeader, EdfFault> {
  try {
    return ok(read(source));
  } catch (error) {
    if (error instanceof Stop) return failed(error.fault);
    throw error;
  }
}

/** True for bytes that begin as EDF does; says nothing of the rest. */
export const looksLikeEdf = (bytes: Uint8Array): boolean =>
  bytes.length >= 8 && bytes[0] === 0x30 && bytes.subarray(1, 8).every((byte) => byte === 0x20);

/** BioSemi's 24-bit sister: 255 and "BIOSEMI". */
export const looksLikeBdf = (bytes: Uint8Array): boolean =>
  bytes.length >= 8 && bytes[0] === 0xff && String.fromCharCode(...bytes.subarray(1, 8)) === 'BIOSEMI';

const decimalPattern = /^[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?$/;

/** Fields of the header by their place. */
class Fields {
  readonly #source: ByteSource;
  constructor(source: ByteSource) {
    this.#source = source;
  }

  text(at: number, width: number): string {
    const bytes = this.#source.read(at, width);
    if (bytes.length < width) throw new Stop(this.#source.length, said('edf.endsInHeader'));
    let result = '';
    for (const byte of bytes) result += String.fromCharCode(byte);
    return result.replace(/[\0 ]+$/, '');
  }

  whole(at: number, width: number, field: Said, least: number, most: number): number {
    const found = this.text(at, width).trim();
    const value = /^[+-]?\d+(?:\.0*)?$/.test(found) ? Number(found) : Number.NaN;
    if (!(value >= least && value <= most))
      throw new Stop(at, said('edf.wholeNumber', { field, least, most, found: quote(found) }));
    return value;
  }

  decimal(at: number, field: Said): number {
    const found = this.text(at, 8).trim();
    // Some writers use their country's decimal sign, against the standard.
    const plain = found.replace(',', '.');
    const value = decimalPattern.test(plain) ? Number(plain) : Number.NaN;
    if (!Number.isFinite(value)) throw new Stop(at, said('edf.number', { field, found: quote(found) }));
    return value;
  }
}

function read(source: ByteSource): EdfHeader {
  const magic = source.read(0, 8).slice();
  const isBdf = looksLikeBdf(magic);
  if (!isBdf && !looksLikeEdf(magic)) throw new Stop(0, said('edf.notEdf'));
  const fields = new Fields(source);
  const notices: Said[] = [];
  const patient = fields.text(8, 80);
  const recording = fields.text(88, 80);
  const startMs = startOf(fields.text(168, 8), fields.text(176, 8), recording);
  if (startMs === null)
    notices.push(said('edf.noDate', { found: quote(`${fields.text(168, 8)} ${fields.text(176, 8)}`) }));
  const reserved = fields.text(192, 44);
  const kind = /^[EB]DF\+C/.test(reserved) ? 'EDF+C' : /^[EB]DF\+D/.test(reserved) ? 'EDF+D' : 'EDF';
  const recordDurationS = fields.decimal(244, said('edf.field.recordDuration'));
  const signalCount = fields.whole(252, 4, said('edf.field.signalCount'), 1, mostSignals);
  const headerBytes = 256 * (signalCount + 1);
  const statedHeader = fields.text(184, 8).trim();
  if (Number(statedHeader) !== headerBytes)
    throw new Stop(
      184,
      said('edf.headerLength', { signals: signalCount, bytes: headerBytes, found: quote(statedHeader) }),
    );
  if (source.length < headerBytes) throw new Stop(source.length, said('edf.endsInHeader'));
  const bytesPerSample = isBdf ? 3 : 2;
  const heads = readHeads(fields, signalCount, bytesPerSample, kind, notices);
  if (recordDurationS < 0 || (recordDurationS === 0 && heads.some(({ isAnnotations }) => !isAnnotations)))
    throw new Stop(244, said('edf.recordDurationZero'));
  const recordBytes = bytesPerSample * heads.reduce((sum, { samplesPerRecord }) => sum + samplesPerRecord, 0);
  const recordCount = countRecords(source, fields, headerBytes, recordBytes, notices);
  return {
    kind,
    bytesPerSample,
    patient,
    recording,
    startMs,
    headerBytes,
    recordBytes,
    recordDurationS,
    recordCount,
    heads,
    notices,
  };
}

function countRecords(
  source: ByteSource,
  fields: Fields,
  headerBytes: number,
  recordBytes: number,
  notices: Said[],
): number {
  const text = fields.text(236, 8).trim();
  const stated = /^-?\d+$/.test(text) ? Number(text) : -1;
  const present = Math.floor((source.length - headerBytes) / recordBytes);
  // -1 is written while a recording is under way and stays where the writer was stopped.
  const count = stated < 0 ? present : Math.min(stated, present);
  if (count === 0) throw new Stop(headerBytes, said('edf.noRecord'));
  const extra = source.length - headerBytes - recordBytes * count;
  if (stated > present) notices.push(said('edf.cutOff', { record: present + 1, stated, present }));
  else if (extra > 0)
    notices.push(stated < 0 ? said('edf.endsInRecord') : said('edf.moreBytes', { count: extra }));
  return count;
}

function readHeads(
  fields: Fields,
  signalCount: number,
  bytesPerSample: 2 | 3,
  kind: EdfHeader['kind'],
  notices: Said[],
): EdfHead[] {
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
  const [least, most] = bytesPerSample === 3 ? [-8_388_608, 8_388_607] : [-32_768, 32_767];
  const annotationLabel = bytesPerSample === 3 ? 'BDF Annotations' : 'EDF Annotations';
  let byteInRecord = 0;
  return Array.from({ length: signalCount }, (_, index): EdfHead => {
    const label = fields.text(labelAt(index), 16);
    const signal = quote(label);
    const isAnnotations = kind !== 'EDF' && label === annotationLabel;
    const scale = (): Pick<EdfHead, 'physicalMin' | 'physicalMax' | 'digitalMin' | 'digitalMax'> => ({
      physicalMin: fields.decimal(physicalMinAt(index), said('edf.field.physicalMin', { signal })),
      physicalMax: fields.decimal(physicalMaxAt(index), said('edf.field.physicalMax', { signal })),
      digitalMin: fields.whole(digitalMinAt(index), 8, said('edf.field.digitalMin', { signal }), least, most),
      digitalMax: fields.whole(digitalMaxAt(index), 8, said('edf.field.digitalMax', { signal }), least, most),
    });
    const head = {
      label,
      transducer: fields.text(transducerAt(index), 80),
      unit: fields.text(unitAt(index), 8),
      prefilter: fields.text(prefilterAt(index), 80),
      ...scale(),
      samplesPerRecord: fields.whole(
        samplesAt(index),
        8,
        said('edf.field.samplesPerRecord', { signal }),
        1,
        10_000_000,
      ),
      isAnnotations,
      byteInRecord,
    };
    if (!isAnnotations && !hasScale(head)) notices.push(said('edf.noScale', { signal: quote(label.trim()) }));
    byteInRecord += bytesPerSample * head.samplesPerRecord;
    return head;
  });
}

/** False for a signal whose digital numbers stand for nothing. */
export const hasScale = (
  head: Pick<EdfSignal, 'physicalMin' | 'physicalMax' | 'digitalMin' | 'digitalMax'>,
): boolean => head.digitalMin !== head.digitalMax && head.physicalMin !== head.physicalMax;

/** The full year stands in EDF+'s recording field; a two-digit one is of 1985 to 2084 (Kemp & Olivan 2003 s2.1.3). */
function startOf(dateText: string, timeText: string, recording: string): number | null {
  const date = /^(\d\d?)[.\-/: ](\d\d?)[.\-/: ](\d\d|yy)$/.exec(dateText.trim());
  const time = /^(\d\d?)[.:\- ](\d\d?)[.:\- ](\d\d?)$/.exec(timeText.trim());
  if (date === null || time === null) return null;
  const stated = /^Startdate (\d\d)-([A-Z]{3})-(\d{4})(?: |$)/i.exec(recording);
  const month =
    stated === null ? -1 : edfMonths.indexOf(stated[2]!.toUpperCase() as (typeof edfMonths)[number]);
  if (date[3] === 'yy' && month < 0) return null;
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
  return startMs ?? null;
}

/** A piece of someone's file, short and without control characters. */
export function quote(text: string): string {
  const shown = text.replaceAll(/[^\x20-\x7e]/g, '?');
  return `"${shown.length > 40 ? `${shown.slice(0, 40)}...` : shown}"`;
}
