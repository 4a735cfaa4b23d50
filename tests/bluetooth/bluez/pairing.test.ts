// Sensors that pair, through BlueZ, on a real bus with an independent stand-in for bluetoothd: who is asked what, what an
// answer does, whose questions are refused, and what is kept.

import { afterEach, describe, expect, test } from 'vitest';
import type { PairingAnswer } from '../../../shared/views.ts';
import { BluezBench, sensorIdOf } from './bluez-bench.ts';
import { FakeBluez, type FakeSensor } from './fake-bluez.ts';

let bluez: FakeBluez;
let bench: BluezBench;

const bonding = (more: Partial<FakeSensor>, characteristic: object = {}): FakeSensor => ({
  id: 'clip',
  address: 'c4:b1:a2:33:04:12',
  name: 'Bonding clip',
  services: [
    {
      uuid: '180d',
      characteristics: [
        { uuid: '2a37', properties: ['notify'], stream: { everyMs: 50 }, locked: true, ...characteristic },
      ],
    },
  ],
  ...more,
});

async function open(...sensors: readonly FakeSensor[]): Promise<void> {
  bluez = await FakeBluez.open(...sensors);
  bench = await BluezBench.open();
  await bench.until('all found', () => sensors.every((sensor) => bench.status(sensor) !== undefined));
}

/** Worn, paired and read; the hub knows that a key is kept. */
async function openPaired(sensor: FakeSensor): Promise<void> {
  await open(sensor);
  bench.want(sensor);
  await bench.readings(sensor);
  await bench.until('the key is told', () => bench.status(sensor)?.isBonded === true);
}

afterEach(async () => {
  await bench.stop();
  bluez.close();
});

const question = (sensor: FakeSensor) => bench.status(sensor)?.pairing;
/** The next question, other than `former`. */
async function asked(sensor: FakeSensor, former?: string) {
  await bench.until('the question', () => ![undefined, former].includes(question(sensor)?.requestId));
  return question(sensor);
}
async function answer(sensor: FakeSensor, given: PairingAnswer): Promise<void> {
  await bench.until('the question', () => question(sensor) !== undefined);
  bench.source.answerPairing(sensorIdOf(sensor), question(sensor)!.requestId, given);
}

/** Started by whatever was locked, or by the hub itself once it was refused. */
const roads = [
  ['opened by the system as it meets the lock', {}],
  ['asked for by the hub once it was refused', { waitsForPair: true }],
] as const;

describe.each(roads)('a lock %s', (_road, characteristic) => {
  test('just works: a sensor that was assigned pairs by itself, keeps its key, and reconnects by it', async () => {
    const clip = bonding({ pairing: 'justWorks' }, characteristic);
    await openPaired(clip);
    for (let session = 2; session <= 4; session += 1) {
      await bluez.order({ do: 'drop', id: 'clip' });
      await bench.readings(clip);
    }
    expect(bluez.of('bonded', 'clip')).toHaveLength(1);
    expect(bench.source.counts.sensors.get(sensorIdOf(clip))!.losses).toBe(3);
  });

  test('the code that the sensor shows is typed: a wrong one is told and asked for again, the right one pairs', async () => {
    const clip = bonding({ pairing: 'typeCode', code: 4_711 }, characteristic);
    await open(clip);
    bench.want(clip);
    await bench.until('the question', () => question(clip)?.kind === 'typeCode');
    expect(question(clip)).toMatchObject({ code: null });
    expect(question(clip)!.secondsLeft).toBeGreaterThan(20);
    expect(bench.status(clip)!.detail).toMatchObject({ code: 'sensor.typeCode' });
    const first = question(clip)!.requestId;
    await answer(clip, { kind: 'code', code: 1 });
    await bench.until('the next question', () => (question(clip)?.requestId ?? first) !== first);
    await answer(clip, { kind: 'code', code: 4_711 });
    await bench.readings(clip);
    expect(bluez.of('bonded', 'clip')).toHaveLength(1);
    expect(bluez.of('pairingFailed', 'clip').length).toBeGreaterThan(0);
  });
});

test('a code that both show is compared', async () => {
  const clip = bonding({ pairing: 'compareCode', code: 815 });
  await open(clip);
  bench.want(clip);
  await bench.until('the question', () => question(clip)?.kind === 'compareCode');
  expect(question(clip)!.code).toBe(815);
  await answer(clip, { kind: 'same' });
  await bench.readings(clip);
});

test('a code that is typed on the sensor is shown until it is over', async () => {
  const clip = bonding({ pairing: 'showCode', code: 4_711 });
  await open(clip);
  bench.want(clip);
  await bench.until('the code', () => question(clip)?.kind === 'showCode');
  expect(question(clip)!.code).toBe(4_711);
  await bluez.order({ do: 'entered', id: 'clip' });
  await bench.readings(clip);
  await bench.until('nothing is asked any more', () => question(clip) === undefined);
});

