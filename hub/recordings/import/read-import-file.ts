// Bytes of a recording made elsewhere, to a preview of what is in them and to the recording as a person has chosen.
// Every fault is one sentence with its place in the file; nothing here touches the hub's data.

import type { ImportPlan, ImportPreview } from '../../../shared/http.ts';
import { importChannelSchema } from '../../../shared/http.ts';
import { type WallMs, wallMs } from '../../../shared/units.ts';
import { type CsvSummary, createCsvReader } from '../../../src/formats/csv/csv-reader.ts';
import { type CsvRow, csvChannels, csvHeader } from '../../../src/formats/csv/csv-row.ts';
import { decodeEdf, looksLikeEdf } from '../../../src/formats/edf/decode-edf.ts';
import { type EdfFile, physicalOf } from '../../../src/formats/edf/edf-file.ts';
import {
  qualitySignalsOf,
  recordingOfEdf,
  saysSimulated,
  suggestEdfChoices,
} from '../../../src/formats/edf/recording-of-edf.ts';
import {
  readWideTable,
  recordingOfWideTable,
  suggestWideChoice,
  type WideTable,
} from '../../../src/formats/wide-csv/wide-csv.ts';
import { failed, ok, type Result } from '../../../src/result.ts';
import {
  type ImportedRecording,
  importLimits,
  mostImpossibleShare,
  possibleValues,
} from '../../../src/sessions/imported-recording.ts';

/** A file whose form is known; `preview` and `read` do not change it. */
export interface ImportFile {
  readonly preview: ImportPreview;
  /** The recording by the plan's columns and time, or by what was suggested. One sentence where it cannot be. */
  read(plan: Pick<ImportPlan, 'columns' | 'time'>): Result<ImportedRecording>;
}

type ImportChannel = (typeof importChannelSchema.options)[number];
const isImportable = (channel: string): channel is ImportChannel =>
  (importChannelSchema.options as readonly string[]).includes(channel);

const exampleCount = 5;

/** The reason is a whole sentence that begins with the file's name. */
export function openImportFile(fileName: string, bytes: Uint8Array): Result<ImportFile> {
  const fail = (fault: { readonly message: string }): Result<never> =>
    failed(`${fileName}, ${fault.message}.`);
  if (bytes.length === 0) return failed(`${fileName} is empty.`);
  if (looksLikeEdf(bytes) || bytes[0] === 0xff) {
    const decoded = decodeEdf(bytes);
    return decoded.ok ? ok(edfImport(fileName, decoded.value)) : fail(decoded.reason);
  }
  const text = textOf(bytes);
  if (isLongCsv(text)) {
    const rows = readLongCsv(text);
    return rows.ok ? ok(longCsvImport(fileName, text, rows.value)) : fail(rows.reason);
  }
  const table = readWideTable(text);
  return table.ok ? ok(wideCsvImport(fileName, table.value)) : fail(table.reason);
}

function textOf(bytes: Uint8Array): string {
  try {
    return new TextDecoder('utf-8', { fatal: true }).decode(bytes);
  } catch {
    // Older loggers write the system's own 8-bit characters; they stand in names and comments only.
    return new TextDecoder('windows-1252').decode(bytes);
  }
}

function withReadings(fileName: string, recording: ImportedRecording): Result<ImportedRecording> {
  if (recording.samples.length === 0)
    return failed(`${fileName} has no readings in the chosen columns; there is nothing to import.`);
  if (recording.durationMs > importLimits.durationMs)
    return failed(
      `${fileName} is ${Math.round(recording.durationMs / 3_600_000)} h long; at most ${importLimits.durationMs / 3_600_000} h can be imported. Cut it into parts, or check the unit of time.`,
    );
  const waveCount = recording.samples.reduce((sum, { channel }) => sum + (channel === 'pleth' ? 1 : 0), 0);
  for (const [most, count, what] of [
    [importLimits.waveSamples, waveCount, 'samples of a wave'],
    [importLimits.readings, recording.samples.length - waveCount, 'readings'],
  ] as const)
    if (count > most)
      return failed(`${fileName} has more than ${most} ${what} in the chosen columns. Cut it into parts.`);
  for (const channel of importChannelSchema.options) {
    const own = recording.samples.filter((sample) => sample.channel === channel && sample.quality === 'good');
    const [least, most] = possibleValues[channel];
    const impossible = own.filter(({ value }) => value < least || value > most);
    if (impossible.length > mostImpossibleShare * own.length)
      return failed(
        `${fileName}: ${impossible.length} of ${own.length} values of ${channel} are outside ${least} to ${most}, such as ${impossible[0]!.value}; choose another unit or column.`,
      );
  }
  // A session lasts to its last event, whatever it is.
  const late = recording.marks.filter(({ atMs }) => atMs > recording.durationMs).length;
  if (late === 0) return ok(recording);
  return ok({
    ...recording,
    marks: recording.marks.filter(({ atMs }) => atMs <= recording.durationMs),
    notices: [
      ...recording.notices,
      `${late} ${late === 1 ? 'mark or note lies' : 'marks or notes lie'} after the end of the recording and ${late === 1 ? 'was' : 'were'} left out.`,
    ],
  });
}

