// The thread that owns the database. Whatever the disk does, slow or stuck, holds up this thread and nothing else.

import { parentPort, workerData } from 'node:worker_threads';
import { faultSaid, HubError } from '../../base/hub-error.ts';
import type { PacketColumns, StoredPacket } from '../../base/ports/stored-session.ts';
import { decodeBatch, encodeBatch } from '../packet-batch.ts';
import { openOrPutAside } from '../salvage/put-aside.ts';
import type { SqliteStore } from '../sqlite-store.ts';
import type { Durability } from '../transactions.ts';
import { readUnsaved, unsavedPathOf } from '../unsaved-packets.ts';
import type {
  Fault,
  FromRecorder,
  ReadRequest,
  RecorderTask,
  RecorderThreadData,
  ToRecorder,
} from './recorder-messages.ts';
import { documentKinds } from './store-mirror.ts';

const port = parentPort;
if (port === null) throw new Error('not a thread');

/** Packets handed over at a time: decoding them takes the hub about a millisecond. */
const packetsPerPiece = 1_500;

const say = (message: FromRecorder): void => port.postMessage(message);
const faultOf = (error: unknown): Fault => ({
  code: error instanceof HubError ? error.code : null,
  message: error instanceof Error ? error.message : String(error),
  told: faultSaid(error),
});
const isRefusal = (error: unknown): boolean => error instanceof HubError && error.code === 'data.refused';

function open(): SqliteStore | undefined {
  try {
    const options = workerData as RecorderThreadData;
    let unsaved: ReturnType<typeof readUnsaved> | undefined;
    const unsavedOf = (sessionId: string) => {
      const path = unsavedPathOf(options.directory);
      unsaved ??= path === null ? new Map() : readUnsaved(path);
      return unsaved.get(sessionId) ?? [];
    };
    const store = openOrPutAside({ ...options, unsavedOf }, Date.now());
    say({
      type: 'opened',
      opened: {
        athletes: store.listAthletes(),
        assignments: [...store.sensorAssignments()],
        documents: documentKinds.flatMap((kind) => store.listDocuments(kind)),
        notices: store.notices,
        interruptedSessionIds: store.interruptedSessionIds,
      },
      unsavedPath: unsavedPathOf(options.directory),
    });
    return store;
  } catch (error) {
    say({ type: 'notOpened', fault: faultOf(error) });
    return undefined;
  }
}

/** The method of that name; what it takes was checked where it was called. */
function invoke(store: SqliteStore, method: string, args: readonly unknown[]): unknown {
  return (store[method as keyof SqliteStore] as (...given: readonly unknown[]) => unknown)(...args);
}

function call(store: SqliteStore, { callId, method, args }: Extract<RecorderTask, { type: 'call' }>): void {
  try {
    // Only the copy for a backup takes its time, and lets others have theirs.
    const answer = invoke(store, method, args);
    if (answer instanceof Promise)
      answer.then(
        (value) => say({ type: 'answer', callId, value }),
        (error: unknown) => say({ type: 'answer', callId, fault: faultOf(error) }),
      );
    else say({ type: 'answer', callId, value: answer });
  } catch (error) {
    say({ type: 'answer', callId, fault: faultOf(error) });
  }
}

function perform(store: SqliteStore, task: RecorderTask): void {
  if (task.type === 'call') call(store, task);
  else if (task.type === 'write') invoke(store, task.method, task.args);
  else {
    const batch = decodeBatch(task.batch);
    if (!batch.ok) throw new Error(`unreadable packets: ${batch.reason}`);
    for (const packet of batch.value) store.appendPacket(task.sessionId, packet);
  }
}

/** One sync for all of them, at their end: a disk that takes a second for each still keeps up. */
function performAll(store: SqliteStore, tasks: readonly RecorderTask[], durability: Durability): void {
  const refusals: [number, Fault][] = [];
  let doneCount = 0;
  try {
    store.syncOnlyOnCommit = true;
    for (const task of tasks) {
      try {
        perform(store, task);
      } catch (error) {
        if (!isRefusal(error)) throw error;
        refusals.push([doneCount, faultOf(error)]);
      }
      doneCount++;
    }
    store.commit(durability);
    say({ type: 'tasks', doneCount, fault: null, refusals });
  } catch (error) {
    say({ type: 'tasks', doneCount, fault: faultOf(error), refusals });
  } finally {
    store.syncOnlyOnCommit = false;
  }
}

function* piecesOf(store: SqliteStore, { sessionId, skipDamaged, shape }: ReadRequest): Generator<unknown> {
  if (shape === 'columns') {
    // A view is sent with all that it is a view of: each column by itself, then.
    for (const streams of store.readPacketColumns(sessionId, { skipDamaged })) yield streams.map(ownColumns);
    return;
  }
  let piece: StoredPacket[] = [];
  for (const packet of store.readPackets(sessionId, { skipDamaged })) {
    piece.push(packet);
    if (piece.length < packetsPerPiece) continue;
    yield encodeBatch(piece);
    piece = [];
  }
  if (piece.length > 0) yield encodeBatch(piece);
}

const ownColumns = ({ atMs, wallAtMs, offsets, bytes, ...names }: PacketColumns): PacketColumns => ({
  ...names,
  atMs: atMs.slice(),
  wallAtMs: wallAtMs.slice(),
  offsets: offsets.slice(),
  bytes: Uint8Array.from(bytes),
});

const store = open();
const readers = new Map<number, Generator<unknown>>();

function next(readerId: number): void {
  const reader = readers.get(readerId);
  if (reader === undefined) return;
  try {
    const step = reader.next();
    if (step.done === true) readers.delete(readerId);
    say({ type: 'piece', readerId, piece: step.done === true ? null : step.value });
  } catch (error) {
    readers.delete(readerId);
    say({ type: 'piece', readerId, piece: null, fault: faultOf(error) });
  }
}

if (store !== undefined)
  port.on('message', (message: ToRecorder) => {
    if (message.type === 'tasks') performAll(store, message.tasks, message.durability);
    else if (message.type === 'call') call(store, message.call);
    else if (message.type === 'read') readers.set(message.readerId, piecesOf(store, message.request));
    else if (message.type === 'next') next(message.readerId);
    else if (message.type === 'endRead') readers.delete(message.readerId);
    else {
      let fault: Fault | null = null;
      try {
        store.close();
      } catch (error) {
        fault = faultOf(error);
      }
      say({ type: 'closed', fault });
      port.close();
    }
  });
