// What is to be written, in order, until it is: bounded, in helpings of which one is under way at a time.

import { said } from '../../../shared/said.ts';
import { HubError } from '../../base/hub-error.ts';
import type { Clock } from '../../base/ports/clock.ts';
import type { StoredPacket } from '../../base/ports/stored-session.ts';
import { encodeBatch } from '../packet-batch.ts';
import type { Durability } from '../transactions.ts';
import type { RecorderTask } from './recorder-messages.ts';

/** What a held packet takes beside its bytes: an object with two times and two names. Our estimate. */
const packetOverheadBytes = 200;
/** An alarm, a mark or a document, about. */
const taskBytes = 2_000;

/** Place in the helping, and why it can never be written. */
export type Refused = readonly [number, HubError];

interface HeldPackets {
  readonly type: 'held';
  readonly sessionId: string;
  readonly packets: StoredPacket[];
}

type Held = HeldPackets | Exclude<RecorderTask, { type: 'packets' }>;

interface Helping {
  readonly tasks: readonly RecorderTask[];
  readonly durability: Durability;
}

interface UnderWay {
  readonly held: readonly Held[];
  readonly durability: Durability;
  readonly lastSequence: number;
  readonly packetCount: number;
  readonly bytes: number;
  readonly startedAtMs: number;
  readonly startedWallAtMs: number;
}

interface Waiter {
  /** Waits for an attempt only, whatever comes of it. */
  readonly anyOutcome: boolean;
  readonly sequence: number;
  readonly resolve: () => void;
  readonly reject: (error: unknown) => void;
}

export class WriteQueue {
  readonly #clock: Clock;
  readonly #holdAtMostBytes: number;
  #held: Held[] = [];
  #underWay: UnderWay | undefined;
  #wanted: Durability | undefined;
  #sequence = 0;
  #bytes = 0;
  #packetCount = 0;
  /** Handed to the thread, which has them in memory but could not commit them. */
  #uncommittedCount = 0;
  #uncommittedBytes = 0;
  #lostPacketCount = 0;
  /** Something is written that a power cut could still take. */
  #unsynced = false;
  #unsavedSinceWallMs: number | null = null;
  #waiters: Waiter[] = [];
  /** Of writes nobody waited for when they were refused: the next who asks whether all is saved hears of it. */
  #refusal: HubError | undefined;

  constructor(clock: Clock, holdAtMostBytes: number) {
    this.#clock = clock;
    this.#holdAtMostBytes = holdAtMostBytes;
  }

  get isUnderWay(): boolean {
    return this.#underWay !== undefined;
  }

  /** Nothing is held and nothing wanted. */
  get isIdle(): boolean {
    return this.#held.length === 0 && this.#underWay === undefined && this.#wanted === undefined;
  }

  get silentMs(): number {
    return this.#underWay === undefined ? 0 : this.#clock.nowMs() - this.#underWay.startedAtMs;
  }

  get heldPacketCount(): number {
    return this.#packetCount + (this.#underWay?.packetCount ?? 0) + this.#uncommittedCount;
  }

  get lostPacketCount(): number {
    return this.#lostPacketCount;
  }

  get unsavedSinceWallMs(): number | null {
    return this.#unsavedSinceWallMs;
  }

  /** The bytes are copied. Answers whether there is room; one for which there is none is counted as lost. */
  addPacket(sessionId: string, packet: StoredPacket): boolean {
    const size = packet.bytes.length + packetOverheadBytes;
    if (this.#heldBytes + size > this.#holdAtMostBytes) {
      this.#lostPacketCount += 1;
      return false;
    }
    const last = this.#held.at(-1);
    const copy = { ...packet, bytes: new Uint8Array(packet.bytes) };
    if (last?.type === 'held' && last.sessionId === sessionId) last.packets.push(copy);
    else this.#held.push({ type: 'held', sessionId, packets: [copy] });
    this.#packetCount += 1;
    this.#bytes += size;
    this.#begun();
    return true;
  }

