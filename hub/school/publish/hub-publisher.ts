// The hub's end of the thread that speaks with its school: hands it live messages as they are, reads recordings for it, and
// answers what the school asks. Nothing here waits.

import { randomInt } from 'node:crypto';
import { join } from 'node:path';
import { Worker } from 'node:worker_threads';
import { liveFrame } from '../../../shared/live-frame/write-live-frame.ts';
import { said } from '../../../shared/said.ts';
import type { SchoolLink } from '../../../shared/school/pages.ts';
import type { ErasedAnswer, ErasedByHub } from '../../../shared/school/questions.ts';
import { findBuiltFile } from '../../base/built-file.ts';
import { HubError } from '../../base/hub-error.ts';
import type { HubLog } from '../../base/log.ts';
import type { ArchiveReads } from '../../base/ports/archive-reads.ts';
import type { Clock } from '../../base/ports/clock.ts';
import type { HubStore, Later } from '../../base/ports/hub-store.ts';
import type { PageFeed } from '../../server/page-feed.ts';
import type { NatsAccess } from '../nats/connect.ts';
import { ErasedPeople, type Eraser } from './erased-people.ts';
import type {
  FromPublisher,
  ListToSend,
  PublisherThreadData,
  ReadMethod,
  ToPublisher,
} from './publisher-messages.ts';

/** Closing waits so long for what is on its way. Our choice. */
const closeWithinMs = 3_000;
/** A recording that grows is sent so often: what a school lacks of a hub that burns down. Our choice. */
const growEveryMs = 10_000;

export interface SchoolSettings {
  readonly access: NatsAccess;
  readonly school: string;
  /** The hub's own name at the school. */
  readonly hub: string;
  /** As hub-id.ts makes it. */
  readonly hubId: string;
  /** As people call the hub: its room. */
  readonly room: string;
}

export interface HubPublisherParts {
  readonly settings: SchoolSettings;
  readonly dataFolder: string;
  readonly store: Pick<HubStore, 'listAthletes' | 'listDocuments' | 'listSessions' | 'listBinned'> &
    Partial<Later<ArchiveReads>>;
  readonly eraser: Eraser;
  readonly feed: Pick<PageFeed, 'subscribe'>;
  readonly clock: Clock;
  readonly log: HubLog;
  readonly hubVersion: string;
  /** What the school asks, answered as JSON bytes. */
  readonly answer: (
    question: 'welcome' | 'do',
    body: Uint8Array,
    toldUpTo: () => number,
  ) => Promise<Uint8Array>;
  readonly hear: (state: SchoolLink) => void;
  readonly growEveryMs?: number;
  readonly entry?: string;
}

/** What goes to a school of documents: what belongs to people and their training. */
const sentDocuments = [
  'plan',
  'planRun',
  'planRunAthlete',
  'training',
  'participant',
  'incident',
  'drill',
  'sessionDetails',
  'sharing',
] as const;

export class HubPublisher {
  readonly #parts: HubPublisherParts;
  readonly #reads: Later<ArchiveReads>;
  #worker: Worker | undefined;
  #isClosed = false;
  /** The number of the last live message; begun anywhere, so that a hub that is started again does not go on by chance. */
  #toldUpTo = randomInt(2 ** 40);
  #closed: () => void = () => undefined;
  readonly #stopHearing: () => void;
  readonly #erased: ErasedPeople;

