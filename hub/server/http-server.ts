// The HTTP side: the page's files, the JSON routes, headers that keep foreign content out. Routes are one file a subject.

import { existsSync } from 'node:fs';
import type { IncomingMessage } from 'node:http';
import { createServer as createTlsServer, type Server as TlsServer } from 'node:https';
import type { AddressInfo } from 'node:net';
import { join } from 'node:path';
import helmet from '@fastify/helmet';
import rateLimit from '@fastify/rate-limit';
import fastifyStatic from '@fastify/static';
import Fastify, { type FastifyInstance, type FastifyReply } from 'fastify';
import * as z from 'zod/mini';
import type { ErrorCode } from '../../shared/error-codes.ts';
import { HubError } from '../base/hub-error.ts';
import type { Clock, Store } from '../base/ports.ts';
import { noDeviceFile } from '../devices/join/device-file.ts';
import { createDeviceRegister, type DeviceRegister } from '../devices/join/device-register.ts';
import type { LanAccess } from '../devices/lan/lan-access.ts';
import type { Hub, HubLog } from '../live/hub.ts';
import type { Refusal } from '../live/live-session.ts';
import { createPlanRuns, type PlanRuns } from '../plans/plan-runs.ts';
import type { Asking, RecordedSessions } from '../recordings/recorded-session.ts';
import { ReviewFault } from '../recordings/review/review-runner.ts';
import {
  accessOfDevice,
  isFromOwnMachine,
  isKnownHost,
  isLoopback,
  isOwnOrigin,
  maySee,
  ownMachineAccess,
  type PageAccess,
  tokenOf,
} from './access.ts';
import { athleteRoutes } from './routes/athletes.ts';
import { backupRoutes } from './routes/backup.ts';
import { correctionRoutes } from './routes/corrections.ts';
import { exportRoutes } from './routes/exports.ts';
import { healthRoutes } from './routes/health.ts';
import { historyRoutes } from './routes/history.ts';
import { holdRoutes } from './routes/holds.ts';
import { importRoutes } from './routes/imports.ts';
import { joinRoutes } from './routes/join.ts';
import { planRunRoutes } from './routes/plan-runs.ts';
import { planRoutes } from './routes/plans.ts';
import { recordingRoutes } from './routes/recordings.ts';
import { sensorRoutes } from './routes/sensors.ts';
import { spokenCueRoutes } from './routes/spoken-cues.ts';
import { trainingRoutes } from './routes/training.ts';
import { type SocketServer, serveSockets } from './sockets.ts';

/** How other devices come in. */
export interface Joining {
  readonly devices: DeviceRegister;
  /** Null while the hub listens on its own machine only. */
  readonly lan: LanAccess | null;
}

/** What every route module receives. Add a subject: one file in routes/, one line in `routeModules`. */
export interface RouteContext extends Joining {
  readonly hub: Hub;
  readonly store: Store;
  readonly recordings: RecordedSessions;
  readonly planRuns: PlanRuns;
  /** Fresh unguessable ids. */
  readonly makeId: () => string;
  /** The clock of people and pages, never scaled. */
  readonly clock: Clock;
  readonly log: HubLog;
  readonly hubVersion: string;
}

/**
 * Who may use a route: `anyone` who reaches the hub, `joined` devices of every role, the `athlete` for themselves
 * (and a coach). A route that says nothing is for coaches. Where a path names an `athleteId`, an athlete's device
 * gets it only for its own.
 */
export type RouteAccess = 'anyone' | 'joined' | 'athlete' | 'coach';

declare module 'fastify' {
  interface FastifyContextConfig {
    access?: RouteAccess;
  }
  interface FastifyRequest {
    /** What the page behind the request may do; sees nobody where it has not joined. */
    access: PageAccess;
  }
}

export type RouteModule = (app: FastifyInstance, context: RouteContext) => void;

const routeModules: readonly RouteModule[] = [
  healthRoutes,
  athleteRoutes,
  sensorRoutes,
  recordingRoutes,
  exportRoutes,
  correctionRoutes,
  importRoutes,
  backupRoutes,
  joinRoutes,
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
  readonly sockets: SocketServer;
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
  readonly makeId: () => string;
}

const statusOf: Partial<Record<ErrorCode, number>> = {
  notAllowed: 403,
  notJoined: 401,
  codeRefused: 403,
  lanOff: 409,
  unknownDevice: 404,
  unknownAthlete: 404,
  unknownSession: 404,
  unknownMark: 404,
  unknownHold: 404,
  notFound: 404,
  tooManyRequests: 429,
  recorderFailed: 507,
  internal: 500,
  sessionRunning: 409,
  planRunning: 409,
  needsChoice: 409,
  noSession: 409,
  floorLoweredDuringHold: 409,
};

/** Answers a refusal with its status and body. */
export function sendRefusal(reply: FastifyReply, refusal: Refusal): FastifyReply {
  return reply.code(statusOf[refusal.code] ?? 400).send({ code: refusal.code, message: refusal.message });
}

