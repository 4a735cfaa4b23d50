// Sends what a hub has recorded to be kept by its school: packets by the segment, then what was told beside them; again
// until it is acknowledged. Recordings that grow come before those of the past.

import type { SegmentHead, Told } from '../../../shared/school/kept-messages.ts';
import type { HaveAnswer } from '../../../shared/school/questions.ts';
import type { KeptKind } from '../../../shared/school/subjects.ts';
import type { ArchivedSegment, ArchivedTold, ToldChanges } from '../../base/ports/archive-reads.ts';
import { packJson, packKept, sha256Of } from '../kept-bytes.ts';
import type { SendingCursor, SentSession } from './cursor.ts';
import type { ListToSend } from './publisher-messages.ts';

/** A segment's packets take about so much before they are packed to a fifth; a message may be a megabyte. */
const segmentBytes = 192 * 1024;
/** Segments of a past recording between two looks at one that grows. */
const segmentsPerTurn = 4;

export interface SenderPorts {
  readonly room: string;
  readonly cursor: SendingCursor;
  readonly wallNowMs: () => number;
  readonly growEveryMs: number;
  /** Resolves when the server has it on its disk; rejects with why not. */
  readonly keep: (kind: KeptKind, contentKey: string, bytes: Uint8Array) => Promise<void>;
  readonly toldChanges: (since: number) => Promise<ToldChanges>;
  readonly readTold: (sessionId: string) => Promise<ArchivedTold | undefined>;
  readonly readSegment: (
    sessionId: string,
    first: number,
    mostBytes: number,
  ) => Promise<ArchivedSegment | undefined>;
  readonly readList: () => Promise<ListToSend>;
  readonly segmentKept: () => void;
  /** Of whom nothing may be sent: they are to be erased and still here. */
  readonly heldAthleteIds: () => ReadonlySet<string>;
}

export class RecordingSender {
  readonly #ports: SenderPorts;
  /** Of the hub's recordings, as far as it has been looked through for changes. */
  #version = 0;
  /** What there may be something to send of, the oldest first. */
  #waiting: string[] = [];
  readonly #grownAtMs = new Map<string, number>();
  /** The server knows for a while what it was sent: what is sent again on purpose says so. */
  #again = '';

  constructor(ports: SenderPorts) {
    this.#ports = ports;
  }

