// Takes what hubs sent out of the stream and into the archive: acknowledged once it is committed, else it comes again.

import type { ConsumerMessages, JetStreamManager, JsMsg } from '@nats-io/jetstream';
import type { NatsConnection } from '@nats-io/transport-node';
import { type Said, said } from '../../../shared/said.ts';
import { versionHeader } from '../../../shared/school/school-version.ts';
import { readSubject, streamOf, subjects } from '../../../shared/school/subjects.ts';
import { faultSaid } from '../../base/hub-error.ts';
import type { HubLog } from '../../base/log.ts';
import type { Clock } from '../../base/ports/clock.ts';
import type { Archive, KeptCount } from './archive.ts';

const consumerName = 'archive';
/** One transaction takes so much at most; a message may be a few hundred kilobytes. */
const batchMessages = 64;
const batchBytes = 8 << 20;
/** A message that is not acknowledged by then comes again. */
const comesAgainMs = 30_000;
/** After a fault of the database. */
const retryMs = 2_000;

export interface IntakeState {
  readonly counts: KeptCount;
  /** Why nothing is put into the archive now; null when all is well. */
  readonly fault: Said | null;
}

/** What the server has and the archive has not. */
export interface WaitingMessages {
  readonly count: number;
  readonly bytes: number;
  readonly mostBytes: number;
  /** How many, by hub; none for a hub of which nothing waits. */
  readonly byHub: ReadonlyMap<string, number>;
}

export interface IntakeParts {
  readonly connection: NatsConnection;
  readonly archive: Pick<Archive, 'keep'>;
  readonly school: string;
  readonly clock: Clock;
  readonly log: HubLog;
  /** The stream refuses more than this: hubs then keep it themselves until there is room. */
  readonly mostStreamBytes: number;
  readonly hear: (state: IntakeState) => void;
}

export class Intake {
  readonly #parts: IntakeParts;
  #state: IntakeState = { counts: { kept: 0, known: 0, refused: 0 }, fault: null };
  #isClosed = false;
  #running: Promise<void> = Promise.resolve();
  #messages: ConsumerMessages | undefined;
  #manager: JetStreamManager | undefined;
  #wake: () => void = () => undefined;

  constructor(parts: IntakeParts) {
    this.#parts = parts;
  }

  get state(): IntakeState {
    return this.#state;
  }

  /** Resolves when the stream is there, so that hubs can send. */
  async open(): Promise<void> {
    await this.#prepare();
    this.#running = this.#run();
  }

  /** Messages that are not in the archive yet. */
  async pending(): Promise<number> {
    const info = await this.#manager?.consumers.info(streamOf(this.#parts.school), consumerName);
    return info === undefined ? 0 : info.num_pending + info.num_ack_pending;
  }

  /** Of the newest message that has come. */
  async lastSequence(): Promise<number> {
    const info = await this.#manager?.streams.info(streamOf(this.#parts.school));
    return info?.state.last_seq ?? 0;
  }

