// What real sensors do and the emulator's do not, each by sensors of the independent air: raw HCI and ATT, no code in
// common with the hub, its library or the other rig.

import { expect, test } from 'vitest';
import { profileLinkOf } from '../../hub/sensors/bluetooth/profile-link.ts';
import { monotonicMs } from '../../shared/units.ts';
import { checksumOf } from '../../src/profiles/checksum.ts';
import { parseProfile } from '../../src/profiles/profile-file.ts';
import { createPacketReader } from '../../src/signal/packet-reader.ts';
import { inWords } from '../support/in-words.ts';
import { Air, type AirSensor, idOf } from './air/air.ts';
import { HubBench } from './rig/hub-bench.ts';
import { until as untilWithin } from './rig/virtual-air.ts';

/** With patience for many at once. */
const until = (what: string, check: () => boolean, limitMs = 40_000): Promise<void> =>
  untilWithin(what, check, Math.max(limitMs, 40_000));

/** Side by side, for they mostly wait: each on an air of its own. */
function onAir(name: string, run: (air: Air) => Promise<void>, limitMs = 90_000, retry = 0): void {
  test.concurrent(name, { timeout: limitMs, retry }, async () => {
    const air = await Air.open();
    try {
      await run(air);
    } finally {
      air.close();
    }
  });
}

const device = { uuid: '1800', characteristics: [{ uuid: '2a00', properties: ['read'], value: '53' }] };
const heartRate = (everyMs = 200) => ({
  uuid: '180d',
  characteristics: [
    { uuid: '2a37', properties: ['notify'], stream: { kind: 'heartRate' as const, everyMs } },
  ],
});
let sensors = 0;
const strap = (more: Partial<AirSensor> = {}): AirSensor => {
  sensors += 1;
  const last = sensors.toString(16).padStart(2, '0');
  return {
    id: `s${sensors}`,
    address: `c4:b1:a2:33:04:${last}`,
    random: true,
    name: `Air ${sensors}`,
    services: [device, heartRate()],
    ...more,
  };
};
async function hubFor(air: Air, sensor: AirSensor, ...others: readonly AirSensor[]): Promise<HubBench> {
  for (const each of [sensor, ...others]) await air.add(each);
  return HubBench.start({
    adapters: [`unix:${air.socketPath}`],
    wanted: [sensor, ...others].map((each) => ({ sensorId: idOf(each), plan: { name: each.name } })),
  });
}

onAir('a sensor is found, linked and read', async (air) => {
  const sensor = strap();
  const bench = await hubFor(air, sensor);
  try {
    await until('readings', () => bench.packets.length > 5);
    expect(bench.packets[0]!.sensorId).toBe(idOf(sensor));
    const link = air.of('connected', sensor.id)[0]!;
    expect(link.timeout).toBe(5_120);
  } finally {
    await bench.source.stop();
  }
});

onAir('scanning that the adapter refused, three times, begins again by itself', async (air) => {
  const sensor = strap({ on: false });
  const bench = await hubFor(air, sensor);
  try {
    await until('scanning', () => air.of('scan').at(-1)?.on === true);
    // Command Disallowed, as while another program scans; the end of scanning is refused too.
    await air.order({ do: 'refuse', opcode: 0x200c, codes: [0x0c, 0x0c, 0x0c, 0x0c, 0x0c, 0x0c] });
    await until('the refusals', () => air.of('refused').length >= 6, 30_000);
    await air.order({ do: 'set', id: sensor.id, on: true });
    await until('readings after all', () => bench.packets.length > 2);
    expect(bench.source.health[0]!.starts).toBe(1);
  } finally {
    await bench.source.stop();
  }
});