  /** One round: all that grows, then a helping of the past. Answers whether the past is all sent. */
  async turn(): Promise<boolean> {
    await this.#sendList();
    const changes = await this.#ports.toldChanges(this.#version);
    const known = new Set(this.#waiting);
    for (const sessionId of changes.sessionIds) if (!known.has(sessionId)) this.#waiting.push(sessionId);
    this.#version = changes.version;
    // The newest is the last; one that grows is always among the changes.
    const newest = this.#waiting.at(-1);
    if (newest !== undefined && (await this.#ports.readTold(newest))?.status === 'recording') {
      await this.#send(newest, Number.POSITIVE_INFINITY);
      this.#forget(newest);
    }
    const next = this.#waiting[0];
    if (next !== undefined && (await this.#send(next, segmentsPerTurn))) this.#forget(next);
    return this.#waiting.length === 0;
  }

  /** What the archive lacks, though it was acknowledged once, is sent again: it may have been restored from a backup. */
  compare(answer: HaveAnswer): void {
    const { cursor, wallNowMs } = this.#ports;
    if (answer.pending > 0) return;
    const lacks = `.again-${wallNowMs()}`;
    if (answer.listRevision < cursor.list.revision) {
      cursor.saveList('', cursor.list.revision);
      this.#again = lacks;
    }
    for (const { sessionId, generation, covered, revision } of answer.sessions) {
      const sent = cursor.get(sessionId);
      if (sent === undefined || sent.generation !== generation) continue;
      const isTold = revision >= sent.revision;
      if (covered >= sent.sent && isTold) continue;
      cursor.save({ ...sent, sent: Math.min(sent.sent, covered), toldSha: isTold ? sent.toldSha : '' });
      this.#again = lacks;
      if (!this.#waiting.includes(sessionId)) this.#waiting.push(sessionId);
    }
  }

  #forget(sessionId: string): void {
    this.#waiting = this.#waiting.filter((each) => each !== sessionId);
  }

  /** Answers whether nothing is left to send of it. */
  async #send(sessionId: string, mostSegments: number): Promise<boolean> {
    const { cursor, readTold, readSegment, growEveryMs, wallNowMs } = this.#ports;
    const told = await readTold(sessionId);
    // Deleted on the hub: what the school has of it stays, unless with everything of somebody who was erased.
    if (told === undefined) return true;
    // It changes when they are erased, and is sent then.
    const held = this.#ports.heldAthleteIds();
    if (told.athleteIds.some((athleteId) => held.has(athleteId))) return true;
    const before = this.#beginning(sessionId, told);
    const isGrowing = told.status === 'recording';
    if (isGrowing && wallNowMs() - (this.#grownAtMs.get(sessionId) ?? 0) < growEveryMs) return true;
    let sent = before;
    for (let count = 0; ; count++) {
      const segment = await readSegment(sessionId, sent.sent, segmentBytes);
      if (segment === undefined) break;
      if (count >= mostSegments) return false;
      sent = await this.#sendSegment(sent, told, segment);
      cursor.save(sent);
      // What came meanwhile comes with the next piece.
      if (isGrowing && segment.lastAtMs >= told.durationMs) break;
    }
    this.#grownAtMs.set(sessionId, wallNowMs());
    await this.#sendTold(sent, told);
    return true;
  }

  /** Somebody who was in it and is not any more was taken out of it, packets and all: it is sent anew. */
  #beginning(sessionId: string, told: ArchivedTold): SentSession {
    const { athleteIds } = told;
    const known = this.#ports.cursor.get(sessionId);
    if (known === undefined)
      return { sessionId, generation: 0, sent: 0, toldSha: '', revision: 0, athleteIds };
    if (known.athleteIds.every((athleteId) => athleteIds.includes(athleteId)))
      return { ...known, athleteIds };
    return { ...known, athleteIds, generation: known.generation + 1, sent: 0, toldSha: '' };
  }

  async #sendSegment(sent: SentSession, told: ArchivedTold, segment: ArchivedSegment): Promise<SentSession> {
    const { sessionId, generation } = sent;
    const { first, packetCount, unreadableBefore, lastAtMs, body } = segment;
    const sha256 = sha256Of(body);
    const { startedWallAtMs } = told;
    const head: { [Name in keyof SegmentHead]: unknown } = {
      sessionId,
      generation,
      startedWallAtMs,
      first,
      packetCount,
      unreadableBefore,
      lastAtMs,
      sha256,
    };
    await this.#ports.keep(
      'segment',
      `${sessionId}.${generation}.${first}.${sha256}${this.#again}`,
      packKept(head, body),
    );
    this.#ports.segmentKept();
    return { ...sent, sent: first + packetCount };
  }

  async #sendTold(sent: SentSession, told: ArchivedTold): Promise<void> {
    const { cursor, keep, wallNowMs } = this.#ports;
    const { sessionId, generation } = sent;
    const { athleteIds: _of, ...rest } = told;
    const toldSha = sha256Of(Buffer.from(JSON.stringify([generation, rest])));
    if (toldSha === sent.toldSha) {
      cursor.save(sent);
      return;
    }
    const revision = Math.max(sent.revision + 1, Math.floor(wallNowMs()));
    const body: { [Name in keyof Told]: unknown } = { ...rest, generation, revision };
    const packed = packJson(body);
    const head = { revision, sha256: sha256Of(packed) };
    await keep(
      'told',
      `${sessionId}.${generation}.told.${toldSha}.${revision}${this.#again}`,
      packKept(head, packed),
    );
    cursor.save({ ...sent, toldSha, revision });
  }

  async #sendList(): Promise<void> {
    const { cursor, keep, readList, room, wallNowMs } = this.#ports;
    const held = this.#ports.heldAthleteIds();
    const isSent = ({ athleteId }: { readonly athleteId: string | null }): boolean =>
      athleteId === null || !held.has(athleteId);
    const { athletes, documents } = await readList();
    const list = { name: room, athletes: athletes.filter(isSent), documents: documents.filter(isSent) };
    const sha = sha256Of(Buffer.from(JSON.stringify(list)));
    const before = cursor.list;
    if (sha === before.sha) return;
    const revision = Math.max(before.revision + 1, Math.floor(wallNowMs()));
    const packed = packJson({ ...list, revision });
    await keep(
      'list',
      `list.${revision}.${sha}${this.#again}`,
      packKept({ revision, sha256: sha256Of(packed) }, packed),
    );
    cursor.saveList(sha, revision);
  }
}
