// An EDF, EDF+ or BDF file as a recording: chosen signals become samples, annotations become marks and notes. What this
// program wrote itself comes back as it was.

import { type Said, said } from '../../../shared/said.ts';
import type { Channel } from '../../../shared/schema-parts.ts';
import { failed, ok, type Result } from '../../result.ts';
import { type ImportedMark, mostImpossibleShare, possibleValues } from '../../sessions/imported-recording.ts';
import type { ByteSource, ImportFault, ImportSink, LocalTime, ReadResult } from '../import-file.ts';
import { civilMomentOf } from '../tables/dates.ts';
import { channelOfHeading } from '../tables/headings.ts';
import { isCellCode, readingOfCell } from './cell-codes.ts';
import { type RecordReader, readEdfRecords } from './decode-edf.ts';
import { type EdfAnnotation, physicalOf } from './edf-file.ts';
import { type EdfHead, type EdfHeader, hasScale, quote, readEdfHeader } from './edf-header.ts';
import {
  beginAnnotation,
  derivedAnnotations,
  lastingWords,
  markAnnotations,
  noteAnnotation,
  noteContinued,
  simulatedAnnotation,
  timesAreUtcAnnotation,
} from './edf-words.ts';
import { channelSignals, qualityLabel } from './recording-signals.ts';

/** Which channel a signal is read as, and what its physical values are multiplied by to be in the channel's unit. */
export interface EdfSignalChoice {
  /** Among all signals of the file. */
  readonly signalIndex: number;
  readonly channel: Channel;
  readonly factor: number;
}

/** Signals faster than this repeat a reading until the next: then a change is a reading. */
const mostReadingsPerSecond = 4;
/** A reading that does not change is read again this often, so that it does not seem to have stopped. */
const repeatMs = 1_000;

/** The indices of signals that only say where another signal's readings are. */
export function qualitySignalsOf(heads: readonly EdfHead[]): ReadonlyMap<number, number> {
  const result = new Map<number, number>();
  heads.forEach((head, index) => {
    const quality = heads.findIndex(
      (other) => other.label === qualityLabel(head.label) && other.samplesPerRecord === head.samplesPerRecord,
    );
    if (quality >= 0) result.set(index, quality);
  });
  return result;
}

/** What a signal most likely is, from its label and unit; undefined where nothing says so. */
function suggestEdfChannel(
  head: Pick<
    EdfHead,
    'label' | 'unit' | 'physicalMin' | 'physicalMax' | 'digitalMin' | 'digitalMax' | 'samplesPerRecord'
  >,
  recordDurationS = 1,
): Omit<EdfSignalChoice, 'signalIndex'> | undefined {
  const known = channelSignals.find(({ label }) => label === head.label);
  if (known !== undefined) return { channel: known.channel, factor: 1 };
  if (!hasScale(head)) return undefined;
  const label = head.label.toLowerCase();
  const unit = head.unit.trim().toLowerCase();
  // A pressure of oxygen is no saturation, whatever its name.
  if (/^(mmhg|kpa|torr|l\/min|cmh2o|°c|degc|dbar)$/.test(unit)) return undefined;
  const channel =
    /sp?o2|sao2|sat\b|oxim/.test(label) && !/puls|\bpr\b|\bhr\b|pleth/.test(label)
      ? 'spo2Percent'
      : /h\.r\./.test(label)
        ? 'heartRateBpm'
        : channelOfHeading(head.label);
  if (channel === undefined) return undefined;
  if (channel === 'spo2Percent') {
    const isFraction = unit !== '%' && Math.max(head.physicalMax, head.physicalMin) <= 1.5;
    return { channel, factor: isFraction ? 100 : unit === '‰' ? 0.1 : 1 };
  }
  if (channel === 'heartRateBpm' || channel === 'pulseRateBpm') {
    const isRate = /^(bpm|hz|1\/s|1\/min|\/min|min-1|b\/min|beats?.*)$/.test(unit);
    // Twenty a second of a pulse that is no rate: its wave.
    if (!isRate && channel === 'pulseRateBpm' && head.samplesPerRecord / recordDurationS >= 20)
      return { channel: 'pleth', factor: 1 };
    return { channel, factor: /^(hz|1\/s)$/.test(unit) ? 60 : 1 };
  }
  if (channel === 'rrIntervalMs') return { channel, factor: unit === 's' || unit === 'sec' ? 1_000 : 1 };
  return { channel, factor: 1 };
}

