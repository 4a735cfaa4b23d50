// What goes wrong between the hub and bluetoothd, on a real bus with an independent stand-in: each is told for what it is,
// and the hub goes on by itself when it can.

import { afterEach, expect, test } from 'vitest';
import { BluezBench, sensorIdOf } from './bluez-bench.ts';
import { FakeBluez, type FakeSensor } from './fake-bluez.ts';

let bluez: FakeBluez;
let bench: BluezBench;

const strap: FakeSensor = {
  id: 'strap',
  address: 'c4:b1:a2:33:04:12',
  name: 'Strap',
  services: [
    {
      uuid: '180d',
      characteristics: [{ uuid: '2a37', properties: ['notify'], stream: { everyMs: 50 } }],
    },
    { uuid: '1800', characteristics: [{ uuid: '2a00', properties: ['read'], value: '53' }] },
    { uuid: '180f', characteristics: [{ uuid: '2a19', properties: ['read'], value: '50' }] },
  ],
};

afterEach(async () => {
  await bench.stop();
  bluez.close();
});

async function open(sensor = strap): Promise<void> {
  bluez = await FakeBluez.open(sensor);
  bench = await BluezBench.open();
  await bench.until('found', () => bench.status(sensor) !== undefined);
}

test('no bus, no daemon, no right, no adapter, an adapter that is off: each with its own advice', async () => {
  // Nobody may speak to bluetoothd here.
  bluez = await FakeBluez.openBus('<deny send_destination="org.bluez"/>');
  bench = await BluezBench.open();
  await bench.until('no daemon', () => bench.notices.at(-1) === 'radio.noDaemon');
  await bluez.startDaemon();
  await bench.until('no right', () => bench.notices.at(-1) === 'radio.noPermission.bluez');
  await bench.stop();
  bluez.close();
  // The bus is gone with it.
  bench = await BluezBench.open();
  await bench.until('no bus', () => bench.notices.at(-1) === 'radio.noDaemon');
  await bench.stop();

  bluez = await FakeBluez.openBus();
  await bluez.startDaemon();
  bench = await BluezBench.open();
  await bench.until('no adapter', () => bench.notices.at(-1) === 'radio.noAdapter.linux');
  await bluez.order({ do: 'addAdapter', on: false });
  await bench.until('off', () => bench.notices.at(-1) === 'radio.adapterOff.linux');
  await bluez.order({ do: 'power', on: true });
  await bench.until('all well', () => bench.notices.at(-1) === 'none');
});

test('the adapter is switched off and on, and pulled out and put back, in the middle', async () => {
  await open();
  bench.want(strap);
  await bench.readings(strap);
  await bluez.order({ do: 'power', on: false });
  await bench.until('told off', () => bench.notices.at(-1) === 'radio.adapterOff.linux');
  await bluez.order({ do: 'power', on: true });
  await bench.readings(strap);
  await bluez.order({ do: 'removeAdapter' });
  await bench.until('told gone', () => bench.notices.at(-1) === 'radio.noAdapter.linux');
  await bluez.order({ do: 'addAdapter' });
  await bench.readings(strap);
  expect(bench.notices.at(-1)).toBe('none');
});

test('bluetoothd is started again, and the bus’s client is killed: links go on by themselves', async () => {
  await open();
  bench.want(strap);
  await bench.readings(strap);
  await bluez.order({ do: 'leaveBus' });
  await bench.until('told', () => bench.notices.at(-1) === 'radio.noDaemon');
  await bluez.order({ do: 'joinBus' });
  await bench.readings(strap);
  // bluetoothd keeps links of a program that died, and such a sensor does not advertise.
  const connected = bluez.of('connected').length;
  process.kill(bench.source.health[0]!.processId!, 'SIGKILL');
  await bench.until('started again', () => bench.source.health[0]!.starts >= 3);
  await bench.readings(strap);
  expect(bluez.of('connected')).toHaveLength(connected);
});

test.each([
  ['StartDiscovery', 'radio.noDaemon'],
  ['GetManagedObjects', 'radio.noDaemon'],
])('%s is never answered: told, and tried again', async (method, notice) => {
  bluez = await FakeBluez.open(strap);
  await bluez.order({ do: 'hang', method });
  bench = await BluezBench.open();
  await bench.until('told', () => bench.notices.includes(notice));
  await bench.until('found', () => bench.status(strap) !== undefined);
  expect(bluez.of('swallowed')).toHaveLength(1);
});

test.each(['Connect', 'Disconnect', 'StartNotify', 'ReadValue', 'StopDiscovery'])(
  '%s is never answered once: readings come all the same',
  async (method) => {
    await open();
    bench.want(strap);
    if (method === 'Disconnect') {
      await bench.readings(strap);
      await bluez.order({ do: 'hang', method });
      bench.want();
      await bench.until('asked', () => bluez.of('swallowed').length === 1);
      bench.want(strap);
    } else {
      await bluez.order({ do: 'hang', method });
      await bluez.order({ do: 'drop', id: 'strap' });
    }
    await bench.readings(strap);
    await bench.until('the fault', () => bluez.of('swallowed').length === 1);
    await bench.readings(strap);
  },
);

