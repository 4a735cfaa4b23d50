// A session file opened: what it holds is read at once, its packets as they are asked for. Each part is held against the
// manifest's checksum; a file that is cut off, changed, packed to be huge or of a newer version is refused with one reason.

import type { ImportPreview } from '../../../shared/http.ts';
import { type Said, said } from '../../../shared/said.ts';
import type { ByteSource } from '../../../src/formats/import-file.ts';
import { decodeSegment, mostSegmentBytes } from '../../../src/formats/session-file/packet-segment.ts';
import { mostTextBytes, readContent, readManifest } from '../../../src/formats/session-file/read-session.ts';
import {
  fileNames,
  type SessionContent,
  type SessionManifest,
} from '../../../src/formats/session-file/session-content.ts';
import { parseProfile } from '../../../src/profiles/profile-file.ts';
import type { SensorProfile } from '../../../src/profiles/sensor-profile.ts';
import type { StoredPacket } from '../../base/ports/stored-session.ts';
import { sha256Of } from '../export/session-archive.ts';
import { packetOfFile } from '../session-file-shapes.ts';
import { ImportRefused } from './checked-sink.ts';
import { titleOfFileName } from './open-import.ts';
import { type ZipEntry, ZipFault, zipEntries } from './zip-entries.ts';

export interface SessionFile {
  readonly content: SessionContent;
  readonly profiles: readonly SensorProfile[];
  readonly notices: readonly Said[];
  /** In the order in which they arrived. Throws `ImportRefused` where the file is not whole. */
  packets(): Generator<StoredPacket>;
}

/** A day of a 500 Hz wave is a tenth of it. */
const mostUnpackedBytes = 2 ** 31;
const mostManifestBytes = 2 ** 21;
const textCount = 3;

const mostOf = (name: string): number => {
  if (name === fileNames.manifest) return mostManifestBytes;
  return name.endsWith('.json') ? mostTextBytes : mostSegmentBytes;
};

/** Undefined for a file that is something else. Throws `ImportRefused` for a session file that cannot be read. */
export function openSessionFile(fileName: string, source: ByteSource): SessionFile | undefined {
  const magic = source.read(0, 4);
  if (magic[0] !== 0x50 || magic[1] !== 0x4b || magic[2] !== 3 || magic[3] !== 4) return undefined;
  const refuse = (fault: Said): never => {
    throw new ImportRefused(said('import.sessionFile', { file: fileName, fault }));
  };
  const entries = () => checkedEntries(source, refuse);
  const manifest = manifestOf(source, refuse);
  if (manifest === undefined) return undefined;
  if (!hasEnd(source)) refuse(said('sessionFile.damaged'));
  const texts: string[] = [];
  const unpacking = entries();
  for (const { bytes } of unpacking) if (texts.push(new TextDecoder().decode(bytes)) === textCount) break;
  const [head, events, plans] = texts;
  if (head === undefined || events === undefined || plans === undefined)
    return refuse(said('sessionFile.damaged'));
  const content = readContent(manifest, { head, events, plans });
  if (!content.ok) return refuse(content.reason);
  const { streams, durationMs, incomplete } = content.value.head;
  return {
    content: content.value,
    profiles: content.value.head.profiles.map((profile, index) => {
      const parsed = parseProfile(JSON.stringify(profile));
      if (parsed.ok) return parsed.value;
      const fault = parsed.reason[0]?.reason ?? said('json.invalid');
      return refuse(said('sessionFile.profile', { number: index + 1, fault }));
    }),
    notices: incomplete ? [said('import.incomplete')] : [],
    *packets() {
      for (const { name, bytes } of entries()) {
        if (!name.startsWith('packets/')) continue;
        const packets = decodeSegment(name, bytes, streams.length, durationMs);
        if (!packets.ok) return refuse(packets.reason);
        for (const packet of packets.value) yield packetOfFile(content.value, packet);
      }
    },
  };
}

