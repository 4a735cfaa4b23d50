// slackwater analyze: finds the holds of a recording (a file that import reads, or one of this hub's own sessions) or of
// a folder of them, measures them, and prints them with the alarms that the live pipeline would have raised.

import { statSync } from 'node:fs';
import { parseArgs } from 'node:util';
import type { Said } from '../../../shared/said.ts';
import { floorRangePercent } from '../../../shared/schema-parts.ts';
import { analyzeWords } from '../../../shared/words/en-command-line.ts';
import { sayInEnglish } from '../../../shared/words/say.ts';
import type { SessionMeasures } from '../../../src/holds/measures.ts';
import { HubError, told } from '../../base/hub-error.ts';
import { type AnalysisJson, toAnalysisTable } from './analysis-json.ts';
import { analysisOfFile } from './analysis-of-file.ts';
import { analysisOfStored, type SessionToAnalyse } from './analysis-of-stored.ts';
import { analyzeFolder } from './analyze-folder.ts';

/** What the command needs of the process. */
export interface AnalyzeIo {
  readonly stdout: { write(text: string): unknown };
  readonly stderr: { write(text: string): unknown; readonly isTTY?: boolean };
  readonly env?: NodeJS.ProcessEnv;
}

/** A progress bar appears for files from this size on: smaller ones are done before it could be read. */
const longFileBytes = 2_000_000;

/** Runs the command; `argv` is what follows `analyze`. Answers the exit status: 0 printed, 2 bad input. */
export async function runAnalyze(argv: readonly string[], io: AnalyzeIo): Promise<number> {
  const options = readOptions(argv);
  if (typeof options === 'string') {
    io.stderr.write(`slackwater analyze: ${options}\n${analyzeWords.usage}`);
    return 2;
  }
  try {
    if (options.file !== undefined && isFolder(options.file)) {
      const format = options.format ?? 'csv';
      if (format !== 'csv' && format !== 'jsonl')
        throw new HubError('config.badFlag', told(analyzeWords.folderFormat));
      const { floorPercent, jobs } = options;
      return await analyzeFolder({ folder: options.file, floorPercent, format, jobs }, io);
    }
    const format = options.format ?? 'json';
    if (format !== 'json' && format !== 'table')
      throw new HubError('config.badFlag', told(analyzeWords.fileFormat));
    const { analysis, session, notices } =
      options.file !== undefined
        ? analyzeFile(options.file, options.floorPercent, io)
        : await analyzeSession(options, io);
    for (const notice of notices) io.stderr.write(`${sayInEnglish(notice)}\n`);
    io.stdout.write(format === 'json' ? `${JSON.stringify(analysis)}\n` : toAnalysisTable(analysis, session));
    return 0;
  } catch (error) {
    if (!(error instanceof HubError)) throw error;
    io.stderr.write(`slackwater analyze: ${error.message}\n`);
    return 2;
  }
}

interface Analysis {
  readonly analysis: AnalysisJson;
  readonly session: SessionMeasures;
  readonly notices: readonly Said[];
}

const isFolder = (path: string): boolean => statSync(path, { throwIfNoEntry: false })?.isDirectory() === true;

function analyzeFile(file: string, floorPercent: number | undefined, io: AnalyzeIo): Analysis {
  const size = statSync(file, { throwIfNoEntry: false })?.size ?? 0;
  const reading = progressBar(io, size >= longFileBytes, analyzeWords.reading);
  const analysing = progressBar(io, size >= longFileBytes, analyzeWords.analysing);
  try {
    return analysisOfFile(file, floorPercent, reading.at, analysing.at);
  } finally {
    analysing.done();
  }
}

async function analyzeSession(options: Options, io: AnalyzeIo): Promise<Analysis> {
  const session = await readSession(options.session!, options.data, options.athlete, io);
  try {
    const bar = progressBar(io, session.stored.durationMs > 2 * 3_600_000, analyzeWords.analysing);
    const analysis = analysisOfStored(session, options.floorPercent, bar.at);
    bar.done();
    return analysis;
  } finally {
    session.close();
  }
}

interface Options {
  readonly file: string | undefined;
  readonly session: string | undefined;
  readonly data: string | undefined;
  readonly athlete: string | undefined;
  readonly floorPercent: number | undefined;
  /** What it may be depends on what is analysed. */
  readonly format: 'json' | 'table' | 'csv' | 'jsonl' | undefined;
  readonly jobs: number | undefined;
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
    return analyzeWords.oneFile;
  }
  const { format } = values;
  if (
    format !== undefined &&
    format !== 'json' &&
    format !== 'table' &&
    format !== 'csv' &&
    format !== 'jsonl'
  ) {
    return analyzeWords.badFormat(format);
  }
  const jobs = values.jobs === undefined ? undefined : Number(values.jobs);
  if (jobs !== undefined && !(Number.isInteger(jobs) && jobs >= 1 && jobs <= 64)) {
    return analyzeWords.badJobs(values.jobs ?? '');
  }
  let floorPercent: number | undefined;
  if (values.floor !== undefined) {
    floorPercent = values.floor.trim() === '' ? Number.NaN : Number(values.floor);
    if (!(floorPercent >= floorRangePercent.least && floorPercent <= floorRangePercent.most)) {
      return analyzeWords.badFloor(floorRangePercent.least, floorRangePercent.most, values.floor);
    }
  }
  return {
    file: positionals[0],
    session: values.session,
    data: values.data,
    athlete: values.athlete,
    floorPercent,
    format,
    jobs,
  };
}

const parse = (argv: readonly string[]) =>
  parseArgs({
    args: [...argv],
    allowPositionals: true,
    options: {
      floor: { type: 'string' },
      format: { type: 'string' },
      jobs: { type: 'string' },
      session: { type: 'string' },
      data: { type: 'string' },
      athlete: { type: 'string' },
    },
  });

async function readSession(
  sessionId: string,
  data: string | undefined,
  athleteId: string | undefined,
  io: AnalyzeIo,
): Promise<SessionToAnalyse & { close(): void }> {
  // Loaded only here: a file is analysed without the recorder's native parts.
  const [{ openSqliteStore }, { defaultDataDirectory }] = await Promise.all([
    import('../../recorder/sqlite-store.ts'),
    import('../../base/config.ts'),
  ]);
  const environment = io.env ?? {};
  const directory = data ?? environment['SLACKWATER_DATA'] ?? defaultDataDirectory(environment);
  const store = openSqliteStore({ directory });
  try {
    const stored = store.readSession(sessionId);
    if (stored === undefined) {
      throw new HubError('input.notFound', told(analyzeWords.noSession(sessionId, directory)));
    }
    const ids = stored.athletes.map((athlete) => athlete.athleteId);
    const wanted = athleteId ?? (ids.length === 1 ? ids[0] : undefined);
    const athlete = stored.athletes.find((candidate) => candidate.athleteId === wanted);
    if (athlete === undefined) {
      throw new HubError(
        'input.notFound',
        told(
          athleteId === undefined ? analyzeWords.whichAthlete(ids) : analyzeWords.noAthlete(athleteId, ids),
        ),
      );
    }
    return {
      stored,
      athleteId: athlete.athleteId,
      profiles: stored.profiles ?? [],
      packets: () => store.readPackets(sessionId, { skipDamaged: stored.damage.length > 0 }),
      notices: stored.damage,
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
