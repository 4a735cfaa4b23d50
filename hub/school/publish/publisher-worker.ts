// The thread that speaks with the school's message server: live messages as they come, recordings as the server takes
// them. Nothing in it is waited for by the hub, and it reads the recordings through the hub, a piece at a time.

import { randomBytes } from 'node:crypto';
import { parentPort, workerData } from 'node:worker_threads';
import { JetStreamApiError, type JetStreamClient, jetstream } from '@nats-io/jetstream';
import { headers, type Msg, type NatsConnection } from '@nats-io/transport-node';
import { isSameSaid, type Said, said } from '../../../shared/said.ts';
import type { NotSent, SchoolLink } from '../../../shared/school/pages.ts';
import {
  type ErasedAnswer,
  type ErasedByHub,
  erasedAnswerSchema,
  type HaveAnswer,
  haveAnswerSchema,
  helloAnswerSchema,
  sumsAnswerSchema,
} from '../../../shared/school/questions.ts';
import { numberHeader, schoolVersion, versionHeader } from '../../../shared/school/school-version.ts';
import { type HubQuestion, type KeptKind, subjects } from '../../../shared/school/subjects.ts';
import { wallMs } from '../../../shared/units.ts';
import { faultSaid, HubError } from '../../base/hub-error.ts';
import type { ArchivedSegment, ArchivedTold, ToldChanges } from '../../base/ports/archive-reads.ts';
import { checkLogin, checkRights } from '../nats/check-server.ts';
import { connectNats } from '../nats/connect.ts';
import { SendingCursor } from './cursor.ts';
import type { ErasingState } from './erased-people.ts';
import { linkAtFirst } from './link-at-first.ts';
import type {
  FromPublisher,
  ListToSend,
  PublisherThreadData,
  ReadMethod,
  ToPublisher,
} from './publisher-messages.ts';
import { MessageTooLarge, ReadFault, RecordingSender } from './recording-sender.ts';

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
/** What the archive lacks is told from what is on its way when nothing is. */
const compareAgainMs = 30_000;
/** A school that refuses the hub, or a server that must not be used, is asked again. */
const refusedMs = 30_000;
/** A server that has not acknowledged by then has not got it. */
const acknowledgeWithinMs = 5_000;
/** Sessions that one question asks about. */
const mostAsked = 500;
/** Live bytes on their way at once; what comes beyond is left out and the whole is told anew. */
const mostLiveBytes = 1 << 20;

const say = (message: FromPublisher): void => port.postMessage(message);

let state: SchoolLink = linkAtFirst;
function tell(change: Partial<SchoolLink>): void {
  const next = { ...state, ...change };
  if (JSON.stringify(next) === JSON.stringify(state)) return;
  state = next;
  say({ type: 'state', state });
}

