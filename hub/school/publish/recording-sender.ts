// Sends what a hub has recorded to be kept by its school: packets by the segment, then what was told beside them; again
// until it is acknowledged. Recordings that grow come before those of the past.

import type { SegmentHead, Told } from '../../../shared/school/kept-messages.ts';
import type { HadGeneration, HadSession, HaveAnswer } from '../../../shared/school/questions.ts';
import type { KeptKind } from '../../../shared/school/subjects.ts';
import type { ArchivedSegment, ArchivedTold, ToldChanges } from '../../base/ports/archive-reads.ts';
import { packJson, packKept, sha256Of } from '../kept-bytes.ts';
import { fingerprintOf, joinFingerprints, noPackets } from '../packet-fingerprint.ts';
import type { SendingCursor, SentSession } from './cursor.ts';
import { compareOwnPackets, type OwnPacketPorts, packetsIn } from './own-packets.ts';
import type { ListToSend } from './publisher-messages.ts';

/** A segment's packets take about so much before they are packed to a fifth; a message may be a megabyte. */
const segmentBytes = 192 * 1024;
/** A message server that takes less gets less at a time, down to this: a packet or two. */
const leastSegmentBytes = 256;
/** Segments of a past recording between two looks at one that grows. */
const segmentsPerTurn = 4;

/** The message server takes no message of that size. */
export class MessageTooLarge extends Error {
  override readonly name = 'MessageTooLarge';
  readonly bytes: number;
  readonly mostBytes: number;

  constructor(bytes: number, mostBytes: number) {
    super(`message of ${bytes} bytes, ${mostBytes} allowed`);
    this.bytes = bytes;
    this.mostBytes = mostBytes;
  }
}

/** What cannot be read from the recordings: the others go on. */
export class ReadFault extends Error {
  override readonly name = 'ReadFault';
}

export interface SenderPorts extends OwnPacketPorts {
  readonly room: string;
  readonly cursor: SendingCursor;
  readonly wallNowMs: () => number;
  readonly growEveryMs: number;
  /** Unlike any before. */
  readonly newGeneration: () => string;
  /** Resolves when the server has it on its disk; rejects with why not, MessageTooLarge for what it will never take. */
  readonly keep: (kind: KeptKind, contentKey: string, bytes: Uint8Array) => Promise<void>;
  /** Undefined where the school does not answer. */
  readonly have: (sessionIds: readonly string[]) => Promise<HaveAnswer | undefined>;
  readonly toldChanges: (since: number) => Promise<ToldChanges>;
  readonly readTold: (sessionId: string) => Promise<ArchivedTold | undefined>;
  readonly readList: () => Promise<ListToSend>;
  readonly segmentKept: () => void;
  /** Of whom nothing may be sent: they are to be erased and still here. */
  readonly heldAthleteIds: () => ReadonlySet<string>;
  /** Something of a recording, or with null who is known here, cannot be sent; undefined when it can again. */
  readonly setAside: (sessionId: string | null, why: MessageTooLarge | ReadFault | undefined) => void;
}

export class RecordingSender {
  readonly #ports: SenderPorts;
  /** Of the hub's recordings, as far as it has been looked through for changes. */
  #version = 0;
  /** What there may be something to send of, the oldest first. */
  #waiting: string[] = [];
  readonly #grownAtMs = new Map<string, number>();
  /** Sessions whose packets were found to bear the numbers they were sent under, with their numbering in this process. */
  readonly #proven = new Map<string, string>();
  /** What the archive has of a session, where that is not what was acknowledged. */
  readonly #doubts = new Map<string, HadGeneration>();
  /** Those that cannot be compared while the school does not answer. */
  readonly #postponed = new Set<string>();
  readonly #aside = new Set<string | null>();
  /** The server knows for a while what it was sent: what is sent again on purpose says so. */
  #again = '';
  /** As much as the server has taken at once; tried whole again after each comparison. */
  #segmentBytes = segmentBytes;

  constructor(ports: SenderPorts) {
    this.#ports = ports;
  }

