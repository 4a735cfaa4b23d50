import { describe, expect, it } from 'vitest';
import { mostSimulatedAthletes, scenarioAthletes } from '../../../hub/sensors/simulated/scenario.ts';
import { SimulatedSource } from '../../../hub/sensors/simulated/simulated-source.ts';
import { decodePacket } from '../../../src/gatt/decode-packet.ts';
import { createHeard, sensorSourceContract } from '../../contract/sensor-source-contract.ts';
import { createFakeClock } from '../../support/fake-clock.ts';

sensorSourceContract('The simulator', {
  open: (clock) => new SimulatedSource({ clock, athletes: scenarioAthletes(3, 7) }),
  playMs: 60_000,
});

describe('the demo scenario', () => {
  it('marks every sensor as SIMULATED and gives each athlete two', () => {
    const athletes = scenarioAthletes(mostSimulatedAthletes, 7);
    expect(athletes).toHaveLength(16);
    expect(new Set(athletes.map(({ name }) => name)).size).toBe(16);
    for (const { strapName, oximeterName } of athletes) {
      expect(strapName).toMatch(/^SIMULATED /);
      expect(oximeterName).toMatch(/^SIMULATED /);
    }
  });

  it.each([7, 1, 2, 3, 99, 12_345])(
    'seed %i: the first athlete reads below a floor of 88 %% within four minutes, in a hold, and recovers',
    async (seed) => {
      const clock = createFakeClock();
      const source = new SimulatedSource({ clock, athletes: scenarioAthletes(1, seed) });
      const heard = createHeard();
      await source.start(heard);
      source.sessionStarted(clock.nowMs());
      const zeroMs = clock.nowMs();
      clock.advance(330_000);
      const readings = heard.packets.flatMap((packet) => {
        const decoded = decodePacket(packet.characteristic, packet.bytes);
        if (!decoded.ok || decoded.value.kind !== 'plxContinuous') return [];
        const { spo2Percent } = decoded.value.measurement.normal;
        return typeof spo2Percent === 'number' ? [{ atMs: packet.receivedAtMs - zeroMs, spo2Percent }] : [];
      });
      expect(readings.length).toBeGreaterThan(325);
      const below = readings.find(({ spo2Percent }) => spo2Percent < 88);
      expect(below).toBeDefined();
      expect(below!.atMs).toBeLessThan(240_000);
      // The athlete stops at once: it goes not far below, and is well again soon.
      expect(Math.min(...readings.map(({ spo2Percent }) => spo2Percent))).toBeGreaterThan(70);
      expect(readings.at(-1)!.spo2Percent).toBeGreaterThan(93);
      await source.stop();
    },
  );

  it('a steered athlete ends the hold when told: the saturation turns', async () => {
    const clock = createFakeClock();
    const athletes = scenarioAthletes(1, 7);
    const source = new SimulatedSource({ clock, athletes });
    const heard = createHeard();
    await source.start(heard);
    source.sessionStarted(clock.nowMs());
    clock.advance(5_000);
    source.steer(athletes[0]!.athleteId, 'beginHold');
    clock.advance(100_000);
    source.steer(athletes[0]!.athleteId, 'endHold');
    clock.advance(60_000);
    const rates = heard.packets
      .filter(({ characteristic }) => characteristic === '2a37')
      .map((packet) => packet.bytes[1]!);
    const mean = (values: readonly number[]) => values.reduce((a, b) => a + b, 0) / values.length;
    // The diving response in the hold, gone after it.
    expect(mean(rates.slice(60, 100))).toBeLessThan(mean(rates.slice(115, 125)) - 3);
    await source.stop();
  });

  it('links are lost and come back, and the battery is reported', async () => {
    const clock = createFakeClock();
    const source = new SimulatedSource({
      clock,
      athletes: scenarioAthletes(2, 7).map((athlete) => ({ ...athlete, linkLossesPerHour: 60 })),
    });
    const heard = createHeard();
    await source.start(heard);
    source.sessionStarted(clock.nowMs());
    clock.advance(600_000);
    const links = heard.statuses.map(({ link }) => link);
    expect(links).toContain('lost');
    expect(links.lastIndexOf('connected')).toBeGreaterThan(links.indexOf('lost'));
    expect(heard.packets.filter(({ characteristic }) => characteristic === '2a19').length).toBeGreaterThan(
      20,
    );
    await source.stop();
  });
});
