// Arbitrary advertisements, GATT tables and notifications from a controller and a sensor that lie: nothing crashes,
// the hub goes on finding sensors, and what the library could not take is counted.

import fc from 'fast-check';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { HostileController, hostileSensorId } from './rig/hostile-controller.ts';
import { HubBench } from './rig/hub-bench.ts';
import { until, VirtualAir } from './rig/virtual-air.ts';

let air: VirtualAir;
beforeAll(async () => {
  air = await VirtualAir.open();
});
afterAll(() => air.close());

/** Fixed, so that a failure can be looked at again. */
const seed = 20_240_607;
const bytes = fc.uint8Array({ maxLength: 31 });
/** Advertising data that begins well and then lies about lengths and types. */
const advertisingData = fc.oneof(
  bytes,
  fc
    .array(
      fc.tuple(
        fc.constantFrom(0x02, 0x03, 0x06, 0x07, 0x08, 0x09, 0x14, 0x15, 0x16, 0x20, 0x21, 0xff, 0x00),
        fc.nat(31),
        fc.uint8Array({ maxLength: 12 }),
      ),
      { maxLength: 4 },
    )
    .map((parts) =>
      Uint8Array.from(parts.flatMap(([type, length, data]) => [length, type, ...data]).slice(0, 31)),
    ),
);
/** Flags, heart rate service, a name. */
const honest = Uint8Array.from([2, 1, 6, 3, 3, 0x0d, 0x18, 5, 9, ...Buffer.from('Calm')]);

test('two thousand arbitrary advertisements and events, then an honest sensor is still found', async () => {
  const controller = await HostileController.open(air.path('hostile-1'));
  const bench = await HubBench.start({ adapters: [`unix:${controller.path}`] });
  try {
    await until('the radio', () => bench.source.health[0]!.clockUncertaintyMs !== null);
    controller.advertise(honest, [9, 9, 9, 9, 9, 9]);
    await until('the first sensor', () => {
      controller.advertise(honest, [9, 9, 9, 9, 9, 9]);
      return bench.statuses.some(({ name }) => name === 'Calm');
    });
    const lies = fc.sample(
      fc.tuple(advertisingData, fc.array(fc.nat(255), { minLength: 6, maxLength: 6 }), fc.nat(6)),
      { seed, numRuns: 1_500 },
    );
    for (const [payload, address, type] of lies) controller.advertise(payload, address, type);
    const events = fc.sample(fc.tuple(fc.constantFrom(0x0e, 0x0f, 0x13, 0x3e, 0x08, 0x57), bytes), {
      seed,
      numRuns: 500,
    });
    for (const [code, parameters] of events) {
      // A Command Complete of no parameters would be a controller's suicide note; every other length is tried.
      if (parameters.length > 0) controller.event(code, [...parameters]);
    }
    const address = [1, 1, 1, 1, 1, 0xc1];
    const name = [...honest.slice(0, 7), 6, 9, ...Buffer.from('Still')];
    await until(
      'an honest sensor after all that',
      () => {
        controller.advertise(Uint8Array.from(name), address);
        return bench.statuses.some((status) => status.name === 'Still');
      },
      40_000,
    );
    const health = bench.source.health[0]!;
    console.log(
      `2000 lies: ${health.faults} faults counted, ${health.starts} starts, ${bench.source.counts.staleEvents} events ignored, ${bench.source.counts.sensors.size} sensors kept`,
    );
    for (const status of bench.statuses) expect(status.sensorId).toMatch(/^bt:[A-Za-z0-9._-]{1,60}$/);
    expect(bench.source.counts.sensors.size).toBeLessThanOrEqual(65);
    // Every fault is in the log, with its number.
    expect(bench.logLines.filter((line) => line.startsWith('radio: fault')).length).toBeGreaterThanOrEqual(
      Math.min(1, health.faults),
    );
  } finally {
    await bench.source.stop();
    controller.close();
  }
});

