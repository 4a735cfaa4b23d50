// The HTTP side: the page's files, the JSON routes, headers that keep foreign content out. Routes are one file a subject.

import { randomBytes, randomUUID } from 'node:crypto';
import { existsSync } from 'node:fs';
import { readFile } from 'node:fs/promises';
import type { IncomingHttpHeaders, IncomingMessage } from 'node:http';
import type { Server as TlsServer } from 'node:https';
import { join } from 'node:path';
import helmet from '@fastify/helmet';
import rateLimit from '@fastify/rate-limit';
import fastifyStatic from '@fastify/static';
import Fastify, { type FastifyInstance, type FastifyReply, type FastifyRequest } from 'fastify';
import type { ErrorCode } from '../../shared/error-codes.ts';
import { isPagePath } from '../../shared/page-paths.ts';
import { said } from '../../shared/said.ts';
import type { Result } from '../../src/result.ts';
import { HubError } from '../base/hub-error.ts';
import { isLoopback } from '../base/loopback.ts';
import type { AuditLog } from '../base/ports/audit-log.ts';
import type { Clock } from '../base/ports/clock.ts';
import type { Refusal } from '../base/refusal.ts';
import { ServiceScope } from '../base/service-scope.ts';
import { auditLogInMemory } from '../devices/audit/audit-file.ts';
import { noDeviceFile } from '../devices/join/device-file.ts';
import { createDeviceRegister } from '../devices/join/device-register.ts';
import type { Joining } from '../devices/join/joining.ts';
import type { LanAccess } from '../devices/lan/lan-access.ts';
import { createOwnPerson, type OwnPerson } from '../devices/own-person/own-person.ts';
import type { CheckComputer } from '../machine/checking-process.ts';
import { PlanRuns } from '../plans/plan-runs.ts';
import type { ScheduledBackups } from '../recorder/backup/scheduled-backups.ts';
import { Bin } from '../recordings/bin.ts';
import { keepSummaries } from '../recordings/keep-summaries.ts';
import { ReviewFault } from '../recordings/review/review-runner.ts';
import type { RadioHall } from '../sensors/bluetooth/elsewhere/elsewhere-radios.ts';
import type { ProfileShelf } from '../sensors/bluetooth/profile-shelf.ts';
import type { SensorBench } from '../sensors/bluetooth/sensor-bench.ts';
import {
  accessOfDevice,
  isFromOwnMachine,
  isKnownHost,
  isOwnOrigin,
  isOwnPerson,
  isOwnSite,
  nobody,
  ownMachineAccess,
  type PageAccess,
  type ScopeOfRooms,
  tokenOf,
} from './access.ts';
import { answerWhenSaved } from './answer-when-saved.ts';
import { auditRequests } from './audit.ts';
import { limitConnections, ownConnections } from './connection-quota.ts';
import { erasePerson } from './erase-person.ts';
import {
  closeDeviceServer,
  createDeviceServer,
  listenForDevices,
  listeningError,
  portOf,
  requestLimits,
} from './listening.ts';
import { PageFeed } from './page-feed.ts';
import { RadioDoor } from './radio-sockets.ts';
import { type ReaderLanguage, readerLanguage, sayFor } from './reader-language.ts';
import { AskedTooOften, requestQuota } from './request-quota.ts';
import {
  pageLeft,
  type Restoring,
  type RouteContext,
  type RouteModule,
  type RouteRule,
  refusalOfRoute,
  ruleOfRoute,
  sendFault,
  sendRefusal,
} from './route.ts';
import { athleteRoutes } from './routes/athletes.ts';
import { auditRoutes } from './routes/audit.ts';
import { backupRoutes } from './routes/backup.ts';
import { binRoutes } from './routes/bin.ts';
import { certificateRoutes } from './routes/certificate.ts';
import { computerRoutes } from './routes/computer.ts';
import { correctionRoutes } from './routes/corrections.ts';
import { courseRoutes } from './routes/course.ts';
import { drillRoutes } from './routes/drills.ts';
import { exportRoutes } from './routes/exports.ts';
import { healthRoutes } from './routes/health.ts';
import { historyRoutes } from './routes/history.ts';
import { holdRoutes } from './routes/holds.ts';
import { importRoutes } from './routes/imports.ts';
import { joinRoutes } from './routes/join.ts';
import { keptRecordingRoutes } from './routes/kept-recordings.ts';
import { leavingAthleteRoutes } from './routes/leaving-athletes.ts';
import { metricRoutes } from './routes/metrics.ts';
import { ownPersonRoutes } from './routes/own-person.ts';
import { planRunRoutes } from './routes/plan-runs.ts';
import { planRoutes } from './routes/plans.ts';
import { radioRoutes } from './routes/radios.ts';
import { recordingRoutes } from './routes/recordings.ts';
import { restoreRoutes } from './routes/restore.ts';
import { scheduledBackupRoutes } from './routes/scheduled-backups.ts';
import { schoolLinkRoutes } from './routes/school-link.ts';
import { sensorProfileRoutes } from './routes/sensor-profiles.ts';
import { sensorRoutes } from './routes/sensors.ts';
import { sessionDetailsRoutes } from './routes/session-details.ts';
import { sessionPeopleRoutes } from './routes/session-people.ts';
import { spokenCueRoutes } from './routes/spoken-cues.ts';
import { trainingRoutes } from './routes/training.ts';
import { isHubsToChange, refusalOfRooms, type SchoolSide } from './school-rooms.ts';
import { type SocketServer, serveSockets } from './sockets.ts';

