// The hub's Bluetooth source through BlueZ, on a bus of its own, with what it tells kept for a test to wait on.

import type { SensorPacket, SensorStatus } from '../../../hub/base/ports/sensor-source.ts';
import { systemClock } from '../../../hub/base/system-clock.ts';
import type { BluetoothSource } from '../../../hub/sensors/bluetooth/bluetooth-source.ts';
import { linkPolicy } from '../../../hub/sensors/bluetooth/link-policy.ts';
import { openBluetooth } from '../../../hub/sensors/bluetooth/open-bluetooth.ts';
import type { Said } from '../../../shared/said.ts';
import { buildRig } from '../rig/build-rig.ts';
import { until } from '../rig/virtual-air.ts';
import type { FakeSensor } from './fake-bluez.ts';

export const sensorIdOf = ({ address }: { readonly address: string }): string =>
  `bt:${address.replaceAll(':', '')}`;

export class BluezBench {
  readonly packets: SensorPacket[] = [];
  readonly statuses = new Map<string, SensorStatus>();
  readonly log: string[] = [];
  /** Every code that was told of the whole radio, in order. */
  readonly notices: string[] = [];
  readonly source: BluetoothSource;

  private constructor(radioEntry: string) {
    const opened = openBluetooth({
      settings: { adapters: ['default'], library: 'bluez' },
      clock: systemClock,
      log: (line) => this.log.push(line),
      remembered: [],
      radioEntry,
      // A locked sensor is tried again after half a minute, which no test waits for.
      policy: { ...linkPolicy, lockedRetryMs: 1_000 },
    });
    if (!opened.ok) throw new Error(opened.reason.code);
    this.source = opened.value;
  }

  static async open(): Promise<BluezBench> {
    const { radioEntry } = await buildRig();
    const bench = new BluezBench(radioEntry);
    await bench.source.start({
      packet: (packet) => bench.packets.push(packet),
      sensorChanged: (status) => bench.statuses.set(status.sensorId, status),
      sensorGone: (sensorId) => bench.statuses.delete(sensorId),
      sourceNotices: (notices) => bench.notices.push(notices.map(codeOf).join() || 'none'),
    });
    return bench;
  }

  want(...sensors: readonly FakeSensor[]): void {
    this.source.setWantedSensors(new Set(sensors.map(sensorIdOf)));
  }

  status(sensor: FakeSensor): SensorStatus | undefined {
    return this.statuses.get(sensorIdOf(sensor));
  }

  numbers(sensor: FakeSensor, characteristic = '2a37'): number[] {
    return this.packets
      .filter((packet) => packet.sensorId === sensorIdOf(sensor) && packet.characteristic === characteristic)
      .map(({ bytes }) => bytes[2]! | (bytes[3]! << 8));
  }

  async until(what: string, check: () => boolean): Promise<void> {
    const told = (): string =>
      JSON.stringify(
        [...this.statuses.values()].map(({ name, link, detail, pairing }) => [name, link, detail, pairing]),
      );
    await until(what, check).catch((error: Error) => {
      throw new Error(
        `${error.message}; ${told()}; ${this.notices.join(' | ')}; ${this.log.slice(-4).join(' | ')}`,
      );
    });
  }

  async readings(sensor: FakeSensor, more = 5): Promise<void> {
    const had = this.numbers(sensor).length;
    await this.until(`readings of ${sensor.name}`, () => this.numbers(sensor).length >= had + more);
  }

  stop(): Promise<void> {
    return this.source.stop();
  }
}

/** What is said, without what is said around it. */
const codeOf = ({ code, params }: Said): string => {
  const { advice } = params;
  return typeof advice === 'object' ? codeOf(advice) : code;
};
