// What a hub and a school are both put together with: a log that names nobody, the log of who did what, threads that work out
// recordings, and where the page is.

import { randomBytes } from 'node:crypto';
import { said } from '../../shared/said.ts';
import type { Config } from '../base/config.ts';
import { createLog } from '../base/create-log.ts';
import type { HubLog } from '../base/log.ts';
import type { AuditLog } from '../base/ports/audit-log.ts';
import { systemClock } from '../base/system-clock.ts';
import { auditLogIn } from '../devices/audit/audit-file.ts';
import type { Joining } from '../devices/join/joining.ts';
import type { Hub } from '../live/hub.ts';
import { createReviewThread } from '../recordings/review/review-thread.ts';
import type { HttpServer } from './http-server.ts';

/** Nine random bytes: unguessable, and short enough to read aloud from an address. */
export const makeId = (): string => randomBytes(9).toString('base64url').replaceAll('_', '.');

/** What is put together one after the other; each part sees those that are there. */
export interface PartsSoFar {
  hub?: Hub;
  joining?: Joining;
}

export const logOf = (config: Config, parts: PartsSoFar): HubLog =>
  createLog(config, () => [
    ...(parts.hub?.athletes ?? []).map(({ name }) => name),
    ...(parts.joining?.devices.devices() ?? []).map(({ name }) => name),
  ]);

/** Says on the hub's page when it is full. */
export const auditOf = (config: Config, log: HubLog, hub: Hub): AuditLog =>
  auditLogIn(config.data, log, { full: () => hub.notices.add(said('notice.auditFull')) });

/** Makes a thread at each call. */
export const reviewThreads = (log: HubLog) => () =>
  createReviewThread({ clock: systemClock, warn: (message, error) => log.error(message, error) });

/** The page's address on this computer, and with a code that makes a browser its own person's. */
export function pageOf(
  { host }: Config,
  { port }: HttpServer,
): { readonly url: string; readonly linkWith: (code: string) => string } {
  const url = `http://${host.includes(':') ? `[${host}]` : host}:${port}/`;
  return { url, linkWith: (code) => `${url}#own=${code}` };
}