type Refuse = (fault: Said) => never;

/** Undefined where the first file of the archive is no manifest of ours. */
function manifestOf(source: ByteSource, refuse: Refuse): SessionManifest | undefined {
  // The name in the archive's first header (APPNOTE 4.3.7): one that goes on to be unreadable is ours all the same.
  const first = Buffer.from(source.read(30, fileNames.manifest.length)).toString('latin1');
  if (first !== fileNames.manifest) return undefined;
  for (const { name, bytes } of unpacked(source, refuse)) {
    if (name !== fileNames.manifest) return undefined;
    const manifest = readManifest(new TextDecoder().decode(bytes));
    if (manifest === undefined) return undefined;
    return manifest.ok ? manifest.value : refuse(manifest.reason);
  }
  return refuse(said('sessionFile.damaged'));
}

/** All but the manifest, each as the manifest says it is. */
function* checkedEntries(source: ByteSource, refuse: Refuse): Generator<ZipEntry> {
  let expected: SessionManifest['files'] | undefined;
  let count = 0;
  for (const entry of unpacked(source, refuse)) {
    if (expected === undefined) {
      const manifest = readManifest(new TextDecoder().decode(entry.bytes));
      expected = manifest?.ok === true ? manifest.value.files : [];
      continue;
    }
    const wanted = expected[count];
    count += 1;
    if (wanted === undefined)
      return refuse(said('sessionFile.unknownPart', { name: entry.name.slice(0, 40) }));
    if (wanted.name !== entry.name) return refuse(said('sessionFile.missing', { name: wanted.name }));
    if (wanted.byteCount !== entry.bytes.length || wanted.sha256 !== sha256Of(entry.bytes))
      return refuse(said('sessionFile.checksum', { name: wanted.name }));
    yield entry;
  }
  const missing = expected?.[count];
  if (missing !== undefined) refuse(said('sessionFile.missing', { name: missing.name }));
}

function* unpacked(source: ByteSource, refuse: (fault: Said) => unknown): Generator<ZipEntry> {
  try {
    yield* zipEntries(source, mostOf, mostUnpackedBytes);
  } catch (error) {
    if (!(error instanceof ZipFault)) throw error;
    refuse(
      error.isTooLarge
        ? said('sessionFile.tooLarge', { megabytes: Math.round(mostUnpackedBytes / 2 ** 20) })
        : said('sessionFile.damaged'),
    );
  }
}

/** An archive ends with its directory, and the directory with this (APPNOTE 4.3.16), which nothing of ours comes after. */
function hasEnd(source: ByteSource): boolean {
  const endBytes = 22;
  const end = source.read(Math.max(0, source.length - endBytes), endBytes);
  return end.length === endBytes && end[0] === 0x50 && end[1] === 0x4b && end[2] === 5 && end[3] === 6;
}

/** What a person is shown before it is taken in. */
export function previewOfSessionFile(fileName: string, file: SessionFile, timeZone: string): ImportPreview {
  const { head, events } = file.content;
  // To the end: what is wrong is told now and not when it is half stored.
  for (const _packet of file.packets());
  return {
    format: 'session',
    startedWallAtMs: head.startedWallAtMs,
    durationMs: head.durationMs,
    simulated: head.simulated,
    suggestedAthleteName: head.athleteName === '' ? null : head.athleteName.slice(0, 80),
    suggestedTitle: head.title === '' ? titleOfFileName(fileName) : head.title,
    markCount: events.marks.length,
    columns: [],
    time: null,
    dateOrderAmbiguous: false,
    timeZone,
    startIsLocal: false,
    columnsMayChange: false,
    notices: [...file.notices],
  };
}

export const sessionFileReadAs = (path: string, { content }: SessionFile): Said =>
  said('import.readAs', {
    path,
    format: said('import.format.session'),
    columns: content.head.sensors.map(({ name }) => name).join(', '),
  });
