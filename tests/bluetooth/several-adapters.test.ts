// Two adapters on one air, each its own radio process: sensors are shared between them, one that is unplugged loses its own to the
// other, and one that is full is helped by another that is plugged in.

import { afterAll, beforeAll, expect, test } from 'vitest';
import { systemClock } from '../../hub/base/system-clock.ts';
import { RadioProcess } from '../../hub/sensors/bluetooth/radio-process.ts';
import { Air, idOf } from './air/air.ts';
import { AdapterTap } from './rig/adapter-tap.ts';
import { buildRig } from './rig/build-rig.ts';
import { HubBench } from './rig/hub-bench.ts';
import { until, VirtualAir } from './rig/virtual-air.ts';

let air: VirtualAir;
beforeAll(async () => {
  air = await VirtualAir.open();
});
afterAll(() => air.close());

const linksOf = (bench: HubBench): number[] => bench.source.radios.map(({ sensorIds }) => sensorIds.length);

test('four sensors are shared; an adapter that is unplugged loses its own to the other, which keeps its links', async () => {
  const sensors = [];
  for (const letter of ['A', 'B', 'C', 'D'])
    sensors.push(await air.sensor(`Shared ${letter}`, ['heartRate'], { everyMs: 200 }));
  const tap = await AdapterTap.open(air.controllerSocket, air.path('second'));
  const bench = await HubBench.start({
    adapters: [`unix:${air.controllerSocket}`, `unix:${air.path('second')}`],
  });
  try {
    // An adapter that is ready first does not wait for the other: both are, before anything is to be linked.
    await until('both adapters', () => bench.source.radios.every(({ state }) => state === 'on'));
    bench.source.setWantedSensors(new Set(sensors.map(({ sensorId }) => sensorId)));
    await Promise.all(sensors.map((sensor) => bench.untilReading(sensor, '2a37', 3)));
    console.log(`four sensors on two adapters: ${linksOf(bench).join(' and ')}`);
    expect(linksOf(bench).every((links) => links > 0)).toBe(true);
    expect(linksOf(bench).reduce((sum, links) => sum + links, 0)).toBe(4);
    const [first, second] = bench.source.radios;
    const kept = sensors.filter(({ sensorId }) => first!.sensorIds.includes(sensorId));
    tap.unplug();
    const unpluggedAtMs = performance.now();
    await until('the loss', () => bench.source.radios[1]!.state !== 'on');
    await until('all on the first', () => linksOf(bench)[0] === 4);
    await Promise.all(sensors.map((sensor) => bench.untilReading(sensor, '2a37', 3)));
    console.log(
      `${second!.sensorIds.length} sensors were on the other adapter ${(performance.now() - unpluggedAtMs).toFixed(0)} ms after theirs was unplugged`,
    );
    for (const sensor of kept) expect(bench.countsOf(sensor).losses).toBe(0);
    // No packet was delivered twice, whichever adapter it came by.
    for (const sensor of sensors) {
      const numbers = bench.numbersOf(sensor, '2a37');
      expect(new Set(numbers).size).toBe(numbers.length);
      expect(sensor.log.filter(({ type }) => type === 'accepted').length).toBeLessThanOrEqual(2);
    }
  } finally {
    await bench.source.stop();
    tap.close();
    for (const sensor of sensors) sensor.kill();
  }
});

test('an adapter with no more places says so, and what it cannot take is linked by another as soon as that is there', async () => {
  const full = await Air.open('--most-links', '2');
  const other = await Air.open();
  const { radioEntry } = await buildRig();
  // The same three sensors within reach of both: an air has one adapter, so that the last stands in each.
  const plans = [1, 2, 3].map((number) => ({
    id: `s${number}`,
    address: `c4:b1:a2:33:09:0${number}`,
    random: true,
    name: `Crowd ${number}`,
    services: [
      { uuid: '1800', characteristics: [{ uuid: '2a00', properties: ['read'], value: '53' }] },
      {
        uuid: '180d',
        characteristics: [
          { uuid: '2a37', properties: ['notify'], stream: { kind: 'heartRate' as const, everyMs: 250 } },
        ],
      },
    ],
  }));
  for (const plan of plans) await full.add(plan);
  const bench = await HubBench.start({
    adapters: [`unix:${full.socketPath}`],
    wanted: plans.map((plan) => ({ sensorId: idOf(plan), plan: { name: plan.name } })),
  });
  try {
    await until('two links', () => linksOf(bench)[0] === 2);
    await until('the limit to be told', () =>
      bench.statuses.some(({ detail }) => detail?.code === 'sensor.linkLimit'),
    );
    expect(bench.source.radios[0]).toMatchObject({ state: 'on', freePlaces: 0 });
    const left = plans.find((plan) => !bench.source.radios[0]!.sensorIds.includes(idOf(plan)))!;
    await full.order({ do: 'set', id: left.id, on: false });
    await other.add(left);
    bench.source.addRadio({
      radioId: 'second',
      transport: 'kernel',
      name: 'second',
      radio: new RadioProcess({
        config: { library: '@abandonware/noble', adapterIndex: null, hciAddress: `unix:${other.socketPath}` },
        clock: systemClock,
        log: () => undefined,
        entry: radioEntry,
      }),
    });
    await until('the third', () => bench.packets.some(({ sensorId }) => sensorId === idOf(left)));
    expect(linksOf(bench)).toEqual([2, 1]);
  } finally {
    await bench.source.stop();
    full.close();
    other.close();
  }
});
