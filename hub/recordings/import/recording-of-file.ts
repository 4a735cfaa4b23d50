// A file that import reads, as one recording in memory: for the commands that analyse or replay files without a hub.

import { basename } from 'node:path';
import type { ImportPreview } from '../../../shared/http.ts';
import { type Said, said } from '../../../shared/said.ts';
import { collectRecording } from '../../../src/formats/import-file.ts';
import { athleteOfFile } from '../../../src/formats/session-file/session-content.ts';
import type { SensorProfile } from '../../../src/profiles/sensor-profile.ts';
import { ok } from '../../../src/result.ts';
import type { ImportedRecording } from '../../../src/sessions/imported-recording.ts';
import { HubError } from '../../base/hub-error.ts';
import { createLocalTime, hubTimeZone } from '../../base/local-time.ts';
import type { StoredPacket, StoredSession } from '../../base/ports/stored-session.ts';
import { sessionOfContent } from '../session-file-shapes.ts';
import { createCheckedSink, ImportRefused } from './checked-sink.ts';
import { type FileSource, openFileSource } from './file-source.ts';
import { openImport } from './open-import.ts';
import { openSessionFile, sessionFileReadAs } from './session-of-file.ts';

export interface FileRecording extends ImportedRecording {
  readonly format: ImportPreview['format'];
  /** What was read as what: a person should be able to see that it was understood. */
  readonly readAs: Said;
}

export interface WholeSession {
  readonly stored: StoredSession;
  readonly athleteId: string;
  readonly profiles: readonly SensorProfile[];
  readonly packets: readonly StoredPacket[];
  readonly notices: readonly Said[];
}

/**
 * Throws HubError `input.notFound` where it can't be read, `input.malformed` with one sentence for what it holds: what
 * `read` makes of an open file.
 */
function readingFile<Read>(
  path: string,
  onProgress: ((share: number) => void) | undefined,
  read: (name: string, source: FileSource) => Read,
): Read {
  let source: FileSource;
  try {
    source = openFileSource(path);
  } catch (cause) {
    const code = (cause as NodeJS.ErrnoException).code;
    const reason =
      code === 'ENOENT'
        ? said('import.noSuchFile', { path })
        : code === 'EACCES'
          ? said('import.notAllowed', { path })
          : said('import.unreadable', { path, reason: code ?? String(cause) });
    throw new HubError('input.notFound', reason, cause);
  }
  source.onProgress = onProgress;
  try {
    return read(basename(path), source);
  } catch (error) {
    if (error instanceof ImportRefused) throw new HubError('input.malformed', error.said, error);
    const code = (error as NodeJS.ErrnoException).code;
    if (code === 'EISDIR') throw new HubError('input.notFound', said('import.isFolder', { path }), error);
    throw error;
  } finally {
    source.close();
  }
}

/** The same errors. */
export const recordingOfFile = (path: string, onProgress?: (share: number) => void): FileRecording =>
  readingFile(path, onProgress, (name, source) => {
    const opened = openImport(name, source, createLocalTime(hubTimeZone()));
    const { outline } = opened;
    const collected = collectRecording((sink) => {
      const checked = createCheckedSink(name, sink);
      const summary = opened.read({}, checked, 'look');
      // A file of the long format with a heading and no rows is an empty recording, not a mistake.
      const more = checked.count === 0 && outline.format === 'longCsv' ? [] : checked.checked(summary);
      for (const mark of checked.marks) sink.mark({ ...mark, atMs: mark.atMs + summary.beginMs });
      return ok({ ...summary, notices: [...summary.notices, ...more] });
    });
    if (!collected.ok) throw new ImportRefused(collected.reason.said);
    const columns = outline.columns.flatMap(({ name: column, suggested }) =>
      suggested === null ? [] : [`${column.trim()} as ${suggested.channel}`],
    );
    return {
      ...collected.value,
      notices: [...opened.notices, ...collected.value.notices],
      format: outline.format,
      readAs: said('import.readAs', {
        path,
        format: said(`import.format.${outline.format}`),
        columns: columns.join(', '),
      }),
    };
  });

/** A session file whole, and how it was understood; undefined for any other file. The same errors. */
export const sessionOfFile = (path: string, onProgress?: (share: number) => void): WholeSession | undefined =>
  readingFile(path, onProgress, (name, source) => {
    const file = openSessionFile(name, source);
    if (file === undefined) return undefined;
    const packets = [...file.packets()];
    const whose = { sessionId: name, athleteId: athleteOfFile, athleteName: file.content.head.athleteName };
    return {
      stored: sessionOfContent(file.content, file.profiles, whose),
      athleteId: athleteOfFile,
      profiles: file.profiles,
      packets,
      notices: [sessionFileReadAs(path, file), ...file.notices],
    };
  });