test('a sensor whose every answer is noise is given up again and again, and nothing breaks', async () => {
  const controller = await HostileController.open(air.path('hostile-2'));
  const answers = fc.sample(
    fc.oneof(
      fc.uint8Array({ minLength: 1, maxLength: 23 }),
      // Looks like the answer that was asked for, with a body of noise.
      fc
        .tuple(
          fc.constantFrom(0x03, 0x05, 0x09, 0x0b, 0x11, 0x13, 0x01, 0x1b, 0x1d),
          fc.uint8Array({ maxLength: 22 }),
        )
        .map(([type, body]) => Uint8Array.from([type, ...body])),
    ),
    { seed, numRuns: 400 },
  );
  let turn = 0;
  controller.answer = () => {
    turn += 1;
    return answers[turn % answers.length]!;
  };
  const bench = await HubBench.start({ adapters: [`unix:${controller.path}`] });
  try {
    bench.source.setWantedSensors(new Set([hostileSensorId]));
    await until(
      'three attempts',
      () => {
        controller.advertise(honest);
        return controller.connects >= 3;
      },
      45_000,
    );
    for (const noise of answers.slice(0, 200)) controller.att(noise);
    for (const noise of answers.slice(0, 100)) controller.acl([...noise]);
    await until(
      'the radio to be up after the noise',
      () => {
        controller.advertise(honest, [7, 7, 7, 7, 7, 0xc7]);
        return bench.statuses.some(({ sensorId }) => sensorId === 'bt:c70707070707');
      },
      45_000,
    );
    const health = bench.source.health[0]!;
    console.log(
      `noise: ${controller.connects} connects, ${controller.attRequests} requests, ${health.faults} faults, ${health.starts} starts`,
    );
    const counts = bench.source.counts.sensors.get(hostileSensorId)!;
    expect(counts.failedAttempts + counts.losses).toBeGreaterThan(0);
  } finally {
    await bench.source.stop();
    controller.close();
  }
}, 120_000);

test('a sensor with an honest table and arbitrary notifications: all are delivered as they came', async () => {
  const controller = await HostileController.open(air.path('hostile-3'));
  controller.answer = (request) => {
    const error = (code: number) =>
      Uint8Array.from([0x01, request[0]!, request[1] ?? 0, request[2] ?? 0, code]);
    const from = request.length >= 3 ? request.readUInt16LE(1) : 0;
    switch (request[0]) {
      case 0x02: // Exchange MTU
        return Uint8Array.of(0x03, 23, 0);
      case 0x10: // Read By Group Type: one service, 180d, handles 1 to 9
        return from > 1 ? error(0x0a) : Uint8Array.of(0x11, 6, 1, 0, 9, 0, 0x0d, 0x18);
      case 0x08: // Read By Type: 2a37 with notify at handle 3
        return from > 2 ? error(0x0a) : Uint8Array.of(0x09, 7, 2, 0, 0x10, 3, 0, 0x37, 0x2a);
      case 0x04: // Find Information: the CCCD at 4
        return from > 4 ? error(0x0a) : Uint8Array.of(0x05, 1, 4, 0, 0x02, 0x29);
      case 0x12:
        return Uint8Array.of(0x13);
      case 0x0a:
        return Uint8Array.of(0x0b, 0, 0);
      default:
        return request.length > 0 && request[0]! % 2 === 0 ? error(0x06) : null;
    }
  };
  const bench = await HubBench.start({ adapters: [`unix:${controller.path}`] });
  try {
    bench.source.setWantedSensors(new Set([hostileSensorId]));
    await until('the link', () => {
      controller.advertise(honest);
      return bench.statuses.some(({ link }) => link === 'connected');
    });
    const values = fc.sample(fc.uint8Array({ maxLength: 20 }), { seed, numRuns: 500 });
    for (const value of values) controller.att(Uint8Array.from([0x1b, 3, 0, ...value]));
    await until('all of them', () => bench.packets.length >= values.length);
    expect(
      bench.packets.filter(({ characteristic }) => characteristic === '2a37').map((p) => p.bytes),
    ).toEqual(values);
    expect(bench.source.health[0]!.starts).toBe(1);
  } finally {
    await bench.source.stop();
    controller.close();
  }
});