const routeModules: readonly RouteModule[] = [
  healthRoutes,
  schoolLinkRoutes,
  athleteRoutes,
  leavingAthleteRoutes,
  sensorRoutes,
  radioRoutes,
  sensorProfileRoutes,
  sessionPeopleRoutes,
  recordingRoutes,
  keptRecordingRoutes,
  sessionDetailsRoutes,
  exportRoutes,
  correctionRoutes,
  certificateRoutes,
  computerRoutes,
  courseRoutes,
  drillRoutes,
  importRoutes,
  backupRoutes,
  binRoutes,
  restoreRoutes,
  scheduledBackupRoutes,
  auditRoutes,
  joinRoutes,
  ownPersonRoutes,
  planRoutes,
  planRunRoutes,
  trainingRoutes,
  spokenCueRoutes,
  holdRoutes,
  historyRoutes,
];

export interface HttpServer {
  readonly port: number;
  /** Where other devices are let in over TLS, or null. */
  readonly lanPort: number | null;
  readonly app: FastifyInstance;
  /** Every route there is, with who may use it. */
  readonly routes: readonly RouteRule[];
  readonly sockets: SocketServer;
  readonly feed: PageFeed;
  /** Somebody whom a school asks to have erased, with everything of theirs; between sessions. `by`: the school's name. */
  readonly eraseForSchool: (athleteId: string, by: string) => Promise<Result<true, Refusal>>;
  close(): Promise<void>;
}

export interface HttpServerOptions {
  /** A loopback address: without TLS the hub talks to its own machine only. */
  readonly host: string;
  readonly port: number;
  /** Folder with the built page. */
  readonly webDirectory: string;
  /** Left out, no other device is let in. */
  readonly joining?: Joining;
  /** Left out, what was done is forgotten with the hub. */
  readonly audit?: AuditLog;
  readonly makeId: () => string;
  readonly scheduledBackups?: ScheduledBackups;
  readonly restoring?: Restoring;
  readonly checkComputer?: CheckComputer;
  /** Where radios on other computers report; left out, none is let in. */
  readonly radioHall?: RadioHall;
  readonly profileShelf?: ProfileShelf;
  readonly sensorBench?: SensorBench;
  /** Where this is a school's server. */
  readonly school?: SchoolSide;
  /** Of a hub that sends to a school. */
  readonly schoolLink?: RouteContext['schoolLink'];
}

/** The largest is a plan. */
const mostBodyBytes = 64 * 1024;
/** On the slowest phone a few seconds. */
const bodyWithinMs = 10_000;

type HubContext = Omit<
  RouteContext,
  | keyof Joining
  | 'planRuns'
  | 'bin'
  | 'summaries'
  | 'scheduledBackups'
  | 'restoring'
  | 'checkComputer'
  | 'profileShelf'
  | 'sensorBench'
  | 'schoolLink'
  | 'makeId'
  | 'feed'
  | 'hubRunId'
  | 'hubsOfSchool'
  | 'audit'
>;
type AccessOf = (request: IncomingMessage) => PageAccess | undefined;

