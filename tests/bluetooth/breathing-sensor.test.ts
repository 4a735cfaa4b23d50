// A sensor that is no oximeter, an accelerometer on a chest read by a profile, finds a hold in the real pipeline: from the independent
// air through the radio process, the running hub and its pipeline. And a silent sensor tells what it has.

import { spawnSync } from 'node:child_process';
import { mkdtemp, readFile, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { monitorEventLoopDelay } from 'node:perf_hooks';
import { fileURLToPath } from 'node:url';
import { parse } from 'jsonc-parser';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { systemClock } from '../../hub/base/system-clock.ts';
import { runCapture } from '../../hub/commands/capture.ts';
import { Hub } from '../../hub/live/hub.ts';
import { initialSettings } from '../../hub/live/initial-settings.ts';
import type { LiveEvent } from '../../hub/live/live-event.ts';
import { openStoreInMemory } from '../../hub/recorder/sqlite-store.ts';
import { openBluetooth } from '../../hub/sensors/bluetooth/open-bluetooth.ts';
import { profileLinkOf } from '../../hub/sensors/bluetooth/profile-link.ts';
import { pipelineFactory } from '../../src/pipeline.ts';
import { parseProfile } from '../../src/profiles/profile-file.ts';
import { chestAcceleration } from '../support/breathing-signals.ts';
import { inWords } from '../support/in-words.ts';
import { Air, type AirSensor, idOf } from './air/air.ts';
import { buildRig } from './rig/build-rig.ts';
import { until } from './rig/virtual-air.ts';

const service = '5c1d000127aa4d3e8f106a0b9d3c7e21';
const stream = '5c1d000227aa4d3e8f106a0b9d3c7e21';
const command = '5c1d000327aa4d3e8f106a0b9d3c7e21';

let air: Air;
let radioEntry: string;
let folder: string;
beforeAll(async () => {
  air = await Air.open();
  ({ radioEntry } = await buildRig());
  folder = await mkdtemp(join(tmpdir(), 'breathing-'));
});
afterAll(async () => {
  air.close();
  await rm(folder, { recursive: true });
});

/** Frames of the patch, made in Python from its profile: a status, then 55 s of breathing, 40 s without, 40 s of breathing. */
async function framesOf(profileText: string): Promise<string[]> {
  const profile = parse(profileText) as object;
  const g = 16_384;
  const depth = (atS: number): number => (atS >= 55 && atS < 95 ? 0 : 1);
  const samples = chestAcceleration(135, { depth, breathsPerMin: () => 15 });
  const requests: object[] = [];
  let sent = 0;
  const next = (): readonly number[] => {
    sent += 1;
    return [sent % 256];
  };
  for (let i = 0; i + 5 <= samples.length; i += 5) {
    const axis = (k: number) => samples.slice(i, i + 5).map(([, axes]) => Math.round(axes[k]! * g));
    // What it says of itself comes between.
    if (i % 125 === 0) requests.push({ profile, frames: [[next(), null, null, null, [1], [80]]] });
    requests.push({ profile, frames: [[next(), axis(0), axis(1), axis(2), null, null]] });
  }
  const encoder = fileURLToPath(new URL('../core/profiles/encode_by_profile.py', import.meta.url));
  const input = requests.map((request) => JSON.stringify(request)).join('\n');
  const made = spawnSync('python3', [encoder], { input, encoding: 'utf8', maxBuffer: 1 << 28 });
  return made.stdout.trimEnd().split('\n');
}

const patch = (frames: readonly string[], address: string): AirSensor => ({
  id: address,
  address,
  name: 'Hillside 7',
  muted: true,
  startCommand: '0119',
  services: [
    {
      uuid: service,
      characteristics: [
        {
          uuid: stream,
          properties: ['notify'],
          stream: { kind: 'bytes', everyMs: 200, frames, split: true },
        },
        { uuid: command, properties: ['write'] },
      ],
    },
  ],
});

test('an accelerometer by profile: the hub finds the hold, live, and none beside it', async () => {
  const text = await readFile(
    new URL('../../fixtures/profiles/hillside-patch.json', import.meta.url),
    'utf8',
  );
  const parsed = parseProfile(text);
  if (!parsed.ok) throw new Error(inWords(...parsed.reason.map(({ reason }) => reason)));
  const sensor = patch(await framesOf(text), '5c:b1:a2:44:01:01');
  await air.add(sensor);
  const store = openStoreInMemory();
  store.saveAthlete({ athleteId: 'a1', name: 'Rig', simulated: false, settings: initialSettings });
  store.assignSensor(idOf(sensor), 'a1');
  const opened = openBluetooth({
    settings: { adapters: [`unix:${air.socketPath}`], library: '@abandonware/noble' },
    clock: systemClock,
    log: () => {},
    remembered: [{ sensorId: idOf(sensor), name: sensor.name, kinds: [] }],
    profiles: [profileLinkOf(parsed.value)],
    radioEntry,
  });
  if (!opened.ok) throw new Error(inWords(opened.reason));
  let count = 0;
  const hub = new Hub({
    clock: systemClock,
    pageClock: systemClock,
    store,
    sources: [opened.value],
    createPipeline: pipelineFactory([parsed.value]),
    profiles: () => [parsed.value],
    log: { info: () => {}, warn: () => {}, error: () => {} },
    makeId: () => {
      count += 1;
      return `id-${count}`;
    },
    timeScale: 1,
    simulated: false,
  });
  // Said when the hold is not what it should be: whether the link or the machine gave way.
  const loop = monitorEventLoopDelay();
  loop.enable();
  const events: LiveEvent[] = [];
  hub.subscribe((event) => events.push(event));
  await hub.start();
  try {
    const started = hub.startSession(['a1'], '');
    if (!started.ok) throw new Error(inWords(started.reason.said));
    await until('the sensor to be told to start', () => air.of('written', sensor.id).length > 0, 60_000);
    const first = performance.now();
    const holds = () => {
      const known = new Map(
        events.flatMap((event) =>
          event.type === 'hold' ? [[event.hold.hold.holdId, event.hold.hold] as const] : [],
        ),
      );
      return [...known.values()];
    };
    await until('the hold to be over', () => holds().some(({ end }) => end !== undefined), 180_000);
    const [hold, ...others] = holds();
    expect(others).toEqual([]);
    const startedMs = air.of('written', sensor.id)[0]!.t;
    expect(performance.now() - first).toBeLessThan(130_000);
    const lengthMs = hold!.end!.atMs - hold!.start.atMs;
    console.log(
      `a hold of 40 s by an accelerometer: found ${(lengthMs / 1_000).toFixed(1)} s long, ${startedMs > 0 ? 'started by its profile' : ''}`,
    );
    const commands = air.of('written', sensor.id).length;
    const stalledMs = Math.round(loop.max / 1e6);
    expect(
      Math.abs(lengthMs - 40_000),
      `told to start ${commands} times, the hub stood still for ${stalledMs} ms at most`,
    ).toBeLessThan(8_000);
    expect(hub.sensors.find(({ sensorId }) => sensorId === idOf(sensor))).toMatchObject({
      kinds: ['breathing'],
      batteryPercent: 80,
    });
  } finally {
    loop.disable();
    await hub.stop();
  }
  expect(air.of('written', sensor.id).at(-1)?.['bytes']).toBe('00');
}, 300_000);

test('capture prints services, characteristics and properties of a sensor that stays silent', async () => {
  const sensor = { ...patch(['00'], '5c:b1:a2:44:01:02'), name: 'Silent 1' };
  await air.add(sensor);
  const out: string[] = [];
  const file = join(folder, 'silent.txt');
  const end = new AbortController();
  const capture = runCapture(
    ['Silent', '--out', file, '--adapter', `unix:${air.socketPath}`],
    {
      stdout: { write: (told) => out.push(told) },
      stderr: { write: (told) => out.push(told) },
      signal: end.signal,
    },
    { clock: systemClock, radioEntry },
  );
  await until('its table', () => out.join('').includes(`characteristic ${command}`), 60_000);
  end.abort();
  await capture;
  const told = out.join('');
  expect(told).toContain(`service ${service}`);
  expect(told).toContain(`characteristic ${stream}  notify`);
  expect(told).toContain(`characteristic ${command}  write`);
  expect(await readFile(file, 'utf8')).toContain(`# service ${service}`);
}, 120_000);
