// A file of a recording made elsewhere, opened by what it is: its preview, and its readings by a person's choice. Every
// fault is told with its place in the file; nothing here touches the hub's data.

import type { ImportPlan, ImportPreview } from '../../../shared/http.ts';
import { importChannelSchema } from '../../../shared/http.ts';
import { type Said, said } from '../../../shared/said.ts';
import type { WallMs } from '../../../shared/units.ts';
import { csvChannels } from '../../../src/formats/csv/csv-row.ts';
import { longCsvHeadOf, readLongCsv } from '../../../src/formats/csv/import-long-csv.ts';
import { physicalOf } from '../../../src/formats/edf/edf-file.ts';
import { hasScale, looksLikeBdf, looksLikeEdf } from '../../../src/formats/edf/edf-header.ts';
import {
  type EdfImport,
  openEdf,
  qualitySignalsOf,
  readEdf,
  suggestEdfChoices,
} from '../../../src/formats/edf/recording-of-edf.ts';
import type {
  ByteSource,
  ImportSink,
  ImportSummary,
  LocalTime,
  ReadResult,
  TextSource,
} from '../../../src/formats/import-file.ts';
import { isWallUnit } from '../../../src/formats/tables/dates.ts';
import { readTable } from '../../../src/formats/tables/read-table.ts';
import {
  examplesOf,
  refuseTableChoice,
  suggestTableChoice,
  type TableChoice,
  type TableShape,
  tableShapeOf,
} from '../../../src/formats/tables/table-shape.ts';
import { createCheckedSink, ImportRefused } from './checked-sink.ts';

export type ImportChoice = Pick<ImportPlan, 'columns' | 'time'>;

/** A file whose form is known. */
export interface OpenedImport {
  readonly format: ImportPreview['format'];
  /** All of the preview but what is known only after reading to the end. */
  readonly outline: Omit<
    ImportPreview,
    'startedWallAtMs' | 'durationMs' | 'simulated' | 'suggestedTitle' | 'markCount' | 'notices'
  >;
  /** Where the file says what the recording is called. */
  readonly title: string | null;
  /** Notices of the outline; the readings' own come with the summary. */
  readonly notices: readonly Said[];
  /** False where a person has to choose something before it can be read. */
  readonly isComplete: boolean;
  /**
   * Throws `ImportRefused` for what cannot be read by this choice; to `look`, a guess will do where to `store` a person
   * must have said.
   */
  read(choice: ImportChoice, sink: ImportSink, purpose: 'look' | 'store'): ImportSummary;
}

type ImportChannel = (typeof importChannelSchema.options)[number];
const isImportable = (channel: string): channel is ImportChannel =>
  (importChannelSchema.options as readonly string[]).includes(channel);
const exampleCount = 5;

/** Throws `ImportRefused` whose sentence begins with the file's name. */
export function openImport(fileName: string, source: ByteSource & TextSource, zone: LocalTime): OpenedImport {
  if (source.length === 0) throw new ImportRefused(said('import.empty', { file: fileName }));
  const magic = source.read(0, 16).slice();
  const foreign = foreignKindOf(magic);
  if (foreign !== undefined) throw new ImportRefused(said(foreign, { file: fileName }));
  if (looksLikeEdf(magic) || looksLikeBdf(magic)) return edfImport(fileName, source, zone);
  const head = longCsvHeadOf(source);
  return head !== undefined
    ? longCsvImport(fileName, source, head, zone)
    : tableImport(fileName, source, zone);
}

