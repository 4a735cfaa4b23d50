// How often one address, or the hub's own person, may ask: the page's own files are counted apart from questions to the hub.

import type { RateLimitPluginOptions } from '@fastify/rate-limit';
import type { FastifyRequest } from 'fastify';
import { type Said, said } from '../../shared/said.ts';
import type { OwnPerson } from '../devices/own-person/own-person.ts';
import { isOwnPerson } from './access.ts';

const withinMs = 10_000;
/** Our choice: a page that opens its dearest view asks some 20 questions, and a dozen people may sit behind one address. */
const mostQuestions = 600;
/** A browser that has never been here takes the whole page, some 140 files, to keep it: a dozen of them behind one address, twice. */
const mostFiles = 4_000;

/** Somebody asked more often than they may. */
export class AskedTooOften extends Error {
  readonly statusCode = 429;
  readonly said: Said;

  constructor(waitMs: number) {
    const seconds = Math.max(1, Math.ceil(waitMs / 1_000));
    super('askedTooOften');
    this.said = said('refusal.askedTooOften', { seconds });
  }
}

/** By the route, which no spelling of an address gets round; what has none but the page's is a file unless it lies under /api. */
const isFileOfPage = ({ routeOptions, url }: FastifyRequest): boolean =>
  routeOptions.url === '/' ||
  ((routeOptions.url === undefined || routeOptions.url === '/*') && !url.startsWith('/api/'));

/** For @fastify/rate-limit. A route may set limits of its own. */
export const requestQuota = (ownPerson: OwnPerson): RateLimitPluginOptions => ({
  max: (request) => (isFileOfPage(request) ? mostFiles : mostQuestions),
  timeWindow: withinMs,
  // Others on this machine have its address too, and must not use up what its own person may ask.
  keyGenerator: (request) => {
    const who = isOwnPerson(request.raw, ownPerson) ? 'own person' : request.ip;
    return isFileOfPage(request) ? `files for ${who}` : who;
  },
  errorResponseBuilder: (_request, { ttl }) => new AskedTooOften(ttl),
});
