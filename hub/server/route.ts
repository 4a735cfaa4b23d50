// What a route module is given and how it answers: its context, who may use it, refusals and checked bodies.

import type { FastifyInstance, FastifyReply } from 'fastify';
import * as z from 'zod/mini';
import type { ErrorCode } from '../../shared/error-codes.ts';
import type { ErrorBody } from '../../shared/http.ts';
import { unreadableName } from '../../shared/name-text.ts';
import { said } from '../../shared/said.ts';
import type { SchoolLinkBody } from '../../shared/school/pages.ts';
import type { HubLog } from '../base/log.ts';
import type { AuditLog } from '../base/ports/audit-log.ts';
import type { Clock } from '../base/ports/clock.ts';
import type { HubStore } from '../base/ports/hub-store.ts';
import type { Refusal } from '../base/refusal.ts';
import type { Joining } from '../devices/join/joining.ts';
import type { Hub } from '../live/hub.ts';
import { refusals } from '../live/refusals.ts';
import type { CheckComputer } from '../machine/checking-process.ts';
import type { PlanRuns } from '../plans/plan-runs.ts';
import type { ScheduledBackups } from '../recorder/backup/scheduled-backups.ts';
import type { Bin } from '../recordings/bin.ts';
import type { Asking } from '../recordings/derivations.ts';
import type { RecordedSessions } from '../recordings/recorded-sessions.ts';
import type { SummaryWork } from '../recordings/summary-work.ts';
import type { ProfileShelf } from '../sensors/bluetooth/profile-shelf.ts';
import type { SensorBench } from '../sensors/bluetooth/sensor-bench.ts';
import { maySee, type PageAccess } from './access.ts';
import type { PageFeed } from './page-feed.ts';
import { type ReaderLanguage, readerLanguage, sayFor } from './reader-language.ts';

/** Puts a backup that was looked at in the place of the recordings: the hub stops for it and starts again. */
export interface Restoring {
  /** The data folder: what is offered waits in it, on the disk it is meant for. */
  readonly folder: string;
  readonly begin: (path: string) => void;
}

/** What every route module receives. Add a subject: one file in routes/, one line in `routeModules`. */
export interface RouteContext extends Joining {
  readonly hub: Hub;
  readonly feed: PageFeed;
  readonly store: HubStore;
  readonly recordings: RecordedSessions;
  readonly summaries: SummaryWork;
  readonly planRuns: PlanRuns;
  readonly bin: Bin;
  /** Null where the settings ask for none. */
  readonly scheduledBackups: ScheduledBackups | null;
  /** Null where nobody can stop the hub and start it anew. */
  readonly restoring: Restoring | null;
  /** Null where the hub was put together without. */
  readonly checkComputer: CheckComputer | null;
  /** Null where the hub was put together without. */
  readonly profileShelf: ProfileShelf | null;
  /** How the hub stands with its school; null where it sends to none. */
  readonly schoolLink: () => SchoolLinkBody['school'];
  /** Null where no radio is there to look at sensors with. */
  readonly sensorBench: SensorBench | null;
  readonly audit: AuditLog;
  /** Fresh unguessable ids. */
  readonly makeId: () => string;
  /** The clock of people and pages, never scaled. */
  readonly clock: Clock;
  readonly log: HubLog;
  readonly hubVersion: string;
  /** Of this process: a page sees by it that what the former one held in its memory only is gone. */
  readonly hubRunId: string;
  /** At a school: its hubs by their names there; null at a hub. */
  readonly hubsOfSchool: (() => readonly string[]) | null;
}

/**
 * Who may use a route: `anyone` who reaches the hub, `joined` devices of every role, the `athlete` for themselves
 * (and a coach). A route that says nothing is a fault, and no hub starts with it. Where a path names an `athleteId`, an athlete's device
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

export const statusOfRefusal = ({ code }: Refusal): number => statusOf[code] ?? 400;

/** The words are for who reads the answer without a page. */
export const bodyOfRefusal = ({ code, said }: Refusal, language: ReaderLanguage): ErrorBody => ({
  code,
  message: sayFor(language)(said),
  said,
});

/** Answers with a status and what to say, in the language of whoever asked. */
export function sendFault(reply: FastifyReply, status: number, refusal: Refusal): FastifyReply {
  const language = readerLanguage(reply.request);
  return reply
    .code(status)
    .header('content-language', language)
    .header('vary', 'accept-language')
    .send(bodyOfRefusal(refusal, language));
}

/** Answers a refusal with its status and body. */
export function sendRefusal(reply: FastifyReply, refusal: Refusal): FastifyReply {
  return sendFault(reply, statusOfRefusal(refusal), refusal);
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
  if (issue?.message === unreadableName)
    return { ok: false, refusal: { code: 'badRequest', said: said('refusal.oddName', { field }) } };
  return {
    ok: false,
    refusal: {
      code: 'badRequest',
      said:
        field === ''
          ? said('refusal.body', { issue: issue?.message ?? 'invalid' })
          : said('refusal.bodyField', { field, issue: issue?.message ?? 'invalid' }),
    },
  };
}

/** The page that waited for an answer has gone. */
export const pageLeft = new Error('pageLeft');

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

/** A route and who may use it. */
export interface RouteRule {
  readonly method: string;
  readonly path: string;
  readonly access: RouteAccess;
}

/** Throws for a route of /api that does not say who may use it. The page's own files say nothing about anyone. */
export function ruleOfRoute(method: string, path: string, access: RouteAccess | undefined): RouteRule {
  if (access !== undefined) return { method, path, access };
  if (path.startsWith('/api'))
    throw new Error(`${method} ${path} does not say in config.access who may use it`);
  return { method, path, access: 'anyone' };
}

/** Why a request may not use its route, or undefined when it may. */
export function refusalOfRoute(
  rule: RouteAccess,
  access: PageAccess | undefined,
  athleteId: string | undefined,
): Refusal | undefined {
  if (rule === 'anyone') return undefined;
  if (access === undefined)
    return {
      code: 'notJoined',
      said: said('refusal.notJoined'),
    };
  if (rule === 'coach' && access.role !== 'coach')
    return { code: 'notAllowed', said: said('refusal.coachOnly') };
  if (rule === 'athlete' && access.role === 'onlooker')
    return { code: 'notAllowed', said: said('refusal.onlookerReads') };
  if (athleteId !== undefined && !maySee(access, athleteId)) return refusals.ownAthleteOnly;
  return undefined;
}
