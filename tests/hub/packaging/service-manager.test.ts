// What a service manager hears of a real hub by a real socket (sd_notify(3)): ready, alive, nothing while it hangs, stopping. The
// listener is Python's, because Node has no datagrams to a local socket; the words are sent by the real systemd-notify.

import { type ChildProcess, execFileSync, spawn } from 'node:child_process';
import { existsSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test, vi } from 'vitest';
import { buildHub, startHub } from '../../support/hub-process.ts';

const listener = `
import socket, sys, time
heard = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
heard.bind(sys.argv[1])
print("0 LISTENING", flush=True)
while True:
    # After its word systemd-notify sends a descriptor with BARRIER=1 and waits until it is closed (sd_notify_barrier(3)).
    data, fds, _, _ = socket.recv_fds(heard, 4096, 8)
    for fd in fds: socket.close(fd)
    for word in data.decode().splitlines(): print(int(time.monotonic() * 1000), word, flush=True)
`;

const isThere = (program: string, args: readonly string[]): boolean => {
  try {
    execFileSync(program, args, { stdio: 'ignore' });
    return true;
  } catch {
    return false;
  }
};
const canTry =
  process.platform === 'linux' &&
  isThere('systemd-notify', ['--version']) &&
  isThere('python3', ['-c', 'import socket; socket.recv_fds']);

describe.runIf(canTry)('a service manager', () => {
  vi.setConfig({ testTimeout: 90_000 });
  const patience = { timeout: 30_000, interval: 20 };
  let folder = '';
  let manager: ChildProcess | undefined;
  beforeAll(() => {
    buildHub();
    folder = mkdtempSync(join(tmpdir(), 'slackwater-manager-'));
  });
  afterAll(() => {
    manager?.kill('SIGKILL');
    rmSync(folder, { recursive: true, force: true, maxRetries: 5 });
  });

  test('hears that a hub is ready and alive, nothing while it hangs, and that it stops', async () => {
    const socket = join(folder, 'notify');
    manager = spawn('python3', ['-c', listener, socket], { stdio: ['ignore', 'pipe', 'inherit'] });
    let text = '';
    manager.stdout?.on('data', (data) => {
      text += String(data);
    });
    const heard = () =>
      text.split('\n').flatMap((line) => {
        const [atMs, word] = line.split(' ');
        return word === undefined || word.startsWith('BARRIER') ? [] : [{ atMs: Number(atMs), word }];
      });
    const aliveTimes = () => heard().flatMap(({ atMs, word }) => (word === 'WATCHDOG=1' ? [atMs] : []));
    await vi.waitFor(() => expect(existsSync(socket) && text.includes('LISTENING')).toBe(true), patience);

    const hub = await startHub(
      ['demo', '--port', '0', '--data', join(folder, 'data')],
      { SLACKWATER_LOG: 'error', NOTIFY_SOCKET: socket, WATCHDOG_USEC: '1000000' },
      { watched: true },
    );
    await vi.waitFor(() => expect(aliveTimes().length).toBeGreaterThan(3), patience);
    expect(heard()[1]?.word).toBe('READY=1');

    hub.signal('SIGSTOP');
    // Said by the watchdog, which goes on: 2 s without a word from the hub.
    await vi.waitFor(() => expect(hub.output()).toMatch(/WATCHDOG.*stood still/), patience);
    const before = aliveTimes().at(-1) ?? Number.NaN;
    hub.signal('SIGCONT');
    await vi.waitFor(() => expect(aliveTimes().at(-1)).toBeGreaterThan(before), patience);
    const after = aliveTimes().find((atMs) => atMs > before) ?? Number.NaN;
    // More than WATCHDOG_USEC: a manager would have ended it.
    expect(after - before).toBeGreaterThan(1_000);

    expect(await hub.stop('SIGTERM')).toBe(0);
    await vi.waitFor(() => expect(heard().at(-1)?.word).toBe('STOPPING=1'), patience);
  });
});