/** Checks a body against a schema; the refusal names the first field that is wrong. */
export function checkBody<Schema extends z.ZodMiniType>(
  schema: Schema,
  body: unknown,
): { ok: true; value: z.output<Schema> } | { ok: false; refusal: Refusal } {
  const checked = z.safeParse(schema, body);
  if (checked.success) return { ok: true, value: checked.data };
  const issue = checked.error.issues[0];
  const field = issue?.path.join('.') ?? '';
  return {
    ok: false,
    refusal: {
      code: 'badRequest',
      message: `${field === '' ? 'The request' : `"${field}"`} is not as expected: ${issue?.message ?? 'invalid'}.`,
    },
  };
}

const pageLeft = new Error('the page has left');

/** Aborts when the page that waits for this answer goes away. */
export function signalOfPage(reply: FastifyReply): AbortSignal {
  const abort = new AbortController();
  reply.raw.once('close', () => {
    if (!reply.raw.writableEnded) abort.abort(pageLeft);
  });
  return abort.signal;
}

/** Work that a person waits for behind this answer. */
export const askedBy = (reply: FastifyReply): Asking => ({ urgency: 'page', signal: signalOfPage(reply) });

const nobody: PageAccess = { role: 'onlooker', deviceId: null, athleteIds: [] };

/** Why a request may not use its route, or undefined when it may. */
function refusalOfRoute(
  rule: RouteAccess,
  access: PageAccess | undefined,
  athleteId: string | undefined,
): Refusal | undefined {
  if (rule === 'anyone') return undefined;
  if (access === undefined)
    return {
      code: 'notJoined',
      message: 'This device has not joined the hub. Ask the coach for a join code.',
    };
  if (rule === 'coach' && access.role !== 'coach')
    return { code: 'notAllowed', message: 'Only a coach may do this.' };
  if (rule === 'athlete' && access.role === 'onlooker')
    return { code: 'notAllowed', message: 'An onlooker can watch but not change or read recordings.' };
  if (athleteId !== undefined && !maySee(access, athleteId))
    return { code: 'notAllowed', message: 'This page may act only for its own athlete.' };
  return undefined;
}

const nobodyJoins = (clock: Clock, makeId: () => string): Joining => ({
  lan: null,
  devices: createDeviceRegister({ clock, makeId, file: noDeviceFile, athleteExists: () => false }),
});

