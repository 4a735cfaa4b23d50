// The thread that speaks with the school's message server: live messages as they come, recordings as the server takes
// them. Nothing in it is waited for by the hub, and it reads the recordings through the hub, a piece at a time.

import { parentPort, workerData } from 'node:worker_threads';
import { JetStreamApiError, type JetStreamClient, jetstream } from '@nats-io/jetstream';
import { headers, type Msg, type NatsConnection } from '@nats-io/transport-node';
import { type Said, said } from '../../../shared/said.ts';
import {
  type ErasedAnswer,
  type ErasedByHub,
  erasedAnswerSchema,
  haveAnswerSchema,
  helloAnswerSchema,
} from '../../../shared/school/questions.ts';
import { schoolVersion, versionHeader } from '../../../shared/school/school-version.ts';
import {
  type HubQuestion,
  type KeptKind,
  type SchoolQuestion,
  subjects,
} from '../../../shared/school/subjects.ts';
import { faultSaid } from '../../base/hub-error.ts';
import type { ArchivedSegment, ArchivedTold, ToldChanges } from '../../base/ports/archive-reads.ts';
import { connectNats } from '../nats/connect.ts';
import { SendingCursor } from './cursor.ts';
import type { ErasingState } from './erased-people.ts';
import type {
  FromPublisher,
  ListToSend,
  PublisherThreadData,
  ReadMethod,
  SchoolState,
  ToPublisher,
} from './publisher-messages.ts';
import { RecordingSender } from './recording-sender.ts';

const port = parentPort;
if (port === null) throw new Error('not a thread');
const data = workerData as PublisherThreadData;

/** Between two looks for what is new, while nothing waits. */
const idleMs = 1_000;
/** After a fault. */
const retryMs = 2_000;
/** The archive is compared with what was acknowledged at each connection, and so often. */
const compareEveryMs = 10 * 60_000;
/** A school that did not answer is asked again. */
const againMs = 10_000;
/** A server that has not acknowledged by then has not got it. */
const acknowledgeWithinMs = 5_000;
/** Live bytes on their way at once; what comes beyond is left out and the whole is told anew. */
const mostLiveBytes = 1 << 20;

const say = (message: FromPublisher): void => port.postMessage(message);

let state: SchoolState = {
  link: 'connecting',
  fault: null,
  notice: null,
  sentSegmentCount: 0,
  isCaughtUp: false,
};
function tell(change: Partial<SchoolState>): void {
  const next = { ...state, ...change };
  if (JSON.stringify(next) === JSON.stringify(state)) return;
  state = next;
  say({ type: 'state', state });
}

const reads = new Map<number, { resolve: (value: never) => void; reject: (error: Error) => void }>();
const questions = new Map<number, Msg>();
let nextId = 1;
let isClosing = false;
let wake: () => void = () => undefined;

const pause = (ms: number): Promise<void> =>
  new Promise((resolve) => {
    const timer = setTimeout(resolve, isClosing ? 0 : ms);
    wake = () => {
      clearTimeout(timer);
      resolve();
    };
  });

function read<Value>(method: ReadMethod, args: readonly unknown[]): Promise<Value> {
  const readId = nextId++;
  return new Promise<Value>((resolve, reject) => {
    reads.set(readId, { resolve: resolve as (value: never) => void, reject });
    say({ type: 'read', readId, method, args });
  });
}

function versioned(): ReturnType<typeof headers> {
  const all = headers();
  all.set(versionHeader, String(schoolVersion));
  return all;
}

/** What a person can do something about. */
function faultOf(error: unknown): Said {
  if (error instanceof JetStreamApiError && error.code === 10077) return said('school.streamFull');
  const text = error instanceof Error ? `${error.name} ${error.message}` : String(error);
  if (/no ?responders|JetStreamNotEnabled|503/i.test(text))
    return said('school.noStream', { school: data.school });
  if (/maximum bytes|maximum messages|insufficient|10077|10047|10023/i.test(text))
    return said('school.streamFull');
  if (/authorization|permissions/i.test(text)) return said('school.notLetIn', { hub: data.hub });
  if (/timeout/i.test(text)) return said('school.noAcknowledgement');
  return faultSaid(error);
}

class Publisher {
  readonly #connection: NatsConnection;
  readonly #stream: JetStreamClient;
  readonly #sender: RecordingSender;
  readonly #cursor: SendingCursor;
  #isConnected = true;
  #comparedAtMs = Number.NEGATIVE_INFINITY;
  #liveBytes = 0;
  #isLiveLost = false;
  #isFlushing = false;
  #heldAthleteIds: ReadonlySet<string> = new Set();
  #mayAskErased = false;
  #erasedFailedAtMs = Number.NEGATIVE_INFINITY;