onAir(
  'fades of half a second to five seconds cost no link and no packet, and the longest are told',
  async (air) => {
    const [first, second] = [strap(), strap()];
    const bench = await hubFor(air, first, second);
    const numbersOf = (sensor: AirSensor): number[] =>
      bench.packets
        .filter(({ sensorId, characteristic }) => sensorId === idOf(sensor) && characteristic === '2a37')
        .map(({ bytes }) => bytes[2]! | (bytes[3]! << 8));
    try {
      await until('both to send', () => [first, second].every((sensor) => numbersOf(sensor).length > 3));
      const fadesMs = [500, 700, 1_000, 1_200, 2_000, 3_000, 4_500, 4_900];
      for (const [index, ms] of fadesMs.entries()) {
        const faded = index % 2 === 0 ? first : second;
        await air.order({ do: 'fade', id: faded.id, ms });
        const before = numbersOf(faded).length;
        await until(`word after a fade of ${ms} ms`, () => numbersOf(faded).length > before + 3);
      }
      const losses = [first, second].map((sensor) => bench.source.counts.sensors.get(idOf(sensor))!.losses);
      const told = bench.statuses.filter(({ link }) => link === 'lost').length;
      console.log(
        `${fadesMs.length} fades of 0.5 to 4.9 s: ${losses} links lost, ${told} times told as lost`,
      );
      expect(losses).toEqual([0, 0]);
      for (const sensor of [first, second]) {
        const numbers = numbersOf(sensor);
        expect(numbers).toEqual(numbers.map((_, index) => index + 1));
      }
      // Three seconds without a word are told, and each further second anew; half a second is not.
      expect(told).toBeGreaterThan(0);
      expect(told).toBeLessThan(12);
    } finally {
      await bench.source.stop();
    }
  },
);

onAir(
  'a sensor that is gone for good is told within three seconds of its last packet',
  async (air) => {
    const sensor = strap();
    const bench = await hubFor(air, sensor);
    try {
      await until('readings', () => bench.packets.length > 5);
      await air.order({ do: 'vanish', id: sensor.id });
      await until('the loss', () => bench.statuses.at(-1)?.link === 'lost');
      const silentMs =
        bench.statuses.find(({ link }) => link === 'lost')!.atMs - bench.packets.at(-1)!.receivedAtMs;
      console.log(`gone for good: told after ${silentMs.toFixed(0)} ms`);
      expect(silentMs).toBeLessThan(3_000);
      await until('its link to end', () => air.of('disconnected', sensor.id).length > 0);
    } finally {
      await bench.source.stop();
    }
  },
  90_000,
  2,
);

onAir('what a sensor asks of its link is answered: granted, within what a hold can bear', async (air) => {
  // Interval 50 to 100 ms, asleep for 9 of 10, 420 ms: as some straps ask to save their battery.
  const sensor = strap({ parameterRequest: { min: 40, max: 80, latency: 9, timeout: 42, afterMs: 200 } });
  const bench = await hubFor(air, sensor);
  try {
    await until('the answer', () => air.of('signal', sensor.id).length > 0);
    // Connection Parameter Update Response, identifier 7, accepted (Core 5.3 Vol 3 Part A s4.21).
    expect(air.of('signal', sensor.id)[0]!.bytes).toBe('130702000000');
    await until('the new parameters', () => air.of('update', sensor.id).length > 0);
    expect(air.of('update', sensor.id)[0]).toMatchObject({ interval: 100, latency: 3, timeout: 5_120 });
    await until('readings', () => bench.packets.length > 5);
  } finally {
    await bench.source.stop();
  }
});

onAir('while a sensor is missed, scanning takes a third of the air beside the links', async (air) => {
  const [here, absent] = [strap(), strap({ on: false })];
  const bench = await hubFor(air, here, absent);
  try {
    await until('readings', () => bench.packets.length > 2);
    const scansSince = air.of('scanParameters').length;
    await until('scanning on', () => air.of('scanParameters').length > scansSince);
    for (const { interval, window, links } of air.of('scanParameters').slice(scansSince)) {
      if (links === 1) expect(Number(window) / Number(interval)).toBeCloseTo(1 / 3, 2);
    }
    await air.order({ do: 'set', id: absent.id, on: true });
    await until('the missed one', () => bench.packets.some(({ sensorId }) => sensorId === idOf(absent)));
  } finally {
    await bench.source.stop();
  }
});

