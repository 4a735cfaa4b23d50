// Makes entries of the audit log of what was asked and carried out: routes by their `config.audit`, messages by their type.

import type { FastifyInstance, FastifyRequest } from 'fastify';
import type { AuditAction, AuditEntry } from '../../shared/audit.ts';
import type { AuditLog } from '../base/ports/audit-log.ts';
import type { Clock } from '../base/ports/clock.ts';
import type { PageAccess } from './access.ts';

declare module 'fastify' {
  interface FastifyContextConfig {
    /** What is written down of each request that is carried out. */
    audit?: AuditAction;
  }
  interface FastifyRequest {
    /** Whom it is about, where the path doesn't say. */
    auditedAthleteId: string | null;
  }
}

export function auditEntry(
  access: PageAccess,
  action: AuditAction,
  clock: Clock,
  about: Partial<Pick<AuditEntry, 'athleteId' | 'sessionId' | 'floorPercent' | 'afar' | 'room'>> = {},
): AuditEntry {
  const { deviceId, deviceName: name, role, athleteIds } = access;
  return {
    atWallMs: clock.wallNowMs(),
    action,
    device: deviceId === null ? null : { deviceId, name, role },
    deviceAthleteId: role === 'athlete' && athleteIds !== 'all' ? (athleteIds[0] ?? null) : null,
    athleteId: null,
    sessionId: null,
    floorPercent: null,
    ...about,
  };
}

/** Writes down every carried out request of a route that says so in `config.audit`, saved or not. */
export function auditRequests(app: FastifyInstance, audit: AuditLog, clock: Clock): void {
  app.decorateRequest('auditedAthleteId', null);
  app.addHook('onResponse', async (request, reply) => {
    const { audit: action } = request.routeOptions.config;
    if (action === undefined || (reply.statusCode >= 300 && !request.standsUnsaved)) return;
    audit.append(auditEntry(request.access, action, clock, aboutOf(request)));
  });
}

function aboutOf(request: FastifyRequest): Partial<AuditEntry> {
  const params = (request.params ?? {}) as { athleteId?: string; sessionId?: string };
  const query = (request.query ?? {}) as { athleteId?: string };
  return {
    athleteId: request.auditedAthleteId ?? params.athleteId ?? query.athleteId ?? null,
    sessionId: params.sessionId ?? null,
  };
}
