// A file that import reads, as one recording in memory: for the commands that analyse or replay files without a hub.

import { basename } from 'node:path';
import type { ImportPreview } from '../../../shared/http.ts';
import { type Said, said } from '../../../shared/said.ts';
import { collectRecording } from '../../../src/formats/import-file.ts';
import { ok } from '../../../src/result.ts';
import type { ImportedRecording } from '../../../src/sessions/imported-recording.ts';
import { HubError } from '../../base/hub-error.ts';
import { createLocalTime, hubTimeZone } from '../../base/local-time.ts';
import { createCheckedSink, ImportRefused } from './checked-sink.ts';
import { type FileSource, openFileSource } from './file-source.ts';
import { openImport } from './open-import.ts';

export interface FileRecording extends ImportedRecording {
  readonly format: ImportPreview['format'];
  /** What was read as what: a person should be able to see that it was understood. */
  readonly readAs: Said;
}

/** Throws HubError `input.notFound` where it can't be read, `input.malformed` with one sentence for what it holds. */
export function recordingOfFile(path: string, onProgress?: (share: number) => void): FileRecording {
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
    const name = basename(path);
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
  } catch (error) {
    if (error instanceof ImportRefused) throw new HubError('input.malformed', error.said, error);
    const code = (error as NodeJS.ErrnoException).code;
    if (code === 'EISDIR') throw new HubError('input.notFound', said('import.isFolder', { path }), error);
    throw error;
  } finally {
    source.close();
  }
}
