// slackwater analyze: finds the holds of a recording (long CSV, or one of this hub's own sessions), measures them, and
// prints them with the alarms that the live pipeline would have raised.

import { createReadStream } from 'node:fs';
import { stat } from 'node:fs/promises';
import { parseArgs } from 'node:util';
import { floorRangePercent } from '../../../shared/schema-parts.ts';
import { monotonicMs, percent } from '../../../shared/units.ts';
import type { AthleteSettings } from '../../../shared/views.ts';
import { createCsvReader } from '../../../src/formats/csv/csv-reader.ts';
import type { CsvRow } from '../../../src/formats/csv/csv-row.ts';
import { computeSessionMeasures } from '../../../src/holds/measures.ts';
import { createPipeline, type PipelineEvent } from '../../../src/pipeline.ts';
import type { SensorProfile } from '../../../src/profiles/sensor-profile.ts';
import { deriveRecording } from '../../../src/sessions/derive-recording.ts';
import { HubError } from '../../base/hub-error.ts';
import { toAnalysisJson, toAnalysisTable } from './analysis-json.ts';

/** What the command needs of the process. */
export interface AnalyzeIo {
  readonly stdout: { write(text: string): unknown };
  readonly stderr: { write(text: string): unknown; readonly isTTY?: boolean };
  readonly env?: NodeJS.ProcessEnv;
}

const usage =
  'Usage: slackwater analyze FILE [--floor PERCENT] [--format json|table]\n' +
  '       slackwater analyze --session ID [--data FOLDER] [--athlete ID] [--floor PERCENT] [--format json|table]\n';

/** A progress bar appears for files from this size on: smaller ones are done before it could be read. */
const longFileBytes = 2_000_000;

interface Recording {
  readonly events: Iterable<PipelineEvent>;
  readonly durationMs: number;
  readonly settings: AthleteSettings | undefined;
  readonly profiles: readonly SensorProfile[];
  readonly notices: readonly string[];
  close(): void;
}

/** Runs the command; `argv` is what follows `analyze`. Answers the exit status: 0 printed, 2 bad input. */
export async function runAnalyze(argv: readonly string[], io: AnalyzeIo): Promise<number> {
  const options = readOptions(argv);
  if (typeof options === 'string') {
    io.stderr.write(`slackwater analyze: ${options}\n${usage}`);
    return 2;
  }
  let recording: Recording;
  try {
    recording =
      options.file !== undefined
        ? await readCsv(options.file, io)
        : await readSession(options.session!, options.data, options.athlete, io);
  } catch (error) {
    if (error instanceof HubError) {
      io.stderr.write(`slackwater analyze: ${error.message}\n`);
      return 2;
    }
    throw error;
  }
  try {
    for (const notice of recording.notices) {
      io.stderr.write(`${notice}\n`);
    }
    const bar = progressBar(io, recording.durationMs > 2 * 3_600_000, 'analysing');
    const derived = deriveRecording(
      createPipeline(settingsWith(recording.settings, options.floorPercent), recording.profiles),
      recording.events,
      recording.durationMs,
      { onProgress: (reachedMs) => bar.at(reachedMs / Math.max(1, recording.durationMs)) },
    );
    bar.done();
    const analysis = toAnalysisJson(derived);
    if (options.format === 'json') {
      io.stdout.write(`${JSON.stringify(analysis)}\n`);
    } else {
      const session = computeSessionMeasures(
        derived.holds.map(({ hold }) => hold),
        derived.holds.map(({ measures }) => measures),
      );
      io.stdout.write(toAnalysisTable(analysis, session));
    }
    return 0;
  } finally {
    recording.close();
  }
}

interface Options {
  readonly file: string | undefined;
  readonly session: string | undefined;
  readonly data: string | undefined;
  readonly athlete: string | undefined;
  readonly floorPercent: number | undefined;
  readonly format: 'json' | 'table';
}