/** Since the first of a kind. */
function tellFault(why: Said): void {
  const { fault } = state;
  const isKnown = fault !== null && isSameSaid(fault.why, why);
  tell({ fault: isKnown ? fault : { why, sinceWallMs: wallMs(Date.now()) }, isCaughtUp: false });
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
  if (error instanceof HubError) return faultSaid(error);
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

/** Why something of a recording, or who is known here, does not go. */
function asideSaid(error: MessageTooLarge | ReadFault, isList: boolean): Said {
  if (error instanceof ReadFault) return said('school.unreadableHere', { reason: error.message });
  const sizes = { kilobytes: Math.ceil(error.bytes / 1024), most: Math.floor(error.mostBytes / 1024) };
  return isList ? said('school.listTooLarge', sizes) : said('school.toldTooLarge', sizes);
}

class Publisher {
  readonly #connection: NatsConnection;
  readonly #stream: JetStreamClient;
  readonly #sender: RecordingSender;
  readonly #cursor: SendingCursor;
  #isConnected = true;
  /** By the school, or a server that it must not use. */
  #isRefused = false;
  /** Whether the school was asked, if there is one: a second hub of one name says nothing before it. */
  #isGreeted = false;
  #isSchoolThere = false;
  #comparedAtMs = Number.NEGATIVE_INFINITY;
  #liveBytes = 0;
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
      newGeneration: () => randomBytes(9).toString('hex'),
      keep: (kind, key, bytes) => this.#keep(kind, key, bytes),
      have: (sessionIds) => this.#have(sessionIds),
      sums: async (asked) => {
        const answer = sumsAnswerSchema.safeParse(await this.#askThere('sums', asked));
        return answer.success ? answer.data : undefined;
      },
      toldChanges: (since) => read<ToldChanges>('toldChanges', [since]),
      readTold: (sessionId) => read<ArchivedTold | undefined>('readTold', [sessionId]),
      readSegment: (...args) => read<ArchivedSegment | undefined>('readSegment', args),
      readList: () => read<ListToSend>('readList', []),
      heldAthleteIds: () => this.#heldAthleteIds,
      segmentKept: () =>
        tell({ sentSegmentCount: state.sentSegmentCount + 1, keptAtWallMs: wallMs(Date.now()) }),
      setAside: (sessionId, why) => tellAside(sessionId, why),
    });
    this.#listen();
    void this.#watch();
  }

  /** Somebody was erased, here or at the school. */
  askErased(): void {
    this.#mayAskErased = true;
    wake();
  }

  /** Until the hub closes, or the server must not be used any more. */
  async run(): Promise<void> {
    tell({ link: 'connected' });
    while (!isClosing && !this.#connection.isClosed()) {
      try {
        // Also while the school does not answer: whom it asked for before must not be sent again.
        await this.#settleErased(null);
        if (performance.now() - this.#comparedAtMs > compareEveryMs) await this.#greet();
        if (this.#isRefused) {
          await pause(idleMs);
          continue;
        }
        if (this.#mayAskErased) await this.#exchangeErased();
        const isDone = await this.#sender.turn();
        const { waitingCount } = this.#sender;
        tell({ fault: null, isCaughtUp: isDone, waitingCount });
        if (isDone) await pause(idleMs);
      } catch (error) {
        tell({ waitingCount: this.#sender.waitingCount });
        if (this.#connection.isClosed()) break;
        tellFault(faultOf(error));
        await pause(retryMs);
      }
    }
    await this.#connection.flush().catch(() => undefined);
    await this.#connection.close();
    this.#cursor.close();
  }

  live(kind: 'text' | 'frame', number: number, bytes: Uint8Array): void {
    // Kept for a server that is away, they would be told as the present when it is back.
    if (!this.#isConnected || !this.#isGreeted || this.#isRefused) return;
    // Alarms are texts and are never left out. That a number is missing makes the school ask for the whole.
    if (kind === 'frame' && this.#liveBytes > mostLiveBytes) return;
    const numbered = headers();
    numbered.set(numberHeader, String(number));
    this.#connection.publish(subjects.live(data.school, data, kind), bytes, { headers: numbered });
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
      },
      () => {
        this.#isFlushing = false;
      },
    );
  }

  async #keep(kind: KeptKind, contentKey: string, bytes: Uint8Array): Promise<void> {
    const { max_payload: most } = this.#connection.info ?? { max_payload: 1 << 20 };
    // Headers count too.
    if (bytes.length + 512 > most) throw new MessageTooLarge(bytes.length, most);
    await this.#stream.publish(subjects.kept(data.school, data, kind), bytes, {
      msgID: `${data.hubId}.${contentKey}`,
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
    const answer = helloAnswerSchema.safeParse(await this.#ask('hello', hello));
    this.#isSchoolThere = answer.success;
    this.#isRefused = answer.success && answer.data.refused !== null;
    this.#isGreeted = true;
    if (!answer.success) {
      // It may be starting.
      this.#nextCompareIn(againMs);
      return;
    }
    const { refused, notice } = answer.data;
    if (refused !== null) {
      this.#nextCompareIn(refusedMs);
      tell({ link: 'refused' });
      tellFault(refused);
      return;
    }
    tell({ link: 'connected', notices: [...cursorNotices, ...(notice === null ? [] : [notice])] });
    // Before anything more is sent.
    await this.#exchangeErased();
    this.#nextCompareIn(compareEveryMs);
    const all = this.#cursor.all();
    for (let at = 0; at < Math.max(1, all.length); at += mostAsked) {
      const have = await this.#have(all.slice(at, at + mostAsked).map(({ sessionId }) => sessionId));
      if (have !== undefined && this.#sender.compare(have).isConclusive) continue;
      this.#nextCompareIn(compareAgainMs);
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

  #nextCompareIn(ms: number): void {
    this.#comparedAtMs = performance.now() - compareEveryMs + ms;
  }

  async #have(sessionIds: readonly string[]): Promise<HaveAnswer | undefined> {
    const asked = { sessions: sessionIds.map((sessionId) => ({ sessionId })) };
    const answer = haveAnswerSchema.safeParse(await this.#askThere('have', asked));
    return answer.success ? answer.data : undefined;
  }

  /** A school that did not answer is not waited for again and again. */
  async #askThere(question: 'have' | 'sums', body: unknown): Promise<unknown> {
    if (!this.#isSchoolThere) return undefined;
    const answer = await this.#ask(question, body);
    if (answer === undefined) {
      this.#isSchoolThere = false;
      this.#nextCompareIn(againMs);
    }
    return answer;
  }

  async #ask(question: HubQuestion, body: unknown): Promise<unknown> {
    try {
      const answer = await this.#connection.request(
        subjects.ask(data.school, data, question),
        JSON.stringify(body),
        { timeout: acknowledgeWithinMs, headers: versioned() },
      );
      return answer.json();
    } catch {
      return undefined;
    }
  }

  /** Before it says that it is there: the school asks at once. Nobody asks a hub that it refused. */
  #listen(): void {
    for (const question of ['welcome', 'do'] as const)
      this.#connection.subscribe(subjects.to(data.school, data, question), {
        callback: (error, message) => {
          if (error !== null) return;
          const questionId = nextId++;
          questions.set(questionId, message);
          say({ type: 'question', questionId, question, body: Uint8Array.from(message.data) });
        },
      });
    this.#connection.subscribe(subjects.toErase(data.school, data.hub), {
      callback: (error) => {
        if (error === null) this.askErased();
      },
    });
  }

  async #watch(): Promise<void> {
    for await (const status of this.#connection.status()) {
      if (status.type === 'disconnect') {
        this.#isConnected = false;
        tell({ link: 'connecting' });
        tellFault(said('school.noServer'));
      } else if (status.type === 'reconnect') await this.#cameBack();
      else if (status.type === 'error') tellFault(faultOf(status.error));
    }
  }

  /** It may be another server than before. */
  async #cameBack(): Promise<void> {
    try {
      await checkServer(this.#connection);
    } catch {
      // Said at the next connection, which is refused likewise.
      await this.#connection.close();
      wake();
      return;
    }
    this.#isConnected = true;
    this.#isGreeted = false;
    this.#liveBytes = 0;
    tell({ link: 'connected' });
    this.#comparedAtMs = Number.NEGATIVE_INFINITY;
    wake();
  }
}

