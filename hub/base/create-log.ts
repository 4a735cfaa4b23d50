// The hub's log: lines of JSON (pino) to standard error, or to a file where the settings name one; of people only that there are some.

import { resolve } from 'node:path';
import pino from 'pino';
import { LineWriter, rateLimited } from './bounded-log.ts';
import type { Config } from './config.ts';
import type { HubLog } from './log.ts';
import { type LogFile, openLogFile } from './log-file.ts';
import { systemClock } from './system-clock.ts';
import { WithoutPeople } from './without-people.ts';

export type LogSettings = Pick<Config, 'log' | 'log-file' | 'log-size' | 'log-keep'>;

/** One for all logs of the process, so that lines stay whole. */
const standardError = new LineWriter(2);
process.once('exit', () => standardError.flush());
const files = new Map<string, LogFile>();

/** `names`: of people and their devices, which are taken out of each line. */
export function createLog(settings: LogSettings, names: () => readonly string[] = () => []): HubLog {
  const { log: level } = settings;
  const logger = pino({ level, base: null }, { write: sinkOf(settings) });
  const without = new WithoutPeople(names);
  return rateLimited(
    {
      info: (message) => logger.info(without.text(message)),
      warn: (message) => logger.warn(without.text(message)),
      error: (message, cause) =>
        cause === undefined
          ? logger.error(without.text(message))
          : logger.error({ err: without.fault(cause) }, without.text(message)),
    },
    systemClock,
  );
}

function sinkOf(settings: LogSettings): (line: string) => void {
  const name = settings['log-file'];
  if (name === undefined) return standardError.line;
  const path = resolve(name);
  let file = files.get(path);
  if (file === undefined) {
    file = openLogFile(
      { path, mostBytes: settings['log-size'] * 2 ** 20, keep: settings['log-keep'] },
      () => systemClock.nowMs(),
      (error) =>
        standardError.line(
          `${JSON.stringify({ level: 50, time: systemClock.wallNowMs(), msg: error.message })}\n`,
        ),
    );
    files.set(path, file);
  }
  const kept = file;
  return (line) => {
    // Better there than nowhere.
    if (!kept.line(line)) standardError.line(line);
  };
}
