// Recordings read through the recorder's thread, a piece at a time as they are asked for.

import type { PacketColumns, StoredPacket } from '../../base/ports/stored-session.ts';
import { decodeBatch } from '../packet-batch.ts';
import type { ReadRequest, ToRecorder } from './recorder-messages.ts';

interface WaitingReader {
  readonly resolve: (piece: unknown) => void;
  readonly reject: (error: unknown) => void;
}

export class PieceReaders {
  readonly #tell: (message: ToRecorder) => void;
  readonly #ready: () => Promise<void>;
  readonly #waiting = new Map<number, WaitingReader>();
  #nextId = 1;
  #fault: unknown;

  /** `ready`: when what was written before can be read. */
  constructor(tell: (message: ToRecorder) => void, ready: () => Promise<void>) {
    this.#tell = tell;
    this.#ready = ready;
  }

  async *packets(sessionId: string, skipDamaged: boolean): AsyncGenerator<StoredPacket, void, undefined> {
    for await (const piece of this.batches(sessionId, skipDamaged)) {
      const batch = decodeBatch(piece);
      if (!batch.ok) throw new Error(`unreadable packets: ${batch.reason}`);
      yield* batch.value;
    }
  }

  async *batches(
    sessionId: string,
    skipDamaged: boolean,
  ): AsyncGenerator<Uint8Array<ArrayBuffer>, void, undefined> {
    for await (const piece of this.#pieces({ sessionId, skipDamaged, shape: 'packets' }))
      yield piece as Uint8Array<ArrayBuffer>;
  }

  async *columns(
    sessionId: string,
    skipDamaged: boolean,
  ): AsyncGenerator<readonly PacketColumns[], void, undefined> {
    for await (const piece of this.#pieces({ sessionId, skipDamaged, shape: 'columns' }))
      yield piece as readonly PacketColumns[];
  }

  /** `null` ends it. */
  received(readerId: number, piece: unknown, fault: Error | undefined): void {
    const waiting = this.#waiting.get(readerId);
    this.#waiting.delete(readerId);
    if (fault === undefined) waiting?.resolve(piece);
    else waiting?.reject(fault);
  }

  failed(fault: unknown): void {
    this.#fault = fault;
    for (const { reject } of this.#waiting.values()) reject(fault);
    this.#waiting.clear();
  }

  async *#pieces(request: ReadRequest): AsyncGenerator<unknown, void, undefined> {
    await this.#ready();
    const readerId = this.#nextId++;
    this.#tell({ type: 'read', readerId, request });
    try {
      for (;;) {
        if (this.#fault !== undefined) throw this.#fault;
        const piece = await new Promise<unknown>((resolve, reject) => {
          this.#waiting.set(readerId, { resolve, reject });
          this.#tell({ type: 'next', readerId });
        });
        if (piece === null) return;
        yield piece;
      }
    } finally {
      this.#tell({ type: 'endRead', readerId });
    }
  }
}
