// Links that fail in every way a link can, on virtual controllers: every packet is accounted for by its number.

import { afterAll, beforeAll, expect, test } from 'vitest';
import { inWords } from '../support/in-words.ts';
import { AdapterTap } from './rig/adapter-tap.ts';
import { HubBench } from './rig/hub-bench.ts';
import { until, VirtualAir, type VirtualSensor } from './rig/virtual-air.ts';

let air: VirtualAir;
beforeAll(async () => {
  air = await VirtualAir.open();
});
afterAll(() => air.close());

/** The promise: noticed within three seconds of the last packet. Load can only add, so a timed test may try again. */
const noticedWithinMs = 3_000;
const timed = { retry: 2 };

const lastPacketMs = (bench: HubBench, sensor: VirtualSensor, characteristic: string): number =>
  bench.packetsOf(sensor, characteristic).at(-1)!.receivedAtMs;

test('twenty link losses: every packet sent while linked is delivered once, in order, and the neighbour loses none', async () => {
  const strap = await air.sensor('Loss strap', ['heartRate'], { everyMs: 40 });
  const neighbour = await air.sensor('Loss neighbour', ['oximeter'], { everyMs: 40 });
  const bench = await HubBench.start({
    adapters: [`unix:${air.controllerSocket}`],
    wanted: [strap, neighbour],
  });
  try {
    await Promise.all([bench.untilReading(strap, '2a37', 3), bench.untilReading(neighbour, '2a5f', 3)]);
    const gapsMs: number[] = [];
    for (let loss = 1; loss <= 20; loss += 1) {
      await bench.untilReading(strap, '2a37', 5);
      // 0x08 as when out of range, 0x13 as when the sensor hangs up.
      strap.send({ type: 'drop', reason: loss % 2 === 0 ? 0x08 : 0x13 });
      await until(`loss ${loss} to be seen`, () => bench.countsOf(strap).losses === loss);
      const lostAtMs = performance.now();
      await bench.untilReading(strap, '2a37', 1);
      gapsMs.push(performance.now() - lostAtMs);
    }
    await bench.untilReading(strap, '2a37', 5);
    strap.send({ type: 'mute', muted: true });
    neighbour.send({ type: 'mute', muted: true });
    await until('the last packets', () =>
      [
        [strap, '2a37'],
        [neighbour, '2a5f'],
      ].every(
        ([sensor, uuid]) =>
          bench.numbersOf(sensor as VirtualSensor, uuid as string).at(-1) ===
          (sensor as VirtualSensor).sentNumbers(uuid as string).at(-1),
      ),
    );
    const sent = strap.sentNumbers('2a37');
    const received = bench.numbersOf(strap, '2a37');
    console.log(
      `20 losses: ${sent.length} sent, ${received.length} received; longest way back ${Math.max(...gapsMs).toFixed(0)} ms`,
    );
    expect(received).toEqual(sent);
    expect(sent.length).toBeGreaterThan(100);
    expect(bench.numbersOf(neighbour, '2a5f')).toEqual(neighbour.sentNumbers('2a5f').map((n) => n % 2_000));
    expect(bench.countsOf(strap)).toMatchObject({ losses: 20, duplicates: 0, outOfOrder: 0, missed: 0 });
    expect(bench.countsOf(neighbour)).toMatchObject({ losses: 0, duplicates: 0, outOfOrder: 0, missed: 0 });
    // Each gap is visible: lost, then connected again.
    const links = bench.statuses.filter((status) => status.sensorId === strap.sensorId).map((s) => s.link);
    expect(links.filter((link, at) => link === 'lost' && links[at - 1] !== 'lost')).toHaveLength(20);
  } finally {
    await bench.source.stop();
    for (const sensor of [strap, neighbour]) sensor.kill();
  }
});

test(
  'silent death: a sensor that vanishes without a word is noticed within three seconds, its neighbour goes on',
  timed,
  async () => {
    const victim = await air.sensor('Dying clip', ['oximeter']);
    const neighbour = await air.sensor('Living strap', ['heartRate']);
    const bench = await HubBench.start({
      adapters: [`unix:${air.controllerSocket}`],
      wanted: [victim, neighbour],
    });
    try {
      await Promise.all([bench.untilReading(victim, '2a5f', 3), bench.untilReading(neighbour, '2a37', 3)]);
      victim.kill();
      await until('the death to be noticed', () => bench.link(victim) === 'lost');
      const silentMs = bench.status(victim)!.atMs - lastPacketMs(bench, victim, '2a5f');
      console.log(`silent death noticed after ${silentMs.toFixed(0)} ms`);
      expect(silentMs).toBeLessThan(noticedWithinMs);
      await bench.untilReading(neighbour, '2a37', 3);
      expect(bench.countsOf(neighbour)).toMatchObject({ losses: 0, missed: 0 });
    } finally {
      await bench.source.stop();
      neighbour.kill();
    }
  },
);

test('frozen sensor: noticed within three seconds, and picked up again when it thaws', timed, async () => {
  const frozen = await air.sensor('Freezing strap', ['heartRate']);
  const bench = await HubBench.start({ adapters: [`unix:${air.controllerSocket}`], wanted: [frozen] });
  try {
    await bench.untilReading(frozen, '2a37', 3);
    process.kill(frozen.process.pid!, 'SIGSTOP');
    await until('the freeze to be noticed', () => bench.link(frozen) === 'lost');
    const silentMs = bench.status(frozen)!.atMs - lastPacketMs(bench, frozen, '2a37');
    console.log(`freeze noticed after ${silentMs.toFixed(0)} ms`);
    expect(silentMs).toBeLessThan(noticedWithinMs);
    process.kill(frozen.process.pid!, 'SIGCONT');
    await bench.untilReading(frozen, '2a37', 3);
    await until('it to count as connected', () => bench.link(frozen) === 'connected');
  } finally {
    process.kill(frozen.process.pid!, 'SIGCONT');
    await bench.source.stop();
    frozen.kill();
  }
});

