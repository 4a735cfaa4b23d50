// A sensor whose address changes while the hub is off: known again by its serial number, or because a person said so once.

import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { type SensorMemory, sensorMemoryIn } from '../../hub/sensors/bluetooth/sensor-memory.ts';
import { Air, type AirSensor, idOf } from './air/air.ts';
import { HubBench } from './rig/hub-bench.ts';
import { until } from './rig/virtual-air.ts';

let directory: string;
let air: Air;
let memory: SensorMemory;
beforeEach(async () => {
  directory = mkdtempSync(join(tmpdir(), 'slackwater-known-'));
  memory = sensorMemoryIn(directory, (message, error) => {
    throw new Error(message, { cause: error });
  });
  air = await Air.open();
});
afterEach(() => {
  air.close();
  rmSync(directory, { recursive: true, force: true });
});

const strap = (serial: string | null): AirSensor => ({
  id: 's',
  address: 'c4:b1:a2:33:0a:01',
  random: true,
  name: 'Strap of old',
  services: [
    { uuid: '1800', characteristics: [{ uuid: '2a00', properties: ['read'], value: '53' }] },
    {
      uuid: '180d',
      characteristics: [
        { uuid: '2a37', properties: ['notify'], stream: { kind: 'heartRate', everyMs: 200 } },
      ],
    },
    ...(serial === null
      ? []
      : [
          {
            uuid: '180a',
            characteristics: [
              { uuid: '2a25', properties: ['read'], value: Buffer.from(serial).toString('hex') },
            ],
          },
        ]),
  ],
});
const start = (sensor: AirSensor): Promise<HubBench> =>
  HubBench.start({
    adapters: [`unix:${air.socketPath}`],
    wanted: [{ sensorId: idOf(sensor), plan: { name: 'nothing known' } }],
    memory,
  });

test('by its serial number, after a restart of the hub; its name is there before it is heard', async () => {
  const sensor = strap('SN-4711');
  await air.add(sensor);
  const first = await start(sensor);
  await until('readings', () => first.packets.length > 3);
  await until('the serial number', () => memory.load()[0]?.serialNumber === 'SN-4711');
  await first.source.stop();
  await air.order({ do: 'set', id: sensor.id, on: false });
  await air.order({ do: 'set', id: sensor.id, address: 'c4:b1:a2:33:0a:99' });

  const second = await start(sensor);
  expect(second.statuses[0]).toMatchObject({
    sensorId: idOf(sensor),
    name: 'Strap of old',
    link: 'searching',
  });
  await air.order({ do: 'set', id: sensor.id, on: true });
  await until('readings again', () => second.packets.some(({ characteristic }) => characteristic === '2a37'));
  expect(new Set(second.packets.map(({ sensorId }) => sensorId))).toEqual(new Set([idOf(sensor)]));
  await until('the address to be kept', () => memory.load()[0]?.addresses?.[0] === 'c4b1a2330a99');
  await second.source.stop();

  // Now by the address at once, without another look at its number.
  const third = await start(sensor);
  await until('readings once more', () => third.packets.length > 3);
  expect(air.of('connected').length).toBe(3);
  await third.source.stop();
});

test('one that tells no serial number is listed as another, until a person says that it is the same; and takes that back', async () => {
  const sensor = strap(null);
  await air.add(sensor);
  const first = await start(sensor);
  await until('readings', () => first.packets.length > 3);
  await first.source.stop();
  await air.order({ do: 'set', id: sensor.id, address: 'c4:b1:a2:33:0a:98' });

  const second = await start(sensor);
  const other = 'bt:c4b1a2330a98';
  await until('the other to be listed', () => second.statuses.some(({ sensorId }) => sensorId === other));
  expect(second.packets).toEqual([]);
  second.source.setSameSensor(other, idOf(sensor));
  await until('readings', () => second.packets.length > 3);
  expect(new Set(second.packets.map(({ sensorId }) => sensorId))).toEqual(new Set([idOf(sensor)]));
  expect(second.gone).toContain(other);
  await until('it to be kept', () => memory.load()[0]?.addresses?.length === 1);
  await second.source.stop();

  const third = await start(sensor);
  await until('readings after another restart', () => third.packets.length > 3);
  expect(third.source.sameSensors).toEqual([{ sensorId: other, as: idOf(sensor) }]);
  third.source.setSameSensor(other, null);
  await until('the link to end', () => air.of('disconnected').length >= 3);
  await until('the other to be listed again', () =>
    third.statuses.some(({ sensorId }) => sensorId === other),
  );
  await until('it to be forgotten', () => memory.load()[0]?.addresses?.length === 0);
  await third.source.stop();
});
