// slackwater analyze FOLDER: every recording in it and below, several at a time, as one table with a row a hold.

import { readdirSync } from 'node:fs';
import { availableParallelism } from 'node:os';
import { join, relative } from 'node:path';
import { Worker } from 'node:worker_threads';
import { analyzeWords } from '../../../shared/words/en-command-line.ts';
import { sayInEnglish } from '../../../shared/words/say.ts';
import { measureTable } from '../../../src/holds/measure-table.ts';
import { findBuiltFile } from '../../base/built-file.ts';
import { HubError, told } from '../../base/hub-error.ts';
import { measureName } from '../../recordings/export/measure-text.ts';
import type { FileAnalysis } from './analysis-of-file.ts';
import type { AnalyzeAnswer, AnalyzeOrder } from './analyze-worker.ts';

export interface FolderOptions {
  readonly folder: string;
  readonly floorPercent: number | undefined;
  /** `csv` has a row a hold, and one without a hold for a file that has none; `jsonl` has a line a file. */
  readonly format: 'csv' | 'jsonl';
  readonly jobs: number | undefined;
}

export interface FolderIo {
  readonly stdout: { write(text: string): unknown };
  readonly stderr: { write(text: string): unknown; readonly isTTY?: boolean };
}

/** A session file by its own ending: an archive may be anything. */
const recordingName = /\.(csv|tsv|txt|edf|bdf|rec|session\.zip)$/i;

/** Answers the exit status: 0 when every file was read, 2 when some were not (each is named on stderr), or none is there. */
export async function analyzeFolder(options: FolderOptions, io: FolderIo): Promise<number> {
  const paths = filesBelow(options.folder);
  if (paths.length === 0) {
    io.stderr.write(`slackwater analyze: ${analyzeWords.nothingInFolder(options.folder)}\n`);
    return 2;
  }
  if (options.format === 'csv') io.stdout.write(`${csvHead}\n`);
  const waiting = new Map<number, AnalyzeAnswer>();
  let written = 0;
  let failedCount = 0;
  let doneCount = 0;
  const take = (answer: AnalyzeAnswer): void => {
    waiting.set(answer.index, answer);
    doneCount += 1;
    if (io.stderr.isTTY === true) io.stderr.write(`\r${analyzeWords.progress(doneCount, paths.length)}`);
    // In the order of the names, whichever thread was quicker.
    for (;;) {
      const next = waiting.get(written);
      if (next === undefined) break;
      waiting.delete(written);
      const name = relative(options.folder, paths[written]!);
      written += 1;
      if (next.ok) io.stdout.write(linesOf(options.format, name, next.result));
      else {
        failedCount += 1;
        io.stderr.write(`${io.stderr.isTTY === true ? '\r' : ''}${name}: ${next.reason}\n`);
        if (options.format === 'jsonl')
          io.stdout.write(`${JSON.stringify({ file: name, error: next.reason })}\n`);
      }
    }
  };
  await runAll(paths, options, take);
  if (io.stderr.isTTY === true) io.stderr.write('\r');
  io.stderr.write(`${analyzeWords.folderDone(paths.length - failedCount, paths.length, failedCount)}\n`);
  return failedCount > 0 ? 2 : 0;
}

function filesBelow(folder: string): string[] {
  return readdirSync(folder, { recursive: true, withFileTypes: true })
    .filter((entry) => entry.isFile() && recordingName.test(entry.name))
    .map((entry) => join(entry.parentPath, entry.name))
    .sort();
}

function findEntry(): string {
  const path = findBuiltFile(import.meta.url, [
    './analyze-worker-from-sources.mjs',
    './commands/analyze/analyze-worker.js',
    './analyze-worker.js',
  ]);
  if (path === undefined) throw new HubError('build.missing', told(analyzeWords.notBuilt));
  return path;
}

async function runAll(
  paths: readonly string[],
  { jobs, floorPercent }: FolderOptions,
  take: (answer: AnalyzeAnswer) => void,
): Promise<void> {
  const entry = findEntry();
  const count = Math.min(paths.length, jobs ?? availableParallelism());
  let next = 0;
  const runOne = async (): Promise<void> => {
    let worker: Worker | undefined;
    while (next < paths.length) {
      const index = next;
      next += 1;
      worker ??= new Worker(entry, { execArgv: [] });
      const answer = await answerOf(worker, { index, path: paths[index]!, floorPercent });
      if (answer.died) worker = undefined;
      take(answer.answer);
    }
    await worker?.terminate();
  };
  await Promise.all(Array.from({ length: count }, runOne));
}

/** A thread that dies of a file takes only that file with it. */
function answerOf(worker: Worker, order: AnalyzeOrder): Promise<{ answer: AnalyzeAnswer; died: boolean }> {
  return new Promise((resolve) => {
    const settle = (answer: AnalyzeAnswer, died: boolean): void => {
      worker.off('message', onMessage).off('error', onError).off('exit', onExit);
      resolve({ answer, died });
    };
    const lost = (why: string): void =>
      settle({ index: order.index, ok: false, reason: analyzeWords.died(why) }, true);
    const onMessage = (answer: AnalyzeAnswer): void => settle(answer, false);
    const onError = (error: Error): void => lost(error.message);
    const onExit = (): void => lost(analyzeWords.threadEnded);
    worker.on('message', onMessage).on('error', onError).on('exit', onExit);
    worker.postMessage(order);
  });
}

const holdColumns = ['start_s', 'end_s', 'start_uncertainty_s', 'end_uncertainty_s', 'source'] as const;
const measureColumns = measureTable.map(({ key }) => measureName(key));
const csvHead = ['file', 'simulated', 'recording_s', 'hold', ...holdColumns, ...measureColumns].join(',');

const csvCell = (value: string | number | boolean | null): string => {
  const text = value === null ? '' : String(value);
  // A cell that begins like a formula is one to a spreadsheet.
  const safe = typeof value === 'string' && /^[=+@\t\r-]/.test(text) ? `'${text}` : text;
  return /[",\r\n]/.test(safe) ? `"${safe.replaceAll('"', '""')}"` : safe;
};

function linesOf(format: FolderOptions['format'], file: string, result: FileAnalysis): string {
  const { analysis, simulated, durationMs, session, notices } = result;
  const recordingS = durationMs / 1_000;
  if (format === 'jsonl')
    return `${JSON.stringify({ file, simulated, recording_s: recordingS, ...analysis, session: session.values, notices: notices.map(sayInEnglish) })}\n`;
  const head = [file, simulated, recordingS];
  if (analysis.holds.length === 0)
    return `${[...head, 0, ...holdColumns.map(() => null), ...measureColumns.map(() => null)].map(csvCell).join(',')}\n`;
  return analysis.holds
    .map((hold, index) =>
      [
        ...head,
        index + 1,
        ...holdColumns.map((column) => hold[column]),
        ...measureColumns.map((column) => hold.measures[column] ?? null),
      ]
        .map(csvCell)
        .join(','),
    )
    .map((line) => `${line}\n`)
    .join('');
}
