// Runs inside the emulated machine, as a user without rights: the hub's Bluetooth source through BlueZ, against sensors that
// pair (an independent Security Manager in Python, tests/bluetooth/air/security.py). What the sensors saw decides. Prints
// what happened; the last line is PASS or FAIL.

import { appendFileSync, readFileSync, writeFileSync } from 'node:fs';
import { setTimeout as wait } from 'node:timers/promises';
import type { SensorPacket, SensorStatus } from '../../../hub/base/ports/sensor-source.ts';
import { systemClock } from '../../../hub/base/system-clock.ts';
import { openBluetooth } from '../../../hub/sensors/bluetooth/open-bluetooth.ts';
import { inWords } from '../../support/in-words.ts';
import { emulatedPolicy, emulatedSupervision } from './emulated-patience.ts';

const [adapter, radioEntry, part] = process.argv.slice(2);
const startedAtMs = performance.now();
const say = (text: string): void =>
  console.log(`HUB ${((performance.now() - startedAtMs) / 1000).toFixed(1)} ${text}`);
const packets: SensorPacket[] = [];
const statuses = new Map<string, SensorStatus>();

const opened = openBluetooth({
  settings: { adapters: [adapter!], library: 'bluez' },
  clock: systemClock,
  log: say,
  remembered: [],
  radioEntry: radioEntry!,
  policy: { ...emulatedPolicy, lockedRetryMs: 3_000 },
  // Held to nothing by the time that a process takes to start on an emulated processor that others load too.
  supervision: { ...emulatedSupervision, startLimitMs: 240_000 },
});
if (!opened.ok) throw new Error(inWords(opened.reason));
const source = opened.value;
const order = (text: object): void => appendFileSync('/tmp/air.in', `${JSON.stringify(text)}\n`);

interface AirWord {
  readonly ev: string;
  readonly id?: string;
  readonly [more: string]: unknown;
}
/** What the air has said, of one kind and sensor. Lines that are being written are read later. */
function airSaid(ev: string, id?: string): readonly AirWord[] {
  return readFileSync('/tmp/air.out', 'utf8')
    .split('\n')
    .filter((line) => line.includes(`"${ev}"`))
    .flatMap((line) => {
      try {
        return [JSON.parse(line) as AirWord];
      } catch {
        return [];
      }
    })
    .filter((word) => word.ev === ev && (id === undefined || word.id === id));
}

async function until(what: string, check: () => boolean, limitS = 300): Promise<void> {
  for (let turn = 0; !check(); turn += 1) {
    if (turn > limitS * 10)
      throw new Error(
        `waited ${limitS} s in vain for ${what}; ${JSON.stringify([...statuses.values()].map(({ name, link, detail, pairing }) => [name, link, detail, pairing]))}`,
      );
    await wait(100);
  }
  say(what);
}

interface Paired {
  readonly name: string;
  readonly address: string;
  readonly security: Readonly<Record<string, unknown>>;
  readonly more?: Readonly<Record<string, unknown>>;
  readonly isLocked?: boolean;
}

const allSensors: readonly Paired[] = [
  { name: 'Plain bond', address: 'c4:b1:a2:33:04:12', security: {} },
  { name: 'Code bond', address: 'c4:b1:a2:33:04:09', security: { code: 4_711 } },
  { name: 'Secure only', address: 'c4:b1:a2:33:04:1b', security: { secure: true, code: 815_204 } },
  {
    name: 'Changing address',
    address: 'c4:b1:a2:33:04:03',
    security: { secure: true, irk: '2b7e151628aed2a6abf7158809cf4f3c', identity: 'c4:b1:a2:33:04:03' },
  },
  {
    name: 'Insists at once',
    address: 'c4:b1:a2:33:04:1c',
    security: {},
    more: { asksForSecurity: 20_000 },
    isLocked: false,
  },
];
/** `forget`: three sensors and the last step alone. */
const sensors = part === 'forget' ? allSensors.slice(0, 3) : allSensors;
const airIdOf = (sensor: Paired): string => sensor.address.replaceAll(':', '');
const sensorOf = (sensor: Paired): SensorStatus | undefined =>
  [...statuses.values()].find(({ name }) => name === sensor.name);
