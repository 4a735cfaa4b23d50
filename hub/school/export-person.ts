// Everything that the archive has of one person as one file: a session file for each of their recordings, of whatever hub,
// and a list of it all. Made a recording at a time, so that years of them fit into memory.

import { foldedName } from '../../shared/name-text.ts';
import { packedDate, sha256Of } from '../recordings/export/session-archive.ts';
import type { RecordedSessions } from '../recordings/recorded-sessions.ts';
import type { Archive } from './archive/archive.ts';
import { recordingsLed } from './archive/leaders.ts';
import { schoolSessionId } from './archive/school-ids.ts';
import { type ZippedFile, zipOf } from './zip-stream.ts';

/** Of `list.json`. Raise it with any change of its shape. */
const listVersion = 2;

export interface PersonExportParts {
  readonly archive: Pick<Archive, 'pool'>;
  readonly recordings: Pick<RecordedSessions, 'file'>;
  readonly personId: string;
  readonly exportedAtWallMs: number;
  readonly signal: AbortSignal;
}

interface AthleteRow {
  readonly hub_id: string;
  readonly room: string;
  readonly athlete_id: string;
  readonly name: string;
  readonly body: string;
}

interface RecordingRow {
  readonly hub_id: string;
  readonly session_id: string;
  readonly title: string;
  readonly started_wall_at_ms: number;
  readonly duration_ms: number;
  readonly status: string;
  readonly others: number;
  readonly holds: number;
}

/** One of `list.json`. `file`: its name in the archive, with its checksum; null where `fault` says why there is none. */
interface ListedRecording {
  readonly sessionId: string;
  readonly hub: string;
  readonly title: string;
  readonly startedAt: string;
  readonly durationMs: number;
  readonly status: string;
  readonly otherPeople: number;
  readonly holds: number;
  readonly file: string | null;
  readonly sha256: string | null;
  readonly fault: string | null;
}

export async function athletesOfPerson(
  { pool }: Pick<Archive, 'pool'>,
  personId: string,
): Promise<readonly AthleteRow[]> {
  const { rows } = await pool.query<AthleteRow>(
    `SELECT a.hub_id, h.name AS room, a.athlete_id, a.name, a.body FROM athletes a JOIN hubs h USING (hub_id)
     WHERE a.person_id = $1 ORDER BY a.hub_id, a.athlete_id`,
    [personId],
  );
  return rows;
}

/** A ZIP archive, piece by piece. `athletes`: theirs, as `athletesOfPerson` answers. */
export const exportPerson = (
  parts: PersonExportParts,
  athletes: readonly AthleteRow[],
): AsyncGenerator<Uint8Array, void, undefined> => zipOf(filesOf(parts, athletes), new Date(packedDate));

async function* filesOf(
  parts: PersonExportParts,
  athletes: readonly AthleteRow[],
): AsyncGenerator<ZippedFile, void, undefined> {
  const listed: ListedRecording[] = [];
  for (const row of await recordingsOf(parts, athletes)) {
    const { one, bytes } = await recordingFile(parts, row);
    listed.push(one);
    if (bytes !== undefined && one.file !== null) yield { name: one.file, bytes };
  }
  const names = new Set(athletes.map(({ name }) => foldedName(name)));
  const led = await recordingsLed(parts.archive.pool, names);
  const list = { version: listVersion, ...(await headOf(parts, athletes)), recordings: listed, led };
  yield { name: 'list.json', bytes: new TextEncoder().encode(`${JSON.stringify(list, null, 1)}\n`) };
}

async function recordingsOf(
  { archive }: PersonExportParts,
  athletes: readonly AthleteRow[],
): Promise<readonly RecordingRow[]> {
  const { rows } = await archive.pool.query<RecordingRow>(
    `SELECT DISTINCT ON (s.started_wall_at_ms, s.hub_id, s.session_id) s.hub_id, s.session_id, s.title,
       s.started_wall_at_ms, s.duration_ms, s.status, cardinality(s.athlete_ids) - 1 AS others,
       (SELECT count(*)::int FROM holds o WHERE o.month = s.month AND o.hub_id = s.hub_id
          AND o.session_id = s.session_id AND o.athlete_id = t.athlete_id) AS holds
     FROM json_to_recordset($1) AS t (hub_id text, athlete_id text)
     JOIN sessions s ON s.hub_id = t.hub_id AND s.athlete_ids @> ARRAY[t.athlete_id] WHERE s.view IS NOT NULL
     ORDER BY s.started_wall_at_ms, s.hub_id, s.session_id`,
    [JSON.stringify(athletes.map(({ hub_id, athlete_id }) => ({ hub_id, athlete_id })))],
  );
  return rows;
}

async function recordingFile(
  { recordings, personId, signal }: PersonExportParts,
  row: RecordingRow,
): Promise<{ readonly one: ListedRecording; readonly bytes: Uint8Array | undefined }> {
  const sessionId = schoolSessionId(row.hub_id, row.session_id);
  const one = {
    sessionId,
    hub: row.hub_id,
    title: row.title,
    startedAt: new Date(row.started_wall_at_ms).toISOString(),
    durationMs: row.duration_ms,
    status: row.status,
    otherPeople: row.others,
    holds: row.holds,
  };
  try {
    const bytes = await recordings.file(sessionId, personId, 'session', { urgency: 'page', signal });
    if (bytes === undefined) throw new Error('notThere');
    return { one: { ...one, file: `${sessionId}.session.zip`, sha256: sha256Of(bytes), fault: null }, bytes };
  } catch (error) {
    if (signal.aborted) throw error;
    // The others are no less theirs; what is missing is said.
    const fault = error instanceof Error ? error.message : String(error);
    return { one: { ...one, file: null, sha256: null, fault }, bytes: undefined };
  }
}

async function headOf(
  { archive, personId, exportedAtWallMs }: PersonExportParts,
  athletes: readonly AthleteRow[],
): Promise<object> {
  const { rows } = await archive.pool.query<{
    hub_id: string;
    kind: string;
    group_id: string | null;
    body: string;
  }>(
    `SELECT d.hub_id, d.kind, d.group_id, d.body FROM json_to_recordset($1) AS t (hub_id text, athlete_id text)
     JOIN documents d USING (hub_id, athlete_id) ORDER BY d.hub_id, d.kind, d.position`,
    [JSON.stringify(athletes)],
  );
  return {
    person: personId,
    exportedAt: new Date(exportedAtWallMs).toISOString(),
    knownAs: athletes.map(({ hub_id, room, name, body }) => ({
      hub: hub_id,
      room,
      name,
      settings: JSON.parse(body) as unknown,
    })),
    documents: rows.map(({ hub_id, kind, group_id, body }) => ({
      hub: hub_id,
      kind,
      of: group_id,
      body: JSON.parse(body) as unknown,
    })),
  };
}
