// A hub as its school sees it: recordings in a store, and the thread that sends them. And the taking side of a school.

import type { HubLog } from '../../../hub/base/log.ts';
import type { AuditLog } from '../../../hub/base/ports/audit-log.ts';
import type { Clock } from '../../../hub/base/ports/clock.ts';
import type { Store } from '../../../hub/base/ports/store.ts';
import { systemClock } from '../../../hub/base/system-clock.ts';
import type { SqliteStore } from '../../../hub/recorder/sqlite-store.ts';
import { type Archive, openArchive } from '../../../hub/school/archive/archive.ts';
import { answerErased } from '../../../hub/school/archive/erasures.ts';
import { answerHubs } from '../../../hub/school/archive/hub-questions.ts';
import { Intake, type IntakeState } from '../../../hub/school/archive/intake.ts';
import { connectNats } from '../../../hub/school/nats/connect.ts';
import type { Eraser } from '../../../hub/school/publish/erased-people.ts';
import { hubIdIn } from '../../../hub/school/publish/hub-id.ts';
import { HubPublisher } from '../../../hub/school/publish/hub-publisher.ts';
import { answerRoom } from '../../../hub/school/publish/room-answers.ts';
import { eraserOf } from '../../../hub/school/publish/send-to-school.ts';
import type { SchoolLink } from '../../../shared/school/pages.ts';
import { bundleModule } from '../bundled-module.ts';
import { type ServedTestHub, testLog } from '../serve-test-hub.ts';
import { query } from './servers.ts';

/** What is logged shows where asked for, to find out why a test fails. */
const shownLog: HubLog =
  process.env['SLACKWATER_TEST_LOG'] === undefined
    ? testLog
    : {
        info: (text) => console.info(new Date().toISOString(), text),
        warn: (text) => console.warn(new Date().toISOString(), text),
        error: (text, cause) => console.error(new Date().toISOString(), text, String(cause)),
      };

let bundled: Promise<string> | undefined;

/** The publishing thread as one file, so that a test that starts it often does not wait for a loader each time. */
export function bundlePublisher(): Promise<string> {
  bundled ??= bundleModule('hub/school/publish/publisher-worker.ts', `publisher-worker-${process.pid}.mjs`);
  return bundled;
}

export interface SendingHub {
  readonly state: () => SchoolLink | undefined;
  /** Hands a live message to whoever listens on the hub's pages. */
  close(): Promise<void>;
}

export async function startSending(options: {
  readonly natsUrl: string;
  readonly hub: string;
  readonly store: SqliteStore | Store;
  readonly dataFolder: string;
  readonly room?: string;
  readonly user?: string;
  readonly password?: string;
  readonly authorityFile?: string;
  readonly growEveryMs?: number;
  /** Left out, nobody is ever erased here. */
  readonly eraser?: Eraser;
}): Promise<SendingHub> {
  let state: SchoolLink | undefined;
  const { user, password, authorityFile } = options;
  const publisher = new HubPublisher({
    settings: {
      access: { url: options.natsUrl, user, password, authorityFile },
      school: 'test',
      hub: options.hub,
      hubId: hubIdIn(options.dataFolder),
      room: options.room ?? options.hub,
    },
    dataFolder: options.dataFolder,
    store: options.store,
    feed: { subscribe: () => () => undefined },
    clock: systemClock,
    log: shownLog,
    hubVersion: 'test',
    answer: () => Promise.reject(new Error('not asked here')),
    hear: (next) => {
      state = next;
      shownLog.info(JSON.stringify(next));
    },
    growEveryMs: options.growEveryMs ?? 200,
    entry: await bundlePublisher(),
    eraser: options.eraser ?? {
      isBusy: () => false,
      onRecord: async () => new Set(),
      erase: () => Promise.reject(new Error('not asked here')),
      beforeErasing: () => () => undefined,
    },
  });
  return { state: () => state, close: () => publisher.close() };
}

export interface TakingSchool {
  readonly archive: Archive;
  readonly intake: Intake;
  readonly greeted: readonly string[];
  readonly refused: readonly string[];
  readonly state: () => IntakeState;
  close(): Promise<void>;
}