/** What people also try: said by name, with what to do. */
function foreignKindOf(magic: Uint8Array) {
  const text = String.fromCharCode(...magic);
  if (text.startsWith('PK\u0003\u0004')) return 'import.zip';
  if (text.startsWith('\u00d0\u00cf\u0011\u00e0')) return 'import.oldOffice';
  if (text.startsWith('%PDF')) return 'import.pdf';
  if (text.startsWith('PAR1')) return 'import.parquet';
  if (text.startsWith('\u0089HDF')) return 'import.hdf5';
  if (text.startsWith('SQLite format 3')) return 'import.sqlite';
  if (text.startsWith('\u001f\u008b')) return 'import.gzip';
  if (/^\s*<(\?xml|!doctype|html)/i.test(text)) return 'import.xml';
  if (/^\s*[{[]\s*("|\{|\[)/.test(text)) return 'import.json';
  return undefined;
}

const refusedAt = (file: string, fault: Said): ImportRefused =>
  new ImportRefused(said('import.fault', { file, fault }));

/** What a person reads beside the choice they can still make. */
function asSuggested(refusal: Said): Said {
  const { fault } = refusal.params;
  return refusal.code === 'import.fault' && typeof fault === 'object'
    ? said('import.asSuggested', { fault })
    : said('import.asSuggestedWhole', { sentence: refusal });
}

function settled(fileName: string, result: ReadResult): ImportSummary {
  if (!result.ok) throw refusedAt(fileName, result.reason.said);
  return result.value;
}

/** What a file is called without its ending, as the title of what it holds; '' for one that says nothing. */
export const titleOfFileName = (fileName: string): string =>
  fileName
    .replace(/\.(session\.zip|[A-Za-z0-9]{1,5})$/, '')
    .replaceAll('_', ' ')
    .trim();

/** The whole preview: reads the file to its end as suggested. */
export function previewOf(fileName: string, opened: OpenedImport): ImportPreview {
  const outline = { ...opened.outline, suggestedTitle: opened.title ?? titleOfFileName(fileName) };
  const unread = { startedWallAtMs: null, durationMs: 0, simulated: false, markCount: 0 };
  if (!opened.isComplete) return { ...outline, ...unread, notices: [...opened.notices] };
  const sink = createCheckedSink(fileName);
  try {
    const summary = opened.read({}, sink, 'look');
    const { startedWallAtMs, beginMs, endMs, simulated } = summary;
    return {
      ...outline,
      startedWallAtMs: startedWallAtMs === null ? null : ((startedWallAtMs + beginMs) as WallMs),
      durationMs: Math.ceil(endMs - beginMs),
      simulated,
      markCount: sink.marks.length,
      notices: [...opened.notices, ...summary.notices],
    };
  } catch (error) {
    // A table may be readable by another choice, which a person can make.
    if (!(error instanceof ImportRefused) || outline.format !== 'wideCsv') throw error;
    return { ...outline, ...unread, notices: [...opened.notices, asSuggested(error.said)] };
  }
}

// EDF

function edfImport(fileName: string, source: ByteSource, zone: LocalTime): OpenedImport {
  const opened = openEdf(source);
  if (!opened.ok) throw refusedAt(fileName, opened.reason.said);
  const file = opened.value;
  const { heads } = file.header;
  const quality = new Set(qualitySignalsOf(heads).values());
  const suggestions = suggestEdfChoices(file.header).filter(({ channel }) => isImportable(channel));
  const isOffered = (index: number): boolean =>
    heads[index] !== undefined && !heads[index].isAnnotations && !quality.has(index);
  return {
    format: 'edf',
    outline: {
      format: 'edf',
      suggestedAthleteName: nameOfPatient(file),
      columns: heads.flatMap((head, index) => {
        if (!isOffered(index)) return [];
        const suggested = suggestions.find(({ signalIndex }) => signalIndex === index);
        return {
          index,
          name: head.label,
          unit: head.unit,
          examples: hasScale(head) ? firstValues(file, index) : [],
          suggested:
            suggested === undefined
              ? null
              : { channel: suggested.channel as ImportChannel, factor: suggested.factor },
        };
      }),
      time: null,
      dateOrderAmbiguous: false,
      timeZone: zone.name,
      startIsLocal: !/ Slackwater( |$)/.test(file.header.recording),
      columnsMayChange: true,
    },
    title: null,
    notices: [],
    isComplete: true,
    read({ columns }, sink) {
      const wrong = columns?.find(({ index }) => !isOffered(index));
      if (wrong !== undefined)
        throw new ImportRefused(said('import.noSignal', { file: fileName, index: wrong.index }));
      const choices =
        columns?.map(({ index, channel, factor }) => ({ signalIndex: index, channel, factor })) ??
        suggestions;
      return settled(fileName, readEdf(file, choices, zone, sink));
    },
  };
}

function firstValues({ header, records }: EdfImport, index: number): string[] {
  const head = header.heads[index]!;
  for (const { digital } of records.samples(head, 0))
    return Array.from(digital.subarray(0, exampleCount), (each) =>
      String(Number(physicalOf(head, each).toPrecision(6))),
    );
  return [];
}

/** EDF+ has "code sex birthdate name"; X stands for unknown, underscores for spaces. */
function nameOfPatient({ header: { kind, patient } }: EdfImport): string | null {
  const name = kind === 'EDF' ? patient : patient.split(' ')[3];
  const readable = name?.replaceAll('_', ' ').trim() ?? '';
  return readable === '' || /^X( X)*$/.test(readable) ? null : readable.slice(0, 80);
}

// Long CSV

function longCsvImport(
  fileName: string,
  source: TextSource,
  head: NonNullable<ReturnType<typeof longCsvHeadOf>>,
  zone: LocalTime,
): OpenedImport {
  const examples = new Map<string, string[]>();
  const first = readLongCsv(source, head, {
    sample: (channel, _at, _earliest, _latest, value) => {
      const own = examples.get(channel) ?? [];
      if (own.length < exampleCount) examples.set(channel, [...own, String(value)]);
    },
    mark: () => undefined,
  });
  if (!first.ok) throw refusedAt(fileName, first.reason.said);
  return {
    format: 'longCsv',
    outline: {
      format: 'longCsv',
      suggestedAthleteName: head.athleteName,
      columns: csvChannels
        .filter(({ channel }) => examples.has(channel))
        .map(({ name, channel }, index) => ({
          index,
          name,
          unit: '',
          examples: examples.get(channel)!,
          suggested: { channel, factor: 1 },
        })),
      time: null,
      dateOrderAmbiguous: false,
      timeZone: zone.name,
      startIsLocal: false,
      columnsMayChange: false,
    },
    title: head.title,
    notices: [],
    isComplete: true,
    read({ columns, time }, sink) {
      if (columns !== undefined || time !== undefined)
        throw new ImportRefused(said('import.rowsFixed', { file: fileName }));
      return settled(fileName, readLongCsv(source, head, sink));
    },
  };
}

// Tables

function tableImport(fileName: string, source: TextSource, zone: LocalTime): OpenedImport {
  const found = tableShapeOf(source);
  if (!found.ok) throw refusedAt(fileName, found.reason.said);
  const shape = found.value;
  const suggestion = suggestTableChoice(shape);
  const { timeUnit, timeColumn, dateColumn, dateOrder, dateOrderAmbiguous } = suggestion;
  const isOwn = (index: number): boolean =>
    shape.long !== null && (index === shape.long.nameColumn || index === shape.long.valueColumn);
  const isWall = timeUnit !== undefined && isWallUnit(timeUnit);
  return {
    format: 'wideCsv',
    outline: {
      format: 'wideCsv',
      suggestedAthleteName: null,
      columns: shape.names.flatMap((name, index) => {
        if (isOwn(index)) return [];
        const suggested = suggestion.columns.find((column) => column.index === index);
        return {
          index,
          name: name.slice(0, 80),
          unit: '',
          examples: examplesOf(shape, index, exampleCount),
          suggested:
            suggested !== undefined && isImportable(suggested.channel)
              ? { channel: suggested.channel, factor: suggested.factor }
              : null,
        };
      }),
      time:
        timeUnit === undefined
          ? null
          : {
              column: timeColumn ?? null,
              unit: timeUnit,
              dateColumn: dateColumn ?? null,
              dateOrder: dateOrder ?? null,
            },
      dateOrderAmbiguous,
      timeZone: zone.name,
      startIsLocal:
        isWall && !timeUnit.startsWith('unix') ? !saysZone(shape, timeColumn ?? 0) : shape.stated !== null,
      columnsMayChange: true,
    },
    title: null,
    notices: timeUnit === undefined ? [said('import.noTimeColumn')] : [],
    isComplete: timeUnit !== undefined,
    read({ columns, time }, sink, purpose) {
      if (dateOrderAmbiguous && purpose === 'store' && (time?.dateOrder ?? null) === null)
        throw new ImportRefused(
          said('import.dateOrder', {
            file: fileName,
            example: examplesOf(shape, dateColumn ?? timeColumn ?? 0, 1)[0] ?? '',
          }),
        );
      const choice: TableChoice | undefined = choiceOf(suggestion, columns, time);
      if (choice === undefined) throw new ImportRefused(said('import.chooseTimeColumn', { file: fileName }));
      const refusal = refuseTableChoice(shape, choice);
      if (refusal !== undefined) throw refusedAt(fileName, refusal);
      return settled(fileName, readTable(source, shape, choice, zone, sink));
    },
  };
}

const saysZone = (shape: TableShape, column: number): boolean =>
  /(Z|UTC|GMT|[+-]\d{2}:?\d{2})$/.test(shape.head[0]?.cells[column] ?? '');

function choiceOf(
  suggestion: ReturnType<typeof suggestTableChoice>,
  columns: ImportChoice['columns'],
  time: ImportChoice['time'],
): TableChoice | undefined {
  const timeUnit = time?.unit ?? suggestion.timeUnit;
  if (timeUnit === undefined) return undefined;
  const timeColumn = time === undefined ? suggestion.timeColumn : (time.column ?? undefined);
  const dateColumn =
    time?.dateColumn === undefined
      ? timeUnit === suggestion.timeUnit && timeColumn === suggestion.timeColumn
        ? suggestion.dateColumn
        : undefined
      : (time.dateColumn ?? undefined);
  return {
    timeColumn: timeUnit === 'beats' ? undefined : timeColumn,
    timeUnit,
    dateColumn,
    dateOrder: time?.dateOrder ?? suggestion.dateOrder,
    columns: columns ?? suggestion.columns.filter(({ channel }) => isImportable(channel)),
  };
}