onAir('beats arrive where they were: a strap that sends by its own clock, over the air', async (air) => {
  const sensor = strap({
    services: [
      device,
      {
        uuid: '180d',
        characteristics: [
          { uuid: '2a37', properties: ['notify'], stream: { kind: 'beats', everyMs: 700, meanMs: 430 } },
        ],
      },
    ],
  });
  const bench = await hubFor(air, sensor);
  try {
    await until('the beats', () => air.of('beat', sensor.id).length >= 56, 60_000);
    await until('the packets of them', () => bench.packets.length >= air.of('sent', sensor.id).length - 1);
  } finally {
    await bench.source.stop();
  }
  // The air's clock is CLOCK_MONOTONIC, as this process's is.
  const apartMs = Number(process.hrtime.bigint()) / 1e6 - performance.now();
  const truth = air.of('beat', sensor.id).map(({ at }) => Number(at) - apartMs);
  const reader = createPacketReader();
  const placed = bench.packets.flatMap((packet) =>
    reader
      .read({ ...packet, atMs: monotonicMs(packet.receivedAtMs) })
      .samples.flatMap(({ channel, atMs }) => (channel === 'rrIntervalMs' ? [atMs as number] : [])),
  );
  const errors = placed.map((at, index) => Math.abs(at - truth[index]!)).slice(36);
  errors.sort((a, b) => a - b);
  console.log(
    `${errors.length} beats after the first 36: median ${errors[errors.length >> 1]!.toFixed(0)} ms, most ${errors.at(-1)!.toFixed(0)} ms off`,
  );
  expect(errors[Math.floor(0.9 * errors.length)]!).toBeLessThan(90);
});

const oximeter = (more: object = {}, everyMs = 200) => ({
  uuid: '1822',
  characteristics: [
    { uuid: '2a5f', properties: ['notify'], stream: { kind: 'oximeter' as const, everyMs }, ...more },
  ],
});
const battery = (more: object = {}) => ({
  uuid: '180f',
  characteristics: [{ uuid: '2a19', properties: ['read', 'notify'], value: '50', ...more }],
});
const information = (more: object = {}) => ({
  uuid: '180a',
  characteristics: [{ uuid: '2a24', properties: ['read'], value: '4d', ...more }],
});

onAir(
  'heart rate goes on beside whatever else is refused, locked or swallowed, in five sensors at once',
  async (air) => {
    const cases = [
      ['oximetry locked, pairing refused', [oximeter({ locked: 5 })], 'saturation is locked'],
      ['a battery whose subscription is refused', [battery({ refuseSubscribe: 3 })], null],
      ['a battery whose subscription hangs', [battery({ hangSubscribe: true })], null],
      ['device information that never answers', [information({ hangRead: true })], null],
      ['oximetry whose subscription hangs', [oximeter({ hangSubscribe: true })], 'does not send'],
    ] as const;
    const worn = cases.map(([, services]) => strap({ services: [device, heartRate(), ...services] }));
    const bench = await hubFor(air, worn[0]!, ...worn.slice(1));
    const beatsOf = (sensor: AirSensor) =>
      bench.packets.filter(
        ({ sensorId, characteristic }) => sensorId === idOf(sensor) && characteristic === '2a37',
      ).length;
    try {
      await until('first readings of all', () => worn.every((sensor) => beatsOf(sensor) > 0));
      // Nine seconds each, past every limit that an unanswered question could run into.
      await until('readings of all', () => worn.every((sensor) => beatsOf(sensor) >= 45), 30_000);
      for (const [index, [what, , words]] of cases.entries()) {
        const sensorId = idOf(worn[index]!);
        expect(bench.source.counts.sensors.get(sensorId), what).toMatchObject({
          losses: 0,
          failedAttempts: 0,
        });
        const last = bench.statuses.findLast((status) => status.sensorId === sensorId)!;
        expect(last.link, what).toBe('connected');
        if (words !== null) expect(inWords(last.detail), what).toContain(words);
      }
    } finally {
      await bench.source.stop();
    }
  },
);