test('a scan that is refused is asked for again, and no link is dropped for it', async () => {
  await open();
  bench.want(strap);
  await bench.readings(strap);
  const starts = bench.source.health[0]!.starts;
  for (let time = 1; time <= 3; time += 1)
    await bluez.order({ do: 'refuse', method: 'StartDiscovery', name: 'Failed', text: 'Busy' });
  await bench.until('refused', () => bluez.of('refused').length >= 1);
  await bluez.order({ do: 'drop', id: 'strap' });
  await bench.readings(strap);
  expect(bench.source.health[0]!.starts).toBe(starts);
  expect(bench.source.counts.sensors.get(sensorIdOf(strap))!.losses).toBe(1);
});

test('connects that fail are tried again; a limit of links is told as one', async () => {
  await open();
  await bluez.order({
    do: 'refuse',
    method: 'Connect',
    name: 'Failed',
    text: 'le-connection-abort-by-local',
  });
  await bluez.order({ do: 'refuse', method: 'Connect', name: 'Failed', text: 'Connection limit exceeded' });
  bench.want(strap);
  await bench.until('the limit', () => bench.status(strap)?.detail?.code === 'sensor.linkLimit');
  await bench.readings(strap);
});

test('a device that the daemon throws out of its list is lost, found and linked to again', async () => {
  await open();
  bench.want(strap);
  await bench.readings(strap);
  await bluez.order({ do: 'evict', id: 'strap' });
  await bench.readings(strap);
  expect(bench.source.counts.sensors.get(sensorIdOf(strap))!.losses).toBe(1);
});

test('of a characteristic that is there twice the living one is heard; a charge told apart counts', async () => {
  const twice: FakeSensor = {
    ...strap,
    services: [
      {
        uuid: '180d',
        characteristics: [
          { uuid: '2a37', properties: ['notify'], dead: true, stream: { everyMs: 50 } },
          { uuid: '2a37', properties: ['notify'], stream: { everyMs: 50 } },
        ],
      },
      { uuid: '180f', asBattery: 73 },
    ],
  };
  await open(twice);
  bench.want(twice);
  await bench.readings(twice);
  await bench.until('the charge', () => bench.status(twice)?.batteryPercent === 73);
  await bluez.order({ do: 'battery', id: 'strap', percent: 72 });
  await bench.until('the new charge', () => bench.status(twice)?.batteryPercent === 72);
});

test('what was sent is what was delivered, each once and in order, and a read is no notification', async () => {
  const chatty: FakeSensor = {
    ...strap,
    services: [
      {
        uuid: '180d',
        characteristics: [
          { uuid: '2a37', properties: ['notify', 'read'], value: '16400000', stream: { everyMs: 10 } },
        ],
      },
      { uuid: '180f', characteristics: [{ uuid: '2a19', properties: ['read', 'notify'], value: '50' }] },
    ],
  };
  await open(chatty);
  bench.want(chatty);
  await bench.readings(chatty, 500);
  const got = bench.numbers(chatty);
  expect(got).toEqual(Array.from(got, (_, index) => got[0]! + index));
  const sent = bluez.of('sent', 'strap').length;
  expect(sent - got.length).toBeLessThan(20);
  await bench.until('the charge', () => bench.status(chatty)?.batteryPercent === 80);
  // Read once on each link; told by bluetoothd as a change of value too.
  expect(bench.packets.filter(({ characteristic }) => characteristic === '2a19')).toHaveLength(1);
});

test('nobody else on the bus can put a reading in a sensor’s mouth, or end the radio', async () => {
  await open();
  bench.want(strap);
  await bench.readings(strap);
  await bluez.order({ do: 'forge', id: 'strap', bytes: '1628ffff' });
  await bench.readings(strap, 20);
  const got = bench.numbers(strap);
  expect(got).toEqual(Array.from(got, (_, index) => got[0]! + index));
  expect(bench.source.health[0]!.starts).toBe(1);
});

test('a link that bluetoothd made without telling it is a link all the same', async () => {
  await open({ ...strap, hidesConnected: true });
  bench.want(strap);
  await bench.until('readings', () => bench.packets.length >= 5);
  expect(bench.source.counts.sensors.get(sensorIdOf(strap))).toMatchObject({ losses: 0, failedAttempts: 0 });
});

test('services that are told after bluetoothd has said that all are there: read at once', async () => {
  await open({ ...strap, tellsServicesAfterMs: 400 });
  bench.want(strap);
  await bench.readings(strap);
  expect(bench.source.counts.sensors.get(sensorIdOf(strap))!.failedAttempts).toBe(0);
});