/** Starts listening. Throws HubError for a busy or forbidden port. */
export async function startHttpServer(
  hubContext: Omit<RouteContext, keyof Joining | 'planRuns' | 'makeId'>,
  options: HttpServerOptions,
): Promise<HttpServer> {
  const app = Fastify({ logger: false, bodyLimit: 64 * 1024, forceCloseConnections: true });
  const { devices, lan } = options.joining ?? nobodyJoins(hubContext.clock, options.makeId);
  const { hub, store, log } = hubContext;
  const planRuns = createPlanRuns({ hub, store, log, makeId: options.makeId });
  const context: RouteContext = { ...hubContext, devices, lan, planRuns, makeId: options.makeId };
  if (!isLoopback(options.host))
    throw new HubError(
      'config.badValue',
      `--host ${options.host} is not this machine's own address. To let other devices in, with encryption and join codes, use --lan.`,
    );
  const isLanName = (name: string): boolean => lan?.isOwnName(name) ?? false;

  function accessOf(request: IncomingMessage): PageAccess | undefined {
    if (isFromOwnMachine(request)) return ownMachineAccess;
    const token = tokenOf(request);
    const device = token === undefined ? undefined : devices.deviceOf(token);
    return device === undefined ? undefined : accessOfDevice(device);
  }

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
  await app.register(rateLimit, { max: 600, timeWindow: 10_000 });

  app.decorateRequest('access');
  app.addHook('onRequest', async (request, reply) => {
    if (!isKnownHost(request.raw, isLanName)) {
      return sendRefusal(reply, { code: 'notAllowed', message: 'This name is not one of the hub’s.' });
    }
    if (request.method !== 'GET' && request.method !== 'HEAD' && !isOwnOrigin(request.raw)) {
      return sendRefusal(reply, { code: 'notAllowed', message: 'Requests from other sites are refused.' });
    }
    const access = accessOf(request.raw);
    request.access = access ?? nobody;
    const { url, config } = request.routeOptions;
    // What has no route of /api is the page's own files, which say nothing about anyone.
    if (url === undefined || !url.startsWith('/api/')) return;
    const { athleteId } = (request.params ?? {}) as { athleteId?: string };
    const refusal = refusalOfRoute(config.access ?? 'coach', access, athleteId);
    if (refusal !== undefined) return sendRefusal(reply, refusal);
  });
  app.setErrorHandler((error: Error & { statusCode?: number }, _request, reply) => {
    // The page has left; what was worked out for it was dropped.
    if (error === pageLeft) return reply.code(499).send();
    if (error instanceof ReviewFault)
      return reply.code(500).send({ code: 'internal' satisfies ErrorCode, message: error.message });
    const status = error.statusCode ?? 500;
    if (status >= 500) context.log.error('a request failed', error);
    const code: ErrorCode = status === 429 ? 'tooManyRequests' : status >= 500 ? 'internal' : 'badRequest';
    const message =
      status >= 500
        ? 'The hub could not do this. Its log says why; nothing recorded is lost.'
        : error.message;
    return reply.code(status).send({ code, message });
  });
  for (const register of routeModules) register(app, context);

  const indexFile = join(options.webDirectory, 'index.html');
  if (existsSync(indexFile)) {
    await app.register(fastifyStatic, {
      root: options.webDirectory,
      // Built files carry a hash in their name; the page itself is always asked for anew.
      setHeaders: (response, path) => {
        response.setHeader(
          'cache-control',
          path.includes('/assets/') ? 'public, max-age=31536000, immutable' : 'no-cache',
        );
      },
    });
    app.setNotFoundHandler((request, reply) => {
      const isPage =
        request.method === 'GET' && !request.url.startsWith('/api/') && !request.url.startsWith('/assets/');
      if (isPage) return reply.sendFile('index.html');
      return sendRefusal(reply, { code: 'notFound', message: 'There is nothing at this address.' });
    });
  } else {
    app.setNotFoundHandler((_request, reply) =>
      sendRefusal(reply, {
        code: 'notFound',
        message: 'The page has not been built. Run "npm run build" and start the hub again.',
      }),
    );
  }

  const tlsServer =
    lan === null
      ? null
      : createTlsServer(
          // Someone on the network who opens connections and says nothing must not use up the hub's.
          { key: lan.keyPem, cert: lan.certificatePem, handshakeTimeout: 10_000 },
          (request, response) => app.routing(request, response),
        );
  if (tlsServer !== null) {
    tlsServer.maxConnections = mostLanConnections;
    tlsServer.on('error', (error) => context.log.warn(`the server for other devices: ${error.message}`));
  }
  const sockets = serveSockets(tlsServer === null ? [app.server] : [app.server, tlsServer], {
    hub: context.hub,
    log: context.log,
    clock: context.clock,
    devices,
    isLanName,
    accessOf,
    makeId: options.makeId,
  });

  try {
    await app.listen({ host: options.host, port: options.port });
  } catch (error) {
    await sockets.close();
    await app.close();
    throw listeningError(error, options.host, options.port, '--port', '--host');
  }
  if (lan !== null && tlsServer !== null) {
    try {
      await listenForDevices(tlsServer, lan);
    } catch (error) {
      await sockets.close();
      await app.close();
      throw listeningError(error, lan.host, lan.port, '--lan-port', '--lan-host');
    }
    lan.opened(portOf(tlsServer.address()) ?? lan.port);
  }
  return {
    app,
    sockets,
    port: portOf(app.server.address()) ?? options.port,
    lanPort: tlsServer === null ? null : portOf(tlsServer.address()),
    async close() {
      await sockets.close();
      await context.recordings.close();
      await lan?.close();
      if (tlsServer !== null) {
        const closed = new Promise<void>((resolve) => tlsServer.close(() => resolve()));
        tlsServer.closeAllConnections();
        await closed;
      }
      await app.close();
    },
  };
}

/** A hundred pages with a few connections each. */
const mostLanConnections = 512;

const portOf = (address: AddressInfo | string | null): number | null =>
  typeof address === 'object' && address !== null ? address.port : null;

/** All interfaces of both kinds, or of IPv4 alone on a machine without IPv6. */
async function listenForDevices(server: TlsServer, lan: LanAccess): Promise<void> {
  const listen = (host: string) =>
    new Promise<void>((resolve, reject) => {
      server.once('error', reject);
      server.listen({ host, port: lan.port }, () => {
        server.off('error', reject);
        resolve();
      });
    });
  try {
    await listen(lan.host);
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException;
    if (lan.host !== '::' || (code !== 'EAFNOSUPPORT' && code !== 'EADDRNOTAVAIL')) throw error;
    await listen('0.0.0.0');
  }
}

function listeningError(
  error: unknown,
  host: string,
  port: number,
  portOption: string,
  hostOption: string,
): HubError {
  const { code } = error as NodeJS.ErrnoException;
  if (code === 'EADDRINUSE')
    return new HubError(
      'server.portBusy',
      `Port ${port} is already in use, perhaps by another hub. Close it or choose another port with ${portOption}.`,
      error,
    );
  if (code === 'EACCES')
    return new HubError(
      'server.portForbidden',
      `Port ${port} needs more rights than this user has. Choose one above 1023 with ${portOption}.`,
      error,
    );
  if (code === 'EADDRNOTAVAIL' || code === 'ENOTFOUND')
    return new HubError(
      'server.failed',
      `This machine has no address "${host}". Correct ${hostOption}.`,
      error,
    );
  return new HubError('server.failed', `The hub can't listen on ${host}:${port}.`, error);
}
