// A stored recording of one athlete as files: CSV, EDF+, FHIR, Parquet and WFDB for other programs, and a labelled extract.
// All carry what the sensors sent; holds, alarms and gaps stand beside it with how they came about.

import { createHash } from 'node:crypto';
import { zipSync } from 'fflate';
import type { Athlete } from '../../../shared/views.ts';
import { edfOfRecording } from '../../../src/formats/edf/edf-of-recording.ts';
import { encodeEdf } from '../../../src/formats/edf/encode-edf.ts';
import { fhirBundleOfRecording } from '../../../src/formats/fhir/bundle-of-recording.ts';
import type { LocalTime } from '../../../src/formats/import-file.ts';
import { extractOfRecording } from '../../../src/formats/labelled-extract/extract-of-recording.ts';
import { wfdbOfRecording } from '../../../src/formats/wfdb/wfdb-of-recording.ts';
import type { PipelineEvent } from '../../../src/pipeline.ts';
import type { SensorProfile } from '../../../src/profiles/sensor-profile.ts';
import { correctMarks } from '../../../src/sessions/correct-marks.ts';
import type { DerivedGap, MeasuredHold } from '../../../src/sessions/derive-recording.ts';
import { samplesAsSent, sensorSamples } from '../../../src/sessions/sensor-samples.ts';
import { createLocalTime, hubTimeZone } from '../../base/local-time.ts';
import type { StoredSession } from '../../base/ports/stored-session.ts';
import { alarmsForFile } from './alarms-for-file.ts';
import { changesForFile } from './changes-for-file.ts';
import { csvOfRecording, localIsoText } from './csv-of-recording.ts';
import { holdsForFile, sourceWords } from './holds-for-file.ts';
import { measuresCsv } from './measures-csv.ts';
import { parquetOfRecording } from './parquet-of-recording.ts';
import { packedDate } from './session-archive.ts';

export interface RecordingToExport {
  readonly stored: StoredSession;
  readonly athlete: Athlete;
  /** Of this athlete, in time order; gone through once. */
  readonly events: Iterable<PipelineEvent>;
  /** By which the sensors are read. */
  readonly profiles: readonly SensorProfile[];
  /** As corrected. */
  readonly holds: readonly MeasuredHold[];
  readonly gaps: readonly DerivedGap[];
}

/**
 * "slackwater-Mira-2025-05-03-1705-SIMULATED.edf": whose it is, and the day and minute of the start in local time.
 * Of a name are left letters and digits of every script.
 */
export function exportFileName(stored: StoredSession, athleteId: string, extension: string): string {
  const { session, athletes } = stored;
  const name = athletes.find((each) => each.athleteId === athleteId)?.name ?? '';
  const plain = plainFileName(name);
  const parts = ['slackwater', plain, startedAt(session), session.simulated ? 'SIMULATED' : ''];
  return `${parts.filter((part) => part !== '').join('-')}.${extension}`;
}

/** Letters and digits of every script, 40 at most. */
export const plainFileName = (name: string): string =>
  name
    .replaceAll(/[^\p{L}\p{M}\p{N}]+/gu, '-')
    .replaceAll(/^-|-$/g, '')
    .slice(0, 40);

/** "2025-05-03-1705" */
const startedAt = ({ startedWallAtMs }: StoredSession['session']): string =>
  localIsoText(startedWallAtMs, zoneOfFiles()).slice(0, 16).replace('T', '-').replace(':', '');

const samplesOf = ({ events, profiles }: RecordingToExport) => sensorSamples(events, profiles);

/**
 * As corrected, as they stand on the page. A boundary that a person put right is a mark of theirs like any other: so it
 * comes back when the file is read again.
 */
const marksOf = ({ stored, athlete, holds }: RecordingToExport) => {
  const { athleteId } = athlete;
  const marks = stored.marks.filter(({ mark, removed }) => !removed && mark.athleteId === athleteId);
  const steps = stored.corrections.filter((correction) => correction.athleteId === athleteId);
  const corrected = correctMarks(
    marks.map(({ mark }) => mark),
    steps.map(({ step }) => step),
  ).marks.map(({ mark }) => ({ ...mark, athleteId }));
  const boundaries = holds.flatMap(({ hold: { holdId, start, end } }) =>
    (
      [
        ['holdStart', start],
        ['holdEnd', end],
      ] as const
    ).flatMap(([kind, boundary]) =>
      boundary?.source === 'corrected'
        ? [{ markId: `${holdId}-${kind}`, athleteId, kind, atMs: boundary.atMs, text: null }]
        : [],
    ),
  );
  return [...corrected, ...boundaries].sort((a, b) => a.atMs - b.atMs);
};

/** Files say times of the hub's own place, with UTC beside. */
const zoneOfFiles = (): LocalTime => createLocalTime(hubTimeZone());

