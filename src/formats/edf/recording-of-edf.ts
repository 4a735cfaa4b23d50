// An EDF or EDF+ file as a recording: chosen signals become samples, annotations become marks and notes. What this
// program wrote itself comes back as it was.

import { type Channel, channelSchema, type SampleQuality } from '../../../shared/schema-parts.ts';
import {
  type ImportedMark,
  type ImportedRecording,
  type ImportedSample,
  limitOf,
} from '../../sessions/imported-recording.ts';
import { gridQuality } from '../../sessions/sample-grid.ts';
import { type EdfFile, type EdfSignal, physicalOf } from './edf-file.ts';
import {
  derivedAnnotations,
  markAnnotations,
  noteAnnotation,
  noteContinued,
  simulatedAnnotation,
} from './edf-of-recording.ts';
import { channelSignals, qualityLabel } from './recording-signals.ts';

/** Which channel a signal is read as, and what its physical values are multiplied by to be in the channel's unit. */
export interface EdfSignalChoice {
  readonly signalIndex: number;
  readonly channel: Channel;
  readonly factor: number;
}

/** Rates and saturations change no faster than this is looked at; a recorder's 100 Hz of them is repetition. */
const mostReadingsPerSecond = 4;

/** The indices of signals that only say where another signal's readings are. */
export function qualitySignalsOf(file: EdfFile): ReadonlyMap<number, number> {
  const result = new Map<number, number>();
  file.signals.forEach((signal, index) => {
    const quality = file.signals.findIndex(
      (other) =>
        other.label === qualityLabel(signal.label) && other.samplesPerRecord === signal.samplesPerRecord,
    );
    if (quality >= 0) result.set(index, quality);
  });
  return result;
}

/** What a signal most likely is, from its label and unit; undefined where nothing says so. */
export function suggestEdfChannel(signal: EdfSignal): Omit<EdfSignalChoice, 'signalIndex'> | undefined {
  const known = channelSignals.find(({ label }) => label === signal.label);
  if (known !== undefined) return { channel: known.channel, factor: 1 };
  const label = signal.label.toLowerCase();
  const unit = signal.unit.toLowerCase();
  if (/sp?o2|sao2|sat\b|oxim/.test(label)) {
    const isFraction = unit !== '%' && signal.physicalMax <= 1.5;
    return { channel: 'spo2Percent', factor: isFraction ? 100 : 1 };
  }
  if (/pleth|\bppg\b/.test(label)) return { channel: 'pleth', factor: 1 };
  const factor = /^(hz|1\/s)$/.test(unit) ? 60 : 1;
  if (/puls|\bpr\b/.test(label)) return { channel: 'pulseRateBpm', factor };
  if (/\bhr\b|heart|h\.r\./.test(label)) return { channel: 'heartRateBpm', factor };
  if (/\brri?\b|r-r/.test(label)) return { channel: 'rrIntervalMs', factor: unit === 's' ? 1_000 : 1 };
  return undefined;
}

/** The choice a person would most likely make: the first signal of each channel that can be told. */
export function suggestEdfChoices(file: EdfFile): EdfSignalChoice[] {
  const quality = new Set(qualitySignalsOf(file).values());
  const taken = new Set<Channel>();
  return file.signals.flatMap((signal, signalIndex) => {
    const suggested = quality.has(signalIndex) ? undefined : suggestEdfChannel(signal);
    if (suggested === undefined || taken.has(suggested.channel)) return [];
    taken.add(suggested.channel);
    return [{ signalIndex, ...suggested }];
  });
}

/** Samples of the chosen signals. */
export function recordingOfEdf(file: EdfFile, choices: readonly EdfSignalChoice[]): ImportedRecording {
  const notices: string[] = [];
  const firstOnsetS = file.recordOnsetsS[0] ?? 0;
  const qualitySignals = qualitySignalsOf(file);
  const samples: ImportedSample[] = [];
  for (const { signalIndex, channel, factor } of choices) {
    const signal = file.signals[signalIndex];
    if (signal === undefined) continue;
    const qualityIndex = qualitySignals.get(signalIndex);
    const quality = qualityIndex === undefined ? undefined : file.signals[qualityIndex];
    samples.push(...samplesOf(file, signal, quality, channel, factor, firstOnsetS, notices));
  }
  const order = new Map(channelSchema.options.map((channel, index) => [channel, index]));
  samples.sort((a, b) => a.atMs - b.atMs || order.get(a.channel)! - order.get(b.channel)!);
  const lastOnsetS = file.recordOnsetsS.at(-1) ?? 0;
  return {
    samples,
    marks: marksOf(file, firstOnsetS, notices),
    startedWallAtMs: Math.round(file.startMs + firstOnsetS * 1000),
    durationMs: Math.round((lastOnsetS - firstOnsetS + file.recordDurationS) * 1000),
    simulated: saysSimulated(file),
    notices,
  };
}