  constructor(parts: HubPublisherParts) {
    this.#parts = parts;
    const { toldChanges, readTold, readSegment } = parts.store;
    if (toldChanges === undefined || readTold === undefined || readSegment === undefined)
      throw new HubError('config.badValue', said('school.nothingToSend'));
    // Bound: a store in the calling thread needs its `this`.
    this.#reads = {
      toldChanges: toldChanges.bind(parts.store),
      readTold: readTold.bind(parts.store),
      readSegment: readSegment.bind(parts.store),
    };
    this.#erased = new ErasedPeople({
      dataFolder: parts.dataFolder,
      hub: parts.settings.hub,
      store: parts.store,
      eraser: parts.eraser,
      log: parts.log,
      changed: () => this.#tell({ type: 'erased' }),
    });
    this.#start();
    this.#stopHearing = parts.feed.subscribe({
      message: (message) =>
        this.#tell({ type: 'text', number: ++this.#toldUpTo, text: JSON.stringify(message) }),
      live: (changes) =>
        this.#tell({
          type: 'frame',
          number: ++this.#toldUpTo,
          frame: liveFrame(changes.map(({ block }) => block)),
        }),
    });
  }

  async close(): Promise<void> {
    if (this.#isClosed) return;
    this.#isClosed = true;
    this.#stopHearing();
    this.#erased.close();
    const worker = this.#worker;
    if (worker === undefined) return;
    await new Promise<void>((resolve) => {
      const stopWaiting = this.#parts.clock.after(closeWithinMs, resolve);
      this.#closed = () => {
        stopWaiting();
        resolve();
      };
      this.#tell({ type: 'close' });
    });
    await worker.terminate();
  }

  #start(): void {
    const { settings, dataFolder, hubVersion, growEveryMs: every = growEveryMs, entry } = this.#parts;
    const { access, school, hub, hubId, room } = settings;
    const data: PublisherThreadData = {
      access,
      school,
      hub,
      hubId,
      room,
      hubVersion,
      cursorPath: join(dataFolder, 'school-cursor.db'),
      growEveryMs: every,
    };
    const worker = new Worker(entry ?? findEntry(), { execArgv: [], workerData: data });
    this.#worker = worker;
    worker.on('message', (message: FromPublisher) => this.#received(message));
    worker.on('error', (error) => this.#parts.log.error('publishing to the school failed', error));
    worker.on('exit', () => this.#ended(worker));
  }

  /** It begins again where the cursor is. */
  #ended(worker: Worker): void {
    if (this.#worker === worker) this.#worker = undefined;
    if (this.#isClosed) {
      this.#closed();
      return;
    }
    this.#parts.clock.after(5_000, () => {
      if (!this.#isClosed) this.#start();
    });
  }

  #tell(message: ToPublisher): void {
    this.#worker?.postMessage(message);
  }

  #received(message: FromPublisher): void {
    if (message.type === 'state') this.#parts.hear(message.state);
    else if (message.type === 'read') void this.#read(message);
    else if (message.type === 'question') void this.#question(message);
    else if (message.type === 'closed') this.#closed();
  }

  async #read({ readId, method, args }: Extract<FromPublisher, { type: 'read' }>): Promise<void> {
    try {
      const value = await this.#answerRead(method, args);
      this.#tell({ type: 'read', readId, value });
    } catch (error) {
      this.#tell({ type: 'read', readId, fault: error instanceof Error ? error.message : String(error) });
    }
  }

  #answerRead(method: ReadMethod, args: readonly unknown[]): unknown {
    if (method === 'readList') return this.#list();
    if (method === 'settleErased') return this.#erased.settle(args[0] as ErasedAnswer | null);
    if (method === 'erasedTold') return this.#erased.told(args[0] as ErasedByHub);
    return (this.#reads[method] as (...given: readonly unknown[]) => unknown)(...args);
  }

  async #question({
    questionId,
    question,
    body,
  }: Extract<FromPublisher, { type: 'question' }>): Promise<void> {
    try {
      this.#tell({
        type: 'answer',
        questionId,
        body: await this.#parts.answer(question, body, () => this.#toldUpTo),
      });
    } catch (error) {
      this.#parts.log.error('a question of the school', error);
    }
  }

  #list(): ListToSend {
    const { store } = this.#parts;
    return {
      athletes: store.listAthletes().map((athlete) => ({
        athleteId: athlete.athleteId,
        name: athlete.name,
        body: JSON.stringify(athlete),
      })),
      documents: sentDocuments.flatMap((kind) =>
        store.listDocuments(kind).map(({ documentId, groupId, athleteId, body }) => ({
          kind,
          documentId,
          groupId,
          athleteId,
          body: JSON.stringify(body),
        })),
      ),
    };
  }
}

function findEntry(): string {
  const path = findBuiltFile(import.meta.url, [
    './publisher-worker-from-sources.mjs',
    './school/publish/publisher-worker.js',
    './publisher-worker.js',
  ]);
  if (path === undefined) throw new HubError('build.missing', said('school.notBuilt'));
  return path;
}
