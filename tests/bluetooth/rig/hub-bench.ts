// The Bluetooth source under test, with everything it delivers kept for counting.

import type { SensorPacket, SensorStatus } from '../../../hub/base/ports/sensor-source.ts';
import { systemClock } from '../../../hub/base/system-clock.ts';
import type { BluetoothSource } from '../../../hub/sensors/bluetooth/bluetooth-source.ts';
import type { ProfileLink } from '../../../hub/sensors/bluetooth/link-state.ts';
import { openBluetooth } from '../../../hub/sensors/bluetooth/open-bluetooth.ts';
import type { RadioLibrary } from '../../../hub/sensors/bluetooth/radio-messages.ts';
import type { SensorMemory } from '../../../hub/sensors/bluetooth/sensor-memory.ts';
import { inWords } from '../../support/in-words.ts';
import { buildRig } from './build-rig.ts';
import { until, type VirtualSensor } from './virtual-air.ts';

export interface StatusChange extends SensorStatus {
  readonly atMs: number;
}

export class HubBench {
  readonly packets: SensorPacket[] = [];
  readonly statuses: StatusChange[] = [];
  readonly notices: (string | null)[] = [];
  readonly gone: string[] = [];
  readonly logLines: string[] = [];
  readonly source: BluetoothSource;
  lastProcessId = 0;

  private constructor(source: BluetoothSource, logLines: string[]) {
    this.source = source;
    this.logLines = logLines;
  }

  static async start(options: {
    readonly adapters: readonly string[];
    readonly wanted?: readonly { readonly sensorId: string; readonly plan: { readonly name: string } }[];
    readonly library?: RadioLibrary;
    readonly profiles?: readonly ProfileLink[];
    readonly takeEverything?: boolean;
    /** What is known of sensors from an earlier run, and kept for the next. */
    readonly memory?: SensorMemory;
  }): Promise<HubBench> {
    const { radioEntry } = await buildRig();
    const logLines: string[] = [];
    const opened = openBluetooth({
      settings: { adapters: options.adapters, library: options.library ?? '@abandonware/noble' },
      clock: systemClock,
      log: (line) => logLines.push(line),
      remembered: (options.wanted ?? []).map(
        ({ sensorId, plan }) =>
          options.memory?.load().find((known) => known.sensorId === sensorId) ?? {
            sensorId,
            name: plan.name,
            kinds: [],
          },
      ),
      ...(options.memory === undefined ? {} : { memory: options.memory }),
      radioEntry,
      ...(options.profiles === undefined ? {} : { profiles: options.profiles }),
      ...(options.takeEverything === undefined ? {} : { takeEverything: options.takeEverything }),
    });
    if (!opened.ok) throw new Error(inWords(opened.reason));
    const bench = new HubBench(opened.value, logLines);
    await opened.value.start({
      packet: (packet) => bench.packets.push(packet),
      sensorChanged: (status) => bench.statuses.push({ ...status, atMs: performance.now() }),
      sensorGone: (sensorId) => bench.gone.push(sensorId),
      sourceNotices: (notices) => bench.notices.push(notices.length === 0 ? null : inWords(...notices)),
    });
    return bench;
  }

  /** The radio process at this moment. */
  radioProcessId(): number | null {
    const found = this.source.health[0]?.processId ?? null;
    if (found !== null) this.lastProcessId = found;
    return found;
  }

  status(sensor: VirtualSensor): StatusChange | undefined {
    return this.statuses.findLast((status) => status.sensorId === sensor.sensorId);
  }

  link(sensor: VirtualSensor): string | undefined {
    return this.status(sensor)?.link;
  }

  packetsOf(sensor: VirtualSensor, characteristic: string): readonly SensorPacket[] {
    return this.packets.filter(
      (packet) => packet.sensorId === sensor.sensorId && packet.characteristic === characteristic,
    );
  }

  /** The numbers that the rig's sensors put into their packets. */
  numbersOf(sensor: VirtualSensor, characteristic: string): readonly number[] {
    return this.packetsOf(sensor, characteristic).map(({ bytes }) =>
      characteristic === '2a37' ? bytes[2]! | (bytes[3]! << 8) : bytes[3]! | ((bytes[4]! & 0x0f) << 8),
    );
  }

  countsOf(sensor: VirtualSensor) {
    return this.source.counts.sensors.get(sensor.sensorId)!;
  }

  async untilReading(sensor: VirtualSensor, characteristic: string, more = 1): Promise<void> {
    const before = this.packetsOf(sensor, characteristic).length;
    await until(
      // As it stands when the patience ends.
      () =>
        `${more} more ${characteristic} of ${sensor.plan.name}; ${JSON.stringify(this.status(sensor))} ${this.logLines.slice(-5).join(' | ')}; the sensor: ${sensor.log
          .filter(({ type }) => type !== 'sent')
          .slice(-5)
          .map(({ type }) => type)
          .join(', ')}`,
      () => this.packetsOf(sensor, characteristic).length >= before + more,
    );
  }
}