/** Starts listening. Throws HubError for a busy or forbidden port; nothing is left open then. */
export async function startHttpServer(
  hubContext: HubContext,
  options: HttpServerOptions,
): Promise<HttpServer> {
  if (!isLoopback(options.host))
    throw new HubError('config.badValue', said('server.hostNotLoopback', { host: options.host }));
  return ServiceScope.opening(async (scope) => {
    const { makeId, audit = auditLogInMemory() } = options;
    scope.onClose(() => audit.close());
    const { ownPerson, devices, lan } = options.joining ?? nobodyJoins(hubContext.clock, makeId);
    const { hub, store, log, clock, hubVersion } = hubContext;
    const isLanName = (name: string): boolean => lan?.isOwnName(name) ?? false;
    const accessOf = accessBy(devices, ownPerson, options.school?.scopeOf);
    const planRuns = new PlanRuns({ hub, store, log, makeId });
    const forget = (sessionId: string): void => hubContext.recordings.forget(sessionId);
    const bin = new Bin({ hub, store, log, makeId, forget });
    const summaries = keepSummaries(hubContext);
    const hubRunId = randomUUID();
    const feed = new PageFeed(hub, hubVersion, hubRunId);
    const context: RouteContext = {
      ...hubContext,
      ownPerson,
      devices,
      lan,
      planRuns,
      bin,
      summaries: summaries.work,
      ...notEverywhere(options),
      feed,
      hubRunId,
      audit,
      makeId,
    };

    const routes: RouteRule[] = [];
    const app = await createApp(context, options, accessOf, isLanName, routes);
    scope.onClose(() => app.close());
    scope.onClose(async () => lan?.close());
    const tlsServer =
      lan === null
        ? null
        : createDeviceServer(lan, log, (request, response) => app.routing(request, response));
    if (tlsServer !== null) scope.onClose(() => closeDeviceServer(tlsServer));
    scope.onClose(() => context.recordings.close());
    scope.onClose(() => summaries.close());
    planRuns.open();
    scope.onClose(() => planRuns.close());
    bin.open();
    scope.onClose(() => bin.close());
    feed.open();
    scope.onClose(() => feed.close());
    const { radioHall: hall } = options;
    const radioDoor = hall === undefined ? null : new RadioDoor({ hall, devices, isLanName, clock, log });
    scope.onClose(() => radioDoor?.close());
    lan?.onCredentials(({ fingerprintSha256 }) => hall?.tellCertificate(fingerprintSha256));
    const sockets = serveSockets(tlsServer === null ? [app.server] : [app.server, tlsServer], {
      hub,
      feed,
      planRuns,
      log,
      clock,
      devices,
      isLanName,
      accessOf,
      makeId,
      audit,
      radioDoor,
      ...(options.school !== undefined && { school: options.school }),
    });
    scope.onClose(() => sockets.close());
    await listen(app, options, tlsServer, lan);
    return {
      app,
      routes,
      sockets,
      feed,
      eraseForSchool: (athleteId, by) =>
        erasePerson(context, athleteId, accessOfSchool(by), 'erasedForSchool'),
      port: portOf(app.server.address()) ?? options.port,
      lanPort: tlsServer === null ? null : portOf(tlsServer.address()),
      close: () => scope.close(),
    };
  });
}

/** What some hubs have, and null where it is not. */
const notEverywhere = (options: HttpServerOptions) => ({
  scheduledBackups: options.scheduledBackups ?? null,
  restoring: options.restoring ?? null,
  checkComputer: options.checkComputer ?? null,
  profileShelf: options.profileShelf ?? null,
  sensorBench: options.sensorBench ?? null,
  schoolLink: options.schoolLink ?? (() => null),
  hubsOfSchool: options.school?.hubs ?? null,
});

/** What is done for somebody at the school, under its name. */
const accessOfSchool = (deviceName: string): PageAccess => ({
  role: 'coach',
  deviceId: 'school',
  deviceName,
  athleteIds: 'all',
});

const nobodyJoins = (clock: Clock, makeId: () => string): Joining => ({
  ownPerson: createOwnPerson(randomBytes(32), clock),
  lan: null,
  devices: createDeviceRegister({ clock, makeId, file: noDeviceFile, athleteExists: () => false }),
});

/** The hub's own person is a coach; another device is what its token says. */
const accessBy =
  (devices: Joining['devices'], ownPerson: OwnPerson, scopeOf?: ScopeOfRooms): AccessOf =>
  (request) => {
    if (isFromOwnMachine(request)) return isOwnPerson(request, ownPerson) ? ownMachineAccess : undefined;
    const token = tokenOf(request);
    const device = token === undefined ? undefined : devices.deviceOf(token);
    return device === undefined ? undefined : accessOfDevice(device, scopeOf);
  };