/** The choice a person would most likely make: the first signal of each channel that can be told. */
export function suggestEdfChoices({
  heads,
  recordDurationS,
}: Pick<EdfHeader, 'heads' | 'recordDurationS'>): EdfSignalChoice[] {
  const quality = new Set(qualitySignalsOf(heads).values());
  const taken = new Set<Channel>();
  return heads.flatMap((head, signalIndex) => {
    const suggested =
      head.isAnnotations || quality.has(signalIndex) ? undefined : suggestEdfChannel(head, recordDurationS);
    if (suggested === undefined || taken.has(suggested.channel)) return [];
    taken.add(suggested.channel);
    return [{ signalIndex, ...suggested }];
  });
}

export interface EdfImport {
  readonly header: EdfHeader;
  readonly records: RecordReader;
}

/** Opens a file as far as it can be read. */
export function openEdf(source: ByteSource): Result<EdfImport, ImportFault> {
  const header = readEdfHeader(source);
  if (!header.ok) return header;
  const records = readEdfRecords(source, header.value);
  return records.ok ? ok({ header: header.value, records: records.value }) : records;
}

/** Samples of the chosen signals and all annotations. */
export function readEdf(
  { header, records }: EdfImport,
  choices: readonly EdfSignalChoice[],
  zone: LocalTime,
  sink: ImportSink,
): ReadResult {
  const firstOnsetS = records.onsetsS[0] ?? 0;
  const notices = [...records.notices];
  const quality = qualitySignalsOf(header.heads);
  const beginMs = (record: number): number =>
    Math.round((records.onsetsS[record]! - firstOnsetS) * 1e6) / 1e3;
  for (const choice of choices) {
    const head = header.heads[choice.signalIndex];
    if (head === undefined || head.isAnnotations || !hasScale(head)) continue;
    const qualityIndex = quality.get(choice.signalIndex);
    const fault =
      qualityIndex === undefined
        ? readForeign({ header, records }, head, choice, beginMs, sink, notices)
        : readOwn({ header, records }, head, header.heads[qualityIndex]!, choice, beginMs, sink);
    if (fault !== undefined) return failed(fault);
  }
  for (const mark of marksOf(header, records.annotations, firstOnsetS, notices)) sink.mark(mark);
  const lastOnsetS = records.onsetsS.at(-1) ?? 0;
  return ok({
    startedWallAtMs: startOf(header, records.annotations, firstOnsetS, zone),
    beginMs: 0,
    endMs: Math.round((lastOnsetS - firstOnsetS + header.recordDurationS) * 1000),
    simulated: saysSimulated(header, records.annotations),
    notices,
  });
}

const saysSimulated = (header: EdfHeader, annotations: readonly EdfAnnotation[]): boolean =>
  /\bSIMULATED\b/.test(`${header.patient} ${header.recording}`) ||
  annotations.some(({ text }) => text.includes('SIMULATED'));

/** Local time by the standard. Files of ours carry UTC beside it. */
function startOf(
  header: EdfHeader,
  annotations: readonly EdfAnnotation[],
  firstOnsetS: number,
  zone: LocalTime,
): number | null {
  if (isOwn(header)) {
    const stated = annotations.find(({ text }) => text.startsWith(beginAnnotation))?.text;
    const unixMs = stated === undefined ? undefined : utcOf(stated.slice(beginAnnotation.length));
    if (unixMs !== undefined) return unixMs;
  }
  if (header.startMs === null) return null;
  const civilMs = Math.round(header.startMs + firstOnsetS * 1000);
  const inUtc = isOwn(header) && annotations.some(({ text }) => text === timesAreUtcAnnotation);
  return inUtc ? civilMs : zone.unixMsOf(civilMs);
}

