// /api/sessions/:sessionId/csv, /edf and /fhir: one athlete's recording as a file for other programs.

import { Readable } from 'node:stream';
import {
  csvFile,
  edfFile,
  exportFileName,
  fhirFile,
  type RecordingToExport,
} from '../../export/recording-files.ts';
import { maySee } from '../access.ts';
import type { RouteModule } from '../http-server.ts';
import { sendRefusal } from '../http-server.ts';

const formats = {
  csv: {
    type: 'text/csv; charset=utf-8',
    extension: 'csv',
    body: (recording: RecordingToExport) => Readable.from(csvFile(recording)),
  },
  // No media type is registered for EDF.
  edf: {
    type: 'application/octet-stream',
    extension: 'edf',
    body: (recording: RecordingToExport) => Buffer.from(edfFile(recording)),
  },
  fhir: { type: 'application/fhir+json; charset=utf-8', extension: 'fhir.json', body: fhirFile },
} as const;

export const exportRoutes: RouteModule = (app, { store, recordings }) => {
  for (const [name, { type, extension, body }] of Object.entries(formats)) {
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
        const derived = recordings.derive(stored.session.sessionId, athleteId);
        const athlete = visible.find((candidate) => candidate.athleteId === athleteId);
        if (derived === undefined || athlete === undefined)
          return sendRefusal(reply, {
            code: 'unknownAthlete',
            message: 'This athlete is not in the recording.',
          });
        return reply
          .header('content-type', type)
          .header('content-disposition', `attachment; filename="${exportFileName(stored, extension)}"`)
          .send(body({ store, stored, athlete, derived }));
      },
    );
  }
};
