// One athlete's recording as an EDF+C file: each channel with a signal beside it that says where readings are, and
// marks, holds, alarms, gaps and notices as annotations.

import type { MarkKind } from '../../../shared/schema-parts.ts';
import type { Sample } from '../../samples/sample.ts';
import { gridQuality, gridSamples } from '../../sessions/sample-grid.ts';
import { civilTimeOf, isoTextOf } from '../civil-date.ts';
import type { LocalTime } from '../import-file.ts';
import { cellCodeOf, cellCodeScale, cellCodeTransducer } from './cell-codes.ts';
import { digitalOf, type EdfAnnotation, type EdfFile, type EdfSignal, edfMonths } from './edf-file.ts';
import {
  beginText,
  edfEquipment,
  labelAnnotation,
  lastingPattern,
  markAnnotations,
  noteAnnotation,
  noteContinued,
  simulatedAnnotation,
} from './edf-words.ts';
import { edfSubfield } from './encode-edf.ts';
import { channelSignals, qualityLabel, scaleOfWave } from './recording-signals.ts';

export interface RecordingForEdf {
  readonly athleteName: string;
  /** What the session is called; '' or left out for nothing. */
  readonly title?: string;
  readonly simulated: boolean;
  readonly startedWallAtMs: number;
  /** The file's dates and times are of this place, as the format has it; UTC stands beside. */
  readonly zone: LocalTime;
  readonly durationMs: number;
  /** As the sensors sent them, in time order. */
  readonly samples: readonly Sample[];
  readonly marks: readonly { readonly kind: MarkKind; readonly atMs: number; readonly text: string | null }[];
  /** `source` of each boundary in plain words: "estimated", "marked", "corrected". */
  readonly holds: readonly {
    readonly startMs: number;
    readonly startSource: string;
    readonly endMs: number | null;
    readonly endSource: string | null;
  }[];
  readonly alarms: readonly {
    readonly raisedAtMs: number;
    readonly clearedAtMs: number | null;
    readonly priority: string;
    readonly message: string;
  }[];
  /** Who came, went, or changed sensors. */
  readonly changes?: readonly { readonly atMs: number; readonly text: string }[];
  readonly gaps: readonly { readonly fromMs: number; readonly toMs: number; readonly reason: string }[];
}

/** Readers cut longer annotations (libedf keeps 512 bytes), so a long note goes on in further ones. */
const mostNoteCharacters = 120;
/** An alarm's whole record fits; readers keep 512 bytes. */
const mostAlarmCharacters = 400;

