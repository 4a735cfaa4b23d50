// What real sensors do and the emulator's do not, each by sensors of the independent air: raw HCI and ATT, no code in
// common with the hub, its library or the other rig.

import { afterAll, beforeAll, expect, test } from 'vitest';
import { monotonicMs } from '../../shared/units.ts';
import { createPacketReader } from '../../src/signal/packet-reader.ts';
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

test('fades of half a second to three seconds cost no link and no packet, and the longest are told', async () => {
  const [first, second] = [strap(), strap()];
  const bench = await hubFor(first, second);
  const numbersOf = (sensor: AirSensor): number[] =>
    bench.packets
      .filter(({ sensorId, characteristic }) => sensorId === idOf(sensor) && characteristic === '2a37')
      .map(({ bytes }) => bytes[2]! | (bytes[3]! << 8));
  try {
    await until('both to send', () => [first, second].every((sensor) => numbersOf(sensor).length > 3));
    const fadesMs = [500, 700, 1_000, 1_200, 2_000, 3_000];
    for (const [index, ms] of fadesMs.entries()) {
      const faded = index % 2 === 0 ? first : second;
      await air.order({ do: 'fade', id: faded.id, ms });
      const before = numbersOf(faded).length;
      await until(`word after a fade of ${ms} ms`, () => numbersOf(faded).length > before + 3);
    }
    const losses = [first, second].map((sensor) => bench.source.counts.sensors.get(idOf(sensor))!.losses);
    const told = bench.statuses.filter(({ link }) => link === 'lost').length;
    console.log(`${fadesMs.length} fades of 0.5 to 3 s: ${losses} links lost, ${told} times told as lost`);
    expect(losses).toEqual([0, 0]);
    for (const sensor of [first, second]) {
      const numbers = numbersOf(sensor);
      expect(numbers).toEqual(numbers.map((_, index) => index + 1));
    }
    // Three seconds without a word are told; half a second is not.
    expect(told).toBeGreaterThan(0);
    expect(told).toBeLessThan(4);
  } finally {
    await bench.source.stop();
  }
}, 60_000);

test('a sensor that is gone for good is told within three seconds of its last packet', {
  retry: 2,
}, async () => {
  const sensor = strap();
  const bench = await hubFor(sensor);
  try {
    await until('readings', () => bench.packets.length > 5);
    await air.order({ do: 'vanish', id: sensor.id });
    await until('the loss', () => bench.statuses.at(-1)?.link === 'lost');
    const silentMs =
      bench.statuses.find(({ link }) => link === 'lost')!.atMs - bench.packets.at(-1)!.receivedAtMs;
    console.log(`gone for good: told after ${silentMs.toFixed(0)} ms`);
    expect(silentMs).toBeLessThan(3_000);
    await until('its link to end', () => air.of('disconnected', sensor.id).length > 0);
  } finally {
    await bench.source.stop();
  }
});

test('what a sensor asks of its link is answered: granted, within what a hold can bear', async () => {
  // Interval 50 to 100 ms, asleep for 9 of 10, 420 ms: as some straps ask to save their battery.
  const sensor = strap({ parameterRequest: { min: 40, max: 80, latency: 9, timeout: 42, afterMs: 200 } });
  const bench = await hubFor(sensor);
  try {
    await until('the answer', () => air.of('signal', sensor.id).length > 0);
    // Connection Parameter Update Response, identifier 7, accepted (Core 5.3 Vol 3 Part A s4.21).
    expect(air.of('signal', sensor.id)[0]!.bytes).toBe('130702000000');
    await until('the new parameters', () => air.of('update', sensor.id).length > 0);
    expect(air.of('update', sensor.id)[0]).toMatchObject({ interval: 100, latency: 3, timeout: 5_120 });
    await until('readings', () => bench.packets.length > 5);
  } finally {
    await bench.source.stop();
  }
});

test('while a sensor is missed, scanning takes a third of the air beside the links', async () => {
  const [here, absent] = [strap(), strap({ on: false })];
  const bench = await hubFor(here, absent);
  try {
    await until('readings', () => bench.packets.length > 2);
    const scansSince = air.of('scanParameters').length;
    await until('scanning on', () => air.of('scanParameters').length > scansSince);
    for (const { interval, window, links } of air.of('scanParameters').slice(scansSince)) {
      if (links === 1) expect(Number(window) / Number(interval)).toBeCloseTo(1 / 3, 2);
    }
    await air.order({ do: 'set', id: absent.id, on: true });
    await until('the missed one', () => bench.packets.some(({ sensorId }) => sensorId === idOf(absent)));
  } finally {
    await bench.source.stop();
  }
});

test('beats arrive where they were: a strap that sends each second, over the air', async () => {
  const sensor = strap({
    services: [
      device,
      {
        uuid: '180d',
        characteristics: [
          { uuid: '2a37', properties: ['notify'], stream: { kind: 'beats', everyMs: 1_000, meanMs: 430 } },
        ],
      },
    ],
  });
  const bench = await hubFor(sensor);
  try {
    await until('the beats', () => air.of('beat', sensor.id).length >= 64, 60_000);
    await until('the packets of them', () => bench.packets.length >= air.of('sent', sensor.id).length - 1);
  } finally {
    await bench.source.stop();
  }
  // The air's clock is CLOCK_MONOTONIC, as this process's is.
  const apartMs = Number(process.hrtime.bigint()) / 1e6 - performance.now();
  const truth = air.of('beat', sensor.id).map(({ at }) => Number(at) - apartMs);
  const reader = createPacketReader();
  const placed = bench.packets.flatMap((packet) =>
    reader
      .read({ ...packet, atMs: monotonicMs(packet.receivedAtMs) })
      .samples.flatMap(({ channel, atMs }) => (channel === 'rrIntervalMs' ? [atMs as number] : [])),
  );
  const errors = placed.map((at, index) => Math.abs(at - truth[index]!)).slice(40);
  errors.sort((a, b) => a - b);
  console.log(
    `${errors.length} beats after the first 40: median ${errors[errors.length >> 1]!.toFixed(0)} ms, most ${errors.at(-1)!.toFixed(0)} ms off`,
  );
  expect(errors[Math.floor(0.9 * errors.length)]!).toBeLessThan(90);
}, 90_000);
