// Files sent for import, kept on the disk for as long as they are read, in a folder that nobody else can read.

import { createWriteStream } from 'node:fs';
import { mkdtemp, readdir, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { type Readable, Transform } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import { said } from '../../../shared/said.ts';
import { isRunning } from '../../base/is-running.ts';
import { ImportRefused } from './checked-sink.ts';

const prefix = 'slackwater-import-';

export interface Upload {
  readonly path: string;
  readonly byteCount: number;
  /** Removes the file and whatever was put beside it. */
  remove(): Promise<void>;
}

/** Rejects with `ImportRefused` for more than `mostBytes`, and with what the stream or the disk says. */
export async function receiveUpload(
  body: Readable,
  mostBytes: number,
  onBytes: (count: number) => void,
): Promise<Upload> {
  const folder = await mkdtemp(join(tmpdir(), `${prefix}${process.pid}-`));
  const path = join(folder, 'file');
  const remove = () => rm(folder, { recursive: true, force: true });
  let byteCount = 0;
  const counter = new Transform({
    transform(chunk: Buffer, _encoding, done) {
      byteCount += chunk.length;
      onBytes(byteCount);
      if (byteCount > mostBytes)
        done(new ImportRefused(said('import.tooLarge', { megabytes: Math.round(mostBytes / 2 ** 20) })));
      else done(null, chunk);
    },
  });
  try {
    await pipeline(body, counter, createWriteStream(path, { mode: 0o600 }));
    return { path, byteCount, remove };
  } catch (error) {
    await remove();
    throw error;
  }
}

/** Takes away what a hub left behind that was stopped while reading. */
export async function removeStaleUploads(): Promise<void> {
  for (const name of await readdir(tmpdir())) {
    const pid = /^slackwater-import-(\d+)-/.exec(name)?.[1];
    if (pid === undefined || Number(pid) === process.pid || isRunning(Number(pid))) continue;
    await rm(join(tmpdir(), name), { recursive: true, force: true });
  }
}