export async function startTaking(options: {
  readonly natsUrl: string;
  readonly archiveUrl: string;
  readonly mostStreamBytes?: number;
  readonly clock?: Clock;
  readonly user?: string;
  readonly password?: string;
}): Promise<TakingSchool> {
  const archive = await openArchive({ url: options.archiveUrl });
  const { natsUrl: url, user, password } = options;
  const connection = await connectNats(
    { url, user, password },
    { name: 'school', inboxPrefix: '_INBOX.school', keepTrying: true },
  );
  const intake = new Intake({
    connection,
    archive,
    school: 'test',
    clock: systemClock,
    log: shownLog,
    mostStreamBytes: options.mostStreamBytes ?? 256 << 20,
    hear: () => undefined,
  });
  await intake.open();
  const greeted: string[] = [];
  const refused: string[] = [];
  answerHubs({
    connection,
    school: 'test',
    archive,
    pendingOf: (hub) => intake.pendingOf(hub),
    erased: async (hub, said) => (await answerErased(archive, hub, said)).answer,
    clock: options.clock ?? systemClock,
    log: testLog,
    greeted: ({ hub }) => greeted.push(hub),
    refused: (hub) => refused.push(hub),
  });
  let closing: Promise<void> | undefined;
  const close = async (): Promise<void> => {
    await intake.close();
    await connection.close();
    await archive.close();
  };
  return {
    archive,
    intake,
    greeted,
    refused,
    state: () => intake.state,
    close() {
      closing ??= close();
      return closing;
    },
  };
}

/** A hub with pages, sending to a school as `slackwater start --school` does. */
export async function sendFromPageHub(
  natsUrl: string,
  hub: ServedTestHub,
  settings: {
    readonly hub: string;
    readonly room: string;
    readonly dataFolder: string;
    readonly audit?: Pick<AuditLog, 'append'>;
    /** Happens when a question has come, and when its answer is made and not sent yet. */
    readonly whileAsked?: (question: string, when: 'before' | 'after') => void;
  },
): Promise<{ close(): Promise<void> }> {
  const { server, clock } = hub;
  const audit = settings.audit ?? { append: () => undefined };
  return new HubPublisher({
    settings: {
      access: { url: natsUrl },
      school: 'test',
      hub: settings.hub,
      hubId: hubIdIn(settings.dataFolder),
      room: settings.room,
    },
    dataFolder: settings.dataFolder,
    store: hub.store,
    feed: server.feed,
    clock: systemClock,
    log: shownLog,
    hubVersion: 'test',
    answer: async (question, body, toldUpTo) => {
      const parts = { hub: hub.hub, feed: server.feed, audit, clock, school: 'test' };
      settings.whileAsked?.(question, 'before');
      const answer = await answerRoom(parts, question, body, toldUpTo);
      settings.whileAsked?.(question, 'after');
      return answer;
    },
    hear: () => undefined,
    growEveryMs: 500,
    entry: await bundlePublisher(),
    eraser: eraserOf(hub.hub, (athleteId) => server.eraseForSchool(athleteId, 'test')),
  });
}

/** A session's packets in the archive: how many, whether they follow on one another, and each only once. */
export async function archivedPackets(
  archiveUrl: string,
  hub: string,
  sessionId: string,
): Promise<{ readonly count: number; readonly gaps: number; readonly doubles: number }> {
  const rows = await query<{ first_packet: string; packet_count: string }>(
    archiveUrl,
    `SELECT first_packet, segments.packet_count FROM segments JOIN sessions USING (month, hub_id, session_id)
     WHERE hub_id = $1 AND session_id = $2 AND segments.generation = shown_generation ORDER BY first_packet`,
    [hub, sessionId],
  );
  let next = 0;
  let gaps = 0;
  let doubles = 0;
  let count = 0;
  for (const row of rows) {
    const first = Number(row.first_packet);
    if (first > next) gaps++;
    if (first < next) doubles++;
    next = first + Number(row.packet_count);
    count += Number(row.packet_count);
  }
  return { count, gaps, doubles };
}
