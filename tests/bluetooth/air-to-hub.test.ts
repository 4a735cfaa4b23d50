// What only a whole hub can answer, with sensors of the independent air: bytes that a link left behind, and an oximeter that
// measures once at a time.

import { expect, test } from 'vitest';
import { systemClock } from '../../hub/base/system-clock.ts';
import type { Hub } from '../../hub/live/hub.ts';
import { initialSettings } from '../../hub/live/initial-settings.ts';
import type { LiveEvent } from '../../hub/live/live-event.ts';
import { openStoreInMemory } from '../../hub/recorder/sqlite-store.ts';
import { openBluetooth } from '../../hub/sensors/bluetooth/open-bluetooth.ts';
import { profileLinkOf } from '../../hub/sensors/bluetooth/profile-link.ts';
import { pipelineFactory } from '../../src/pipeline.ts';
import { parseProfile } from '../../src/profiles/profile-file.ts';
import type { SensorProfile } from '../../src/profiles/sensor-profile.ts';
import { hubInTest } from '../support/hub-in-test.ts';
import { inWords } from '../support/in-words.ts';
import { Air, type AirSensor, idOf } from './air/air.ts';
import { buildRig } from './rig/build-rig.ts';
import { until as untilWithin } from './rig/virtual-air.ts';

const until = (what: string, check: () => boolean): Promise<void> => untilWithin(what, check, 60_000);

interface OnHub {
  readonly air: Air;
  readonly hub: Hub;
  readonly heard: readonly LiveEvent[];
}

/** One sensor of the air, worn by one person. */
async function withHub(
  sensor: AirSensor,
  profiles: readonly SensorProfile[],
  run: (on: OnHub) => Promise<void>,
): Promise<void> {
  const air = await Air.open();
  const { radioEntry } = await buildRig();
  await air.add(sensor);
  const store = openStoreInMemory();
  store.saveAthlete({ athleteId: 'a1', name: 'Rig', simulated: false, settings: initialSettings });
  store.assignSensor(idOf(sensor), 'a1');
  const opened = openBluetooth({
    settings: { adapters: [`unix:${air.socketPath}`], library: '@abandonware/noble' },
    clock: systemClock,
    log: () => {},
    remembered: [{ sensorId: idOf(sensor), name: sensor.name, kinds: [] }],
    profiles: profiles.map(profileLinkOf),
    radioEntry,
  });
  if (!opened.ok) throw new Error(inWords(opened.reason));
  const hub = hubInTest({
    clock: systemClock,
    store,
    sources: [opened.value],
    createPipeline: pipelineFactory(profiles),
    profiles: () => profiles,
  });
  const heard: LiveEvent[] = [];
  hub.subscribe((event) => heard.push(event));
  await hub.start();
  try {
    await run({ air, hub, heard });
  } finally {
    await hub.stop();
    air.close();
  }
}

const device = { uuid: '1800', characteristics: [{ uuid: '2a00', properties: ['read'], value: '53' }] };

test('half a frame that a link left behind is joined to nothing of the next: no phantom saturation', async () => {
  // No checksum would tell: c0, a saturation, a pulse.
  const parsed = parseProfile(`{
    "profile": 1, "name": "Invented", "measures": ["oximeter"], "match": { "services": ["ff00"] },
    "link": { "service": "ff00", "notify": "ff01", "start": [] },
    "frame": { "sync": "c0", "length": { "fixed": 3 } },
    "fields": [{ "gives": "spo2Percent", "at": 1 }, { "gives": "pulseRateBpm", "at": 2 }]
  }`);
  if (!parsed.ok) throw new Error(JSON.stringify(parsed.reason));
  const sensor: AirSensor = {
    id: 'half',
    address: 'c4:b1:a2:33:0b:01',
    random: true,
    name: 'Half frames',
    advertises: ['ff00'],
    services: [device, { uuid: 'ff00', characteristics: [{ uuid: 'ff01', properties: ['notify'] }] }],
  };
  await withHub(sensor, [parsed.value], async ({ air, hub, heard }) => {
    const send = (bytes: string) => air.order({ do: 'send', id: sensor.id, characteristic: 'ff01', bytes });
    const packets = () => heard.filter(({ type }) => type === 'packet').length;
    const isLinked = () => hub.sensors.some(({ link }) => link === 'connected');
    const started = hub.startSession(['a1'], '');
    if (!started.ok) throw new Error(inWords(started.reason.said));
    await until('the link', isLinked);
    await send('c0603d');
    await send('c0');
    await until('a frame and the beginning of one', () => packets() >= 2);
    await air.order({ do: 'drop', id: sensor.id });
    await until('the loss', () => !isLinked());
    await until('another link', isLinked);
    // What is left of a frame that the hub never saw begin: with the byte from before it would be 80 %.
    await send('503d');
    await send('c0613d');
    await until('both', () => packets() >= 4);
    const saturations = heard.flatMap((event) =>
      event.type === 'sample' && event.sample.channel === 'spo2Percent' ? [event.sample.value] : [],
    );
    expect(saturations).toEqual([96, 97]);
  });
}, 200_000);

test('an oximeter that measures once at a time is told as that, and no session begins on it', async () => {
  const sensor: AirSensor = {
    id: 'spot',
    address: 'c4:b1:a2:33:0b:02',
    random: true,
    name: 'Now and then',
    advertises: ['1822'],
    services: [device, { uuid: '1822', characteristics: [{ uuid: '2a5e', properties: ['indicate'] }] }],
  };
  await withHub(sensor, [], async ({ hub }) => {
    const status = () => hub.sensors.find(({ sensorId }) => sensorId === idOf(sensor));
    await until('its kind', () => status()?.detail?.code === 'sensor.onlySpotChecks');
    const started = hub.startSession(['a1'], '');
    expect(started).toMatchObject({
      ok: false,
      reason: { said: { code: 'refusal.spotChecksOnly', params: { sensor: 'Now and then', name: 'Rig' } } },
    });
  });
}, 200_000);
