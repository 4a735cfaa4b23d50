// One round of one peer under the load: its processes (of the bundled programs), the pages beside it, and what they measured.

import { execFileSync, fork, spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import { bundleFolder } from './bundle-peers.ts';
import type { PeerLoad } from './load.ts';
import type { OwnTime } from './own-time.ts';

export const peerNames = ['hub', 'ws', 'mosquitto', 'nats-server'] as const;
export type PeerName = (typeof peerNames)[number];

export interface PeerRound {
  readonly delaysMs: readonly number[];
  readonly alarmDelaysMs: readonly number[];
  readonly bytesPerPagePerSecond: number;
  readonly cpuPercent: number;
  /** Of a timed load: hub and `ws` alone. */
  readonly ownTime?: OwnTime;
}

interface Running {
  readonly port: number;
  readonly cookie?: string;
  /** Begins the load; session zero of the hub by the machine's monotonic clock. */
  begin(): Promise<{ zeroMs?: number }>;
  cpuMs(): Promise<number>;
  ownTime(): Promise<OwnTime | undefined>;
  end(): Promise<void>;
}

/** Most of what just-in-time compilers do is done by then; the hub's go on for a minute. */
const settleMs = Number(process.env['BENCH_SETTLE_S'] ?? 30) * 1_000;

/** The program's path, or undefined where this machine hasn't it. */
export function pathOf(program: string): string | undefined {
  try {
    return execFileSync('sh', ['-c', `command -v ${program}`], {
      encoding: 'utf8',
      env: { ...process.env, PATH: `${process.env['PATH'] ?? ''}:/usr/sbin:/usr/local/sbin` },
    }).trim();
  } catch {
    return undefined;
  }
}

/** `profileFolder`: where Node writes what each of the peer's threads spent its time on; the peer is then slower. */
export async function runPeer(
  name: PeerName,
  load: PeerLoad,
  measureMs: number,
  profileFolder?: string,
): Promise<PeerRound> {
  const peer = await startPeer(name, load, profileFolder);
  const pages = forkChild('page-clients.js', []);
  try {
    const protocol = name === 'mosquitto' ? 'mqtt' : name === 'nats-server' ? 'nats' : name;
    const ready = once(pages, 'message');
    pages.send({ protocol, port: peer.port, count: load.pageCount, cookie: peer.cookie });
    await ready;
    const { zeroMs } = await peer.begin();
    if (zeroMs !== undefined) pages.send({ zeroMs });
    await pause(settleMs);
    const cpuBeforeMs = await peer.cpuMs();
    pages.send('measure');
    await pause(measureMs);
    const ownTime = load.timed ? await peer.ownTime() : undefined;
    const cpuMs = (await peer.cpuMs()) - cpuBeforeMs;
    const reported = once(pages, 'message');
    pages.send('report');
    const [{ delaysMs, alarmDelaysMs, byteCount }] = (await reported) as [
      { delaysMs: number[]; alarmDelaysMs: number[]; byteCount: number },
    ];
    return {
      delaysMs,
      alarmDelaysMs,
      bytesPerPagePerSecond: byteCount / load.pageCount / (measureMs / 1_000),
      cpuPercent: (100 * cpuMs) / measureMs,
      ...(ownTime !== undefined && { ownTime }),
    };
  } finally {
    pages.kill();
    await peer.end();
  }
}

const forkChild = (file: string, args: readonly string[], nodeOptions: readonly string[] = []) =>
  fork(join(bundleFolder, file), [...args], { execArgv: [...nodeOptions] });

async function startPeer(name: PeerName, load: PeerLoad, profileFolder?: string): Promise<Running> {
  if (name === 'mosquitto' || name === 'nats-server') return startBroker(name, load);
  const child = forkChild(
    name === 'hub' ? 'hub-peer.js' : 'relay-peer.js',
    [JSON.stringify(load)],
    profileFolder === undefined ? [] : ['--cpu-prof', `--cpu-prof-dir=${profileFolder}`],
  );
  const ask = async (message: string) => {
    const answered = once(child, 'message');
    child.send(message);
    return ((await answered) as [{ zeroMs?: number; cpuMs?: number; ownTime?: OwnTime }])[0];
  };
  const [{ port, cookie }] = (await once(child, 'message')) as [{ port: number; cookie?: string }];
  return {
    port,
    ...(cookie !== undefined && { cookie }),
    begin: async () => (name === 'hub' ? ask('begin') : {}),
    cpuMs: async () => (await ask('cpu')).cpuMs ?? Number.NaN,
    ownTime: async () => (await ask('ownTime')).ownTime,
    async end() {
      const ended = once(child, 'exit');
      child.send('end');
      await ended;
    },
  };
}

async function freePort(): Promise<number> {
  const server = createServer().listen(0, '127.0.0.1');
  await once(server, 'listening');
  const address = server.address();
  server.close();
  return typeof address === 'object' && address !== null ? address.port : 0;
}

async function startBroker(name: 'mosquitto' | 'nats-server', load: PeerLoad): Promise<Running> {
  const port = await freePort();
  const folder = mkdtempSync(join(tmpdir(), 'slackwater-broker-'));
  const settings = join(folder, 'mosquitto.conf');
  // It holds small messages back to send several together unless told not to.
  writeFileSync(
    settings,
    `listener ${port} 127.0.0.1\nallow_anonymous true\npersistence false\nset_tcp_nodelay true\n`,
  );
  const args = name === 'mosquitto' ? ['-c', settings] : ['-a', '127.0.0.1', '-p', String(port)];
  const broker = spawn(pathOf(name) ?? name, args, { stdio: 'ignore' });
  await pause(500);
  let publisher: ReturnType<typeof fork> | undefined;
  return {
    port,
    async begin() {
      const protocol = name === 'mosquitto' ? 'mqtt' : 'nats';
      publisher = forkChild('broker-publisher.js', [
        JSON.stringify(load),
        JSON.stringify({ protocol, port }),
      ]);
      await once(publisher, 'message');
      return {};
    },
    cpuMs: async () => processorMsOf(broker.pid ?? 0),
    ownTime: async () => undefined,
    async end() {
      publisher?.kill();
      const ended = once(broker, 'exit');
      broker.kill();
      await ended;
      rmSync(folder, { recursive: true, force: true });
    },
  };
}

/** User and system time of a process, from /proc/PID/stat (proc(5): fields 14 and 15, in hundredths of a second). */
function processorMsOf(pid: number): number {
  const fields = readFileSync(`/proc/${pid}/stat`, 'utf8').split(') ').at(-1)?.split(' ') ?? [];
  return (Number(fields[11]) + Number(fields[12])) * 10;
}