function readOptions(argv: readonly string[]): Options | string {
  let parsed: ReturnType<typeof parse>;
  try {
    parsed = parse(argv);
  } catch (error) {
    return error instanceof Error ? error.message : String(error);
  }
  const { values, positionals } = parsed;
  if (positionals.length + (values.session === undefined ? 0 : 1) !== 1) {
    return 'one file, or one --session, is needed.';
  }
  const format = values.format ?? 'json';
  if (format !== 'json' && format !== 'table') {
    return `--format is json or table, not "${format}".`;
  }
  let floorPercent: number | undefined;
  if (values.floor !== undefined) {
    floorPercent = values.floor.trim() === '' ? Number.NaN : Number(values.floor);
    if (!(floorPercent >= floorRangePercent.least && floorPercent <= floorRangePercent.most)) {
      return `--floor is a percentage from ${floorRangePercent.least} to ${floorRangePercent.most}, not "${values.floor}".`;
    }
  }
  return {
    file: positionals[0],
    session: values.session,
    data: values.data,
    athlete: values.athlete,
    floorPercent,
    format,
  };
}

const parse = (argv: readonly string[]) =>
  parseArgs({
    args: [...argv],
    allowPositionals: true,
    options: {
      floor: { type: 'string' },
      format: { type: 'string' },
      session: { type: 'string' },
      data: { type: 'string' },
      athlete: { type: 'string' },
    },
  });

/** The settings that count for an analysis: a recorded session's own, or quiet ones, with the floor asked for. */
function settingsWith(
  recorded: AthleteSettings | undefined,
  floorPercent: number | undefined,
): AthleteSettings {
  const base: AthleteSettings = recorded ?? {
    floorSpo2Percent: percent(floorRangePercent.initial),
    thresholdsPercent: [percent(95), percent(90)],
    heartRateLowBpm: null,
    heartRateHighBpm: null,
    maxHoldDurationMs: null,
    forecastAlarm: 'medium',
  };
  return floorPercent === undefined ? base : { ...base, floorSpo2Percent: percent(floorPercent) };
}

async function readCsv(file: string, io: AnalyzeIo): Promise<Recording> {
  let size: number;
  try {
    const info = await stat(file);
    if (info.isDirectory()) {
      throw new HubError('input.notFound', `${file}: this is a folder, not a file.`);
    }
    size = info.size;
  } catch (cause) {
    if (cause instanceof HubError) {
      throw cause;
    }
    const code = (cause as NodeJS.ErrnoException).code;
    const reason =
      code === 'ENOENT'
        ? 'there is no such file'
        : code === 'EACCES'
          ? 'this file may not be read'
          : String(cause);
    throw new HubError('input.notFound', `${file}: ${reason}.`, cause);
  }
  const reader = createCsvReader();
  const rows: CsvRow[] = [];
  const bar = progressBar(io, size >= longFileBytes, 'reading');
  let read = 0;
  const decoder = new TextDecoder('utf-8', { fatal: true, ignoreBOM: true });
  const take = (text: string): void => {
    const result = reader.push(text);
    if (!result.ok) {
      throw new HubError('input.malformed', `${file}: ${result.reason.message}.`);
    }
    for (const row of result.value) {
      rows.push(row);
    }
  };
  try {
    for await (const chunk of createReadStream(file)) {
      const bytes = chunk as Buffer;
      read += bytes.length;
      take(decoder.decode(bytes, { stream: true }));
      bar.at(read / Math.max(1, size));
    }
    take(decoder.decode());
  } catch (cause) {
    bar.done();
    if (cause instanceof HubError) {
      throw cause;
    }
    const code = (cause as NodeJS.ErrnoException).code;
    if (code === 'ERR_ENCODING_INVALID_ENCODED_DATA') {
      throw new HubError('input.malformed', `${file}: this is not a text file in UTF-8.`, cause);
    }
    throw new HubError('input.notFound', `${file}: it can't be read (${code ?? String(cause)}).`, cause);
  }
  bar.done();
  const end = reader.finish();
  if (!end.ok) {
    throw new HubError('input.malformed', `${file}: ${end.reason.message}.`);
  }
  rows.push(...end.value.rows);
  const notices: string[] = [];
  if (end.value.summary.notice !== null) {
    notices.push(end.value.summary.notice);
  }
  if (end.value.summary.simulated) {
    notices.push('SIMULATED: this recording is not of a person.');
  }
  return {
    events: eventsOf(rows),
    durationMs: rows.at(-1)?.timeMs ?? 0,
    settings: undefined,
    profiles: [],
    notices,
    close: () => {},
  };
}

