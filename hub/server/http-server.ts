// The HTTP side: the page's files, the JSON routes, headers that keep foreign content out. Routes are one file a subject.

import { existsSync } from 'node:fs';
import type { IncomingMessage } from 'node:http';
import { join } from 'node:path';
import helmet from '@fastify/helmet';
import rateLimit from '@fastify/rate-limit';
import fastifyStatic from '@fastify/static';
import Fastify, { type FastifyInstance, type FastifyReply } from 'fastify';
import * as z from 'zod/mini';
import type { ErrorCode } from '../../shared/error-codes.ts';
import type { Hub, HubLog } from '../hub.ts';
import { HubError } from '../hub-error.ts';
import type { Refusal } from '../live-session.ts';
import type { Clock, Store } from '../ports.ts';
import type { RecordedSessions } from '../recorded-session.ts';
import { isKnownHost, isOwnOrigin, type PageAccess } from './access.ts';
import { athleteRoutes } from './routes/athletes.ts';
import { healthRoutes } from './routes/health.ts';
import { recordingRoutes } from './routes/recordings.ts';
import { sensorRoutes } from './routes/sensors.ts';
import { type SocketServer, serveSockets } from './sockets.ts';

/** What every route module receives. Add a subject: one file in routes/, one line in `routeModules`. */
export interface RouteContext {
  readonly hub: Hub;
  readonly store: Store;
  readonly recordings: RecordedSessions;
  readonly clock: Clock;
  readonly log: HubLog;
  readonly hubVersion: string;
}

export type RouteModule = (app: FastifyInstance, context: RouteContext) => void;

const routeModules: readonly RouteModule[] = [healthRoutes, athleteRoutes, sensorRoutes, recordingRoutes];

export interface HttpServer {
  readonly port: number;
  readonly app: FastifyInstance;
  readonly sockets: SocketServer;
  close(): Promise<void>;
}

export interface HttpServerOptions {
  readonly host: string;
  readonly port: number;
  /** Folder with the built page. */
  readonly webDirectory: string;
  readonly allowedHosts?: ReadonlySet<string>;
  readonly accessOf?: (request: IncomingMessage) => PageAccess | undefined;
  readonly makeId: () => string;
}

const statusOf: Partial<Record<ErrorCode, number>> = {
  notAllowed: 403,
  unknownAthlete: 404,
  unknownSession: 404,
  unknownMark: 404,
  notFound: 404,
  tooManyRequests: 429,
  recorderFailed: 507,
  internal: 500,
  sessionRunning: 409,
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

/** Starts listening. Throws HubError for a busy or forbidden port. */
export async function startHttpServer(
  context: RouteContext,
  options: HttpServerOptions,
): Promise<HttpServer> {
  const app = Fastify({ logger: false, bodyLimit: 64 * 1024, forceCloseConnections: true });
  const allowedHosts = options.allowedHosts ?? new Set<string>();

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

  app.addHook('onRequest', async (request, reply) => {
    if (!isKnownHost(request.headers.host, allowedHosts)) {
      return sendRefusal(reply, { code: 'notAllowed', message: 'This name is not one of the hub’s.' });
    }
    if (request.method !== 'GET' && request.method !== 'HEAD' && !isOwnOrigin(request.headers)) {
      return sendRefusal(reply, { code: 'notAllowed', message: 'Requests from other sites are refused.' });
    }
  });
  app.setErrorHandler((error: Error & { statusCode?: number }, _request, reply) => {
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

  const sockets = serveSockets(app.server, {
    hub: context.hub,
    log: context.log,
    allowedHosts,
    accessOf: options.accessOf ?? (() => ({ role: 'coach', deviceId: null, athleteIds: 'all' })),
    makeId: options.makeId,
  });

  try {
    await app.listen({ host: options.host, port: options.port });
  } catch (error) {
    const code = (error as NodeJS.ErrnoException).code;
    if (code === 'EADDRINUSE') {
      throw new HubError(
        'server.portBusy',
        `Port ${options.port} is already in use, perhaps by another hub. Close it or choose another port with --port.`,
        error,
      );
    }
    if (code === 'EACCES')
      throw new HubError(
        'server.portForbidden',
        `Port ${options.port} needs more rights than this user has. Choose one above 1023 with --port.`,
        error,
      );
    if (code === 'EADDRNOTAVAIL' || code === 'ENOTFOUND')
      throw new HubError(
        'server.failed',
        `This machine has no address "${options.host}". Correct --host.`,
        error,
      );
    throw new HubError('server.failed', `The hub can't listen on ${options.host}:${options.port}.`, error);
  }
  const address = app.server.address();
  return {
    app,
    sockets,
    port: typeof address === 'object' && address !== null ? address.port : options.port,
    async close() {
      await sockets.close();
      await app.close();
    },
  };
}
