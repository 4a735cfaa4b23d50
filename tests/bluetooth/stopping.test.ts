// The hub ends or its radio process fails: links are closed, or made again, and nothing is left behind.

import { fork } from 'node:child_process';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { AdapterTap } from './rig/adapter-tap.ts';
import { buildRig } from './rig/build-rig.ts';
import { HubBench } from './rig/hub-bench.ts';
import { until, VirtualAir } from './rig/virtual-air.ts';

let air: VirtualAir;
beforeAll(async () => {
  air = await VirtualAir.open();
});
afterAll(() => air.close());

const isAlive = (processId: number): boolean => {
  try {
    process.kill(processId, 0);
    return true;
  } catch {
    return false;
  }
};

test.each(['SIGINT', 'SIGTERM', 'SIGKILL'] as const)(
  'a hub ended by %s closes its links and leaves no process',
  async (signal) => {
    const { hubEntry, radioEntry } = await buildRig();
    const strap = await air.sensor(`Strap ${signal}`, ['heartRate']);
    const hub = fork(hubEntry, [`unix:${air.controllerSocket}`, strap.sensorId, radioEntry], {
      serialization: 'advanced',
      stdio: ['ignore', 'inherit', 'inherit', 'ipc'],
    });
    air.adopt(hub);
    let packets = 0;
    hub.on('message', () => {
      packets += 1;
    });
    await until('readings in the other process', () => packets >= 3);
    const ended = new Promise<number | null>((resolve) => hub.once('exit', (code) => resolve(code)));
    hub.kill(signal);
    expect(await ended).toBe(signal === 'SIGKILL' ? null : 0);
    // Killed outright, the hub closes nothing; its radio process sees the pipe end and does.
    await until('the link to be closed', () => strap.log.some((message) => message.type === 'disconnected'));
    expect(strap.log.filter((message) => message.type === 'accepted')).toHaveLength(1);
    strap.kill();
  },
);

test.each([
  ['SIGKILL', 'radioProcessFailed: it ended with SIGKILL'],
  ['SIGSTOP', 'radioProcessFailed: it stopped answering'],
] as const)('a radio process hit by %s is replaced and the links are made again', async (signal, logged) => {
  const strap = await air.sensor(`Radio ${signal}`, ['heartRate']);
  // The tap ends a dead adapter's links, as the sensors' supervision timeout would.
  const tap = await AdapterTap.open(air.controllerSocket, air.path(`radio-${signal}`));
  const bench = await HubBench.start({ adapters: [`unix:${air.path(`radio-${signal}`)}`], wanted: [strap] });
  try {
    await bench.untilReading(strap, '2a37', 3);
    const processId = bench.radioProcessId()!;
    expect(isAlive(processId)).toBe(true);
    process.kill(processId, signal);
    await until('the failure to be noticed', () => bench.logLines.some((line) => line.includes(logged)));
    await until('the failure to be told', () => (bench.notices.at(-1) ?? '').includes('started again'));
    await bench.untilReading(strap, '2a37', 3);
    expect(bench.notices.at(-1)).toBeNull();
    expect(isAlive(processId)).toBe(false);
    expect(bench.radioProcessId()).not.toBe(processId);
    const numbers = bench.numbersOf(strap, '2a37');
    expect(numbers).toEqual([...new Set(numbers)].sort((a, b) => a - b));
  } finally {
    await bench.source.stop();
    tap.close();
    strap.kill();
  }
  await until('the radio process to end', () => !isAlive(bench.lastProcessId));
});
