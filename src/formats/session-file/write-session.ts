// A session's content and packets as the files of an archive, the manifest first. The same session gives the same bytes.

import type { Said } from '../../../shared/said.ts';
import { failed, ok, type Result } from '../../result.ts';
import { encodeSegment, type FilePacket, segmentLimits } from './packet-segment.ts';
import { contentFault } from './read-session.ts';
import {
  fileNames,
  type SessionContent,
  type SessionManifest,
  segmentName,
  sessionEventsSchema,
  sessionFileFormat,
  sessionFileVersion,
  sessionHeadSchema,
  sessionPlansSchema,
} from './session-content.ts';
import { sessionFileWords } from './session-file-words.ts';

export interface ArchivedFile {
  readonly name: string;
  readonly bytes: Uint8Array;
}

/** What the core cannot do itself. */
export interface ByteWork {
  utf8Of(text: string): Uint8Array;
  /** Lower-case hex. */
  sha256Of(bytes: Uint8Array): string;
}

/**
 * What could not be read back is not written: the reason names its place.
 * `packets` in the order in which they arrived.
 */
export function archiveOfSession(
  content: SessionContent,
  packets: Iterable<FilePacket>,
  { utf8Of, sha256Of }: ByteWork,
): Result<ArchivedFile[], Said> {
  const files: ArchivedFile[] = [];
  const parts = [
    [fileNames.head, sessionHeadSchema, content.head],
    [fileNames.events, sessionEventsSchema, content.events],
    [fileNames.plans, sessionPlansSchema, content.plans],
  ] as const;
  for (const [name, schema, value] of parts) {
    // Through its schema, so that names stand in its order whoever made the value.
    const checked = schema.safeParse(JSON.parse(JSON.stringify(value)));
    if (!checked.success) return failed(contentFault(name, checked.error));
    files.push({ name, bytes: utf8Of(`${JSON.stringify(checked.data, null, 1)}\n`) });
  }
  let segment: FilePacket[] = [];
  let segmentBytes = 0;
  let segmentCount = 0;
  const seal = (): void => {
    files.push({ name: segmentName(segmentCount), bytes: encodeSegment(segment) });
    segmentCount += 1;
    segment = [];
    segmentBytes = 0;
  };
  for (const packet of packets) {
    segment.push(packet);
    segmentBytes += packet.bytes.length;
    if (segment.length >= segmentLimits.packets || segmentBytes >= segmentLimits.bytes) seal();
  }
  if (segment.length > 0) seal();
  const { simulated } = content.head;
  const manifest: SessionManifest = {
    format: sessionFileFormat,
    version: sessionFileVersion,
    notice: simulated ? sessionFileWords.simulated : sessionFileWords.notMedical,
    simulated,
    files: files.map(({ name, bytes }) => ({ name, byteCount: bytes.length, sha256: sha256Of(bytes) })),
  };
  return ok([
    { name: fileNames.manifest, bytes: utf8Of(`${JSON.stringify(manifest, null, 1)}\n`) },
    ...files,
  ]);
}
