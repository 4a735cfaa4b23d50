// From switching a sensor on to its first reading, on virtual controllers.

import { afterAll, beforeAll, expect, test } from 'vitest';
import { inWords } from '../support/in-words.ts';
import { HubBench } from './rig/hub-bench.ts';
import { until, VirtualAir } from './rig/virtual-air.ts';

let air: VirtualAir;
beforeAll(async () => {
  air = await VirtualAir.open();
});
afterAll(() => air.close());

test('a strap and an oximeter read within three seconds, with battery and device information', async () => {
  const strap = await air.sensor('Strap', ['heartRate']);
  const oximeter = await air.sensor('Clip', ['oximeter', 'spotCheck'], { batteryPercent: 12 });
  const bench = await HubBench.start({ adapters: [`unix:${air.controllerSocket}`] });
  try {
    await until('both to be found', () => [strap, oximeter].every((s) => bench.link(s) === 'off'));
    expect(bench.status(strap)).toMatchObject({ name: 'Strap', kinds: ['heartRate'] });
    expect(bench.status(oximeter)).toMatchObject({ name: 'Clip', kinds: ['oximeter'] });
    expect(bench.packets).toHaveLength(0);

    const assignedAtMs = performance.now();
    bench.source.setWantedSensors(new Set([strap.sensorId, oximeter.sensorId]));
    await Promise.all([bench.untilReading(strap, '2a37'), bench.untilReading(oximeter, '2a5f')]);
    for (const [sensor, characteristic] of [
      [strap, '2a37'],
      [oximeter, '2a5f'],
    ] as const) {
      const firstMs = bench.packetsOf(sensor, characteristic)[0]!.receivedAtMs - assignedAtMs;
      console.log(`${sensor.plan.name}: first reading ${firstMs.toFixed(0)} ms after being assigned`);
      expect(firstMs).toBeLessThan(3_000);
    }
    await bench.untilReading(oximeter, '2a5e', 0);
    await until('the spot check', () => bench.packetsOf(oximeter, '2a5e').length === 1);
    await until('battery and device information', () => {
      const status = bench.status(oximeter);
      return status?.batteryPercent === 12 && inWords(status.detail).includes('Rig 7');
    });
    expect(inWords(bench.status(oximeter)!.detail)).toContain('Battery at 12 %');
    expect(bench.status(strap)!.batteryPercent).toBe(80);
    await until(
      'body location and oximeter features',
      () => bench.packetsOf(strap, '2a38').length === 1 && bench.packetsOf(oximeter, '2a60').length === 1,
    );
  } finally {
    await bench.source.stop();
  }
});
