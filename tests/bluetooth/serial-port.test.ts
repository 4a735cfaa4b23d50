// An adapter on a serial port: the H4 transport through the serial library, on a pseudo terminal.

import { spawn } from 'node:child_process';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { buildRig } from './rig/build-rig.ts';
import { HubBench } from './rig/hub-bench.ts';
import { until, VirtualAir } from './rig/virtual-air.ts';

let air: VirtualAir;
beforeAll(async () => {
  air = await VirtualAir.open();
});
afterAll(() => air.close());

test('a sensor is read through an adapter on a serial port, and pulling the port is told', async () => {
  const { serialBridge } = await buildRig();
  const bridge = spawn(serialBridge, [air.controllerSocket], { stdio: ['ignore', 'pipe', 'inherit'] });
  air.adopt(bridge);
  let port = '';
  bridge.stdout.on('data', (chunk: Buffer) => {
    port += chunk.toString();
  });
  await until('the serial port', () => port.includes('\n'));
  const strap = await air.sensor('Serial strap', ['heartRate']);
  const bench = await HubBench.start({ adapters: [`serial:${port.trim()}@115200`], wanted: [strap] });
  try {
    await bench.untilReading(strap, '2a37', 10);
    const numbers = bench.numbersOf(strap, '2a37');
    expect(numbers).toEqual(strap.sentNumbers('2a37').slice(0, numbers.length));
    bridge.kill('SIGKILL');
    await until('the loss of the port to be told', () => (bench.notices.at(-1) ?? '').includes(port.trim()));
    expect(bench.link(strap)).toBe('lost');
  } finally {
    await bench.source.stop();
    strap.kill();
  }
});