const aside = new Map<string | null, NotSent>();

/** Said once where several are kept from going by the same. */
function tellAside(sessionId: string | null, why: MessageTooLarge | ReadFault | undefined): void {
  if (why === undefined) aside.delete(sessionId);
  else if (!aside.has(sessionId))
    aside.set(sessionId, { why: asideSaid(why, sessionId === null), sinceWallMs: wallMs(Date.now()) });
  const setAside: NotSent[] = [];
  for (const each of aside.values())
    if (!setAside.some((one) => isSameSaid(one.why, each.why))) setAside.push(each);
  tell({ setAside });
}

const cursorNotices: Said[] = [];

function openCursor(): SendingCursor {
  return new SendingCursor(data.cursorPath, data, (path) => {
    cursorNotices.splice(0, 1, said('school.cursorDamaged', { path }));
    tell({ notices: [...cursorNotices] });
  });
}

async function checkServer(connection: NatsConnection): Promise<void> {
  checkLogin(connection, data.access);
  await checkRights(connection, data.school);
}

let publisher: Publisher | undefined;

port.on('message', (message: ToPublisher) => {
  if (message.type === 'text') publisher?.live('text', message.number, Buffer.from(message.text));
  else if (message.type === 'frame') publisher?.live('frame', message.number, message.frame);
  else if (message.type === 'read') {
    const waiting = reads.get(message.readId);
    reads.delete(message.readId);
    if (message.fault === undefined) waiting?.resolve(message.value as never);
    else waiting?.reject(new ReadFault(message.fault));
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

/** Until the server is there, lets the hub in, and keeps hubs apart. */
async function connectUntilIn(): Promise<NatsConnection | undefined> {
  while (!isClosing) {
    let connection: NatsConnection | undefined;
    try {
      connection = await connectNats(data.access, {
        name: `slackwater hub ${data.hub}`,
        inboxPrefix: subjects.inbox(data.hub),
        keepTrying: false,
      });
      await checkServer(connection);
      return connection;
    } catch (error) {
      await connection?.close().catch(() => undefined);
      const isAway = /REFUSED|TIMEOUT|ENOTFOUND|EAI_AGAIN|UNREACH/i.test(String(error));
      tell({ link: error instanceof HubError ? 'refused' : 'connecting' });
      tellFault(isAway ? said('school.noServer') : faultOf(error));
      await pause(error instanceof HubError ? refusedMs : retryMs);
    }
  }
  return undefined;
}

while (!isClosing) {
  const connection = await connectUntilIn();
  if (connection === undefined) break;
  publisher = new Publisher(connection, openCursor());
  await publisher.run();
  publisher = undefined;
}
say({ type: 'closed' });
port.close();
