// One of the threads that analyse a folder: a file at a time, answered with its analysis or with why there is none.

import { parentPort } from 'node:worker_threads';
import { HubError } from '../../base/hub-error.ts';
import { analysisOfFile, type FileAnalysis } from './analysis-of-file.ts';

export interface AnalyzeOrder {
  readonly index: number;
  readonly path: string;
  readonly floorPercent: number | undefined;
}
export type AnalyzeAnswer = { readonly index: number } & (
  | { readonly ok: true; readonly result: FileAnalysis }
  | { readonly ok: false; readonly reason: string }
);

const port = parentPort;
if (port === null) throw new Error('analyze.noParentPort');

port.on('message', ({ index, path, floorPercent }: AnalyzeOrder) => {
  let answer: AnalyzeAnswer;
  try {
    answer = { index, ok: true, result: analysisOfFile(path, floorPercent) };
  } catch (error) {
    if (!(error instanceof HubError)) throw error;
    answer = { index, ok: false, reason: error.message };
  }
  port.postMessage(answer);
});