async function createApp(
  context: RouteContext,
  { webDirectory, school }: Pick<HttpServerOptions, 'webDirectory' | 'school'>,
  accessOf: AccessOf,
  isLanName: (name: string) => boolean,
  routes: RouteRule[],
): Promise<FastifyInstance> {
  const { requestTimeout, keepAliveTimeout, ...http } = requestLimits;
  const app = Fastify({
    logger: false,
    bodyLimit: mostBodyBytes,
    forceCloseConnections: true,
    requestTimeout,
    keepAliveTimeout,
    http,
  });
  limitConnections(app.server, ownConnections, () => performance.now());
  app.addHook('onRoute', ({ method, url, config }) => {
    for (const each of [method].flat()) routes.push(ruleOfRoute(each, url, config?.access));
  });
  await app.register(helmet, {
    contentSecurityPolicy: {
      useDefaults: false,
      directives: {
        defaultSrc: ["'none'"],
        scriptSrc: ["'self'"],
        styleSrc: ["'self'"],
        // uPlot and the page set element styles from script, which CSP does not count as inline style attributes.
        imgSrc: ["'self'", 'data:'],
        fontSrc: ["'self'"],
        connectSrc: ["'self'"],
        manifestSrc: ["'self'"],
        mediaSrc: ["'self'"],
        baseUri: ["'none'"],
        formAction: ["'none'"],
        frameAncestors: ["'none'"],
      },
    },
    // Without TLS on loopback this header would only teach browsers to refuse the plain page.
    strictTransportSecurity: false,
  });
  await app.register(rateLimit, requestQuota(context.ownPerson));
  guardRequests(app, accessOf, isLanName);
  if (school !== undefined) guardHubs(app);
  guardBodies(app, context.clock);
  auditRequests(app, context.audit, context.clock);
  answerErrors(app, context);
  answerWhenSaved(app, context.hub);
  for (const register of [...routeModules, metricRoutes(school?.addMetrics)]) register(app, context);
  school?.routes(app, context);
  await servePage(app, webDirectory, school !== undefined);
  return app;
}

function guardRequests(app: FastifyInstance, accessOf: AccessOf, isLanName: (name: string) => boolean): void {
  app.decorateRequest('access');
  app.addHook('onRequest', async (request, reply) => {
    if (!isKnownHost(request.raw, isLanName)) {
      return sendRefusal(reply, { code: 'notAllowed', said: said('refusal.foreignName') });
    }
    const access = accessOf(request.raw);
    request.access = access ?? nobody;
    const { url, config } = request.routeOptions;
    // What has no route of /api is the page's own files, which say nothing about anyone.
    if (url === undefined || !url.startsWith('/api/')) return;
    // Reading too: an export is heavy, and another port of this machine is sent the same cookies.
    if (!isOwnOrigin(request.raw) || !isOwnSite(request.raw))
      return sendRefusal(reply, { code: 'notAllowed', said: said('refusal.otherSite') });
    reply.header('cache-control', 'no-store');
    const { athleteId } = (request.params ?? {}) as { athleteId?: string };
    // Without a rule no hub starts (`ruleOfRoute`).
    const refusal = refusalOfRoute(config.access ?? 'coach', access, athleteId);
    if (refusal !== undefined) return sendRefusal(reply, refusal);
  });
}

/** At a school: a coach of some rooms asks for what is of there, and what is a hub's is changed there. */
function guardHubs(app: FastifyInstance): void {
  app.addHook('preHandler', async (request, reply) => {
    const { sessionId } = (request.params ?? {}) as { sessionId?: string };
    const { url = '' } = request.routeOptions;
    const refusal = refusalOfRooms(request.access, request.method, url, sessionId);
    return refusal === undefined ? undefined : sendRefusal(reply, refusal);
  });
  app.addHook('preHandler', async (request, reply) => {
    const { url = '' } = request.routeOptions;
    if (!isHubsToChange(request.method, url)) return undefined;
    return sendRefusal(reply, { code: 'notAllowed', said: said('school.changedAtHub') });
  });
}

/** A body that comes by drops is cut off; an import, which may be long, has its own watch (routes/imports.ts). */
function guardBodies(app: FastifyInstance, clock: Clock): void {
  app.addHook('preParsing', async (request, reply, payload) => {
    if ((request.routeOptions.bodyLimit ?? mostBodyBytes) > mostBodyBytes) return payload;
    // Where nothing is sent, only the answer takes long: a recording worked out, a backup fetched.
    if (!hasBody(request.headers)) return payload;
    const stopWaiting = clock.after(bodyWithinMs, () => request.raw.destroy());
    payload.once('end', stopWaiting);
    reply.raw.once('close', stopWaiting);
    return payload;
  });
}

