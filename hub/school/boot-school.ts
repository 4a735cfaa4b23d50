// Puts a school together and starts it: the archive, what hubs send, their rooms, and the pages, which are a hub's over
// another store. Everything opened is closed again in reverse, at the end and when a later step fails.

import type { NatsConnection } from '@nats-io/transport-node';
import { isSameSaid, type Said, said } from '../../shared/said.ts';
import { pipelineFactory } from '../../src/pipeline.ts';
import type { Config } from '../base/config.ts';
import { faultSaid, HubError } from '../base/hub-error.ts';
import { hubVersion } from '../base/hub-version.ts';
import type { HubLog } from '../base/log.ts';
import type { AuditLog } from '../base/ports/audit-log.ts';
import { ServiceScope } from '../base/service-scope.ts';
import { systemClock } from '../base/system-clock.ts';
import type { Joining } from '../devices/join/joining.ts';
import { prepareJoining } from '../devices/join/prepare-joining.ts';
import { Hub } from '../live/hub.ts';
import { prepareDataDirectory } from '../recorder/data-directory.ts';
import { RecordedSessions } from '../recordings/recorded-sessions.ts';
import { createReviewPool } from '../recordings/review/review-pool.ts';
import { type HttpServer, startHttpServer } from '../server/http-server.ts';
import { auditOf, logOf, makeId, type PartsSoFar, pageOf, reviewThreads } from '../server/program-parts.ts';
import { type Archive, openArchive } from './archive/archive.ts';
import { ArchiveStore } from './archive/archive-store.ts';
import { answerHubs } from './archive/hub-questions.ts';
import { archiveFault, Intake, type IntakeState } from './archive/intake.ts';
import { Erasing } from './erasing.ts';
import { checkLogin } from './nats/check-server.ts';
import { connectNats } from './nats/connect.ts';
import { Rooms } from './rooms/rooms.ts';
import { silenceTeller } from './rooms/silent-rooms.ts';
import { type HealthParts, schoolHealth } from './school-health.ts';
import { schoolMetrics } from './school-metrics.ts';
import { schoolRoutes } from './school-routes.ts';

/** Pages see what came into the archive about so soon. */
const refreshEveryMs = 1_000;

export interface RunningSchool {
  readonly hub: Hub;
  readonly server: HttpServer;
  readonly archive: Archive;
  readonly joining: Joining;
  readonly url: string;
  readonly linkWith: (code: string) => string;
  stop(): Promise<void>;
}

/** Throws a HubError that says what to do. */
export async function openTheArchive(url: string | undefined): Promise<Archive> {
  if (url === undefined) throw new HubError('config.badValue', said('school.needsArchive'));
  try {
    return await openArchive({ url });
  } catch (error) {
    if (error instanceof HubError) throw error;
    throw new HubError('data.failed', archiveFault(error), error);
  }
}

/** Follows the archive with what pages read, and says so to them. */
function followArchive(store: ArchiveStore, hub: Hub, rooms: Rooms, archive: Archive, log: HubLog) {
  const knowRooms = async (): Promise<void> => {
    const { rows } = await archive.pool.query<{ hub_id: string; name: string; identity: string | null }>(
      'SELECT hub_id, name, identity FROM hubs',
    );
    for (const { hub_id, name, identity } of rows) rooms.know(hub_id, name, identity);
  };
  const refresh = async (): Promise<void> => {
    if (!(await store.refresh())) return;
    hub.athletesReread();
    await knowRooms();
  };
  const stop = systemClock.every(refreshEveryMs, () => {
    refresh().catch((error: unknown) => log.warn(`the archive is not read: ${String(error)}`));
  });
  return { refresh, knowRooms, stop };
}