onAir('locked altogether: said so, not "not heard"', async (air) => {
  const sensor = strap({
    services: [
      device,
      { uuid: '1822', characteristics: [{ ...oximeter().characteristics[0]!, locked: 15 }] },
    ],
  });
  const bench = await hubFor(air, sensor);
  try {
    await until('the words', () => inWords(bench.statuses.at(-1)?.detail).includes('wants to be paired'));
    expect(air.of('pairingRequest', sensor.id).length).toBeGreaterThan(0);
    expect(bench.statuses.some(({ detail }) => inWords(detail).includes('did not start'))).toBe(false);
  } finally {
    await bench.source.stop();
  }
});

onAir('a request for security is answered by a try to pair, and the readings go on', async (air) => {
  const sensor = strap({ securityRequest: true });
  const bench = await hubFor(air, sensor);
  try {
    await until('the try', () => air.of('pairingRequest', sensor.id).length > 0);
    await until('readings', () => bench.packets.length > 5);
  } finally {
    await bench.source.stop();
  }
});

onAir('the same characteristic twice, the first dead: read all the same', async (air) => {
  const stream = heartRate().characteristics[0]!;
  const sensor = strap({
    services: [device, { uuid: '180d', characteristics: [{ ...stream, dead: true }, stream] }],
  });
  const other = strap({
    services: [device, { uuid: '180d', characteristics: [{ ...stream, dead: true }] }, heartRate()],
  });
  const bench = await hubFor(air, sensor, other);
  try {
    for (const each of [sensor, other]) {
      await until(
        'readings',
        () => bench.packets.filter(({ sensorId }) => sensorId === idOf(each)).length > 3,
      );
    }
  } finally {
    await bench.source.stop();
  }
});

onAir('forty services, each answer a tenth of a second late: read, and not given up', async (air) => {
  const filler = Array.from({ length: 38 }, (_, i) => ({
    uuid: `7a5e${(i + 16).toString(16).padStart(4, '0')}c0de4d0a9b1f2f6e54696465`,
    characteristics: [{ uuid: `ff${(i + 16).toString(16)}`, properties: ['read'], value: '00' }],
  }));
  const sensor = strap({
    answerAfterMs: 100,
    advertises: ['180d'],
    services: [device, ...filler, heartRate()],
  });
  const bench = await hubFor(air, sensor);
  const startedAtMs = performance.now();
  try {
    await until('readings', () => bench.packets.length > 3, 30_000);
    console.log(`forty slow services: read after ${(performance.now() - startedAtMs).toFixed(0)} ms`);
    expect(bench.source.counts.sensors.get(idOf(sensor))!.failedAttempts).toBe(0);
  } finally {
    await bench.source.stop();
  }
});

for (const everyS of [3, 4])
  onAir(`an oximeter that sends every ${everyS} s stays connected and is told to be slow`, async (air) => {
    const sensor = strap({ frozenReads: true, services: [oximeter({}, 1_000 * everyS)] });
    const bench = await hubFor(air, sensor);
    try {
      await until(
        'its pace to be known',
        () => inWords(bench.statuses.at(-1)?.detail).includes(`every ${everyS} s`),
        60_000,
      );
      const from = bench.statuses.length;
      const packets = bench.packets.length;
      await until('two more', () => bench.packets.length >= packets + 2);
      expect(
        new Set(
          bench.statuses
            .slice(from)
            .filter(({ sensorId }) => sensorId === idOf(sensor))
            .map(({ link }) => link),
        ),
      ).toEqual(new Set());
      expect(bench.source.counts.sensors.get(idOf(sensor))!.losses).toBe(0);
    } finally {
      await bench.source.stop();
    }
  });

