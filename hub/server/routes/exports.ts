// /api/sessions/:sessionId/csv, /edf, /fhir and /extract: one athlete's recording as a file for other programs.

import type { StoredSession } from '../../base/ports.ts';
import { refusals } from '../../live/refusals.ts';
import { exportFileName } from '../../recordings/export/recording-files.ts';
import { fileFormats } from '../../recordings/review/review-task.ts';
import { maySee } from '../access.ts';
import { askedBy, type RouteModule, sendRefusal } from '../route.ts';

const kinds = {
  csv: { type: 'text/csv; charset=utf-8', extension: 'csv' },
  // No media type is registered for EDF.
  edf: { type: 'application/octet-stream', extension: 'edf' },
  fhir: { type: 'application/fhir+json; charset=utf-8', extension: 'fhir.json' },
  extract: { type: 'application/json; charset=utf-8', extension: 'extract.json' },
} as const;

export const exportRoutes: RouteModule = (app, { store, recordings }) => {
  for (const name of fileFormats) {
    const { type, extension } = kinds[name];
    // An extract says nothing of the day, not even in its name.
    const fileName = (stored: StoredSession): string =>
      name === 'extract' ? 'labelled-extract.json' : exportFileName(stored, extension);
    app.get<{ Params: { sessionId: string }; Querystring: { athleteId?: string } }>(
      `/api/sessions/:sessionId/${name}`,
      { config: { access: 'athlete' } },
      async (request, reply) => {
        const stored = store.readSession(request.params.sessionId);
        const visible = stored?.athletes.filter(({ athleteId }) => maySee(request.access, athleteId)) ?? [];
        const athleteId = request.query.athleteId ?? visible[0]?.athleteId;
        if (stored === undefined || athleteId === undefined || visible.length === 0)
          return sendRefusal(reply, {
            code: 'unknownSession',
            message: 'There is no such recording; it may have been deleted.',
          });
        const isVisible = visible.some((candidate) => candidate.athleteId === athleteId);
        const file = isVisible
          ? await recordings.file(stored.session.sessionId, athleteId, name, askedBy(reply))
          : undefined;
        if (file === undefined) return sendRefusal(reply, refusals.notInRecording);
        return reply
          .header('content-type', type)
          .header('content-disposition', `attachment; filename="${fileName(stored)}"`)
          .send(Buffer.from(file.buffer, file.byteOffset, file.byteLength));
      },
    );
  }
};
