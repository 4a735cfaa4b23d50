// The archive's tables in PostgreSQL, one step of SQL a version, and bringing a database up to date. Never change a step
// that has been released: add the next.

import type { ClientBase } from 'pg';
import { said } from '../../../shared/said.ts';
import { HubError } from '../../base/hub-error.ts';

/**
 * What grows is partitioned by the month in which its session began, so that a month can be moved or let go as one
 * table; partitions are made as they are needed (`partitions.ts`). Times with `_ms` are as the hub has them.
 */
const steps: readonly string[] = [
  `
  CREATE TABLE hubs (
    hub_id text PRIMARY KEY,
    name text NOT NULL,
    list_revision bigint NOT NULL DEFAULT 0,
    first_seen timestamptz NOT NULL DEFAULT now(),
    last_kept timestamptz NOT NULL DEFAULT now()
  );
  CREATE TABLE persons (
    person_id text PRIMARY KEY,
    created timestamptz NOT NULL DEFAULT now()
  );
  CREATE TABLE athletes (
    hub_id text NOT NULL REFERENCES hubs,
    athlete_id text NOT NULL,
    person_id text NOT NULL REFERENCES persons,
    name text NOT NULL,
    body text NOT NULL,
    is_listed boolean NOT NULL DEFAULT true,
    PRIMARY KEY (hub_id, athlete_id)
  );
  CREATE INDEX athletes_by_person ON athletes (person_id);
  CREATE TABLE merges (
    merge_id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    kept_person_id text NOT NULL,
    taken_person_id text NOT NULL,
    moved jsonb NOT NULL,
    done_by text NOT NULL,
    done_at timestamptz NOT NULL DEFAULT now(),
    undone_by text,
    undone_at timestamptz
  );
  CREATE TABLE documents (
    hub_id text NOT NULL REFERENCES hubs,
    kind text NOT NULL,
    document_id text NOT NULL,
    position int NOT NULL,
    group_id text,
    athlete_id text,
    body text NOT NULL,
    PRIMARY KEY (hub_id, kind, document_id)
  );
  CREATE TABLE sessions (
    hub_id text NOT NULL REFERENCES hubs,
    session_id text NOT NULL,
    month date NOT NULL,
    started_at timestamptz NOT NULL,
    started_wall_at_ms double precision NOT NULL,
    generation int NOT NULL DEFAULT 0,
    shown_generation int NOT NULL DEFAULT 0,
    revision bigint NOT NULL DEFAULT 0,
    status text NOT NULL DEFAULT 'recording' CHECK (status IN ('recording', 'ended', 'interrupted')),
    ended_at_ms double precision,
    duration_ms double precision NOT NULL DEFAULT 0,
    packet_count bigint,
    title text NOT NULL DEFAULT '',
    view text,
    hold_count int NOT NULL DEFAULT 0,
    longest_hold_ms double precision,
    lowest_percent double precision,
    athlete_ids text[] NOT NULL DEFAULT '{}',
    changed bigint NOT NULL DEFAULT 0,
    PRIMARY KEY (hub_id, session_id)
  );
  CREATE INDEX sessions_by_start ON sessions (started_at DESC);
  CREATE INDEX sessions_by_athlete ON sessions USING gin (athlete_ids);
  CREATE INDEX sessions_by_change ON sessions (changed);
  CREATE SEQUENCE session_changes;
  CREATE TABLE coverage (
    hub_id text NOT NULL,
    session_id text NOT NULL,
    generation int NOT NULL,
    covered bigint NOT NULL,
    PRIMARY KEY (hub_id, session_id, generation)
  );
  CREATE TABLE segments (
    month date NOT NULL,
    hub_id text NOT NULL,
    session_id text NOT NULL,
    generation int NOT NULL,
    first_packet bigint NOT NULL,
    packet_count bigint NOT NULL CHECK (packet_count > 0),
    unreadable_before bigint NOT NULL,
    last_at_ms double precision NOT NULL,
    sha256 bytea NOT NULL,
    body bytea NOT NULL,
    kept_at timestamptz NOT NULL DEFAULT now(),
    PRIMARY KEY (month, hub_id, session_id, generation, first_packet)
  ) PARTITION BY RANGE (month);
  ALTER TABLE segments ALTER COLUMN body SET STORAGE EXTERNAL;
  CREATE TABLE told (
    month date NOT NULL,
    hub_id text NOT NULL,
    session_id text NOT NULL,
    revision bigint NOT NULL,
    body bytea NOT NULL,
    PRIMARY KEY (month, hub_id, session_id)
  ) PARTITION BY RANGE (month);
  ALTER TABLE told ALTER COLUMN body SET STORAGE EXTERNAL;
  CREATE TABLE holds (
    month date NOT NULL,
    hub_id text NOT NULL,
    session_id text NOT NULL,
    athlete_id text NOT NULL,
    hold_id text NOT NULL,
    start_at timestamptz NOT NULL,
    length_ms double precision,
    lowest_percent double precision,
    body text NOT NULL,
    PRIMARY KEY (month, hub_id, session_id, athlete_id, hold_id)
  ) PARTITION BY RANGE (month);
  CREATE INDEX holds_by_athlete ON holds (hub_id, athlete_id, start_at);
  CREATE TABLE alarms (
    month date NOT NULL,
    hub_id text NOT NULL,
    session_id text NOT NULL,
    athlete_id text NOT NULL,
    alarm_id text NOT NULL,
    raised_at timestamptz NOT NULL,
    kind text NOT NULL,
    priority text NOT NULL,
    body text NOT NULL,
    PRIMARY KEY (month, hub_id, session_id, athlete_id, alarm_id)
  ) PARTITION BY RANGE (month);
  CREATE TABLE summaries (
    session_id text NOT NULL,
    athlete_id text NOT NULL,
    made_by text NOT NULL,
    body text NOT NULL,
    PRIMARY KEY (session_id, athlete_id)
  );
  CREATE INDEX summaries_by_athlete ON summaries (athlete_id);
  COMMENT ON TABLE summaries IS 'By the ids that pages of the school know: hub.session, and the person.';
  CREATE TABLE log (
    log_id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    at timestamptz NOT NULL DEFAULT now(),
    hub_id text,
    who text NOT NULL,
    what text NOT NULL,
    about jsonb NOT NULL
  );
  CREATE TABLE refused (
    refused_id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    at timestamptz NOT NULL DEFAULT now(),
    hub_id text NOT NULL,
    kind text NOT NULL,
    reason text NOT NULL,
    content_key text NOT NULL UNIQUE,
    body bytea NOT NULL
  );
  `,
  `
  CREATE TABLE erasures (
    erasure_id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    asked_at timestamptz NOT NULL DEFAULT now(),
    asked_by text NOT NULL,
    asked_at_hub text REFERENCES hubs,
    archive_done_at timestamptz NOT NULL DEFAULT now(),
    stream_sequence bigint,
    stream_done_at timestamptz
  );
  COMMENT ON TABLE erasures IS 'That somebody was erased, never who.';
  CREATE TABLE erasure_hubs (
    number bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    erasure_id bigint NOT NULL REFERENCES erasures,
    hub_id text NOT NULL REFERENCES hubs,
    athlete_hash text NOT NULL,
    done_at timestamptz,
    UNIQUE (hub_id, athlete_hash)
  );
  CREATE INDEX erasure_hubs_by_erasure ON erasure_hubs (erasure_id);
  CREATE TABLE erased_recordings (
    hub_id text NOT NULL REFERENCES hubs,
    session_hash text NOT NULL,
    generations text[],
    PRIMARY KEY (hub_id, session_hash)
  );
  COMMENT ON COLUMN erased_recordings.generations IS 'Of which nothing is taken any more; null: all of it is gone for good.';
  `,
  // Generations have names of their own, which hubs make; their numbers here are only shorter. Fingerprints of what came
  // before are worked out when they are asked for.
  `
  ALTER TABLE coverage
    ADD COLUMN generation_name text,
    ADD COLUMN fingerprint bytea,
    ADD COLUMN athlete_ids text[],
    ADD COLUMN state text NOT NULL DEFAULT 'open' CHECK (state IN ('open', 'aside', 'gone'));
  UPDATE coverage SET generation_name = generation::text;
  UPDATE coverage c SET state = 'gone', covered = 0 FROM sessions s
    WHERE s.hub_id = c.hub_id AND s.session_id = c.session_id AND c.generation < s.shown_generation;
  UPDATE coverage c SET athlete_ids = s.athlete_ids FROM sessions s
    WHERE s.hub_id = c.hub_id AND s.session_id = c.session_id AND c.generation = s.generation AND s.revision > 0;
  ALTER TABLE coverage ALTER COLUMN generation_name SET NOT NULL,
    ADD UNIQUE (hub_id, session_id, generation_name);
  COMMENT ON COLUMN coverage.state IS
    'aside: another generation took its place, and this one holds packets that the other has not; gone: its packets were let go';
  ALTER TABLE segments ADD COLUMN fingerprint bytea;
  ALTER TABLE hubs ADD COLUMN identity text;
  COMMENT ON COLUMN hubs.identity IS 'Of the hub that came first under this name; others under it are refused';
  `,
  // Who led a recording; nobody said so of those of before.
  `
  ALTER TABLE sessions ADD COLUMN leaders jsonb NOT NULL DEFAULT '[]';
  CREATE INDEX sessions_led ON sessions (hub_id) WHERE leaders <> '[]';
  `,
];

const archiveVersion = steps.length;
/** Two schools that start at once: one of them waits. Any number of our own. */
const migrationLock = 0x534c5741;

/** Brings the database to this program's version. Throws a HubError for one of a newer program. */
export async function migrateArchive(client: ClientBase): Promise<void> {
  await client.query('BEGIN');
  try {
    await client.query('SELECT pg_advisory_xact_lock($1)', [migrationLock]);
    await client.query(
      'CREATE TABLE IF NOT EXISTS archive_version (version int PRIMARY KEY, since timestamptz NOT NULL DEFAULT now())',
    );
    const { rows } = await client.query<{ version: number }>(
      'SELECT coalesce(max(version), 0) AS version FROM archive_version',
    );
    const from = rows[0]?.version ?? 0;
    if (from > archiveVersion)
      throw new HubError(
        'data.newerVersion',
        said('school.newerArchive', { version: from, known: archiveVersion }),
      );
    for (let version = from; version < archiveVersion; version++) {
      await client.query(steps[version]!);
      await client.query('INSERT INTO archive_version (version) VALUES ($1)', [version + 1]);
    }
    await client.query('COMMIT');
  } catch (error) {
    await client.query('ROLLBACK').catch(() => undefined);
    throw error;
  }
}