const isOwn = (header: EdfHeader): boolean => / Slackwater( |$)/.test(header.recording);

function utcOf(text: string): number | undefined {
  const parts = /^(\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}\.\d{3})Z /.exec(text);
  if (parts === null) return undefined;
  const moment = civilMomentOf(parts[1]!, 'yearFirst');
  return moment?.civilMs;
}

type BeginMs = (record: number) => number;

/** Every cell that holds a reading, as it was. */
function readOwn(
  { header, records }: EdfImport,
  head: EdfHead,
  qualityHead: EdfHead,
  { channel, factor }: EdfSignalChoice,
  beginMs: BeginMs,
  sink: ImportSink,
): undefined {
  const cellMs = (header.recordDurationS * 1000) / head.samplesPerRecord;
  const perSecond = head.samplesPerRecord / header.recordDurationS;
  const withPlace = isCellCode(qualityHead);
  for (let record = 0; record < header.recordCount; record += 1) {
    const codes = records.samples(qualityHead, record)[Symbol.iterator]();
    for (const { first, digital } of records.samples(head, record)) {
      const code = codes.next().value?.digital;
      for (let i = 0; i < digital.length; i += 1) {
        const reading = readingOfCell(code?.[i] ?? 0, perSecond, withPlace);
        if (reading === undefined) continue;
        const cellAtMs = beginMs(record) + (first + i) * cellMs;
        const earliestMs = withPlace ? Math.round((cellAtMs + reading.from * cellMs) * 1e6) / 1e6 : cellAtMs;
        const latestMs = cellAtMs + reading.to * cellMs;
        sink.sample(
          channel,
          withPlace ? likelyTime(earliestMs, latestMs) : earliestMs,
          earliestMs,
          latestMs,
          tidy(physicalOf(head, digital[i]!) * factor),
          reading.quality,
        );
      }
    }
  }
  return undefined;
}

/** Within a step, a whole millisecond is likelier than its edge: most sensors and files tell time in these. */
function likelyTime(fromMs: number, toMs: number): number {
  const wholeMs = Math.ceil(fromMs - 1e-6);
  return wholeMs < toMs ? wholeMs : fromMs;
}

/** How a signal of another program is read. */
interface ForeignSignal {
  readonly name: string;
  readonly cellMs: number;
  readonly isWave: boolean;
  readonly isBeats: boolean;
  /** Faster than readings are: a change is a reading. */
  readonly isRepeated: boolean;
  readonly least: number;
  readonly most: number;
}

interface ForeignCounts {
  missing: number;
  impossible: number;
  good: number;
  firstImpossible: number;
}

/** A signal of another program: readings are where its values can be any. */
function readForeign(
  { header, records }: EdfImport,
  head: EdfHead,
  { channel, factor }: EdfSignalChoice,
  beginMs: BeginMs,
  sink: ImportSink,
  notices: Said[],
): ImportFault | undefined {
  const cellMs = (header.recordDurationS * 1000) / head.samplesPerRecord;
  const isWave = channel === 'pleth';
  const [least, most] = possibleValues[channel];
  const signal: ForeignSignal = {
    name: quote(head.label.trim()),
    cellMs,
    isWave,
    isBeats: channel === 'rrIntervalMs',
    isRepeated: !isWave && cellMs < 1000 / mostReadingsPerSecond,
    least,
    most,
  };
  const counts = { missing: 0, impossible: 0, good: 0, firstImpossible: 0 };
  let before = Number.NaN;
  let beforeMs = Number.NEGATIVE_INFINITY;
  for (let record = 0; record < header.recordCount; record += 1)
    for (const { first, digital } of records.samples(head, record))
      for (let i = 0; i < digital.length; i += 1) {
        const value = tidy(physicalOf(head, digital[i]!) * factor);
        if (!isReading(value, channel, signal, counts)) {
          before = Number.NaN;
          continue;
        }
        const atMs = beginMs(record) + (first + i) * cellMs;
        if (value === before && (signal.isBeats || (signal.isRepeated && atMs - beforeMs < repeatMs)))
          continue;
        before = value;
        beforeMs = atMs;
        sink.sample(channel, atMs, atMs, atMs + cellMs, value, 'good');
      }
  return judgeForeign(signal, counts, notices);
}