  constructor(connection: NatsConnection, cursor: SendingCursor) {
    this.#connection = connection;
    this.#stream = jetstream(connection);
    this.#cursor = cursor;
    this.#sender = new RecordingSender({
      room: data.room,
      cursor,
      wallNowMs: () => Date.now(),
      growEveryMs: data.growEveryMs,
      keep: (kind, key, bytes) => this.#keep(kind, key, bytes),
      toldChanges: (since) => read<ToldChanges>('toldChanges', [since]),
      readTold: (sessionId) => read<ArchivedTold | undefined>('readTold', [sessionId]),
      readSegment: (...args) => read<ArchivedSegment | undefined>('readSegment', args),
      readList: () => read<ListToSend>('readList', []),
      heldAthleteIds: () => this.#heldAthleteIds,
      segmentKept: () => tell({ sentSegmentCount: state.sentSegmentCount + 1 }),
    });
    void this.#watch();
    this.#answer('welcome');
    this.#answer('do');
    connection.subscribe(subjects.to(data.school, data.hub, 'erased'), {
      callback: (error) => {
        if (error === null) this.askErased();
      },
    });
  }

  /** Somebody was erased, here or at the school. */
  askErased(): void {
    this.#mayAskErased = true;
    wake();
  }

  async run(): Promise<void> {
    tell({ link: 'connected' });
    while (!isClosing) {
      try {
        // Also while the school does not answer: whom it asked for before must not be sent again.
        await this.#settleErased(null);
        if (performance.now() - this.#comparedAtMs > compareEveryMs) await this.#greet();
        else if (this.#mayAskErased) await this.#exchangeErased();
        const isDone = await this.#sender.turn();
        // Of another version: what is sent is kept aside there, and the school says why.
        tell({ ...(state.link !== 'refused' && { fault: null }), isCaughtUp: isDone });
        if (isDone) await pause(idleMs);
      } catch (error) {
        tell({ fault: faultOf(error), isCaughtUp: false });
        await pause(retryMs);
      }
    }
    await this.#connection.flush().catch(() => undefined);
    await this.#connection.close();
    this.#cursor.close();
  }

  live(kind: 'text' | 'frame', bytes: Uint8Array): void {
    // Kept for a server that is away, they would be told as the present when it is back.
    if (!this.#isConnected) return;
    // Alarms are texts and are never left out.
    if (kind === 'frame' && this.#liveBytes > mostLiveBytes) {
      this.#isLiveLost = true;
      return;
    }
    this.#connection.publish(subjects.live(data.school, data.hub, kind), bytes);
    this.#liveBytes += bytes.length;
    this.#flushSoon();
  }

  #flushSoon(): void {
    if (this.#isFlushing || this.#liveBytes < mostLiveBytes / 4) return;
    this.#isFlushing = true;
    this.#connection.flush().then(
      () => {
        this.#isFlushing = false;
        this.#liveBytes = 0;
        if (this.#isLiveLost) this.#askAnew();
      },
      () => {
        this.#isFlushing = false;
      },
    );
  }

  /** The school asks for the whole when a hub says hello. */
  #askAnew(): void {
    this.#isLiveLost = false;
    this.#comparedAtMs = Number.NEGATIVE_INFINITY;
    wake();
  }

  async #keep(kind: KeptKind, contentKey: string, bytes: Uint8Array): Promise<void> {
    const { max_payload: most } = this.#connection.info ?? { max_payload: 1 << 20 };
    if (bytes.length > most) throw new Error(`message of ${bytes.length} bytes, ${most} allowed`);
    await this.#stream.publish(subjects.kept(data.school, data.hub, kind), bytes, {
      msgID: `${data.hub}.${contentKey}`,
      timeout: acknowledgeWithinMs,
      headers: versioned(),
      retries: 1,
    });
  }

  /** A school that does not run answers nothing: what is sent waits for it in the stream. */
  async #greet(): Promise<void> {
    const hello = {
      version: schoolVersion,
      name: data.room,
      hubVersion: data.hubVersion,
      wallNowMs: Date.now(),
    };
    const answer = await this.#ask('hello', hello);
    if (answer === undefined) {
      // Asked again soon: it may be starting.
      this.#comparedAtMs = performance.now() - compareEveryMs + againMs;
      return;
    }
    const checked = helloAnswerSchema.safeParse(answer);
    if (checked.success && checked.data.refused !== null) {
      this.#comparedAtMs = performance.now() - compareEveryMs + 30_000;
      tell({ link: 'refused', fault: checked.data.refused });
      return;
    }
    tell({ link: 'connected', notice: checked.success ? checked.data.notice : null });
    // Before anything more is sent.
    await this.#exchangeErased();
    this.#comparedAtMs = performance.now();
    const all = this.#cursor.all();
    for (let at = 0; at < Math.max(1, all.length); at += 500) {
      const sessions = all
        .slice(at, at + 500)
        .map(({ sessionId, generation }) => ({ sessionId, generation }));
      const have = haveAnswerSchema.safeParse(await this.#ask('have', { sessions }));
      if (have.success) this.#sender.compare(have.data);
    }
  }

  async #settleErased(heard: ErasedAnswer | null): Promise<ErasedByHub> {
    const { toTell, heldAthleteIds } = await read<ErasingState>('settleErased', [heard]);
    this.#heldAthleteIds = new Set(heldAthleteIds);
    const failedMsAgo = performance.now() - this.#erasedFailedAtMs;
    if (toTell.gone.length > 0 && failedMsAgo > againMs) this.#mayAskErased = true;
    return toTell;
  }

  /** Until both know the same: whom the school asks for is erased before anything more is sent. */
  async #exchangeErased(): Promise<void> {
    this.#mayAskErased = false;
    let toTell = await this.#settleErased(null);
    for (let isAll = false; !isAll || toTell.gone.length > 0; ) {
      const answer = erasedAnswerSchema.safeParse(await this.#ask('erased', toTell));
      if (!answer.success) {
        this.#erasedFailedAtMs = performance.now();
        break;
      }
      await read<void>('erasedTold', [toTell]);
      isAll = answer.data.isAll;
      toTell = await this.#settleErased(answer.data);
    }
    this.#mayAskErased = false;
  }

  async #ask(question: HubQuestion, body: unknown): Promise<unknown> {
    try {
      const answer = await this.#connection.request(
        subjects.ask(data.school, data.hub, question),
        JSON.stringify(body),
        { timeout: acknowledgeWithinMs, headers: versioned() },
      );
      return answer.json();
    } catch {
      return undefined;
    }
  }

  #answer(question: Exclude<SchoolQuestion, 'erased'>): void {
    this.#connection.subscribe(subjects.to(data.school, data.hub, question), {
      callback: (error, message) => {
        if (error !== null) return;
        const questionId = nextId++;
        questions.set(questionId, message);
        say({ type: 'question', questionId, question, body: Uint8Array.from(message.data) });
      },
    });
  }

  async #watch(): Promise<void> {
    for await (const status of this.#connection.status()) {
      if (status.type === 'disconnect') {
        this.#isConnected = false;
        tell({ link: 'connecting', fault: said('school.noServer'), isCaughtUp: false });
      } else if (status.type === 'reconnect') {
        this.#isConnected = true;
        this.#liveBytes = 0;
        tell({ link: 'connected' });
        this.#askAnew();
      } else if (status.type === 'error') tell({ fault: faultOf(status.error) });
    }
  }
}

