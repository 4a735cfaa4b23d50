// The hub's end of the recorder's thread: takes what is to be written at once, hands it over in order, keeps it until it is
// written, within a bound, and says how writing goes. No call here waits for a disk.

import { Worker } from 'node:worker_threads';
import { type Said, said } from '../../../shared/said.ts';
import type { MonotonicMs } from '../../../shared/units.ts';
import { sayInEnglish } from '../../../shared/words/say.ts';
import { findBuiltFile } from '../../base/built-file.ts';
import { HubError, type HubErrorCode, told } from '../../base/hub-error.ts';
import type { Clock } from '../../base/ports/clock.ts';
import type { HubStore, WritingState } from '../../base/ports/hub-store.ts';
import type { ImportedPart, SessionStart } from '../../base/ports/session-log.ts';
import type { StoredPacket, StoredSessionSummary } from '../../base/ports/stored-session.ts';
import type { SqliteStoreOptions } from '../sqlite-store.ts';
import type { Durability } from '../transactions.ts';
import { UnsavedPackets } from '../unsaved-packets.ts';
import { PieceReaders } from './piece-readers.ts';
import type {
  AnswerOf,
  ArgsOf,
  CallMethod,
  Fault,
  FromRecorder,
  RecorderTask,
  ToRecorder,
  WriteMethod,
} from './recorder-messages.ts';
import { StoreMirror } from './store-mirror.ts';
import { type Refused, WriteQueue } from './write-queue.ts';

/** After a fault, writing is tried again so often. Our choice. */
const retryMs = 500;
/** How often it is looked whether the disk answers, and while all is not well, told. */
const lookMs = 1_000;
/** Closing waits so long for a disk that does not answer, and then leaves what it holds. Our choice. */
const closeWaitMs = 10_000;

export interface ThreadedStoreOptions extends SqliteStoreOptions {
  /** The clock of people, never scaled. */
  readonly clock: Clock;
  readonly warn: (message: string, error?: unknown) => void;
  /** Packets held for a disk that does not take them may use this much memory; 128 MB by default. */
  readonly holdAtMostBytes?: number;
  /** The thread's entry; found beside this file or in the bundle when left out. */
  readonly entry?: string;
}

function findEntry(): string {
  const path = findBuiltFile(import.meta.url, [
    './recorder-worker-from-sources.mjs',
    './recorder/thread/recorder-worker.js',
    './recorder-worker.js',
  ]);
  if (path === undefined) throw new HubError('build.missing', said('recorder.notBuilt'));
  return path;
}

const errorOf = ({ code, message, told: what }: Fault): Error =>
  code === null ? new Error(message) : new HubError(code as HubErrorCode, what);
const hubErrorOf = (fault: Fault): HubError =>
  fault.code === null
    ? new HubError('data.failed', fault.told)
    : new HubError(fault.code as HubErrorCode, fault.told);

/** Opens the recordings of a folder in a thread of their own. Rejects as `openSqliteStore` throws. */
export function openThreadedStore(options: ThreadedStoreOptions): Promise<HubStore> {
  const { clock: _clock, warn: _warn, entry, holdAtMostBytes: _hold, ...sqlite } = options;
  return new Promise((resolve, reject) => {
    const worker = new Worker(entry ?? findEntry(), { execArgv: [], workerData: sqlite });
    const first = (message: FromRecorder): void => {
      worker.off('error', reject);
      if (message.type === 'opened') resolve(new ThreadedStore(worker, message, options));
      else {
        void worker.terminate();
        reject(message.type === 'notOpened' ? errorOf(message.fault) : new Error('not opened'));
      }
    };
    worker.once('message', first);
    worker.once('error', reject);
  });
}

interface Waiting {
  readonly resolve: (value: unknown) => void;
  readonly reject: (error: unknown) => void;
}

