// What real sensors do and the emulator's do not, each by sensors of the independent air: raw HCI and ATT, no code in
// common with the hub, its library or the other rig.

import { afterAll, beforeAll, expect, test } from 'vitest';
import { Air, type AirSensor, idOf } from './air/air.ts';
import { HubBench } from './rig/hub-bench.ts';
import { until } from './rig/virtual-air.ts';

let air: Air;
beforeAll(async () => {
  air = await Air.open();
});
afterAll(() => air.close());

const device = { uuid: '1800', characteristics: [{ uuid: '2a00', properties: ['read'], value: '53' }] };
const heartRate = (everyMs = 200) => ({
  uuid: '180d',
  characteristics: [
    { uuid: '2a37', properties: ['notify'], stream: { kind: 'heartRate' as const, everyMs } },
  ],
});
let sensors = 0;
const strap = (more: Partial<AirSensor> = {}): AirSensor => {
  sensors += 1;
  const last = sensors.toString(16).padStart(2, '0');
  return {
    id: `s${sensors}`,
    address: `c4:b1:a2:33:04:${last}`,
    random: true,
    name: `Air ${sensors}`,
    services: [device, heartRate()],
    ...more,
  };
};
async function hubFor(sensor: AirSensor, ...others: readonly AirSensor[]): Promise<HubBench> {
  for (const each of [sensor, ...others]) await air.add(each);
  return HubBench.start({
    adapters: [`unix:${air.socketPath}`],
    wanted: [sensor, ...others].map((each) => ({ sensorId: idOf(each), plan: { name: each.name } })),
  });
}

test('a sensor is found, linked and read', async () => {
  const sensor = strap();
  const bench = await hubFor(sensor);
  try {
    await until('readings', () => bench.packets.length > 5);
    expect(bench.packets[0]!.sensorId).toBe(idOf(sensor));
    const link = air.of('connected', sensor.id)[0]!;
    expect(link.timeout).toBe(5_120);
  } finally {
    await bench.source.stop();
  }
});

test('scanning that the adapter refused, three times, begins again by itself', async () => {
  const sensor = strap({ on: false });
  const bench = await hubFor(sensor);
  try {
    await until('scanning', () => air.of('scan').at(-1)?.on === true);
    // Command Disallowed, as while another program scans; the end of scanning is refused too.
    await air.order({ do: 'refuse', opcode: 0x200c, codes: [0x0c, 0x0c, 0x0c, 0x0c, 0x0c, 0x0c] });
    await until('the refusals', () => air.of('refused').length >= 6, 30_000);
    await air.order({ do: 'set', id: sensor.id, on: true });
    await until('readings after all', () => bench.packets.length > 2);
    expect(bench.source.health[0]!.starts).toBe(1);
  } finally {
    await bench.source.stop();
  }
}, 60_000);
