// The program as it ships, on a virtual adapter: a remembered sensor is recorded, and ending it closes the link.

import { spawn } from 'node:child_process';
import { fileURLToPath } from 'node:url';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { openSqliteStore } from '../../hub/recorder/sqlite-store.ts';
import { percent } from '../../shared/units.ts';
import { until, VirtualAir } from './rig/virtual-air.ts';

const program = fileURLToPath(new URL('../../hub/slackwater.mjs', import.meta.url));
let air: VirtualAir;
beforeAll(async () => {
  air = await VirtualAir.open();
});
afterAll(() => air.close());

test.each(['SIGINT', 'SIGTERM'] as const)(
  'start links an assigned sensor by itself; %s closes the link',
  async (signal) => {
    const strap = await air.sensor(`Program ${signal}`, ['heartRate']);
    const data = air.path(`data-${signal}`);
    const store = openSqliteStore({ directory: data });
    store.saveAthlete({
      athleteId: 'a1',
      name: 'Rig',
      simulated: false,
      settings: {
        floorSpo2Percent: percent(88),
        thresholdsPercent: [],
        heartRateLowBpm: null,
        heartRateHighBpm: null,
        maxHoldDurationMs: null,
        forecastAlarm: 'high',
      },
    });
    store.assignSensor(strap.sensorId, 'a1');
    store.close();
    const output: string[] = [];
    const hub = spawn(
      process.execPath,
      [
        program,
        'start',
        '--data',
        data,
        '--port',
        '0',
        '--no-open',
        '--adapter',
        `unix:${air.controllerSocket}`,
      ],
      { stdio: ['ignore', 'pipe', 'pipe'] },
    );
    air.adopt(hub);
    hub.stdout.on('data', (chunk: Buffer) => output.push(chunk.toString()));
    hub.stderr.on('data', (chunk: Buffer) => output.push(chunk.toString()));
    const ended = new Promise<number | null>((resolve) => hub.once('exit', (code) => resolve(code)));
    await until(
      `twenty readings; the program said: ${output.join('')}`,
      () => strap.sentNumbers('2a37').length >= 20,
    );
    hub.kill(signal);
    expect(await ended, output.join('')).toBe(0);
    await until('the link to be closed', () => strap.log.some((message) => message.type === 'disconnected'));
    strap.kill();
  },
);
