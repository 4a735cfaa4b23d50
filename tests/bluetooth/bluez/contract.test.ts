// The radio over BlueZ keeps the radio's contract, on a real bus with an independent stand-in for bluetoothd.

import { describe } from 'vitest';
import { systemClock } from '../../../hub/base/system-clock.ts';
import { RadioProcess } from '../../../hub/sensors/bluetooth/radio-process.ts';
import { type ContractSensor, radioContract } from '../radio-contract.ts';
import { buildRig } from '../rig/build-rig.ts';
import { profileUuids } from '../rig/sensor-messages.ts';
import { FakeBluez, type FakeSensor } from './fake-bluez.ts';

const strap: FakeSensor = {
  id: 'strap',
  address: 'c4:b1:a2:33:04:12',
  name: 'Contract strap',
  services: [
    {
      uuid: '180d',
      characteristics: [
        { uuid: '2a37', properties: ['notify'], stream: { everyMs: 50 } },
        { uuid: '2a38', properties: ['read'], value: '01' },
      ],
    },
    { uuid: '180f', characteristics: [{ uuid: '2a19', properties: ['read', 'notify'], value: '50' }] },
  ],
};
const clip: FakeSensor = {
  id: 'clip',
  address: 'c4:b1:a2:33:04:13',
  name: 'Lantern contract',
  services: [
    {
      uuid: profileUuids.service,
      characteristics: [
        { uuid: profileUuids.stream, properties: ['notify'], stream: { everyMs: 50 } },
        { uuid: profileUuids.command, properties: ['write'] },
      ],
    },
  ],
};

describe('bluez', () => {
  radioContract(async (listener, log) => {
    const { radioEntry } = await buildRig();
    const bluez = await FakeBluez.open(strap, clip);
    const inContract = ({ id, address }: FakeSensor): ContractSensor => ({
      peripheralId: address.replaceAll(':', ''),
      stopAdvertising: () => bluez.order({ do: 'on', id, on: false }),
      startAdvertising: () => void bluez.order({ do: 'on', id, on: true }),
      drop: () => void bluez.order({ do: 'drop', id }),
      written: () => bluez.of('written', id).at(-1)?.['bytes'] as string | undefined,
    });
    const radio = new RadioProcess({
      config: { library: 'bluez', adapterIndex: null, hciAddress: null },
      clock: systemClock,
      log,
      entry: radioEntry,
    });
    radio.start(listener);
    return {
      radio,
      strap: inContract(strap),
      clip: inContract(clip),
      attempts: () => bluez.of('connect').length,
      close: async () => bluez.close(),
    };
  });
});