  /** Whether all up to this number is in the archive. Then what the server still has of it on its disk is let go of. */
  async clearUpTo(sequence: number): Promise<boolean> {
    const name = streamOf(this.#parts.school);
    const { state } = (await this.#manager?.streams.info(name)) ?? {};
    if (this.#manager === undefined || state === undefined) return false;
    if (state.messages > 0 && state.first_seq <= sequence) return false;
    await this.#manager.streams.purge(name, { seq: sequence + 1 });
    return true;
  }

  /** Of those, what one hub sent. */
  async pendingOf(hub: string): Promise<number> {
    const { school } = this.#parts;
    const info = await this.#manager?.streams.info(streamOf(school), {
      subjects_filter: subjects.keptOf(school, hub),
    });
    // A message that is in the archive is let go from the stream.
    return Object.values(info?.state.subjects ?? {}).reduce((sum, count) => sum + count, 0);
  }

  /** Rejects while the server does not answer. */
  async waiting(): Promise<WaitingMessages> {
    const { school, mostStreamBytes } = this.#parts;
    const info = await this.#manager?.streams.info(streamOf(school), {
      subjects_filter: subjects.everyKept(school),
    });
    const byHub = new Map<string, number>();
    for (const [subject, count] of Object.entries(info?.state.subjects ?? {})) {
      const hub = readSubject(subject)?.hub;
      if (hub !== undefined) byHub.set(hub, (byHub.get(hub) ?? 0) + count);
    }
    const { messages = 0, bytes = 0 } = info?.state ?? {};
    return { count: messages, bytes, mostBytes: mostStreamBytes, byHub };
  }

  async close(): Promise<void> {
    this.#isClosed = true;
    this.#wake();
    await this.#messages?.close();
    await this.#running;
  }

  async #prepare(): Promise<void> {
    const { connection, school, mostStreamBytes } = this.#parts;
    const { AckPolicy, DiscardPolicy, jetstreamManager, RetentionPolicy, StorageType } = await import(
      '@nats-io/jetstream'
    );
    const manager = await jetstreamManager(connection);
    this.#manager = manager;
    const name = streamOf(school);
    const wanted = {
      subjects: [subjects.everyKept(school)],
      max_bytes: mostStreamBytes,
      // Nanoseconds: within it the server knows what it was sent already.
      duplicate_window: 120 * 1e9,
    };
    try {
      await manager.streams.update(name, wanted);
    } catch {
      await manager.streams.add({
        ...wanted,
        name,
        // What is in the archive is let go; what does not fit is refused, not dropped.
        retention: RetentionPolicy.Workqueue,
        storage: StorageType.File,
        discard: DiscardPolicy.New,
      });
    }
    await manager.consumers.add(name, {
      durable_name: consumerName,
      ack_policy: AckPolicy.Explicit,
      ack_wait: comesAgainMs * 1e6,
      max_ack_pending: 1_000,
    });
  }

  /** Until it is closed: a consumer that ends with its connection or its stream is asked for again. */
  async #run(): Promise<void> {
    while (!this.#isClosed) {
      try {
        await this.#take();
      } catch (error) {
        if (this.#isClosed) return;
        this.#parts.log.error('the stream gives nothing', error);
        this.#tell({ ...this.#state, fault: said('school.noStreamHere', { reason: faultSaid(error) }) });
        await this.#pause();
        await this.#prepare().catch(() => undefined);
      }
    }
  }

  async #take(): Promise<void> {
    const { connection, school } = this.#parts;
    const { jetstream } = await import('@nats-io/jetstream');
    const consumer = await jetstream(connection).consumers.get(streamOf(school), consumerName);
    if (this.#isClosed) return;
    const messages = await consumer.consume({
      max_messages: batchMessages,
      expires: 10_000,
      // A server that was killed is noticed by it.
      idle_heartbeat: 2_000,
      // One that was killed right after it was made may have forgotten the consumer.
      abort_on_missing_resource: true,
    });
    this.#messages = messages;
    let batch: JsMsg[] = [];
    let bytes = 0;
    for await (const message of messages) {
      batch.push(message);
      bytes += message.data.length;
      // Waiting for a full helping would only delay what is here.
      if (message.info.pending > 0 && batch.length < batchMessages / 2 && bytes < batchBytes) continue;
      await this.#keep(batch);
      batch = [];
      bytes = 0;
      if (this.#isClosed) break;
    }
  }

  /** Until it is kept: what comes after waits, in order. */
  async #keep(batch: readonly JsMsg[]): Promise<void> {
    const sent = batch.map((message) => ({
      subject: message.subject,
      version: message.headers?.get(versionHeader),
      bytes: message.data,
    }));
    while (!this.#isClosed) {
      try {
        const { kept, known, refused } = await this.#parts.archive.keep(sent);
        // Acknowledged only now: whatever ends this process before, they come again and are known.
        for (const message of batch) message.ack();
        const { counts } = this.#state;
        this.#tell({
          fault: null,
          counts: {
            kept: counts.kept + kept,
            known: counts.known + known,
            refused: counts.refused + refused,
          },
        });
        return;
      } catch (error) {
        if (this.#isClosed) return;
        this.#parts.log.error('the archive takes nothing', error);
        this.#tell({ ...this.#state, fault: archiveFault(error) });
        await this.#pause();
      }
    }
  }

  #tell(state: IntakeState): void {
    this.#state = state;
    this.#parts.hear(state);
  }

  #pause(): Promise<void> {
    return new Promise((resolve) => {
      const stop = this.#parts.clock.after(retryMs, resolve);
      this.#wake = () => {
        stop();
        resolve();
      };
    });
  }
}

/** https://www.postgresql.org/docs/15/errcodes-appendix.html */
export function archiveFault(error: unknown): Said {
  const code = error instanceof Error ? String((error as { code?: unknown }).code ?? '') : '';
  if (code === '53100' || code === 'ENOSPC') return said('school.archiveFull');
  if (/^(ECONNREFUSED|ENOENT|ECONNRESET|ETIMEDOUT|E(HOST|NET)UNREACH|57P0\w|08\w{3})$/.test(code))
    return said('school.archiveAway');
  // The library's own, without a code: a connection that ended, or nothing came in time.
  if (error instanceof Error && /connection terminated|not queryable|timeout/i.test(error.message))
    return said('school.archiveAway');
  if (/^28/.test(code)) return said('school.archiveNotLetIn');
  return said('school.archiveFails', { reason: faultSaid(error) });
}