/** `webDirectory`: the built page. */
export async function bootSchool(config: Config, webDirectory: string): Promise<RunningSchool> {
  return ServiceScope.opening(async (scope) => {
    prepareDataDirectory(config.data);
    const hubOf: PartsSoFar = {};
    const log = logOf(config, hubOf);
    const archive = await openTheArchive(config.archive);
    scope.onClose(() => archive.close());
    const store = new ArchiveStore(archive);
    await store.refresh();
    const hub = new Hub({
      clock: systemClock,
      pageClock: systemClock,
      store,
      sources: [],
      createPipeline: pipelineFactory(),
      log,
      makeId,
      timeScale: 1,
      simulated: false,
      hubVersion,
    });
    hubOf.hub = hub;
    await hub.prepare();
    const audit = auditOf(config, log, hub);
    const { rooms, intake, erasing } = await openMessages(scope, {
      config,
      archive,
      store,
      hub,
      audit,
      log,
    });
    const following = followArchive(store, hub, rooms, archive, log);
    scope.onClose(() => following.stop());
    await following.refresh();
    await following.knowRooms();
    const joining = await prepareJoining(config, { hub, clock: systemClock, log, makeId });
    hubOf.joining = joining;
    const review = reviewThreads(log);
    const recordings = new RecordedSessions(store, review(), () => [], createReviewPool([review]));
    erasing.serve({
      audit,
      devices: joining.devices,
      forget: (sessionId) => recordings.forget(sessionId),
      peopleChanged: following.refresh,
    });
    const healthParts: HealthParts = { archive, intake, rooms: () => rooms.list(), dataFolder: config.data };
    const server = await startHttpServer(
      { hub, store, recordings, clock: systemClock, log, hubVersion },
      {
        host: config.host,
        port: config.port,
        webDirectory,
        joining,
        makeId,
        audit,
        school: {
          enter: (...args) => rooms.enter(...args),
          hubs: () => rooms.list().map((room) => room.hub),
          scopeOf: (hubs) => ({
            athleteIds: store.personsAt(hubs),
            names: rooms.list().flatMap((room) => (hubs.includes(room.hub) ? room.name : [])),
          }),
          routes: schoolRoutes({
            archive,
            rooms: () => rooms.list(),
            health: () => schoolHealth(healthParts),
            peopleChanged: following.refresh,
            erasing,
            recordings,
            clock: systemClock,
          }),
          addMetrics: schoolMetrics(healthParts, () => systemClock.nowMs()),
        },
      },
    );
    scope.onClose(() => server.close());
    scope.onClose(() => hub.stop());
    await hub.start();
    return {
      hub,
      server,
      archive,
      joining,
      ...pageOf(config, server),
      stop: () => scope.close(),
    };
  });
}

interface MessageParts {
  readonly config: Config;
  readonly archive: Archive;
  readonly store: ArchiveStore;
  readonly hub: Hub;
  readonly audit: AuditLog;
  readonly log: HubLog;
}

/** What hubs send, and their rooms. */
async function openMessages(
  scope: ServiceScope,
  { config, archive, store, hub, audit, log }: MessageParts,
): Promise<{ readonly rooms: Rooms; readonly intake: Intake; readonly erasing: Erasing }> {
  const { 'school-name': school } = config;
  const connection = await connectAsSchool(config);
  scope.onClose(() => connection.close());
  const rooms = new Rooms({
    connection,
    school,
    clock: systemClock,
    log,
    audit,
    personOf: (name, athleteId) => store.personOf(name, athleteId),
    silent: silenceTeller(hub),
  });
  const intake = new Intake({
    connection,
    archive,
    school,
    clock: systemClock,
    log,
    mostStreamBytes: config['school-buffer'] * 2 ** 30,
    hear: faultTeller(hub),
  });
  await openIntake(intake, config);
  scope.onClose(() => intake.close());
  rooms.open();
  scope.onClose(() => rooms.close());
  const erasing = new Erasing({ archive, connection, school, stream: intake, clock: systemClock, log });
  erasing.open();
  scope.onClose(() => erasing.close());
  answerHubs({
    connection,
    school,
    archive,
    erased: (name, told) => erasing.answer(name, told),
    pendingOf: (name) => intake.pendingOf(name),
    clock: systemClock,
    log,
    greeted: (from, hello) => rooms.greeted(from, hello.name),
    refused: (name, hello) => hub.notices.add(said('school.twoOfOneName', { hub: name, room: hello.name })),
  });
  return { rooms, intake, erasing };
}

/** JetStream's own codes (nats-server, server/errors.json). */
const noRoomForStream = [10_047, 10_023, 10_028];

async function openIntake(intake: Intake, config: Config): Promise<void> {
  try {
    await intake.open();
  } catch (error) {
    const { code } = error as { readonly code?: unknown };
    const what = noRoomForStream.includes(Number(code))
      ? said('school.noRoomForBuffer', { gigabytes: config['school-buffer'] })
      : said('school.noStreamHere', { reason: faultSaid(error) });
    throw new HubError('server.failed', what, error);
  }
}

async function connectAsSchool(config: Config): Promise<NatsConnection> {
  const { school: url, 'school-name': name } = config;
  if (url === undefined) throw new HubError('config.badValue', said('school.needsServer'));
  const access = {
    url,
    user: config['school-user'],
    password: config['school-password'],
    authorityFile: config['school-authority'],
  };
  try {
    const as = { name: `slackwater school ${name}`, inboxPrefix: '_INBOX.school', keepTrying: false };
    const connection = await connectNats(access, as);
    try {
      checkLogin(connection, access);
    } catch (error) {
      await connection.close();
      throw error;
    }
    return connection;
  } catch (error) {
    if (error instanceof HubError) throw error;
    const reason = error instanceof Error ? error.message : String(error);
    throw new HubError('server.failed', said('school.serverAway', { reason }), error);
  }
}

/** What keeps the archive from taking anything stands as a notice while it does. */
function faultTeller(hub: Hub): (state: IntakeState) => void {
  let told: Said | null = null;
  return ({ fault }) => {
    if (isSameSaid(fault, told)) return;
    if (told !== null) hub.notices.withdraw(told);
    if (fault !== null) hub.notices.add(fault);
    told = fault;
  };
}