const numbersOf = (sensorId: string): number[] =>
  packets
    .filter((packet) => packet.sensorId === sensorId && packet.characteristic === '2a37')
    .map(({ bytes }) => bytes[2]! | (bytes[3]! << 8));
const wanted = new Set<string>();

function addToAir(sensor: Paired): void {
  const { name, address, security, more = {}, isLocked = true } = sensor;
  const stream = { kind: 'heartRate', everyMs: 500 };
  order({
    do: 'add',
    sensor: {
      id: airIdOf(sensor),
      address,
      random: true,
      name,
      security,
      advertiseEveryMs: 100,
      ...more,
      services: [
        { uuid: '180f', characteristics: [{ uuid: '2a19', properties: ['read', 'notify'], value: '50' }] },
        { uuid: '180a', characteristics: [{ uuid: '2a25', properties: ['read'], value: '5331' }] },
        {
          uuid: '1800',
          characteristics: [{ uuid: '2a00', properties: ['read'], value: Buffer.from(name).toString('hex') }],
        },
        {
          uuid: '180d',
          characteristics: [
            { uuid: '2a37', properties: ['notify'], stream, ...(isLocked ? { locked: 0x0f } : {}) },
          ],
        },
      ],
    },
  });
}

/** Answers with the code as a person would; `wrongFirst` gets it wrong once. */
async function answerCode(sensor: Paired, code: number): Promise<void> {
  const ask = () => sensorOf(sensor)?.pairing;
  await until(`${sensor.name} asks for its code`, () => ask()?.kind === 'typeCode');
  source.answerPairing(sensorOf(sensor)!.sensorId, ask()!.requestId, { kind: 'code', code });
}

async function firstAndSecondSession(sensor: Paired): Promise<void> {
  const id = airIdOf(sensor);
  addToAir(sensor);
  await until(`${sensor.name} found`, () => sensorOf(sensor) !== undefined);
  const { sensorId } = sensorOf(sensor)!;
  wanted.add(sensorId);
  source.setWantedSensors(new Set(wanted));
  const { code } = sensor.security;
  if (sensor.name === 'Code bond') {
    await answerCode(sensor, 123_456);
    await until('a wrong code is told', () => {
      const detail = sensorOf(sensor)?.detail;
      return detail?.code === 'sensor.notPaired';
    });
    say(`told: ${inWords(sensorOf(sensor)!.detail!)}`);
  }
  if (typeof code === 'number') await answerCode(sensor, code);
  await until(`${sensor.name}: readings`, () => numbersOf(sensorId).length >= 3);
  await until(`${sensor.name}: paired`, () => airSaid('paired', id).length === 1);
  await until(`${sensor.name}: its key is kept`, () => statuses.get(sensorId)?.isBonded === true);
  await until(`${sensor.name}: its charge is known`, () => statuses.get(sensorId)?.batteryPercent === 80);
  const table = source.characteristicsOf(sensorId).map((one) => `${one.service}/${one.characteristic}`);
  say(`bluetoothd shows ${table.join(' ')}`);
  const pairings = airSaid('pairingRequest', id).length;
  for (let session = 2; session <= 3; session += 1) {
    const before = numbersOf(sensorId).length;
    if ('irk' in sensor.security) order({ do: 'rotate', id });
    order({ do: 'drop', id, reason: session % 2 === 0 ? 0x13 : 0x08 });
    await until(
      `${sensor.name}: readings in session ${session}`,
      () => numbersOf(sensorId).length >= before + 3,
    );
    await until(
      `${sensor.name}: encrypted with the kept key`,
      () => airSaid('encrypted', id).length >= session - 1,
    );
  }
  if (airSaid('pairingRequest', id).length !== pairings) throw new Error(`${sensor.name} was paired again`);
  if ([...statuses.values()].filter(({ name }) => name === sensor.name).length !== 1)
    throw new Error(`${sensor.name} is listed more than once`);
}