onAir('advertising every 3.5 s: connected, and a neighbour is not held up', async (air) => {
  const slow = strap({ advertiseEveryMs: 3_500 });
  const quick = strap();
  const bench = await hubFor(air, slow, quick);
  const startedAtMs = performance.now();
  try {
    await until('the neighbour', () => bench.packets.some(({ sensorId }) => sensorId === idOf(quick)), 8_000);
    // When scanning and an advertisement meet is chance: three in four times within 20 s, once in many after a minute.
    const cancels = () => air.of('cancel').length;
    const before = cancels();
    await until('the slow one', () => bench.packets.some(({ sensorId }) => sensorId === idOf(slow)), 120_000);
    console.log(
      `advertising every 3.5 s: read after ${((performance.now() - startedAtMs) / 1000).toFixed(1)} s, ${cancels() - before} attempts cancelled`,
    );
  } finally {
    await bench.source.stop();
  }
});

onAir(
  'a sensor that falls silent without its keep-alive is kept alive by its profile, and told to stop at the end',
  async (air) => {
    const text = `{
    "profile": 1, "name": "Invented", "measures": ["oximeter"], "match": { "services": ["ff00"] },
    "link": {
      "service": "ff00", "notify": "ff01",
      "keepAlive": { "characteristic": "ff02", "bytes": "a0 01", "everyMs": 1000 },
      "start": [{ "characteristic": "ff02", "bytes": "a0 01" }],
      "stop": [{ "characteristic": "ff02", "bytes": "a0 00" }]
    },
    "frame": { "sync": "c0", "escape": { "mark": 219, "xor": 32 }, "length": { "fixed": 5 },
      "checksum": { "kind": "crc16", "fromEnd": 2, "from": 1 } },
    "fields": [{ "gives": "spo2Percent", "at": 1 }, { "gives": "pulseRateBpm", "at": 2 }]
  }`;
    const parsed = parseProfile(text);
    if (!parsed.ok) throw new Error(JSON.stringify(parsed.reason));
    const profile = parsed.value;
    const crc = checksumOf('crc16', Uint8Array.of(96, 61));
    // The checksum's low byte is 0xdb, the mark of an escape.
    const body = [96, 61, crc >> 8, crc & 0xff].flatMap((byte) =>
      byte === 0xc0 || byte === 0xdb ? [0xdb, byte ^ 0x20] : [byte],
    );
    const frame = Buffer.from([0xc0, ...body]).toString('hex');
    const sensor = strap({
      advertises: ['ff00'],
      muted: true,
      keepAlive: { bytes: 'a001', withinMs: 1_600 },
      services: [
        device,
        {
          uuid: 'ff00',
          characteristics: [
            {
              uuid: 'ff01',
              properties: ['notify'],
              stream: { kind: 'bytes', everyMs: 100, frames: [frame] },
            },
            // One way only, and not the one that a profile means by itself.
            { uuid: 'ff02', properties: ['writeWithoutResponse'] },
          ],
        },
      ],
    });
    await air.add(sensor);
    const bench = await HubBench.start({
      adapters: [`unix:${air.socketPath}`],
      profiles: [profileLinkOf(profile)],
      wanted: [{ sensorId: idOf(sensor), plan: { name: sensor.name } }],
    });
    try {
      await until('five seconds of it', () => bench.packets.length > 50);
      expect(air.of('fellSilent', sensor.id)).toHaveLength(0);
      const reader = createPacketReader([profile]);
      const { samples } = reader.read({ ...bench.packets.at(-1)!, atMs: monotonicMs(1) });
      expect(samples.map(({ value }) => value)).toEqual([96, 61]);
      bench.source.setWantedSensors(new Set());
      await until('the word to stop', () => air.of('written', sensor.id).at(-1)?.bytes === 'a000');
    } finally {
      await bench.source.stop();
    }
  },
);