function* eventsOf(rows: readonly CsvRow[]): Generator<PipelineEvent> {
  let markCount = 0;
  for (const row of rows) {
    const atMs = monotonicMs(row.timeMs);
    if (row.kind === 'mark') {
      markCount += 1;
      yield { type: 'mark', mark: { markId: `mark-${markCount}`, kind: row.mark, atMs } };
    } else {
      // A file does not say which sensor; heart rate and intervals come from one, the rest from the other.
      const fromStrap = row.channel === 'heartRateBpm' || row.channel === 'rrIntervalMs';
      yield {
        type: 'sample',
        sample: {
          channel: row.channel,
          atMs,
          value: row.value,
          sensorId: fromStrap ? 'file-strap' : 'file-oximeter',
          quality: 'good',
          reasons: [],
        },
      };
    }
  }
}

async function readSession(
  sessionId: string,
  data: string | undefined,
  athleteId: string | undefined,
  io: AnalyzeIo,
): Promise<Recording> {
  // Loaded only here: a file is analysed without the recorder's native parts.
  const [{ openSqliteStore }, { eventsOfAthlete }, { defaultDataDirectory }] = await Promise.all([
    import('../../recorder/sqlite-store.ts'),
    import('../../recordings/review/session-events.ts'),
    import('../../base/config.ts'),
  ]);
  const environment = io.env ?? {};
  const directory = data ?? environment['SLACKWATER_DATA'] ?? defaultDataDirectory(environment);
  const store = openSqliteStore({ directory });
  try {
    const stored = store.readSession(sessionId);
    if (stored === undefined) {
      throw new HubError('input.notFound', `There is no session "${sessionId}" in ${directory}.`);
    }
    const ids = stored.athletes.map((athlete) => athlete.athleteId);
    const wanted = athleteId ?? (ids.length === 1 ? ids[0] : undefined);
    const athlete = stored.athletes.find((candidate) => candidate.athleteId === wanted);
    if (athlete === undefined) {
      throw new HubError(
        'input.notFound',
        athleteId === undefined
          ? `The session has ${ids.length} athletes: say which with --athlete (${ids.join(', ')}).`
          : `The session has no athlete "${athleteId}"; it has ${ids.join(', ')}.`,
      );
    }
    return {
      events: eventsOfAthlete(store, stored, athlete.athleteId),
      durationMs: stored.durationMs,
      settings: athlete.settings,
      profiles: stored.profiles ?? [],
      notices: stored.session.simulated ? ['SIMULATED: this recording is not of a person.'] : [],
      close: () => store.close(),
    };
  } catch (error) {
    store.close();
    throw error;
  }
}

function progressBar(
  io: AnalyzeIo,
  wanted: boolean,
  verb: string,
): { at(share: number): void; done(): void } {
  if (!wanted || io.stderr.isTTY !== true) {
    return { at: () => {}, done: () => {} };
  }
  const width = 30;
  let shown = -1;
  return {
    at(share) {
      const cells = Math.min(width, Math.floor(share * width));
      if (cells !== shown) {
        shown = cells;
        io.stderr.write(
          `\r${verb} [${'#'.repeat(cells)}${'.'.repeat(width - cells)}] ${Math.round(100 * Math.min(1, share))} %`,
        );
      }
    },
    done() {
      io.stderr.write(`\r${' '.repeat(verb.length + width + 10)}\r`);
    },
  };
}