let publisher: Publisher | undefined;

port.on('message', (message: ToPublisher) => {
  if (message.type === 'text') publisher?.live('text', Buffer.from(message.text));
  else if (message.type === 'frame') publisher?.live('frame', message.frame);
  else if (message.type === 'read') {
    const waiting = reads.get(message.readId);
    reads.delete(message.readId);
    if (message.fault === undefined) waiting?.resolve(message.value as never);
    else waiting?.reject(new Error(message.fault));
  } else if (message.type === 'erased') publisher?.askErased();
  else if (message.type === 'answer') {
    questions.get(message.questionId)?.respond(message.body);
    questions.delete(message.questionId);
  } else {
    isClosing = true;
    for (const { reject } of reads.values()) reject(new Error('closing'));
    wake();
  }
});

/** Until the server is there, lets the hub in, and is understood. */
async function connectUntilIn(): Promise<NatsConnection | undefined> {
  while (!isClosing) {
    try {
      return await connectNats(data.access, {
        name: `slackwater hub ${data.hub}`,
        inboxPrefix: subjects.inbox(data.hub),
        keepTrying: false,
      });
    } catch (error) {
      const fault = faultOf(error);
      const isAway = /REFUSED|TIMEOUT|ENOTFOUND|EAI_AGAIN|UNREACH/i.test(String(error));
      tell({ link: 'connecting', fault: isAway ? said('school.noServer') : fault });
      await pause(retryMs);
    }
  }
  return undefined;
}

const connection = await connectUntilIn();
if (connection !== undefined) {
  publisher = new Publisher(connection, new SendingCursor(data.cursorPath));
  await publisher.run();
}
say({ type: 'closed' });
port.close();