  /** Recordings of which something is, or may be, still to be sent. */
  get waitingCount(): number {
    return this.#waiting.length;
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
    if (newest !== undefined && (await this.#isGrowing(newest))) {
      await this.#sendOrSetAside(newest, Number.POSITIVE_INFINITY);
      this.#forget(newest);
    }
    const next = this.#waiting[0];
    if (next !== undefined && (await this.#sendOrSetAside(next, segmentsPerTurn))) this.#forget(next);
    return this.#waiting.length === 0;
  }

  /** What the archive has is compared with what was acknowledged: it may have been put back from a backup, or the hub. Not conclusive while some is on its way. */
  compare(answer: HaveAnswer): { readonly isConclusive: boolean } {
    const { cursor } = this.#ports;
    const isAllThere = answer.pending === 0;
    this.#segmentBytes = segmentBytes;
    const { list } = cursor;
    if (answer.listRevision > list.revision || (isAllThere && answer.listRevision < list.revision)) {
      cursor.saveList('', Math.max(list.revision, answer.listRevision));
      this.#sendAgain(undefined);
    }
    for (const had of answer.sessions) this.#compareSession(had, isAllThere);
    // What did not go before may go now: the server may be another.
    for (const sessionId of [...this.#aside, ...this.#postponed])
      if (sessionId !== null) this.#wait(sessionId);
    return { isConclusive: isAllThere };
  }

  #compareSession({ sessionId, revision, generations }: HadSession, isAllThere: boolean): void {
    const { cursor } = this.#ports;
    const sent = cursor.get(sessionId);
    if (sent === undefined) return;
    // One above its own it has told itself, before it lost its cursor or its clock went back.
    if (revision > sent.revision || (isAllThere && revision < sent.revision)) {
      cursor.save({ ...sent, toldSha: '', revision: Math.max(revision, sent.revision) });
      this.#sendAgain(sessionId);
    }
    const had = generations.find(({ generation }) => generation === sent.generation) ?? {
      generation: sent.generation,
      covered: 0,
      fingerprint: noPackets,
      isClosed: false,
    };
    const isSame = had.covered === sent.sent && had.fingerprint === sent.fingerprint;
    const isOnItsWay = had.covered < sent.sent && !isAllThere;
    if (!had.isClosed && (isSame || isOnItsWay)) return;
    this.#doubts.set(sessionId, had);
    this.#sendAgain(sessionId);
  }

  #sendAgain(sessionId: string | undefined): void {
    this.#again = `.again-${this.#ports.newGeneration()}`;
    if (sessionId !== undefined) this.#wait(sessionId);
  }

  #wait(sessionId: string): void {
    if (!this.#waiting.includes(sessionId)) this.#waiting.unshift(sessionId);
  }

  #forget(sessionId: string): void {
    this.#waiting = this.#waiting.filter((each) => each !== sessionId);
  }

  async #isGrowing(sessionId: string): Promise<boolean> {
    try {
      return (await this.#ports.readTold(sessionId))?.status === 'recording';
    } catch (error) {
      if (error instanceof ReadFault) return false;
      throw error;
    }
  }

  /** One that cannot be read or is too large keeps none of the others from being sent. */
  async #sendOrSetAside(sessionId: string, mostSegments: number): Promise<boolean> {
    try {
      const isDone = await this.#send(sessionId, mostSegments);
      if (isDone && this.#aside.delete(sessionId)) this.#ports.setAside(sessionId, undefined);
      return isDone;
    } catch (error) {
      if (!(error instanceof MessageTooLarge || error instanceof ReadFault)) throw error;
      this.#aside.add(sessionId);
      this.#ports.setAside(sessionId, error);
      return true;
    }
  }

  /** Answers whether nothing is left to send of it for now. */
  async #send(sessionId: string, mostSegments: number): Promise<boolean> {
    const { cursor, readTold, growEveryMs, wallNowMs } = this.#ports;
    const told = await readTold(sessionId);
    // Deleted on the hub: what the school has of it stays, unless with everything of somebody who was erased.
    if (told === undefined) return true;
    // It changes when they are erased, and is sent then.
    const held = this.#ports.heldAthleteIds();
    if (told.athleteIds.some((athleteId) => held.has(athleteId))) return true;
    const isGrowing = told.status === 'recording';
    if (isGrowing && wallNowMs() - (this.#grownAtMs.get(sessionId) ?? 0) < growEveryMs) return true;
    const begun = await this.#beginning(told);
    if (begun === undefined) {
      // Asked again with the next comparison.
      this.#postponed.add(sessionId);
      return true;
    }
    this.#postponed.delete(sessionId);
    let sent = begun;
    for (let count = 0; ; count++) {
      const segment = await this.#nextSegment(sent, told);
      if (segment === undefined) break;
      // Packets were taken out meanwhile: what was read counts others.
      if (segment.numbering !== told.numbering || count >= mostSegments) return false;
      sent = await this.#sendSegment(sent, told, segment);
      cursor.save(sent);
      // What came meanwhile comes with the next piece.
      if (isGrowing && segment.lastAtMs >= told.durationMs) break;
    }
    this.#grownAtMs.set(sessionId, wallNowMs());
    await this.#sendTold(sent, told);
    return true;
  }

  /**
   * Where to go on, its packets proven to bear the numbers under which they were sent; else from the first packet on under a new
   * generation. Undefined where that cannot be told now.
   */
  async #beginning(told: ArchivedTold): Promise<SentSession | undefined> {
    const { sessionId, athleteIds, numbering } = told;
    const known = this.#ports.cursor.get(sessionId);
    let begun: SentSession | undefined;
    if (known === undefined) begun = await this.#asArchived(told);
    else {
      const is = await this.#isProven(known, told);
      if (is === 'unknown') return undefined;
      begun = is === 'other' ? this.#anew(told, known.revision) : { ...known, athleteIds };
    }
    const doubt = this.#doubts.get(sessionId);
    if (doubt !== undefined && doubt.generation === begun?.generation)
      begun = await this.#settle(begun, doubt, told);
    if (begun === undefined) return undefined;
    this.#doubts.delete(sessionId);
    this.#proven.set(sessionId, numbering);
    return begun;
  }

  async #isProven(known: SentSession, told: ArchivedTold): Promise<'same' | 'other' | 'unknown'> {
    const { sessionId, athleteIds, numbering } = told;
    // Whoever was in it and is not any more was taken out of it, packets and all.
    if (!known.athleteIds.every((athleteId) => athleteIds.includes(athleteId))) return 'other';
    if (this.#proven.get(sessionId) === numbering) return 'same';
    // Everything that was told is as it was acknowledged, how many packets and whose among it.
    if (told.packetCount !== null && toldShaOf(known.generation, told) === known.toldSha) return 'same';
    const { generation, sent: upTo, fingerprint } = known;
    return compareOwnPackets(this.#ports, told, { generation, upTo, fingerprint });
  }

  /** The archive has another part of it than was acknowledged. */
  async #settle(sent: SentSession, had: HadGeneration, told: ArchivedTold): Promise<SentSession | undefined> {
    if (had.isClosed) return this.#anew(told, sent.revision);
    const { generation, covered: upTo, fingerprint } = had;
    const is = await compareOwnPackets(this.#ports, told, { generation, upTo, fingerprint });
    if (is === 'unknown') return undefined;
    return is === 'other' ? this.#anew(told, sent.revision) : { ...sent, sent: upTo, fingerprint };
  }

  /** Of which nothing is known here: it is new, or the cursor was lost. */
  async #asArchived(told: ArchivedTold): Promise<SentSession | undefined> {
    const { sessionId, athleteIds } = told;
    const answer = await this.#ports.have([sessionId]);
    const had = answer?.sessions.find((each) => each.sessionId === sessionId);
    const open = (had?.generations ?? [])
      .filter(({ isClosed }) => !isClosed)
      .toSorted((one, other) => other.covered - one.covered);
    for (const { generation, covered: upTo, fingerprint } of open) {
      const is = await compareOwnPackets(this.#ports, told, { generation, upTo, fingerprint });
      if (is === 'unknown') return undefined;
      if (is === 'same')
        return {
          sessionId,
          generation,
          sent: upTo,
          fingerprint,
          toldSha: '',
          revision: had!.revision,
          athleteIds,
        };
    }
    return this.#anew(told, had?.revision ?? 0);
  }

  #anew({ sessionId, athleteIds }: ArchivedTold, revision: number): SentSession {
    const begun: SentSession = {
      sessionId,
      generation: this.#ports.newGeneration(),
      sent: 0,
      fingerprint: noPackets,
      toldSha: '',
      revision,
      athleteIds,
    };
    // Before anything goes out under it.
    this.#ports.cursor.save(begun);
    return begun;
  }

  #nextSegment({ sent }: SentSession, told: ArchivedTold): Promise<ArchivedSegment | undefined> {
    return this.#ports.readSegment(told.sessionId, sent, this.#segmentBytes);
  }

  /** Cut smaller where the server takes no message of that size. */
  async #sendSegment(sent: SentSession, told: ArchivedTold, segment: ArchivedSegment): Promise<SentSession> {
    for (let part = segment; ; ) {
      try {
        return await this.#keepSegment(sent, told, part);
      } catch (error) {
        if (!(error instanceof MessageTooLarge) || this.#segmentBytes / 2 < leastSegmentBytes) throw error;
        this.#segmentBytes /= 2;
        const smaller = await this.#nextSegment(sent, told);
        if (smaller === undefined || smaller.numbering !== told.numbering)
          throw new ReadFault('numbered anew');
        part = smaller;
      }
    }
  }

  async #keepSegment(sent: SentSession, told: ArchivedTold, segment: ArchivedSegment): Promise<SentSession> {
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
    return {
      ...sent,
      sent: first + packetCount,
      fingerprint: joinFingerprints(sent.fingerprint, fingerprintOf(first, packetsIn(segment))),
    };
  }

  async #sendTold(sent: SentSession, told: ArchivedTold): Promise<void> {
    const { cursor, keep, wallNowMs } = this.#ports;
    const { sessionId, generation } = sent;
    const toldSha = toldShaOf(generation, told);
    if (toldSha === sent.toldSha) {
      cursor.save(sent);
      return;
    }
    const { athleteIds: _of, numbering: _here, ...rest } = told;
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
    const { cursor, keep, readList, room, wallNowMs, setAside } = this.#ports;
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
    try {
      await keep(
        'list',
        `list.${revision}.${sha}${this.#again}`,
        packKept({ revision, sha256: sha256Of(packed) }, packed),
      );
    } catch (error) {
      if (!(error instanceof MessageTooLarge)) throw error;
      this.#aside.add(null);
      setAside(null, error);
      return;
    }
    if (this.#aside.delete(null)) setAside(null, undefined);
    cursor.saveList(sha, revision);
  }
}

/** What this process alone knows of it is left out. */
function toldShaOf(generation: string, { athleteIds: _of, numbering: _here, ...rest }: ArchivedTold): string {
  return sha256Of(Buffer.from(JSON.stringify([generation, rest])));
}
