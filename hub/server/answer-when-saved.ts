// What a page changed over HTTP is answered as done only when it is on the disk, or with why that cannot be said; then with the
// answer beside it, since the change stands.

import type { FastifyInstance } from 'fastify';
import type { ErrorBody } from '../../shared/http.ts';
import { notSavedYetCode } from '../../shared/said.ts';
import type { Hub } from '../live/hub.ts';
import { readerLanguage } from './reader-language.ts';
import { bodyOfRefusal, statusOfRefusal } from './route.ts';

const reading = new Set(['GET', 'HEAD', 'OPTIONS']);

declare module 'fastify' {
  interface FastifyContextConfig {
    /** False where nothing of it is kept by the recorder: it is answered whatever the disk of recordings does. */
    saves?: boolean;
  }
  interface FastifyRequest {
    /** Carried out, but answered as not saved. */
    standsUnsaved: boolean;
  }
}

export function answerWhenSaved(app: FastifyInstance, hub: Hub): void {
  app.decorateRequest('standsUnsaved', false);
  app.addHook('onSend', async (request, reply, payload) => {
    if (reading.has(request.method) || reply.statusCode >= 300) return payload;
    if (request.routeOptions.config.saves === false) return payload;
    const saved = await hub.whenSaved();
    if (saved === undefined || saved.ok) return payload;
    request.standsUnsaved = saved.reason.said.code === notSavedYetCode;
    reply.code(statusOfRefusal(saved.reason));
    reply.header('content-type', 'application/json; charset=utf-8');
    reply.removeHeader('content-length');
    const body: ErrorBody = {
      ...bodyOfRefusal(saved.reason, readerLanguage(request)),
      ...(request.standsUnsaved && { answer: answerOf(payload) }),
    };
    return JSON.stringify(body);
  });
}

function answerOf(payload: unknown): unknown {
  if (typeof payload !== 'string' || payload === '') return null;
  try {
    return JSON.parse(payload);
  } catch {
    // Not JSON: nothing a page would read.
    return null;
  }
}