export const saysSimulated = (file: EdfFile): boolean =>
  /\bSIMULATED\b/.test(`${file.patient} ${file.recording}`) ||
  file.annotations.some(({ text }) => text.includes('SIMULATED'));

function samplesOf(
  file: EdfFile,
  signal: EdfSignal,
  quality: EdfSignal | undefined,
  channel: Channel,
  factor: number,
  firstOnsetS: number,
  notices: string[],
): ImportedSample[] {
  const { samplesPerRecord, digital, label } = signal;
  const cellMs = (file.recordDurationS * 1000) / samplesPerRecord;
  const stride =
    quality === undefined && channel !== 'rrIntervalMs' && channel !== 'pleth'
      ? Math.max(1, Math.floor(1000 / mostReadingsPerSecond / cellMs))
      : 1;
  if (stride > 1)
    notices.push(`"${label}" has ${round(1000 / cellMs)} values a second; every ${stride}th is read.`);
  if (quality === undefined && channel === 'rrIntervalMs')
    notices.push(`"${label}" does not say where beats are; an interval is read wherever its value changes.`);
  const samples: ImportedSample[] = [];
  let missingCount = 0;
  let before = Number.NaN;
  for (let index = 0; index < digital.length; index += stride) {
    const code = quality?.digital[index] ?? gridQuality.good;
    if (code === gridQuality.none) continue;
    const value = tidy(physicalOf(signal, digital[index]!) * factor);
    if (
      quality === undefined &&
      channel !== 'pleth' &&
      (isMissing(channel, value) || digital[index] === signal.digitalMin)
    ) {
      missingCount += 1;
      continue;
    }
    if (quality === undefined && channel === 'rrIntervalMs' && value === before) continue;
    before = value;
    // One more than may be imported shows that there are too many.
    if (samples.length > limitOf(channel)) break;
    const recordOnsetS = file.recordOnsetsS[Math.floor(index / samplesPerRecord)]! - firstOnsetS;
    const atMs = Math.round(recordOnsetS * 1e6) / 1e3 + (index % samplesPerRecord) * cellMs;
    samples.push({
      channel,
      atMs,
      earliestMs: atMs,
      latestMs: atMs + cellMs,
      value,
      quality: qualityOf(code),
    });
  }
  if (missingCount > 0)
    notices.push(`${missingCount} values of "${label}" stand for no reading and were passed over.`);
  return samples;
}

/** Recorders without a code for "nothing" write zero, their least value, or more than there can be. */
const isMissing = (channel: Channel, value: number): boolean =>
  value <= 0 || (channel === 'spo2Percent' && value > 100.5);

/** Takes back the rounding of a scale's binary fractions. */
const tidy = (value: number): number => Number(value.toPrecision(12));
const round = (value: number): number => Math.round(value * 100) / 100;

const qualityOf = (code: number): SampleQuality =>
  code === gridQuality.bad ? 'bad' : code === gridQuality.suspect ? 'suspect' : 'good';

/** As marks may be (markSchema). */
const longestNote = 2_000;

function marksOf(file: EdfFile, firstOnsetS: number, notices: string[]): ImportedMark[] {
  const kindOf = new Map(Object.entries(markAnnotations).map(([kind, text]) => [text, kind]));
  const isOwn = / Slackwater( |$)/.test(file.recording);
  const marks: ImportedMark[] = [];
  let derivedCount = 0;
  for (const { onsetS, text } of file.annotations) {
    const atMs = Math.max(0, Math.round((onsetS - firstOnsetS) * 1e6) / 1e3);
    const kind = kindOf.get(text);
    const last = marks.at(-1);
    if (kind !== undefined) {
      marks.push({ kind: kind as ImportedMark['kind'], atMs, text: null });
    } else if (text.startsWith(noteContinued) && last?.kind === 'note') {
      marks[marks.length - 1] = {
        ...last,
        text: `${last.text}${text.slice(noteContinued.length)}`.slice(0, longestNote),
      };
    } else if (text.startsWith(noteAnnotation)) {
      marks.push({ kind: 'note', atMs, text: text.slice(noteAnnotation.length).slice(0, longestNote) });
    } else if (text === simulatedAnnotation || text.startsWith('Not a medical device.')) {
      // Said of every file of ours, and said again on the next export.
    } else if (isOwn && derivedAnnotations.some((beginning) => text.startsWith(beginning))) {
      derivedCount += 1;
    } else {
      marks.push({ kind: 'note', atMs, text: text.slice(0, longestNote) });
    }
  }
  if (derivedCount > 0)
    notices.push(
      `${derivedCount} annotations of holds, alarms and gaps were not taken over; they are found anew.`,
    );
  return marks.sort((a, b) => a.atMs - b.atMs);
}