/** RFC 9112 section 6: a body is announced by one of these. */
const hasBody = (headers: IncomingHttpHeaders): boolean =>
  headers['transfer-encoding'] !== undefined || Number(headers['content-length'] ?? 0) > 0;

function answerErrors(app: FastifyInstance, { log }: RouteContext): void {
  app.setErrorHandler((error: Error & { statusCode?: number }, _request, reply) => {
    // The page has left; what was worked out for it was dropped.
    if (error === pageLeft) return reply.code(499).send();
    if (error instanceof AskedTooOften)
      return sendFault(reply, error.statusCode, { code: 'tooManyRequests', said: error.said });
    if (error instanceof ReviewFault) return sendFault(reply, 500, { code: 'internal', said: error.said });
    const status = error.statusCode ?? 500;
    if (status >= 500) log.error('a request failed', error);
    const code: ErrorCode = status >= 500 ? 'internal' : 'badRequest';
    const what = status >= 500 ? said('refusal.internal') : said('said.asTold', { text: error.message });
    return sendFault(reply, status, { code, said: what });
  });
}

/** The page before its program has loaded: its language, and what to read where no program runs. */
function pageIn(language: ReaderLanguage, html: string, isSchool: boolean): string {
  const hint = sayFor(language)(said('page.needsScript'));
  return html
    .replace(/<html lang="\w*"/, `<html lang="${language}"${isSchool ? ' data-school' : ''}`)
    .replace(/\/app-\w+\.webmanifest/, `/app-${language}.webmanifest`)
    .replace(/<noscript>[^<]*<\/noscript>/, `<noscript>${hint}</noscript>`);
}

async function servePage(app: FastifyInstance, webDirectory: string, isSchool: boolean): Promise<void> {
  const indexFile = join(webDirectory, 'index.html');
  if (existsSync(indexFile)) {
    await app.register(fastifyStatic, {
      root: webDirectory,
      // The page itself is sent by `sendPage`, in its reader's language.
      index: false,
      // Built files carry a hash in their name; the page itself is always asked for anew.
      setHeaders: (response, path) => {
        response.setHeader(
          'cache-control',
          path.includes('/assets/') ? 'public, max-age=31536000, immutable' : 'no-cache',
        );
      },
    });
    const sendPage = async (request: FastifyRequest, reply: FastifyReply) => {
      const language = readerLanguage(request);
      return reply
        .type('text/html; charset=utf-8')
        .header('cache-control', 'no-cache')
        .header('content-language', language)
        .header('vary', 'accept-language')
        .send(pageIn(language, await readFile(indexFile, 'utf8'), isSchool));
    };
    app.get('/', { config: { access: 'anyone' } }, sendPage);
    app.setNotFoundHandler({ preHandler: app.rateLimit() }, (request, reply) => {
      const { pathname } = new URL(request.url, 'http://hub');
      const isFile = pathname.startsWith('/api/') || pathname.startsWith('/assets/');
      // What is no view is the page too, which says so to a person; other programs read the 404.
      if (request.method === 'GET' && !isFile)
        return sendPage(request, isPagePath(pathname) ? reply : reply.code(404));
      return sendRefusal(reply, { code: 'notFound', said: said('refusal.nothingHere') });
    });
  } else {
    app.setNotFoundHandler({ preHandler: app.rateLimit() }, (_request, reply) =>
      sendRefusal(reply, {
        code: 'notFound',
        said: said('refusal.pageNotBuilt'),
      }),
    );
  }
}

async function listen(
  app: FastifyInstance,
  options: HttpServerOptions,
  tlsServer: TlsServer | null,
  lan: LanAccess | null,
): Promise<void> {
  try {
    await app.listen({ host: options.host, port: options.port });
  } catch (error) {
    throw listeningError(error, options.host, options.port, '--port', '--host');
  }
  if (lan === null || tlsServer === null) return;
  try {
    await listenForDevices(tlsServer, lan);
  } catch (error) {
    throw listeningError(error, lan.host, lan.port, '--lan-port', '--lan-host');
  }
  lan.opened(portOf(tlsServer.address()) ?? lan.port);
}