class ThreadedStore implements HubStore {
  readonly interruptedSessionIds: readonly string[];
  readonly notices: readonly Said[];
  readonly #worker: Worker;
  readonly #options: ThreadedStoreOptions;
  readonly #mirror: StoreMirror;
  readonly #queue: WriteQueue;
  readonly #readers: PieceReaders;
  /** Null where there is no file in memory. */
  readonly #unsaved: UnsavedPackets | null;
  readonly #calls = new Map<number, Waiting>();
  /** Sessions being recorded, and imports; by id, with their title. */
  readonly #recording = new Map<string, { readonly title: string; readonly isImport: boolean }>();
  #listed = new Map<string, StoredSessionSummary>();
  #listVersion = 0;
  #nextCallId = 1;
  #hear: (state: WritingState) => void = () => undefined;
  #toldWell = true;
  #fault: HubError | null = null;
  #retryDue = false;
  #newestSession: string | null = null;
  #closing: ((fault: Fault | null) => void) | undefined;
  #gone = false;
  readonly #stopLooking: () => void;

  /** Use `openThreadedStore`. */
  constructor(
    worker: Worker,
    { opened, unsavedPath }: Extract<FromRecorder, { type: 'opened' }>,
    options: ThreadedStoreOptions,
  ) {
    this.#worker = worker;
    this.#options = options;
    this.notices = opened.notices;
    this.interruptedSessionIds = opened.interruptedSessionIds;
    this.#mirror = new StoreMirror(opened);
    this.#queue = new WriteQueue(options.clock, options.holdAtMostBytes ?? 128 * 2 ** 20);
    this.#unsaved = unsavedPath === null ? null : UnsavedPackets.open(unsavedPath, options.warn);
    this.#readers = new PieceReaders(
      (message) => this.#tell(message),
      () => (this.#fault === null ? this.#queue.tried() : Promise.resolve()),
    );
    worker.on('message', (message: FromRecorder) => this.#received(message));
    worker.on('error', (error) => this.#died(error));
    worker.on('exit', () => this.#died(new Error('thread ended')));
    this.#stopLooking = options.clock.every(lookMs, () => this.#look());
  }

  listAthletes = () => this.#mirror.listAthletes();
  sensorAssignments = () => this.#mirror.sensorAssignments();
  listDocuments: StoreMirror['listDocuments'] = (kind, groupId) => this.#mirror.listDocuments(kind, groupId);
  readDocument: StoreMirror['readDocument'] = (kind, documentId) =>
    this.#mirror.readDocument(kind, documentId);

  saveAthlete(...args: ArgsOf<'saveAthlete'>): void {
    this.#mirror.saveAthlete(...args);
    this.#write('saveAthlete', args);
  }

  removeAthlete(...args: ArgsOf<'removeAthlete'>): void {
    this.#mirror.removeAthlete(...args);
    this.#write('removeAthlete', args);
  }

  assignSensor(...args: ArgsOf<'assignSensor'>): void {
    this.#mirror.assignSensor(...args);
    this.#write('assignSensor', args);
  }

  saveDocument(...args: ArgsOf<'saveDocument'>): void {
    this.#mirror.saveDocument(...args);
    this.#write('saveDocument', args);
  }

  removeDocument(...args: ArgsOf<'removeDocument'>): boolean {
    const removed = this.#mirror.removeDocument(...args);
    if (removed) this.#write('removeDocument', args);
    return removed;
  }

  async eraseAthlete(athleteId: string): Promise<void> {
    await this.#call('eraseAthlete', [athleteId]);
    this.#mirror.eraseAthlete(athleteId);
  }

  /** Throws at once while writing is known to fail. */
  startSession(start: SessionStart): Promise<void> {
    if (this.#fault !== null) throw this.#fault;
    const { sessionId, title, source } = start;
    const known = this.#recording.get(sessionId);
    if (known === undefined) {
      this.#recording.set(sessionId, { title: title || sessionId, isImport: source === 'import' });
      if (source !== 'import') this.#newestSession = title || sessionId;
    }
    return this.#call('startSession', [start]).catch((error: unknown) => {
      if (known === undefined) this.#recording.delete(sessionId);
      throw error;
    });
  }

  /** Throws at once while writing is known to fail. */
  resumeSession(...args: ArgsOf<'resumeSession'>): Promise<void> {
    if (this.#fault !== null) throw this.#fault;
    const [sessionId] = args;
    this.#recording.set(sessionId, { title: sessionId, isImport: false });
    this.#newestSession = sessionId;
    return this.#call('resumeSession', args).catch((error: unknown) => {
      this.#recording.delete(sessionId);
      throw error;
    });
  }

  /** What is to be written before it is; an import is whole when this resolves. */
  endSession(sessionId: string, endedAtMs: MonotonicMs): Promise<void> | undefined {
    const { isImport } = this.#existing(sessionId);
    this.#recording.delete(sessionId);
    if (isImport) return this.#call('endSession', [sessionId, endedAtMs]);
    this.#write('endSession', [sessionId, endedAtMs]);
    return undefined;
  }

  appendPacket(sessionId: string, packet: StoredPacket): void {
    this.#existing(sessionId);
    if (this.#queue.addPacket(sessionId, packet)) this.#unsaved?.add(sessionId, packet);
  }

  get outlivesKill(): boolean {
    return this.#unsaved?.works === true;
  }

  commit(durability: Durability = 'disk'): void {
    this.#queue.want(durability);
    this.#pump();
  }

  appendImported(sessionId: string, part: ImportedPart): Promise<void> {
    return this.#call('appendImported', [sessionId, part]);
  }

  saveSessionSensor = (...args: ArgsOf<'saveSessionSensor'>): void => this.#write('saveSessionSensor', args);
  addSessionAthlete = (...args: ArgsOf<'addSessionAthlete'>): void => this.#write('addSessionAthlete', args);
  saveSessionChange = (...args: ArgsOf<'saveSessionChange'>): void => this.#write('saveSessionChange', args);
  saveUnwatched = (...args: ArgsOf<'saveUnwatched'>): void => this.#write('saveUnwatched', args);
  saveAlive = (...args: ArgsOf<'saveAlive'>): void => this.#write('saveAlive', args);
  saveSchedule = (...args: ArgsOf<'saveSchedule'>): void => this.#write('saveSchedule', args);
  saveMark = (...args: ArgsOf<'saveMark'>): void => this.#write('saveMark', args);
  saveHold = (...args: ArgsOf<'saveHold'>): void => this.#write('saveHold', args);
  saveAlarm = (...args: ArgsOf<'saveAlarm'>): void => this.#write('saveAlarm', args);
  saveSettingsChange = (...args: ArgsOf<'saveSettingsChange'>): void =>
    this.#write('saveSettingsChange', args);
  saveLinkEvent = (...args: ArgsOf<'saveLinkEvent'>): void => this.#write('saveLinkEvent', args);

  addCorrection = (...args: ArgsOf<'addCorrection'>) => this.#call('addCorrection', args);
  saveSummary = (...args: ArgsOf<'saveSummary'>) => this.#call('saveSummary', args);
  listSummaries = (...args: ArgsOf<'listSummaries'>) => this.#call('listSummaries', args);
  listOtherSummaries = (...args: ArgsOf<'listOtherSummaries'>) => this.#call('listOtherSummaries', args);
  /** By the copy that is kept here: only what has changed crosses the threads. */
  async listSessions(): Promise<readonly StoredSessionSummary[]> {
    const { version, order, changed } = await this.#call('listChanges', [this.#listVersion]);
    for (const summary of changed) this.#listed.set(summary.session.sessionId, summary);
    this.#listVersion = version;
    const all = order.flatMap((sessionId) => this.#listed.get(sessionId) ?? []);
    if (this.#listed.size > all.length)
      this.#listed = new Map(all.map((summary) => [summary.session.sessionId, summary]));
    return all;
  }

  readSession = (...args: ArgsOf<'readSession'>) => this.#call('readSession', args);
  toldChanges = (...args: ArgsOf<'toldChanges'>) => this.#call('toldChanges', args);
  readTold = (...args: ArgsOf<'readTold'>) => this.#call('readTold', args);
  readSegment = (...args: ArgsOf<'readSegment'>) => this.#call('readSegment', args);
  titleSession = (...args: ArgsOf<'titleSession'>) => this.#call('titleSession', args);
  nameLeaders = (...args: ArgsOf<'nameLeaders'>) => this.#call('nameLeaders', args);
  reassignPart = (...args: ArgsOf<'reassignPart'>) => this.#call('reassignPart', args);
  binRecording = (...args: ArgsOf<'binRecording'>) => this.#call('binRecording', args);
  unbinRecording = (...args: ArgsOf<'unbinRecording'>) => this.#call('unbinRecording', args);
  listBinned = () => this.#call('listBinned', []);
  deletePart = (...args: ArgsOf<'deletePart'>) => this.#call('deletePart', args);
  deleteSession = (...args: ArgsOf<'deleteSession'>) => this.#call('deleteSession', args);
  writeDatabaseCopy = (...args: ArgsOf<'writeDatabaseCopy'>) => this.#call('writeDatabaseCopy', args);

  readPackets(sessionId: string, options: { readonly skipDamaged?: boolean } = {}) {
    return this.#readers.packets(sessionId, options.skipDamaged === true);
  }

  readBatches(sessionId: string, options: { readonly skipDamaged?: boolean } = {}) {
    return this.#readers.batches(sessionId, options.skipDamaged === true);
  }

  readPacketColumns(sessionId: string, options: { readonly skipDamaged?: boolean } = {}) {
    return this.#readers.columns(sessionId, options.skipDamaged === true);
  }

  saved(): Promise<void> {
    if (this.#gone) return Promise.reject(this.#fault ?? threadGone());
    const saved = this.#queue.saved();
    this.#pump();
    return saved;
  }

  watchWriting(hear: (state: WritingState) => void): void {
    this.#hear = hear;
  }

  /** Rejects with what keeps it from saving what it holds; then that is lost with the process. */
  async close(): Promise<void> {
    if (this.#gone || this.#closing !== undefined) return;
    let cancel = (): void => undefined;
    const closed = new Promise<Fault | null>((resolve) => {
      this.#closing = resolve;
      cancel = this.#options.clock.after(closeWaitMs, () => resolve(noAnswer));
    });
    this.#queue.want('disk');
    this.#pump();
    this.#closeWhenIdle();
    const fault = await closed;
    cancel();
    this.#stopLooking();
    this.#gone = true;
    const held = this.#queue.heldPacketCount;
    this.#unsaved?.close(fault === null && held === 0);
    // Not waited for: a thread in the middle of a write to a dead disk does not end.
    void this.#worker.terminate();
    if (fault !== null)
      throw new HubError('data.failed', said('recorder.notClosed', { held, reason: fault.told }));
  }

  #existing(sessionId: string) {
    const session = this.#recording.get(sessionId);
    if (session === undefined) throw new HubError('data.refused', told(`session ${sessionId} not recording`));
    return session;
  }

  #write<Method extends WriteMethod>(method: Method, args: ArgsOf<Method>): void {
    this.#queue.add({ type: 'write', method, args });
    this.#pump();
  }

  #call<Method extends CallMethod>(method: Method, args: ArgsOf<Method>): Promise<AnswerOf<Method>> {
    if (this.#gone) return Promise.reject(this.#fault ?? threadGone());
    const callId = this.#nextCallId++;
    const call: Extract<RecorderTask, { type: 'call' }> = { type: 'call', callId, method, args };
    const answered = new Promise<AnswerOf<Method>>((resolve, reject) => {
      this.#calls.set(callId, { resolve: resolve as Waiting['resolve'], reject });
    });
    // Whoever called hears of it; a caller that does not care must not end the hub.
    answered.catch(() => undefined);
    // After what was handed in before it; but while that cannot be written, what is there can still be read.
    if (this.#fault !== null) this.#tell({ type: 'call', call });
    else {
      this.#queue.add(call);
      this.#pump();
    }
    return answered;
  }

  /** One helping is under way at a time, so that a slow disk gets few and large ones. */
  #pump(): void {
    if (this.#gone || this.#retryDue) return;
    const helping = this.#queue.next();
    if (helping === undefined) return;
    this.#tell({ type: 'tasks', ...helping });
  }

  #tell(message: ToRecorder): void {
    if (!this.#gone) this.#worker.postMessage(message);
  }

  #received(message: FromRecorder): void {
    switch (message.type) {
      case 'tasks':
        this.#performed(message.doneCount, message.fault, message.refusals);
        return;
      case 'answer': {
        const waiting = this.#calls.get(message.callId);
        this.#calls.delete(message.callId);
        if (message.fault === undefined) waiting?.resolve(message.value);
        else waiting?.reject(errorOf(message.fault));
        return;
      }
      case 'piece':
        this.#readers.received(message.readerId, message.piece, message.fault && errorOf(message.fault));
        return;
      case 'closed':
        this.#closing?.(message.fault);
        return;
      case 'opened':
      case 'notOpened':
        return;
    }
  }

  #performed(doneCount: number, fault: Fault | null, refusals: readonly (readonly [number, Fault])[]): void {
    const refused = refusals.map(([place, why]): Refused => [place, hubErrorOf(why)]);
    for (const [, why] of refused) this.#options.warn('storing refused', why);
    if (fault === null) {
      this.#fault = null;
      this.#queue.performed(refused);
      if (this.#queue.heldPacketCount === 0) this.#unsaved?.allSaved(this.#recording.size === 0);
    } else {
      this.#fault = hubErrorOf(fault);
      this.#queue.failed(doneCount, this.#fault, refused);
      this.#rejectQueuedCalls(this.#fault);
      this.#retryDue = true;
      this.#options.clock.after(retryMs, () => {
        this.#retryDue = false;
        this.#pump();
        this.#closeWhenIdle();
      });
    }
    this.#look();
    this.#pump();
    this.#closeWhenIdle();
  }

  /** Those wait for a person, who is told; what records itself is tried again. */
  #rejectQueuedCalls(error: HubError): void {
    for (const callId of this.#queue.dropCalls()) {
      this.#calls.get(callId)?.reject(error);
      this.#calls.delete(callId);
    }
  }

  #closeWhenIdle(): void {
    if (this.#closing === undefined) return;
    if (this.#queue.isIdle) this.#tell({ type: 'close' });
    // One more attempt has been made and failed: whoever stops the hub must not wait for ever.
    else if (this.#fault !== null && !this.#retryDue && !this.#queue.isUnderWay)
      this.#closing({ code: this.#fault.code, message: this.#fault.message, told: this.#fault.said });
  }

  #look(): void {
    const silentMs = this.#queue.silentMs;
    const isWell = this.#fault === null && silentMs < 2 * lookMs && this.#queue.lostPacketCount === 0;
    if (isWell && this.#toldWell) return;
    this.#toldWell = isWell;
    this.#hear({
      fault: this.#fault,
      silentMs: silentMs < 2 * lookMs ? 0 : silentMs,
      heldPacketCount: this.#queue.heldPacketCount,
      lostPacketCount: this.#queue.lostPacketCount,
      unsavedSinceWallMs: this.#queue.unsavedSinceWallMs,
      session: this.#newestSession,
    });
  }

  #died(error: unknown): void {
    if (this.#gone) return;
    this.#gone = true;
    if (this.#closing !== undefined) {
      this.#closing(null);
      return;
    }
    this.#options.warn('recorder died', error);
    this.#fault = threadGone(error);
    this.#queue.failed(0, this.#fault, []);
    for (const waiting of this.#calls.values()) waiting.reject(this.#fault);
    this.#calls.clear();
    this.#readers.failed(this.#fault);
    this.#look();
  }
}

const noAnswer: Fault = {
  code: 'data.failed',
  message: sayInEnglish(said('recorder.noAnswer')),
  told: said('recorder.noAnswer'),
};

const threadGone = (cause?: unknown): HubError => new HubError('data.failed', said('recorder.ended'), cause);
