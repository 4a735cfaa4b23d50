// A message that a hub sent to be kept, read and checked: what it is, or why it cannot be taken.

import * as z from 'zod/mini';
import {
  type HubList,
  hubListSchema,
  revisionHeadSchema,
  type SegmentHead,
  segmentHeadSchema,
  type Told,
  toldSchema,
} from '../../../shared/school/kept-messages.ts';
import { schoolVersion } from '../../../shared/school/school-version.ts';
import { type HubIdentity, keptKinds, readSubject } from '../../../shared/school/subjects.ts';
import { failed, ok, type Result } from '../../../src/result.ts';
import { decodeChunk } from '../../recorder/packet-chunk.ts';
import { sha256Of, unpackJson, unpackKept } from '../kept-bytes.ts';

export type KeptMessage = { readonly from: HubIdentity } & (
  | { readonly kind: 'segment'; readonly head: SegmentHead; readonly body: Uint8Array }
  | { readonly kind: 'told'; readonly told: Told; readonly body: Uint8Array }
  | { readonly kind: 'list'; readonly list: HubList }
);

/** `version`: of the header, as text. Reasons are words for programs and the log. */
export function readKept(
  subject: string,
  version: string | undefined,
  bytes: Uint8Array,
): Result<KeptMessage> {
  const from = readSubject(subject);
  const kind = keptKinds.find((each) => each === from?.kind);
  if (from === undefined || kind === undefined) return failed('unknownSubject');
  if (version !== String(schoolVersion)) return failed('otherVersion');
  const unpacked = unpackKept(bytes);
  if (unpacked === undefined) return failed('unreadable');
  if (kind === 'segment') return readSegment(from, unpacked.head, unpacked.body);
  return readWhole(from, kind, unpacked.head, unpacked.body);
}

function readSegment(from: HubIdentity, given: unknown, body: Uint8Array): Result<KeptMessage> {
  const head = z.safeParse(segmentHeadSchema, given);
  if (!head.success) return failed('unreadableHead');
  if (sha256Of(body) !== head.data.sha256) return failed('otherChecksum');
  const chunk = decodeChunk(body);
  if (!chunk.ok) return failed(chunk.reason);
  if (chunk.value.order.length !== head.data.packetCount) return failed('otherCount');
  return ok({ kind: 'segment', from, head: head.data, body });
}

function readWhole(from: HubIdentity, kind: string, given: unknown, body: Uint8Array): Result<KeptMessage> {
  const head = z.safeParse(revisionHeadSchema, given);
  if (!head.success) return failed('unreadableHead');
  if (sha256Of(body) !== head.data.sha256) return failed('otherChecksum');
  const value = unpackJson(body);
  if (kind === 'told') {
    const told = z.safeParse(toldSchema, value);
    return told.success ? ok({ kind: 'told', from, told: told.data, body }) : failed('unreadableBody');
  }
  if (kind === 'list') {
    const list = z.safeParse(hubListSchema, value);
    return list.success ? ok({ kind: 'list', from, list: list.data }) : failed('unreadableBody');
  }
  return failed('unknownSubject');
}
