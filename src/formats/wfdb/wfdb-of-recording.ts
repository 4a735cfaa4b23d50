// One athlete's recording as a WFDB record, PhysioNet's format: header, signals of 16 bits with a code for "no reading",
// and annotations with a time resolution of 1/1024 s. Field by field after the WFDB Applications Guide, header(5),
// signal(5) and annot(5).

import type { MarkKind } from '../../../shared/schema-parts.ts';
import type { Sample } from '../../samples/sample.ts';
import { gridQuality, gridSamples } from '../../sessions/sample-grid.ts';
import { civilTimeOf, isoTextOf } from '../civil-date.ts';
import { digitalOf } from '../edf/edf-file.ts';
import { channelSignals, scaleOfWave } from '../edf/recording-signals.ts';
import { encodeUtf8 } from '../edf/utf8.ts';
import type { LocalTime } from '../import-file.ts';
import { headerComments, markTexts } from './wfdb-words.ts';

export interface RecordingForWfdb {
  /** Of the files: letters, digits and underscores. */
  readonly recordName: string;
  readonly athleteName: string;
  /** What the session is called; '' or left out for nothing. */
  readonly title?: string;
  readonly simulated: boolean;
  readonly startedWallAtMs: number;
  readonly zone: LocalTime;
  readonly durationMs: number;
  /** As the sensors sent them, in time order. */
  readonly samples: readonly Sample[];
  readonly marks: readonly { readonly kind: MarkKind; readonly atMs: number; readonly text: string | null }[];
}

export interface WfdbFile {
  readonly name: string;
  readonly bytes: Uint8Array;
}

/** Format 16: the least number stands for a sample that is not there. */
const noSample = -32_768;
const unitsPerSecond = 1_024;
/** Codes of annot(5). */
const codes = { beat: 1, note: 22, skip: 59, aux: 63 } as const;
const mostAuxBytes = 254;

/** `.hea`, `.dat` and `.atr`. Readings that a sensor itself called bad are left out and counted in the header. */
export function wfdbOfRecording(recording: RecordingForWfdb): WfdbFile[] {
  const { recordName, durationMs } = recording;
  const frames = Math.max(1, Math.ceil(durationMs / 1000));
  const good = recording.samples.filter(({ quality }) => quality !== 'bad');
  const signals = channelSignals.flatMap(({ channel, label, transducer, unit, scale: fixed }) => {
    const own = good.filter((sample) => sample.channel === channel);
    if (own.length === 0) return [];
    const { cellsPerSecond, values, quality } = gridSamples(own, durationMs);
    const scale = fixed ?? scaleOfWave(own);
    const head = { label, transducer, unit, prefilter: '', samplesPerRecord: cellsPerSecond, ...scale };
    const digital = Int16Array.from(values, (value, cell) =>
      quality[cell] === gridQuality.none ? noSample : digitalOf(head, value),
    );
    const gain = (scale.digitalMax - scale.digitalMin) / (scale.physicalMax - scale.physicalMin);
    const baseline = Math.round(scale.digitalMin - scale.physicalMin * gain);
    return [{ label, unit: unit === '' ? 'NU' : unit, cellsPerSecond, digital, gain, baseline }];
  });
  const civil = civilTimeOf(recording.startedWallAtMs + recording.zone.offsetMsAt(recording.startedWallAtMs));
  const two = (value: number, width = 2): string => String(value).padStart(width, '0');
  const begun =
    `${two(civil.hour)}:${two(civil.minute)}:${two(civil.second)}.${two(civil.millisecond, 3)} ` +
    `${two(civil.day)}/${two(civil.month)}/${two(civil.year, 4)}`;
  const header = [
    `${recordName} ${signals.length} 1 ${frames} ${begun}`,
    ...signals.map(({ label, unit, cellsPerSecond, digital, gain, baseline }) => {
      const first = digital[0] ?? 0;
      return `${recordName}.dat 16x${cellsPerSecond} ${gain}(${baseline})/${unit} 16 0 ${first} ${checksumOf(digital)} 0 ${label}`;
    }),
    ...headerComments({
      title: recording.title ?? '',
      simulated: recording.simulated,
      begins: isoTextOf(recording.startedWallAtMs),
      zone: recording.zone.name,
      leftOutCount: recording.samples.length - good.length,
    }),
    '',
  ].join('\n');
  return [
    { name: `${recordName}.hea`, bytes: Uint8Array.from(encodeUtf8(header)) },
    { name: `${recordName}.dat`, bytes: framesOf(signals, frames) },
    { name: `${recordName}.atr`, bytes: annotationsOf(recording, good) },
  ];
}

/** The sum of all samples as a 16-bit signed number. */
function checksumOf(digital: Int16Array): number {
  let sum = 0;
  for (const each of digital) sum = ((sum + each) << 16) >> 16;
  return sum;
}

/** A frame is a second: all samples of the first signal, then of the next. */
function framesOf(
  signals: readonly { readonly cellsPerSecond: number; readonly digital: Int16Array }[],
  frames: number,
): Uint8Array {
  const perFrame = signals.reduce((sum, { cellsPerSecond }) => sum + cellsPerSecond, 0);
  const bytes = new Uint8Array(2 * perFrame * frames);
  const view = new DataView(bytes.buffer);
  let at = 0;
  for (let frame = 0; frame < frames; frame += 1)
    for (const { cellsPerSecond, digital } of signals)
      for (let i = 0; i < cellsPerSecond; i += 1) {
        view.setInt16(at, digital[frame * cellsPerSecond + i] ?? noSample, true);
        at += 2;
      }
  return bytes;
}

interface Annotation {
  readonly units: number;
  readonly code: number;
  readonly text: string;
}

function annotationsOf({ marks }: RecordingForWfdb, samples: readonly Sample[]): Uint8Array {
  const unitsOf = (atMs: number): number => Math.max(0, Math.round((atMs * unitsPerSecond) / 1000));
  const annotations: Annotation[] = [
    ...samples
      .filter(({ channel }) => channel === 'rrIntervalMs')
      .map(({ atMs }) => ({ units: unitsOf(atMs), code: codes.beat, text: '' })),
    ...marks.map(({ kind, atMs, text }) => ({
      units: unitsOf(atMs),
      code: codes.note,
      text: kind === 'note' ? (text ?? '') : markTexts[kind],
    })),
  ].sort((a, b) => a.units - b.units || a.code - b.code);
  const bytes: number[] = [];
  const word = (value: number): void => void bytes.push(value & 0xff, (value >> 8) & 0xff);
  let before = 0;
  const write = ({ units, code, text }: Annotation): void => {
    let step = units - before;
    before = units;
    if (step > 1_023) {
      word(codes.skip << 10);
      // The high half first, as on the machines that the format comes from.
      word(step >>> 16);
      word(step & 0xffff);
      step = 0;
    }
    word((code << 10) | step);
    if (text === '') return;
    const aux = encodeUtf8(text.slice(0, mostAuxBytes)).slice(0, mostAuxBytes);
    word((codes.aux << 10) | aux.length);
    for (const byte of aux) bytes.push(byte);
    if (aux.length % 2 === 1) bytes.push(0);
  };
  write({ units: 0, code: codes.note, text: `## time resolution: ${unitsPerSecond}` });
  for (const annotation of annotations) write(annotation);
  word(0);
  return Uint8Array.from(bytes);
}
