// One athlete's part of a session as one file that holds all of it (src/formats/session-file/README.md).

import { createHash } from 'node:crypto';
import { zipSync } from 'fflate';
import { said } from '../../../shared/said.ts';
import { archiveOfSession } from '../../../src/formats/session-file/write-session.ts';
import { HubError } from '../../base/hub-error.ts';
import { contentOfSession, type SessionToWrite } from '../session-file-shapes.ts';

/** Of a packed file: fixed, so that the same recording gives the same bytes. 1980 is the first that the format knows. */
export const packedDate = new Date(1980, 0, 1);

export const sha256Of = (bytes: Uint8Array): string => createHash('sha256').update(bytes).digest('hex');

const encoder = new TextEncoder();

/** Throws HubError where something stored does not fit the file's schemas. */
export function sessionArchive(session: SessionToWrite): Uint8Array {
  const { content, packets } = contentOfSession(session);
  const archive = archiveOfSession(content, packets, {
    utf8Of: (text) => encoder.encode(text),
    sha256Of,
  });
  if (!archive.ok)
    throw new HubError('data.refused', said('export.noSessionFile', { fault: archive.reason }));
  return zipSync(Object.fromEntries(archive.value.map(({ name, bytes }) => [name, bytes])), {
    mtime: packedDate,
  });
}