onAir('clips of two makers on one characteristic are read at once, each its own way', async (air) => {
  const profileOf = (name: string, namePrefix: string, spo2At: number, pulseAt: number) => {
    const parsed = parseProfile(
      JSON.stringify({
        profile: 1,
        name,
        measures: ['oximeter'],
        match: { services: ['ffe0'], namePrefix },
        link: { service: 'ffe0', notify: 'ffe1' },
        fields: [
          { gives: 'spo2Percent', at: spo2At },
          { gives: 'pulseRateBpm', at: pulseAt },
        ],
      }),
    );
    if (!parsed.ok) throw new Error(JSON.stringify(parsed.reason));
    return parsed.value;
  };
  const profiles = [profileOf('Of the quay', 'Quay', 0, 1), profileOf('Of the basin', 'Basin', 2, 0)];
  const clip = (name: string, frame: string) =>
    strap({
      name,
      advertises: ['ffe0'],
      services: [
        device,
        {
          uuid: 'ffe0',
          characteristics: [
            {
              uuid: 'ffe1',
              properties: ['notify'],
              stream: { kind: 'bytes', everyMs: 200, frames: [frame] },
            },
          ],
        },
      ],
    });
  // What either profile would make of the other's bytes looks just as well.
  const clips = [clip('Quay 1', '605d62'), clip('Basin 1', '5a635e'), clip('Weir 1', '616160')];
  for (const each of clips) await air.add(each);
  const bench = await HubBench.start({
    adapters: [`unix:${air.socketPath}`],
    profiles: profiles.map(profileLinkOf),
    wanted: clips.map((each) => ({ sensorId: idOf(each), plan: { name: each.name } })),
  });
  try {
    const of = (sensor: AirSensor) => bench.packets.filter(({ sensorId }) => sensorId === idOf(sensor));
    await until('both', () => of(clips[0]!).length > 10 && of(clips[1]!).length > 10);
    await until('a third maker', () => air.of('connected', clips[2]!.id).length > 0);
    const reader = createPacketReader(profiles);
    const readBy = (sensor: AirSensor) =>
      new Set(
        of(sensor).map((packet) =>
          reader
            .read({ ...packet, atMs: monotonicMs(1) })
            .samples.map(({ value }) => value)
            .join(),
        ),
      );
    expect([...readBy(clips[0]!)]).toEqual(['96,93']);
    expect([...readBy(clips[1]!)]).toEqual(['94,90']);
    // Nobody knows how its bytes are to be read.
    expect(of(clips[2]!)).toEqual([]);
  } finally {
    await bench.source.stop();
  }
});

onAir(
  'a strap whose address changes is known again by its serial number, and its old names leave the list',
  async (air) => {
    const sensor = strap({
      address: '5c:b1:a2:33:04:01',
      services: [
        device,
        heartRate(),
        { uuid: '180a', characteristics: [{ uuid: '2a25', properties: ['read'], value: '534e2037' }] },
      ],
    });
    const bench = await hubFor(air, sensor);
    const count = () =>
      bench.packets.filter(
        ({ sensorId, characteristic }) => sensorId === idOf(sensor) && characteristic === '2a37',
      ).length;
    try {
      await until('its serial number', () =>
        bench.packets.some(({ characteristic }) => characteristic === '2a25'),
      );
      for (const address of ['5c:b1:a2:33:04:77', '7d:b1:a2:33:04:78']) {
        await air.order({ do: 'set', id: sensor.id, address });
        await air.order({ do: 'drop', id: sensor.id, reason: 0x08 });
        const before = count();
        await until(`readings from ${address}`, () => count() > before + 5, 30_000);
      }
      const foreign = bench.packets.filter(({ sensorId }) => sensorId !== idOf(sensor));
      expect(foreign).toHaveLength(0);
      expect(bench.gone).toContain('bt:5cb1a2330477');
      expect(bench.source.counts.sensors.get(idOf(sensor))!.losses).toBe(2);
    } finally {
      await bench.source.stop();
    }
  },
);