test('a sensor that answers but sends nothing stays connected and says so', async () => {
  const mute = await air.sensor('Mute clip', ['oximeter']);
  const bench = await HubBench.start({ adapters: [`unix:${air.controllerSocket}`], wanted: [mute] });
  try {
    await bench.untilReading(mute, '2a5f', 2);
    mute.send({ type: 'mute', muted: true });
    await until('the silence to be told', () => inWords(bench.status(mute)?.detail).includes('no readings'));
    expect(bench.link(mute)).toBe('connected');
    mute.send({ type: 'mute', muted: false });
    await bench.untilReading(mute, '2a5f', 2);
    expect(bench.countsOf(mute).losses).toBe(0);
  } finally {
    await bench.source.stop();
    mute.kill();
  }
});

test('an absent sensor delays nobody, and one that accepts no connection is given up and tried again', async () => {
  const absent = await air.sensor('Absent strap', ['heartRate']);
  const shy = await air.sensor('Shy strap', ['heartRate']);
  const tap = await AdapterTap.open(air.controllerSocket, air.path('absent'));
  absent.kill();
  // Heard, and gone the moment the hub wants to connect.
  let hideShy = true;
  tap.swallow = (command) => {
    if (command.readUInt16LE(1) === 0x200d && hideShy) {
      hideShy = false;
      shy.send({ type: 'stopAdvertising' });
      return true;
    }
    return false;
  };
  const bench = await HubBench.start({ adapters: [`unix:${air.path('absent')}`], wanted: [absent, shy] });
  try {
    await until('the attempt on the shy one', () => bench.link(shy) === 'connecting');
    const present = await air.sensor('Present clip', ['oximeter']);
    const startedAtMs = performance.now();
    bench.source.setWantedSensors(new Set([absent.sensorId, shy.sensorId, present.sensorId]));
    await bench.untilReading(present, '2a5f');
    console.log(
      `present sensor read ${(performance.now() - startedAtMs).toFixed(0)} ms after it was assigned`,
    );
    expect(bench.link(absent)).toBe('searching');
    shy.send({ type: 'startAdvertising' });
    await bench.untilReading(shy, '2a37', 2);
    expect(tap.cancels).toBe(1);
    expect(bench.countsOf(shy).failedAttempts).toBe(1);
    expect(bench.countsOf(present).losses).toBe(0);
    present.kill();
  } finally {
    await bench.source.stop();
    tap.close();
    shy.kill();
  }
});

test('adapter unplugged and plugged in again: told at once, and both links come back by themselves', async () => {
  const strap = await air.sensor('Plug strap', ['heartRate']);
  const clip = await air.sensor('Plug clip', ['oximeter']);
  const tap = await AdapterTap.open(air.controllerSocket, 0);
  const bench = await HubBench.start({ adapters: [`tcp:127.0.0.1:${tap.port}`], wanted: [strap, clip] });
  try {
    await Promise.all([bench.untilReading(strap, '2a37', 3), bench.untilReading(clip, '2a5f', 3)]);
    tap.unplug();
    const unpluggedAtMs = performance.now();
    await until('the unplugging to be told', () =>
      (bench.notices.at(-1) ?? '').includes('cannot be reached'),
    );
    console.log(`unplugging told after ${(performance.now() - unpluggedAtMs).toFixed(0)} ms`);
    expect(bench.link(strap)).toBe('lost');
    expect(bench.link(clip)).toBe('lost');
    // Stays unplugged across at least two attempts of the hub.
    await until(
      'two further attempts',
      () => bench.logLines.filter((line) => line.includes('noAdapter')).length >= 3,
    );
    tap.plugIn();
    await Promise.all([bench.untilReading(strap, '2a37', 3), bench.untilReading(clip, '2a5f', 3)]);
    expect(bench.notices.at(-1)).toBeNull();
    for (const [sensor, uuid] of [
      [strap, '2a37'],
      [clip, '2a5f'],
    ] as const) {
      const numbers = bench.numbersOf(sensor, uuid);
      expect(numbers).toEqual([...new Set(numbers)].sort((a, b) => a - b));
      expect(bench.countsOf(sensor)).toMatchObject({ losses: 1, duplicates: 0, outOfOrder: 0 });
    }
  } finally {
    await bench.source.stop();
    tap.close();
    strap.kill();
    clip.kill();
  }
});

test('an adapter that hangs on a cancelled connect is started again', async () => {
  const strap = await air.sensor('Hung strap', ['heartRate']);
  const tap = await AdapterTap.open(air.controllerSocket, air.path('hang'));
  let hung = true;
  tap.swallow = (command) => hung && [0x200d, 0x200e].includes(command.readUInt16LE(1));
  const bench = await HubBench.start({ adapters: [`unix:${air.path('hang')}`], wanted: [strap] });
  try {
    await until('the hang to be noticed', () =>
      bench.logLines.some((line) => line.includes('starting again')),
    );
    hung = false;
    await bench.untilReading(strap, '2a37', 2);
    expect(bench.notices.at(-1)).toBeNull();
  } finally {
    await bench.source.stop();
    tap.close();
    strap.kill();
  }
});