/** Counts a value for what it is. */
function isReading(
  value: number,
  channel: Channel,
  { isWave, least, most }: ForeignSignal,
  counts: ForeignCounts,
): boolean {
  // Recorders without a code for "nothing" write zero, less, or more than there can be.
  if (!isWave && (value <= 0 || (channel === 'spo2Percent' && value > 100.5))) {
    counts.missing += 1;
    return false;
  }
  if (!isWave && (value < least || value > most + 0.5)) {
    counts.impossible += 1;
    if (counts.impossible === 1) counts.firstImpossible = value;
    return false;
  }
  counts.good += 1;
  return true;
}

/** Says what was made of the signal, or why it cannot be meant. */
function judgeForeign(
  { name, cellMs, isRepeated, isBeats, least, most }: ForeignSignal,
  counts: ForeignCounts,
  notices: Said[],
): ImportFault | undefined {
  const readable = counts.impossible + counts.good;
  if (counts.impossible > mostImpossibleShare * readable)
    return {
      said: said('edf.impossible', {
        signal: name,
        value: counts.firstImpossible,
        least,
        most,
        count: counts.impossible,
        of: readable,
      }),
    };
  if (isRepeated && !isBeats)
    notices.push(said('edf.repeated', { signal: name, perSecond: round(1000 / cellMs) }));
  if (isBeats) notices.push(said('edf.beats', { signal: name }));
  const none = counts.missing + counts.impossible;
  if (none > 0) notices.push(said('edf.noReading', { count: none, signal: name }));
  return undefined;
}

/** Takes back the rounding of a scale's binary fractions. */
const tidy = (value: number): number => Number(value.toPrecision(12));
const round = (value: number): number => Math.round(value * 100) / 100;

/** As marks may be (markSchema). */
const longestNote = 2_000;

function marksOf(
  header: EdfHeader,
  annotations: readonly EdfAnnotation[],
  firstOnsetS: number,
  notices: Said[],
): ImportedMark[] {
  const kindOf = new Map(Object.entries(markAnnotations).map(([kind, text]) => [text, kind]));
  const own = isOwn(header);
  const marks: ImportedMark[] = [];
  let derivedCount = 0;
  let lasting = '';
  for (const { onsetS, durationS, text } of annotations) {
    const atMs = Math.max(0, Math.round((onsetS - firstOnsetS) * 1e6) / 1e3);
    const kind = kindOf.get(text);
    const last = marks.at(-1);
    const words = durationS === undefined || durationS === 0 ? '' : lastingWords(durationS);
    if (kind !== undefined) {
      marks.push({ kind: kind as ImportedMark['kind'], atMs, text: null });
    } else if (text.startsWith(noteContinued) && last?.kind === 'note') {
      const begun = (last.text ?? '').slice(0, (last.text ?? '').length - lasting.length);
      marks[marks.length - 1] = { ...last, text: noteOf(begun + text.slice(noteContinued.length), lasting) };
    } else if (text.startsWith(noteAnnotation)) {
      lasting = words;
      marks.push({ kind: 'note', atMs, text: noteOf(text.slice(noteAnnotation.length), words) });
    } else if (text === simulatedAnnotation || text.startsWith('Not a medical device.')) {
      // Said of every file of ours, and said again on the next export.
    } else if (own && text.startsWith(beginAnnotation)) {
      // Read for the beginning.
    } else if (own && derivedAnnotations.some((beginning) => text.startsWith(beginning))) {
      derivedCount += 1;
    } else {
      lasting = words;
      marks.push({ kind: 'note', atMs, text: noteOf(text, words) });
    }
  }
  if (derivedCount > 0) notices.push(said('edf.derivedLeftOut', { count: derivedCount }));
  return marks.sort((a, b) => a.atMs - b.atMs);
}

const noteOf = (text: string, lasting: string): string =>
  text.slice(0, longestNote - lasting.length) + lasting;