/** Waits until the sensor has been paired once more and sends over the new link; says how long that took. */
async function pairsAnew(sensor: Paired, pairings: number, sinceMs: number): Promise<void> {
  const id = airIdOf(sensor);
  const { code } = sensor.security;
  if (typeof code === 'number') await answerCode(sensor, code);
  await until(`${sensor.name} is paired anew`, () => airSaid('paired', id).length === pairings + 1);
  const { sensorId } = sensorOf(sensor)!;
  const before = numbersOf(sensorId).length;
  await until(`${sensor.name} sends again`, () => numbersOf(sensorId).length >= before + 3);
  await until(`${sensor.name}: its new key is kept`, () => statuses.get(sensorId)?.isBonded === true);
  say(`${sensor.name}: ${((performance.now() - sinceMs) / 1_000).toFixed(1)} s from the forgetting on`);
  if (airSaid('paired', id).length !== pairings + 1)
    throw new Error(`${sensor.name} was paired more than once`);
}

/** The key forgotten on both sides, by the hub alone, and by the sensor alone, which a person has to mend on the page. */
async function forgottenKeys(): Promise<void> {
  for (const [at, sensor] of sensors.slice(0, 3).entries()) {
    const id = airIdOf(sensor);
    const { sensorId } = sensorOf(sensor)!;
    const pairings = airSaid('paired', id).length;
    const sinceMs = performance.now();
    if (at !== 1) order({ do: 'forgetKey', id });
    if (at === 2) {
      order({ do: 'drop', id, reason: 0x08 });
      await until(
        `${sensor.name} forgot: the hub's key is refused`,
        () => airSaid('unknownKey', id).length >= 2,
      );
      await until(
        `${sensor.name} forgot: why is told`,
        () => {
          const said = statuses.get(sensorId)?.detail;
          return said !== undefined && said !== null && /key/.test(inWords(said));
        },
        60,
      ).catch((error: Error) => {
        say(`told: ${inWords(statuses.get(sensorId)!.detail!)}; ${error.message}`);
        throw error;
      });
      say(`told: ${inWords(statuses.get(sensorId)!.detail!)}`);
    }
    say(
      `${sensor.name}: forgotten ${['on both sides', 'by the hub', 'by the sensor, now by the hub too'][at]}`,
    );
    source.forgetBond(sensorId);
    await pairsAnew(sensor, pairings, sinceMs);
  }
}

async function run(): Promise<void> {
  say(
    `as user ${process.getuid?.()}, capabilities ${/^CapEff:\s*(\S+)/m.exec(readFileSync('/proc/self/status', 'utf8'))?.[1]}`,
  );
  await source.start({
    packet: (packet) => packets.push(packet),
    sensorChanged: (status) => statuses.set(status.sensorId, status),
    sensorGone: (sensorId) => statuses.delete(sensorId),
    sourceNotices: (notices) => say(`notices: ${inWords(...notices)}`),
  });
  for (const sensor of sensors) await firstAndSecondSession(sensor);
  const timeouts = [...new Set(airSaid('connected').map(({ timeout }) => timeout))];
  say(`supervision timeouts of links made: ${timeouts.join(', ')} ms`);

  const all = sensors.map((sensor) => sensorOf(sensor)!.sensorId);
  const counts = () => all.map((sensorId) => numbersOf(sensorId).length);
  let before = counts();
  if (part !== 'forget') {
    writeFileSync('/tmp/restart-daemon', '');
    await until('the daemon was started anew', () => source.health[0]!.starts >= 2);
    before = counts();
    await until(
      'all five send again, by keys from the disk',
      () => counts().every((count, at) => count >= before[at]! + 3),
      300,
    );
  }
  await forgottenKeys();
  const losses = all.map((id) => source.counts.sensors.get(id)!.losses);
  const missed = all.map((id) => source.counts.sensors.get(id)!.missed);
  say(
    `${packets.length} packets; losses ${losses}; missed ${missed}; ${airSaid('pairingRequest').length} pairings in all`,
  );
  await source.stop();
}

run().then(
  () => {
    console.log('HUB PASS');
    process.exit(0);
  },
  (error: Error) => {
    console.log(`HUB FAIL ${error.message}`);
    process.exit(1);
  },
);