// EDF

function edfImport(fileName: string, file: EdfFile): ImportFile {
  const quality = new Set(qualitySignalsOf(file).values());
  const suggestions = suggestEdfChoices(file);
  const asSuggested = recordingOfEdf(
    file,
    suggestions.filter(({ channel }) => isImportable(channel)),
  );
  return {
    preview: {
      format: 'edf',
      startedWallAtMs: asSuggested.startedWallAtMs as WallMs,
      durationMs: asSuggested.durationMs,
      simulated: saysSimulated(file),
      suggestedAthleteName: nameOfPatient(file),
      markCount: asSuggested.marks.length,
      columns: file.signals.flatMap((signal, index) => {
        if (quality.has(index)) return [];
        const suggested = suggestions.find(({ signalIndex }) => signalIndex === index);
        return {
          index,
          name: signal.label,
          unit: signal.unit,
          examples: Array.from(signal.digital.subarray(0, exampleCount), (digital) =>
            String(Number(physicalOf(signal, digital).toPrecision(6))),
          ),
          suggested:
            suggested !== undefined && isImportable(suggested.channel)
              ? { channel: suggested.channel, factor: suggested.factor }
              : null,
        };
      }),
      time: null,
      columnsMayChange: true,
      notices: [...asSuggested.notices],
    },
    read({ columns }) {
      const wrong = columns?.find(({ index }) => file.signals[index] === undefined || quality.has(index));
      if (wrong !== undefined) return failed(`${fileName} has no signal ${wrong.index}.`);
      const choices =
        columns?.map(({ index, channel, factor }) => ({ signalIndex: index, channel, factor })) ??
        suggestions.filter(({ channel }) => isImportable(channel));
      return withReadings(fileName, recordingOfEdf(file, choices));
    },
  };
}

/** EDF+ has "code sex birthdate name"; X stands for unknown, underscores for spaces. */
function nameOfPatient(file: EdfFile): string | null {
  const name = file.kind === 'EDF' ? file.patient : file.patient.split(' ')[3];
  const readable = name?.replaceAll('_', ' ').trim() ?? '';
  return readable === '' || readable === 'X' ? null : readable.slice(0, 80);
}

// Long CSV

