// Runs inside the emulated machine: the Bluetooth source on the kernel's own adapter and the library's native socket,
// against sensors served by BlueZ's daemon. Prints what it counted; the last line is PASS or FAIL.

import { readFileSync } from 'node:fs';
import { setTimeout as wait } from 'node:timers/promises';
import type { SensorPacket, SensorStatus } from '../../../hub/base/ports/sensor-source.ts';
import { systemClock } from '../../../hub/base/system-clock.ts';
import { openBluetooth } from '../../../hub/sensors/bluetooth/open-bluetooth.ts';
import { inWords } from '../../support/in-words.ts';
import { emulatedPolicy, emulatedSupervision, libraryOf } from './emulated-patience.ts';

const [adapter, radioEntry, library] = process.argv.slice(2);
const startedAtMs = performance.now();
const say = (text: string): void =>
  console.log(`HUB ${((performance.now() - startedAtMs) / 1000).toFixed(1)} ${text}`);
const packets: SensorPacket[] = [];
const statuses = new Map<string, SensorStatus>();
const logLines: string[] = [];

const opened = openBluetooth({
  settings: {
    adapters: [adapter!],
    library: libraryOf(library),
  },
  clock: systemClock,
  log: (line) => {
    logLines.push(line);
    say(line);
  },
  remembered: [],
  radioEntry: radioEntry!,
  policy: emulatedPolicy,
  supervision: emulatedSupervision,
});
if (!opened.ok) throw new Error(inWords(opened.reason));
const source = opened.value;

async function until(what: string, check: () => boolean): Promise<void> {
  for (let turn = 0; !check(); turn += 1) {
    if (turn > 1_200)
      throw new Error(`waited 60 s in vain for ${what}; ${JSON.stringify([...statuses.values()])}`);
    await wait(50);
  }
  say(what);
}
const numbersOf = (sensorId: string): number[] =>
  packets
    .filter((packet) => packet.sensorId === sensorId && packet.characteristic === '2a37')
    .map(({ bytes }) => bytes[2]! | (bytes[3]! << 8));
const byName = (name: string): SensorStatus | undefined =>
  [...statuses.values()].find((status) => status.name === name);
const gaps = (numbers: readonly number[]): number =>
  numbers.filter((number, at) => at > 0 && number !== numbers[at - 1]! + 1).length;

async function run(): Promise<void> {
  await source.start({
    packet: (packet) => packets.push(packet),
    sensorChanged: (status) => statuses.set(status.sensorId, status),
    sourceNotices: (notices) => say(`notices: ${inWords(...notices)}`),
  });
  await until('found Rig One', () => byName('Rig One') !== undefined);
  const one = byName('Rig One')!.sensorId;
  source.setWantedSensors(new Set([one]));
  const assignedAtMs = performance.now();
  await until('first reading', () => numbersOf(one).length > 0);
  say(`first reading ${(performance.now() - assignedAtMs).toFixed(0)} ms after being assigned`);
  await until('all three streams', () =>
    ['2a37', '2a5f', '2a5e'].every((uuid) =>
      packets.some((packet) => packet.sensorId === one && packet.characteristic === uuid),
    ),
  );

  // The emulator's controllers hold one link each, so an attempt on a second sensor must fail. The first sensor must
  // not notice: neither lose a packet nor have its packets wait while the library's blocking call is under way.
  await until('found Rig Two', () => byName('Rig Two') !== undefined);
  const two = byName('Rig Two')!.sensorId;
  const fromMs = performance.now();
  source.setWantedSensors(new Set([one, two]));
  await until('the attempt on the second ended', () => source.counts.sensors.get(two)!.failedAttempts > 0);
  const toMs = performance.now();
  source.setWantedSensors(new Set([one]));
  const during = packets.filter(
    (packet) =>
      packet.sensorId === one &&
      packet.characteristic === '2a37' &&
      packet.receivedAtMs >= fromMs - 1_000 &&
      packet.receivedAtMs <= toMs,
  );
  const spacings = during.slice(1).map((packet, at) => packet.receivedAtMs - during[at]!.receivedAtMs);
  say(
    `${during.length} packets of the first in the ${(toMs - fromMs).toFixed(0)} ms of the attempt, ${Math.min(...spacings).toFixed(0)} to ${Math.max(...spacings).toFixed(0)} ms apart (sent every 250 ms)`,
  );
  if (during.length < 4) throw new Error('the first sensor sent nothing during the attempt');
  if (Math.max(...spacings) > 1_000) throw new Error('the first sensor had to wait for the attempt');
  if (gaps(numbersOf(one)) > 0 || source.counts.sensors.get(one)!.losses > 0) {
    throw new Error('the first sensor lost packets to the attempt on the second');
  }

  const before = numbersOf(one).length;
  process.kill(Number(readFileSync('/tmp/rig-one.pid', 'utf8')), 'SIGUSR1');
  await until('the loss was told', () => statuses.get(one)!.link !== 'connected');
  await until('readings again', () => numbersOf(one).length > before + 2);
  const losses = source.counts.sensors.get(one)!.losses;
  if (losses !== 1) throw new Error(`${losses} losses counted where there was one`);
  await source.stop();
  say(`${packets.length} packets in all`);
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