/** Cells are given the last reading's value where there is none, since EDF has no code for a missing sample. */
export function edfOfRecording(recording: RecordingForEdf): EdfFile {
  const { samples, durationMs, startedWallAtMs, zone } = recording;
  const civilMs = startedWallAtMs + zone.offsetMsAt(startedWallAtMs);
  const startMs = Math.floor(civilMs / 1000) * 1000;
  // The header knows whole seconds; the rest is the onset of the first record (Kemp & Olivan 2003 s2.2.4).
  const offsetS = (civilMs - startMs) / 1000;
  const annotations: EdfAnnotation[] = [
    { onsetS: offsetS, text: labelAnnotation },
    {
      onsetS: offsetS,
      text: beginText(isoTextOf(startedWallAtMs), zone.name),
    },
  ];
  if (recording.simulated) annotations.push({ onsetS: offsetS, text: simulatedAnnotation });
  const signals: EdfSignal[] = [];
  for (const { channel, label, transducer, unit, scale: fixed } of channelSignals) {
    const own = samples.filter((sample) => sample.channel === channel);
    if (own.length === 0) continue;
    const { cellsPerSecond, values, quality, steps, movedCount, leftOutCount } = gridSamples(own, durationMs);
    const scale = fixed ?? scaleOfWave(own);
    const head = { label, transducer, unit, prefilter: '', samplesPerRecord: cellsPerSecond, ...scale };
    const digital = new Int16Array(values.length);
    let held = digitalOf(head, own[0]!.value);
    for (let i = 0; i < values.length; i += 1) {
      if (quality[i] !== gridQuality.none) held = digitalOf(head, values[i]!);
      digital[i] = held;
    }
    signals.push({ ...head, digital });
    signals.push({
      label: qualityLabel(label),
      transducer: cellCodeTransducer,
      unit: '',
      prefilter: '',
      ...cellCodeScale,
      samplesPerRecord: cellsPerSecond,
      digital: Int16Array.from(quality, (code, cell) => cellCodeOf(code, steps[cell]!)),
    });
    if (movedCount > 0)
      annotations.push({
        onsetS: offsetS,
        text: `Moved: ${movedCount} readings of ${label} closer than 1/${cellsPerSecond} s to another`,
      });
    if (leftOutCount > 0)
      annotations.push({ onsetS: offsetS, text: `Left out: ${leftOutCount} readings of ${label}` });
  }
  const at = (atMs: number): number => offsetS + atMs / 1000;
  const own = [
    ...recording.marks.flatMap((mark) => annotationsOfMark(mark, at)),
    ...recording.holds.map(({ startMs, startSource, endMs, endSource }) => ({
      onsetS: at(startMs),
      ...(endMs !== null && { durationS: (endMs - startMs) / 1000 }),
      text:
        endMs === null
          ? `Hold (start ${startSource}, no end)`
          : `Hold (start ${startSource}, end ${endSource})`,
    })),
    ...recording.alarms.map(({ raisedAtMs, clearedAtMs, priority, message }) => ({
      onsetS: at(raisedAtMs),
      ...(clearedAtMs !== null && { durationS: Math.max(0, clearedAtMs - raisedAtMs) / 1000 }),
      text: `Alarm, ${priority} priority: ${message}`.slice(0, mostAlarmCharacters),
    })),
    ...(recording.changes ?? []).map(({ atMs, text }) => ({ onsetS: at(atMs), text: `Change: ${text}` })),
    ...recording.gaps.map(({ fromMs, toMs, reason }) => ({
      onsetS: at(fromMs),
      durationS: Math.max(0, toMs - fromMs) / 1000,
      text: `Gap: ${reason}`,
    })),
  ].sort((a, b) => a.onsetS - b.onsetS);
  const recordCount = Math.max(1, Math.ceil(durationMs / 1000));
  return {
    kind: 'EDF+C',
    patient: `X X X ${edfSubfield(recording.athleteName, 60)}`,
    recording: `Startdate ${edfDate(startMs)} X X ${edfEquipment}${recording.simulated ? ' SIMULATED' : ''}${titleSubfield(recording.title)}`,
    startMs,
    recordDurationS: 1,
    recordOnsetsS: Array.from({ length: recordCount }, (_, index) => Number((offsetS + index).toFixed(6))),
    signals: signals.length > 0 ? signals : [emptySignal(recordCount)],
    annotations: [...annotations, ...own],
  };
}

/** Further subfields may follow the equipment (EDF+ s2.1.3.4); all of them have 80 characters. */
const titleSubfield = (title = ''): string => (title === '' ? '' : ` ${edfSubfield(title, 24)}`);

function annotationsOfMark(
  mark: RecordingForEdf['marks'][number],
  at: (atMs: number) => number,
): EdfAnnotation[] {
  const onsetS = at(mark.atMs);
  if (mark.kind !== 'note') return [{ onsetS, text: markAnnotations[mark.kind] }];
  const lasting = lastingPattern.exec(mark.text ?? '');
  const characters = [...(mark.text ?? '').replace(lastingPattern, '')];
  const duration = lasting === null ? {} : { durationS: Number(lasting[1]) };
  const parts: EdfAnnotation[] = [];
  do {
    const part = characters.splice(0, mostNoteCharacters).join('');
    parts.push({
      onsetS,
      ...(parts.length === 0 && duration),
      text: (parts.length === 0 ? noteAnnotation : noteContinued) + part,
    });
  } while (characters.length > 0);
  return parts;
}

/** A file needs a signal beside its annotations for older readers. */
const emptySignal = (recordCount: number): EdfSignal => ({
  label: 'No signal',
  transducer: '',
  unit: '',
  prefilter: '',
  physicalMin: 0,
  physicalMax: 1,
  digitalMin: 0,
  digitalMax: 1,
  samplesPerRecord: 1,
  digital: new Int16Array(recordCount),
});

function edfDate(atMs: number): string {
  const { year, month, day } = civilTimeOf(atMs);
  return `${String(day).padStart(2, '0')}-${edfMonths[month - 1]}-${String(year).padStart(4, '0')}`;
}
