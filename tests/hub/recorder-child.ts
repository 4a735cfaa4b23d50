// A process to be killed: records packets and says on its output how many are committed. Started by tests and the bench.

import { writeSync } from 'node:fs';
import type { StoredPacket } from '../../hub/base/ports/stored-session.ts';
import { openSqliteStore } from '../../hub/recorder/sqlite-store.ts';
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

const [mode, directory, durability, sealAtBytes] = process.argv.slice(2);
if (mode === 'recordUntilKilled' && directory !== undefined)
  recordUntilKilled(directory, durability === 'process' ? 'process' : 'disk', Number(sealAtBytes));
