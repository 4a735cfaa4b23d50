// A process to be killed: records packets and says on its output how many are committed. Started by tests and the bench.

import { writeSync } from 'node:fs';
import { HubError } from '../../hub/base/hub-error.ts';
import type { StoredPacket } from '../../hub/base/ports/stored-session.ts';
import { openSqliteStore, type SqliteStore } from '../../hub/recorder/sqlite-store.ts';
import { monotonicMs, wallMs } from '../../shared/units.ts';

/** Packet `n` of the recording, so that whoever reads it knows what it must hold. */
export function numberedPacket(n: number): StoredPacket {
  const bytes = new Uint8Array(4 + (n % 17));
  new DataView(bytes.buffer).setUint32(0, n, true);
  for (let i = 4; i < bytes.length; i++) bytes[i] = n * i;
  return {
    sensorId: n % 5 === 0 ? 'hr' : 'oxi',
    characteristic: n % 5 === 0 ? '2a37' : '2a5f',
    bytes,
    atMs: monotonicMs(n * 8),
    wallAtMs: wallMs(1_790_000_000_000 + n * 8),
  };
}

/** Runs until it is killed: up to nine packets and then a commit, over and over, sealing often. */
function recordUntilKilled(directory: string, durability: 'disk' | 'process', sealAtBytes: number): void {
  const store = openSqliteStore({ directory, sealAtBytes });
  store.startSession({
    sessionId: 'killed',
    startedWallAtMs: wallMs(1_790_000_000_000),
    simulated: true,
    source: 'simulated',
    title: 'To be killed',
    athletes: [],
  });
  let appended = 0;
  for (let round = 0; ; round++) {
    for (let i = 0; i <= round % 9; i++) store.appendPacket('killed', numberedPacket(appended++));
    store.commit(durability);
    // Straight to the pipe: a line that is in it outlives this process.
    writeSync(1, `${appended}\n`);
  }
}

/** Rounds that each commit, some with a mark, then the end of the session; what a fault kept from being written is tried again. */
function recordThroughFault(directory: string): void {
  const say = (line: string): void => void writeSync(1, `${line}\n`);
  let store: SqliteStore | undefined;
  const attempt = (action: () => void): boolean => {
    try {
      action();
      return true;
    } catch (error) {
      if (!(error instanceof HubError)) throw error;
      say(`fault ${error.code}`);
      return false;
    }
  };
  for (let tries = 0; store === undefined && tries < 3; tries++)
    attempt(() => {
      store = openSqliteStore({ directory, sealAtBytes: 700 });
    });
  if (store === undefined) return;
  const opened = store;
  const start = {
    sessionId: 'faulted',
    startedWallAtMs: wallMs(1_790_000_000_000),
    simulated: true,
    source: 'simulated' as const,
    title: 'Through a fault',
    athletes: [],
  };
  if (!attempt(() => opened.startSession(start)) && !attempt(() => opened.startSession(start))) return;
  let appended = 0;
  for (let round = 0; round < 12; round++) {
    for (let i = 0; i < 9; i++) opened.appendPacket('faulted', numberedPacket(appended++));
    const committed = attempt(() => {
      if (round % 4 === 3)
        opened.saveMark('faulted', {
          mark: { markId: `m${round}`, athleteId: 'ana', kind: 'note', atMs: monotonicMs(1), text: null },
          removed: false,
        });
      else opened.commit(round % 2 === 0 ? 'disk' : 'process');
    });
    if (committed) say(`committed ${appended}`);
    if (committed && round % 4 === 3) say(`marked m${round}`);
  }
  for (let tries = 0; tries < 3; tries++)
    if (attempt(() => opened.endSession('faulted', monotonicMs(appended * 8)))) {
      say(`committed ${appended}`);
      say('ended');
      break;
    }
  attempt(() => opened.close());
}

const [mode, directory, durability, sealAtBytes] = process.argv.slice(2);
if (mode === 'recordUntilKilled' && directory !== undefined)
  recordUntilKilled(directory, durability === 'process' ? 'process' : 'disk', Number(sealAtBytes));
if (mode === 'recordThroughFault' && directory !== undefined) recordThroughFault(directory);
