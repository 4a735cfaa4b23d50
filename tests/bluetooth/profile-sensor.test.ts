// A sensor that speaks a protocol of its own, found, started and read by the example profile; and captured raw.

import { readFileSync } from 'node:fs';
import { mkdtemp, readFile, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { systemClock } from '../../hub/base/system-clock.ts';
import { runCapture } from '../../hub/commands/capture.ts';
import { runProfileCheck } from '../../hub/commands/profile-check.ts';
import { profileLinkOf } from '../../hub/sensors/bluetooth/profile-link.ts';
import { monotonicMs } from '../../shared/units.ts';
import { parseCapture } from '../../src/profiles/capture-file.ts';
import { decodeProfile, initialProfileState } from '../../src/profiles/decode-profile.ts';
import { parseProfile } from '../../src/profiles/profile-file.ts';
import { inWords } from '../support/in-words.ts';
import { buildRig } from './rig/build-rig.ts';
import { HubBench } from './rig/hub-bench.ts';
import { profileUuids } from './rig/sensor-messages.ts';
import { until, VirtualAir } from './rig/virtual-air.ts';

const profilePath = fileURLToPath(new URL('../../fixtures/profiles/lantern-clip.json', import.meta.url));
let air: VirtualAir;
let folder: string;
beforeAll(async () => {
  air = await VirtualAir.open();
  folder = await mkdtemp(join(tmpdir(), 'capture-'));
});
afterAll(async () => {
  air.close();
  await rm(folder, { recursive: true });
});

test('the example profile finds, starts and reads its sensor, every frame in order', async () => {
  const parsed = parseProfile(readFileSync(profilePath, 'utf8'));
  if (!parsed.ok) throw new Error('the example is broken');
  const clip = await air.sensor('Lantern 5', ['profile'], { everyMs: 40 });
  const bench = await HubBench.start({
    adapters: [`unix:${air.controllerSocket}`],
    profiles: [profileLinkOf(parsed.value)],
  });
  try {
    await until('it to be found by name', () => bench.link(clip) === 'off');
    expect(bench.status(clip)!.kinds).toEqual(['oximeter']);
    bench.source.setWantedSensors(new Set([clip.sensorId]));
    await bench.untilReading(clip, profileUuids.stream, 30);
    expect(clip.log.filter((message) => message.type === 'written')).toEqual([
      { type: 'written', bytes: Uint8Array.of(0xb0, 1) },
    ]);
    let state = initialProfileState;
    const saturations: number[] = [];
    const packets = bench.packetsOf(clip, profileUuids.stream);
    for (const packet of packets) {
      const decoded = decodeProfile(
        parsed.value,
        state,
        clip.sensorId,
        packet.bytes,
        monotonicMs(packet.receivedAtMs),
      );
      state = decoded.state;
      saturations.push(
        ...decoded.samples.flatMap((sample) => (sample.channel === 'spo2Percent' ? [sample.value] : [])),
      );
    }
    expect(state.counts).toEqual({
      frames: packets.length,
      damaged: 0,
      skippedBytes: 0,
      missed: 0,
      repeated: 0,
    });
    // The rig's sensor sends 90 + number % 10.
    expect(saturations).toEqual(packets.map((_, index) => 90 + ((index + 1) % 10)));
  } finally {
    await bench.source.stop();
    clip.kill();
  }
});

test('capture writes the bytes of a sensor, and profile check reads them', async () => {
  const { radioEntry } = await buildRig();
  const clip = await air.sensor('Lantern 6', ['profile'], { everyMs: 40 });
  const out: string[] = [];
  const end = new AbortController();
  const file = join(folder, 'lantern.txt');
  const capture = runCapture(
    ['Lantern', '--out', file, '--profile', profilePath, '--adapter', `unix:${air.controllerSocket}`],
    {
      stdout: { write: (text) => out.push(text) },
      stderr: { write: (text) => out.push(text) },
      signal: end.signal,
    },
    { clock: systemClock, radioEntry },
  );
  await until('frames to be sent', () => clip.sentNumbers(profileUuids.stream).length >= 25);
  end.abort();
  expect(await capture, out.join('')).toBe(0);
  const captured = parseCapture(await readFile(file, 'utf8'));
  if (!captured.ok) throw new Error(inWords(captured.reason));
  const frames = captured.value.filter(({ characteristic }) => characteristic === profileUuids.stream);
  expect(frames.length).toBeGreaterThanOrEqual(20);
  // What it has is told, for whoever must find the start command of a sensor that stays silent.
  const told = out.join('');
  expect(told).toContain(`characteristic ${profileUuids.stream}  notify`);
  expect(told).toMatch(new RegExp(`characteristic ${profileUuids.command}  .*write`));
  const checked: string[] = [];
  const status = await runProfileCheck(['check', profilePath, file], {
    stdout: { write: (text) => checked.push(text) },
    stderr: { write: (text) => checked.push(text) },
  });
  expect(status).toBe(0);
  expect(checked.join('')).toContain(`${frames.length} frames read, 0 damaged, 0 repeated, 0 missing`);
  // A capture never overwrites a file.
  const again = await runCapture(
    ['Lantern', '--out', file, '--seconds', '20', '--adapter', `unix:${air.controllerSocket}`],
    { stdout: { write: () => {} }, stderr: { write: (text) => out.push(text) } },
    { clock: systemClock, radioEntry },
  );
  expect(again).toBe(2);
  expect(out.join('')).toContain('EEXIST');
  clip.kill();
});

test('capture reports on a sensor without its name, its address or a reading', async () => {
  const { radioEntry } = await buildRig();
  const strap = await air.sensor('Strap of Somebody', ['heartRate']);
  const out: string[] = [];
  const end = new AbortController();
  const file = join(folder, 'report.json');
  const io = {
    stdout: { write: (text: string) => out.push(text) },
    stderr: { write: (text: string) => out.push(text) },
    signal: end.signal,
  };
  const words = ['Strap', '--report', file, '--adapter', `unix:${air.controllerSocket}`];
  const capture = runCapture(words, io, { clock: systemClock, radioEntry });
  await until('packets to be sent', () => strap.sentNumbers('2a37').length >= 10);
  end.abort();
  expect(await capture, out.join('')).toBe(0);
  const text = await readFile(file, 'utf8');
  const told = JSON.parse(text) as {
    kinds: string[];
    links: { made: number; firstAfterMs: number };
    surroundings: { transport: string };
    characteristics: { service: string; characteristic: string; properties: string[]; packets: number }[];
  };
  expect(told.kinds).toContain('heartRate');
  expect(told.links.made).toBe(1);
  expect(told.links.firstAfterMs).toBeGreaterThan(0);
  expect(told.surroundings.transport).toBe('unix');
  const measurement = told.characteristics.find(({ characteristic }) => characteristic === '2a37')!;
  expect(measurement).toMatchObject({ service: '180d', properties: ['notify'] });
  expect(measurement.packets).toBeGreaterThanOrEqual(5);
  const address = strap.sensorId.replace('bt:', '').replaceAll(/[:-]/g, '');
  for (const secret of ['Somebody', address, strap.sensorId]) expect(text).not.toContain(secret);
  // A report that is there is not written over, and that is said before a minute is waited for.
  expect(await runCapture(words, io, { clock: systemClock, radioEntry })).toBe(2);
  strap.kill();
});

test('capture without a name lists what is in the air', async () => {
  const { radioEntry } = await buildRig();
  const strap = await air.sensor('Listed strap', ['heartRate']);
  const out: string[] = [];
  const end = new AbortController();
  const listing = runCapture(
    ['--adapter', `unix:${air.controllerSocket}`],
    {
      stdout: { write: (text) => out.push(text) },
      stderr: { write: (text) => out.push(text) },
      signal: end.signal,
    },
    { clock: systemClock, radioEntry },
  );
  await until('the strap to be listed', () => out.join('').includes('Listed strap'));
  end.abort();
  expect(await listing).toBe(0);
  expect(out.join('')).toContain(strap.sensorId);
  strap.kill();
});
