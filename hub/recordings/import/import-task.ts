// The work of an import, wherever it runs: a preview, or the readings of a file staged in order of time and then made to
// the parts of a session. It knows no store and no thread.

import type { ImportPreview } from '../../../shared/http.ts';
import { type Said, said } from '../../../shared/said.ts';
import type { AthleteSettings } from '../../../shared/views.ts';
import type { ImportSummary } from '../../../src/formats/import-file.ts';
import type { SensorProfile } from '../../../src/profiles/sensor-profile.ts';
import { createLocalTime } from '../../base/local-time.ts';
import { createCheckedSink, ImportRefused } from './checked-sink.ts';
import { type FileSource, openFileSource } from './file-source.ts';
import { type ImportChoice, openImport, previewOf, titleOfFileName } from './open-import.ts';
import { openSessionFile, previewOfSessionFile, type SessionFile } from './session-of-file.ts';
import { keptParts, type SessionPart, sessionParts } from './session-parts.ts';
import { createStagedSamples } from './staged-samples.ts';

export interface ImportedFile {
  /** Where it lies on the disk; readings are staged beside it. */
  readonly path: string;
  /** As a person knows it. */
  readonly name: string;
  /** Of times without a zone. */
  readonly timeZone: string;
}

/** What is known of a recording before it is stored. */
export interface ReadRecording {
  /** Null where neither the file nor the person says. */
  readonly startedWallAtMs: number | null;
  readonly durationMs: number;
  readonly simulated: boolean;
  readonly notices: readonly Said[];
  readonly devices: readonly ('strap' | 'oximeter')[];
  /** What the file says it is called, or else what the file is called. */
  readonly title: string;
  /** Of a session file: what the session begins with. */
  readonly kept?: KeptStart;
}

export interface KeptStart {
  readonly settings: AthleteSettings;
  readonly profiles: readonly SensorProfile[];
  /** The version of the hub that recorded it, where that is known. */
  readonly madeBy: string | null;
}

export type ReadProgress = (share: number) => void;

/** Throws `ImportRefused`, and what the file system throws. */
export function runPreview(file: ImportedFile, onProgress?: ReadProgress): ImportPreview {
  const source = openFileSource(file.path);
  source.onProgress = onProgress;
  try {
    const session = openSessionFile(file.name, source);
    if (session !== undefined) return previewOfSessionFile(file.name, session, file.timeZone);
    return previewOf(file.name, openImport(file.name, source, createLocalTime(file.timeZone)));
  } finally {
    source.close();
  }
}

export interface ReadImport {
  readonly recording: ReadRecording;
  /** The parts of the session; called once. */
  parts(startedWallAtMs: number, settings: AthleteSettings): Generator<SessionPart>;
  /** Call in the end, whatever happened. */
  close(): void;
}

/** Reads the whole file. Throws `ImportRefused`, and what the file system throws, with nothing left behind. */
export function readImport(file: ImportedFile, choice: ImportChoice, onProgress?: ReadProgress): ReadImport {
  const source = openFileSource(file.path);
  source.onProgress = onProgress;
  const session = openedSession(file, source);
  if (session !== undefined) return readSession(file, choice, session, () => source.close());
  const staged = createStagedSamples(`${file.path}.readings`);
  try {
    const opened = openImport(file.name, source, createLocalTime(file.timeZone));
    const sink = createCheckedSink(file.name, staged.sink);
    const summary: ImportSummary = opened.read(choice, sink, 'store');
    const more = sink.checked(summary);
    const { beginMs, endMs, startedWallAtMs, simulated, notices } = summary;
    const durationMs = Math.ceil(endMs - beginMs);
    const hasStrap = staged.channels.has('heartRateBpm') || staged.channels.has('rrIntervalMs');
    const hasOximeter = [...staged.channels].some(
      (channel) => channel !== 'heartRateBpm' && channel !== 'rrIntervalMs',
    );
    return {
      recording: {
        startedWallAtMs: startedWallAtMs === null ? null : startedWallAtMs + beginMs,
        durationMs,
        simulated,
        notices: [...opened.notices, ...notices, ...more],
        title: opened.title ?? titleOfFileName(file.name),
        devices: [...(hasStrap ? ['strap' as const] : []), ...(hasOximeter ? ['oximeter' as const] : [])],
      },
      parts: (begunWallAtMs, settings) =>
        sessionParts({
          samples: staged.inOrder(beginMs),
          marks: sink.marks,
          hasRates: staged.channels.has('heartRateBpm'),
          startedWallAtMs: begunWallAtMs,
          durationMs,
          settings,
        }),
      close: () => staged.close(),
    };
  } catch (error) {
    staged.close();
    throw error;
  } finally {
    source.close();
  }
}

function openedSession(file: ImportedFile, source: FileSource): SessionFile | undefined {
  try {
    return openSessionFile(file.name, source);
  } catch (error) {
    source.close();
    throw error;
  }
}

/** Looked at to its end before anything of it is stored. `close` is called where that fails, else by whoever has it. */
function readSession(
  file: ImportedFile,
  choice: ImportChoice,
  session: SessionFile,
  close: () => void,
): ReadImport {
  try {
    if (choice.columns !== undefined || choice.time !== undefined)
      throw new ImportRefused(said('import.sessionRowsFixed', { file: file.name }));
    for (const _packet of session.packets());
  } catch (error) {
    close();
    throw error;
  }
  const { head } = session.content;
  return {
    recording: {
      startedWallAtMs: head.startedWallAtMs,
      durationMs: head.durationMs,
      simulated: head.simulated,
      notices: session.notices,
      devices: [],
      title: head.title === '' ? titleOfFileName(file.name) : head.title,
      kept: { settings: head.settings, profiles: session.profiles, madeBy: head.recordedBy },
    },
    parts: () => keptParts(session),
    close,
  };
}

export { ImportRefused };