test('a person says no: it is told as not paired, and nothing of it is kept', async () => {
  const clip = bonding({ pairing: 'typeCode', code: 4_711 }, { waitsForPair: true });
  await open(clip);
  bench.want(clip);
  await answer(clip, { kind: 'cancel' });
  await bench.until('not paired', () => bench.status(clip)?.detail?.code === 'sensor.notPaired');
  expect(bench.status(clip)!.detail!.params).toMatchObject({ reason: { code: 'link.pairingCancelled' } });
  expect(bluez.of('bonded')).toHaveLength(0);
});

test('a wrong code that ends the link is told as that, and asked for again', async () => {
  const clip = bonding({ pairing: 'typeCode', code: 4_711, hangsUpWhenPairingFails: true });
  await open(clip);
  bench.want(clip);
  const first = (await asked(clip))!.requestId;
  await answer(clip, { kind: 'code', code: 1 });
  await bench.until('not paired', () => bench.status(clip)?.detail?.code === 'sensor.notPaired');
  expect(bench.status(clip)!.detail!.params).toMatchObject({ reason: { code: 'link.pairingFailed' } });
  expect((await asked(clip, first))!.requestId).not.toBe(first);
  await answer(clip, { kind: 'code', code: 4_711 });
  await bench.readings(clip);
});

test('a sensor that asks for security is answered before it hangs up', async () => {
  const clip = bonding({ pairing: 'justWorks', securityRequest: true }, { locked: false });
  await open(clip);
  bench.want(clip);
  await bench.readings(clip);
  await bench.until('paired', () => bluez.of('bonded', 'clip').length === 1);
  expect(bench.source.counts.sensors.get(sensorIdOf(clip))!.losses).toBe(0);
});

test('devices that are not the hub’s business are refused, and the desktop has its place as agent back', async () => {
  const clip = bonding({ pairing: 'justWorks' });
  const open_ = bonding({ id: 'strap', address: 'c4:b1:a2:33:04:13', name: 'Strap' }, { locked: false });
  await open(clip, open_);
  expect(bluez.of('defaultAgent')).toHaveLength(0);
  bench.want(open_);
  await bench.readings(open_);
  await bluez.order({ do: 'askStranger' });
  await bench.until('the answer', () => bluez.of('stranger').length === 1);
  expect(bluez.of('stranger')[0]).toMatchObject({ answer: 'org.bluez.Error.Rejected' });
  // The sensor that nobody assigned was heard all the while, and nothing was asked of it.
  expect(bluez.of('connect', 'clip')).toHaveLength(0);
  await bench.until('the place given back', () => bluez.of('defaultAgent').at(-1)?.['held'] === false);
  await bench.readings(open_);
});

test('a sensor whose address changes is the same one once it has paired', async () => {
  const clip = bonding({ pairing: 'justWorks', identity: 'c4:b1:a2:33:99:99' });
  await openPaired(clip);
  await bluez.order({ do: 'drop', id: 'clip' });
  await bench.readings(clip);
  expect([...bench.statuses.keys()]).toEqual([sensorIdOf(clip)]);
});

test('a key is forgotten on demand: the link ends, and the sensor pairs anew', async () => {
  const clip = bonding({ pairing: 'justWorks' });
  await openPaired(clip);
  bench.source.forgetBond(sensorIdOf(clip));
  await bench.until('forgotten', () => bluez.of('forgotten', 'clip').length === 1);
  await bench.readings(clip);
  await bench.until('paired again', () => bluez.of('bonded', 'clip').length === 2);
});

test.each([
  ['says so', true, 'link.keyRefused'],
  ['says nothing', false, 'link.keyDoubted'],
] as const)(
  'a sensor that lost its key is told as that where bluetoothd %s, and pairs anew once it is forgotten',
  async (_what, tellsReason, code) => {
    const clip = bonding({ pairing: 'justWorks', tellsReason });
    await openPaired(clip);
    // A drop, after which it comes back by its key, is no doubt.
    await bluez.order({ do: 'drop', id: 'clip' });
    await bench.readings(clip);
    await bluez.order({ do: 'set', id: 'clip', plan: { lostItsKey: true } });
    await bluez.order({ do: 'drop', id: 'clip' });
    await bench.until('why', () => JSON.stringify(bench.status(clip)?.detail ?? null).includes(`"${code}"`));
    expect(bench.status(clip)!.isBonded).toBe(true);
    bench.source.forgetBond(sensorIdOf(clip));
    await bench.readings(clip);
    await bench.until('paired again', () => bluez.of('bonded', 'clip').length === 2);
  },
);
