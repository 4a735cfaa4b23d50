// What a page changed over HTTP is answered as done only when it is on the disk, or with why that cannot be said.

import type { FastifyInstance } from 'fastify';
import type { Hub } from '../live/hub.ts';
import { readerLanguage } from './reader-language.ts';
import { bodyOfRefusal, statusOfRefusal } from './route.ts';

const reading = new Set(['GET', 'HEAD', 'OPTIONS']);

export function answerWhenSaved(app: FastifyInstance, hub: Hub): void {
  app.addHook('onSend', async (request, reply, payload) => {
    if (reading.has(request.method) || reply.statusCode >= 300) return payload;
    const saved = await hub.whenSaved();
    if (saved === undefined || saved.ok) return payload;
    reply.code(statusOfRefusal(saved.reason));
    reply.header('content-type', 'application/json; charset=utf-8');
    reply.removeHeader('content-length');
    return JSON.stringify(bodyOfRefusal(saved.reason, readerLanguage(request)));
  });
}