/** The text in chunks. */
export function csvFile(recording: RecordingToExport): Generator<string> {
  const { stored, athlete } = recording;
  const { athleteId } = athlete;
  return csvOfRecording(
    stored.session,
    athlete,
    samplesAsSent(recording.events, recording.profiles),
    marksOf(recording),
    {
      alarms: alarmsForFile(stored.alarms, athleteId),
      changes: changesForFile(stored.changes, athleteId),
      holds: holdsForFile(recording),
    },
    zoneOfFiles(),
  );
}

/** Every measure of every hold, as text. */
export const measuresFile = (recording: RecordingToExport): string =>
  measuresCsv(recording.stored.session, recording.athlete, holdsForFile(recording), zoneOfFiles());

export function edfFile(recording: RecordingToExport): Uint8Array {
  const { stored, athlete, holds, gaps } = recording;
  return encodeEdf(
    edfOfRecording({
      athleteName: athlete.name,
      title: stored.session.title,
      simulated: stored.session.simulated,
      startedWallAtMs: stored.session.startedWallAtMs,
      zone: zoneOfFiles(),
      durationMs: stored.durationMs,
      samples: samplesOf(recording),
      marks: marksOf(recording),
      holds: holds.map(({ hold }) => ({
        startMs: hold.start.atMs,
        startSource: hold.proposed === true ? 'proposed' : sourceWords[hold.start.source],
        endMs: hold.end?.atMs ?? null,
        endSource: hold.end === undefined ? null : sourceWords[hold.end.source],
      })),
      alarms: alarmsForFile(stored.alarms, athlete.athleteId),
      changes: changesForFile(stored.changes, athlete.athleteId),
      gaps: gaps.map(({ channel, fromMs, toMs }) => ({ fromMs, toMs, reason: `no ${channel}` })),
    }),
  );
}

export function fhirFile(recording: RecordingToExport): string {
  const { stored, athlete } = recording;
  const bundle = fhirBundleOfRecording(
    {
      sessionId: stored.session.sessionId,
      athleteId: athlete.athleteId,
      athleteName: athlete.name,
      title: stored.session.title,
      simulated: stored.session.simulated,
      startedWallAtMs: stored.session.startedWallAtMs,
      durationMs: stored.durationMs,
      samples: samplesOf(recording),
      holds: holdsForFile(recording),
      notes: marksOf(recording).flatMap(({ markId, kind, atMs, text }) =>
        kind === 'note' && text !== null ? { markId, atMs, text } : [],
      ),
      alarms: alarmsForFile(stored.alarms, athlete.athleteId),
      sensors: stored.sensors.filter(
        (sensor, index, all) =>
          sensor.athleteId === athlete.athleteId &&
          all.findIndex(({ sensorId }) => sensorId === sensor.sensorId) === index,
      ),
    },
    uuidOf,
  );
  return `${JSON.stringify(bundle, null, 1)}\n`;
}

/** A labelled extract (src/formats/labelled-extract/README.md). */
export function extractFile(recording: RecordingToExport): string {
  const { stored, holds } = recording;
  const extract = extractOfRecording({
    simulated: stored.session.simulated,
    durationMs: stored.durationMs,
    samples: samplesOf(recording),
    holds: holds.map(({ hold }) => hold),
    marks: marksOf(recording),
  });
  return `${JSON.stringify(extract)}\n`;
}

/** A UUID of version 5 (RFC 9562 s5.5) within a name space of our own: the same name gives the same UUID. */
function uuidOf(name: string): string {
  const hash = createHash('sha1').update('slackwater recording ').update(name).digest();
  hash[6] = (hash[6]! & 0x0f) | 0x50;
  hash[8] = (hash[8]! & 0x3f) | 0x80;
  const hex = hash.toString('hex');
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20, 32)].join(
    '-',
  );
}

export function parquetFile(recording: RecordingToExport): Uint8Array {
  const { stored, athlete } = recording;
  return parquetOfRecording(stored.session, athlete, samplesOf(recording), marksOf(recording), zoneOfFiles());
}

/** The three files of a WFDB record, packed. */
export function wfdbFile(recording: RecordingToExport): Uint8Array {
  const { stored, athlete } = recording;
  const files = wfdbOfRecording({
    // A record is named by letters, digits and underscores of ASCII.
    recordName: `slackwater_${startedAt(stored.session).replaceAll('-', '_')}${stored.session.simulated ? '_SIMULATED' : ''}`,
    athleteName: athlete.name,
    title: stored.session.title,
    simulated: stored.session.simulated,
    startedWallAtMs: stored.session.startedWallAtMs,
    zone: zoneOfFiles(),
    durationMs: stored.durationMs,
    samples: samplesOf(recording),
    marks: marksOf(recording),
  });
  return zipSync(Object.fromEntries(files.map(({ name, bytes }) => [name, bytes])), { mtime: packedDate });
}