function isLongCsv(text: string): boolean {
  for (const line of text.replace(/^\uFEFF/, '').split('\n', 200)) {
    if (line.startsWith('#') || line.trim() === '') continue;
    return line.replaceAll(/["\s]/g, '') === csvHeader;
  }
  return false;
}

function readLongCsv(
  text: string,
): Result<{ rows: readonly CsvRow[]; summary: CsvSummary }, { readonly message: string }> {
  const reader = createCsvReader();
  const first = reader.push(text);
  if (!first.ok) return first;
  const last = reader.finish();
  if (!last.ok) return last;
  return ok({ rows: [...first.value, ...last.value.rows], summary: last.value.summary });
}

/** Half the resolution of a time written to the millisecond, or to the thousandth of one. */
const halfOfMs = 0.499;
const halfOfUs = 0.000_5;

function longCsvImport(
  fileName: string,
  text: string,
  { rows, summary }: { rows: readonly CsvRow[]; summary: CsvSummary },
): ImportFile {
  const head = (name: string): string | undefined =>
    new RegExp(`^# ${name}: (.*)$`, 'm').exec(text)?.[1]?.trim();
  const startedText = head('started');
  const startedMs = startedText === undefined ? Number.NaN : Date.parse(startedText);
  const startedWallAtMs = Number.isNaN(startedMs) ? null : wallMs(startedMs);
  const present = csvChannels.filter(({ channel }) =>
    rows.some((row) => row.kind === 'sample' && row.channel === channel),
  );
  const marks = rows.flatMap((row) =>
    row.kind === 'mark' ? [{ kind: row.mark, atMs: row.timeMs, text: null }] : [],
  );
  const notices = summary.notice === null ? [] : [summary.notice];
  const durationMs = Math.ceil(rows.at(-1)?.timeMs ?? 0);
  return {
    preview: {
      format: 'longCsv',
      startedWallAtMs,
      durationMs,
      simulated: summary.simulated,
      suggestedAthleteName: head('athlete')?.slice(0, 80) ?? null,
      markCount: marks.length,
      columns: present.map(({ name, channel }, index) => ({
        index,
        name,
        unit: '',
        examples: rows
          .filter((row) => row.kind === 'sample' && row.channel === channel)
          .slice(0, exampleCount)
          .map((row) => (row.kind === 'sample' ? String(row.value) : '')),
        suggested: isImportable(channel) ? { channel, factor: 1 } : null,
      })),
      time: null,
      columnsMayChange: false,
      notices,
    },
    read({ columns, time }) {
      if (columns !== undefined || time !== undefined)
        return failed(`${fileName} says itself what its rows are; leave out the columns and the time.`);
      return withReadings(fileName, {
        samples: rows.flatMap((row) => {
          if (row.kind !== 'sample') return [];
          const half = Number.isInteger(row.timeMs) ? halfOfMs : halfOfUs;
          return {
            channel: row.channel,
            atMs: row.timeMs,
            earliestMs: row.timeMs - half,
            latestMs: row.timeMs + half,
            value: row.value,
            quality: 'good' as const,
          };
        }),
        marks,
        startedWallAtMs,
        durationMs,
        simulated: summary.simulated,
        notices,
      });
    },
  };
}

// Wide CSV

function wideCsvImport(fileName: string, table: WideTable): ImportFile {
  const suggestion = suggestWideChoice(table);
  const { columns: suggestedColumns = [], timeColumn, timeUnit } = suggestion;
  const complete =
    timeColumn === undefined || timeUnit === undefined
      ? undefined
      : recordingOfWideTable(table, { timeColumn, timeUnit, columns: suggestedColumns });
  const recording = complete?.ok === true ? complete.value : undefined;
  return {
    preview: {
      format: 'wideCsv',
      startedWallAtMs: (recording?.startedWallAtMs ?? null) as WallMs | null,
      durationMs: recording?.durationMs ?? 0,
      simulated: table.simulated,
      suggestedAthleteName: null,
      markCount: 0,
      columns: table.names.map((name, index) => {
        const suggested = suggestedColumns.find((column) => column.index === index);
        return {
          index,
          name: name.slice(0, 80),
          unit: '',
          examples: table.rows.slice(0, exampleCount).map(({ cells }) => (cells[index] ?? '').slice(0, 40)),
          suggested:
            suggested !== undefined && isImportable(suggested.channel)
              ? { channel: suggested.channel, factor: suggested.factor }
              : null,
        };
      }),
      time:
        timeColumn === undefined || timeUnit === undefined ? null : { column: timeColumn, unit: timeUnit },
      columnsMayChange: true,
      notices: [
        ...(recording?.notices ?? []),
        ...(complete?.ok === false ? [`As suggested, ${complete.reason.message}.`] : []),
        ...(timeColumn === undefined ? ['No column of time was recognised; choose one.'] : []),
      ],
    },
    read({ columns, time }) {
      const chosenTime = time?.column ?? timeColumn;
      const chosenUnit = time?.unit ?? timeUnit;
      if (chosenTime === undefined || chosenUnit === undefined)
        return failed(`${fileName} needs a column of time to be chosen.`);
      const chosen = columns ?? suggestedColumns;
      const unknown = [chosenTime, ...chosen.map(({ index }) => index)].find(
        (index) => index >= table.names.length,
      );
      if (unknown !== undefined) return failed(`${fileName} has no column ${unknown}.`);
      const read = recordingOfWideTable(table, {
        timeColumn: chosenTime,
        timeUnit: chosenUnit,
        columns: chosen,
      });
      return read.ok ? withReadings(fileName, read.value) : failed(`${fileName}, ${read.reason.message}.`);
    },
  };
}
