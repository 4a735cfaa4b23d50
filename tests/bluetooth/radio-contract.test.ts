// Both supported libraries keep the radio's contract on virtual controllers.

import { describe } from 'vitest';
import { systemClock } from '../../hub/base/system-clock.ts';
import { radioLibraries } from '../../hub/sensors/bluetooth/radio-messages.ts';
import { RadioProcess } from '../../hub/sensors/bluetooth/radio-process.ts';
import { type ContractSensor, radioContract } from './radio-contract.ts';
import { AdapterTap } from './rig/adapter-tap.ts';
import { buildRig } from './rig/build-rig.ts';
import { until, VirtualAir, type VirtualSensor } from './rig/virtual-air.ts';

const inContract = (sensor: VirtualSensor): ContractSensor => ({
  peripheralId: sensor.sensorId.slice('bt:'.length),
  async stopAdvertising() {
    sensor.send({ type: 'stopAdvertising' });
    await until('silence', () => sensor.log.some((message) => message.type === 'silent'));
  },
  startAdvertising: () => sensor.send({ type: 'startAdvertising' }),
  drop: () => sensor.send({ type: 'drop', reason: 0x08 }),
  written() {
    const last = sensor.log.findLast((message) => message.type === 'written');
    return last?.type === 'written' ? Buffer.from(last.bytes).toString('hex') : undefined;
  },
});

describe.each(radioLibraries)('%s', (library) => {
  radioContract(async (listener, log) => {
    const { radioEntry } = await buildRig();
    const air = await VirtualAir.open();
    const tap = await AdapterTap.open(air.controllerSocket, air.path('contract'));
    const strap = await air.sensor('Contract strap', ['heartRate'], { everyMs: 50 });
    const clip = await air.sensor('Lantern contract', ['profile'], { everyMs: 50 });
    const radio = new RadioProcess({
      config: { library, adapterIndex: null, hciAddress: `unix:${air.path('contract')}` },
      clock: systemClock,
      log,
      entry: radioEntry,
    });
    radio.start(listener);
    return {
      radio,
      strap: inContract(strap),
      clip: inContract(clip),
      attempts: () => tap.connects,
      async close() {
        tap.close();
        air.close();
      },
    };
  });
});