  /** Throws `data.full` when not even these few are held any more. */
  add(task: Exclude<RecorderTask, { type: 'packets' }>): void {
    if (this.#heldBytes > 1.25 * this.#holdAtMostBytes)
      throw new HubError('data.full', said('recorder.noMoreHeld'));
    this.#held.push(task);
    this.#bytes += taskBytes;
    if (isReading(task)) this.want('process');
    else this.#wanted = 'disk';
    this.#begun();
  }

  /** What is held is to be written, so that it survives this. */
  want(durability: Durability): void {
    if (this.#wanted !== 'disk') this.#wanted = durability;
  }

  /** What to write now; undefined while something is under way or nothing is wanted. */
  next(): Helping | undefined {
    if (this.#underWay !== undefined || this.#wanted === undefined) return undefined;
    const held = this.#held;
    const durability = this.#wanted;
    this.#underWay = {
      held,
      durability,
      lastSequence: this.#sequence,
      packetCount: this.#packetCount,
      bytes: this.#bytes,
      startedAtMs: this.#clock.nowMs(),
      startedWallAtMs: this.#clock.wallNowMs(),
    };
    this.#held = [];
    this.#wanted = undefined;
    this.#packetCount = 0;
    this.#bytes = 0;
    return { tasks: held.map(toTask), durability };
  }

  /** The helping under way is written. */
  performed(refused: readonly Refused[]): void {
    const done = this.#underWay;
    if (done === undefined) return;
    this.#underWay = undefined;
    this.#uncommittedCount = 0;
    this.#uncommittedBytes = 0;
    this.#unsavedSinceWallMs = this.#held.length === 0 ? null : done.startedWallAtMs;
    this.#refuse(refused);
    this.#unsynced = done.durability === 'process';
    const isReady = (waiter: Waiter) =>
      (waiter.anyOutcome || !this.#unsynced) && waiter.sequence <= done.lastSequence;
    for (const waiter of this.#waiters.filter(isReady)) waiter.resolve();
    this.#waiters = this.#waiters.filter((waiter) => !isReady(waiter));
  }

  /** The first `doneCount` of the helping under way are with the thread, but not on the disk; the rest is held again. */
  failed(doneCount: number, fault: HubError, refused: readonly Refused[]): void {
    const failedNow = this.#underWay;
    this.#underWay = undefined;
    this.#refuse(refused);
    for (const { anyOutcome, resolve, reject } of this.#waiters.splice(0))
      if (anyOutcome) resolve();
      else reject(fault);
    if (failedNow === undefined) return;
    const again = failedNow.held.slice(doneCount);
    const againPackets = packetsIn(again);
    const againBytes = bytesIn(again);
    this.#uncommittedCount += failedNow.packetCount - againPackets;
    this.#uncommittedBytes += Math.max(0, failedNow.bytes - againBytes);
    this.#held = [...again, ...this.#held];
    this.#packetCount += againPackets;
    this.#bytes += againBytes;
    this.want(failedNow.durability);
  }

  /** Takes out the calls that wait, and answers with their ids. */
  dropCalls(): number[] {
    const calls = this.#held.flatMap((each) => (each.type === 'call' ? [each.callId] : []));
    this.#held = this.#held.filter((each) => each.type !== 'call');
    this.#bytes -= calls.length * taskBytes;
    return calls;
  }

  saved(): Promise<void> {
    const refusal = this.#refusal;
    this.#refusal = undefined;
    if (refusal !== undefined) return Promise.reject(refusal);
    if (this.isIdle && this.#uncommittedCount === 0 && !this.#unsynced) return Promise.resolve();
    this.want('disk');
    return new Promise((resolve, reject) => {
      this.#waiters.push({ anyOutcome: false, sequence: this.#sequence, resolve, reject });
    });
  }

  /** Resolves when everything that was wanted has been tried: a reader then finds it, if it could be written. */
  tried(): Promise<void> {
    const sequence = this.#wanted === undefined ? this.#underWay?.lastSequence : this.#sequence;
    if (sequence === undefined) return Promise.resolve();
    return new Promise((resolve, reject) => {
      this.#waiters.push({ anyOutcome: true, sequence, resolve, reject });
    });
  }

  get #heldBytes(): number {
    return this.#bytes + (this.#underWay?.bytes ?? 0) + this.#uncommittedBytes;
  }

  #begun(): void {
    this.#sequence += 1;
    this.#unsavedSinceWallMs ??= this.#clock.wallNowMs();
  }

  #refuse(refused: readonly Refused[]): void {
    const first = refused[0];
    if (first === undefined) return;
    const waiters = this.#waiters.filter(({ anyOutcome }) => !anyOutcome);
    this.#waiters = this.#waiters.filter(({ anyOutcome }) => anyOutcome);
    if (waiters.length === 0) this.#refusal = first[1];
    for (const { reject } of waiters) reject(first[1]);
  }
}

const isReading = (task: RecorderTask): boolean => task.type === 'call' && /^(list|read)/.test(task.method);

const toTask = (held: Held): RecorderTask =>
  held.type === 'held'
    ? { type: 'packets', sessionId: held.sessionId, batch: encodeBatch(held.packets) }
    : held;

const packetsIn = (held: readonly Held[]): number =>
  held.reduce((sum, each) => sum + (each.type === 'held' ? each.packets.length : 0), 0);

const bytesIn = (held: readonly Held[]): number =>
  held.reduce(
    (sum, each) =>
      sum +
      (each.type === 'held'
        ? each.packets.reduce((bytes, packet) => bytes + packet.bytes.length + packetOverheadBytes, 0)
        : taskBytes),
    0,
  );
