// An oximeter that measures once at a time: the link says so (tests/hub/bluetooth/link-machine.test.ts), and no session
// begins on it.

import { expect, test } from 'vitest';
import type { SensorStatus } from '../../hub/base/ports/sensor-source.ts';
import type { Hub } from '../../hub/live/hub.ts';
import { initialSettings } from '../../hub/live/initial-settings.ts';
import { openStoreInMemory } from '../../hub/recorder/sqlite-store.ts';
import { said } from '../../shared/said.ts';
import { createFakeClock } from '../support/fake-clock.ts';
import { hubInTest } from '../support/hub-in-test.ts';
import { inWords } from '../support/in-words.ts';

const status = (more: Partial<SensorStatus>): SensorStatus => ({
  sensorId: 'spot',
  name: 'Desk clip',
  kinds: [],
  source: 'bluetooth',
  link: 'connected',
  detail: said('sensor.onlySpotChecks'),
  batteryPercent: null,
  rssiDbm: null,
  ...more,
});
const proper = status({ sensorId: 'stream', name: 'Clip', kinds: ['oximeter'], detail: null });

async function hubWith(...sensors: readonly SensorStatus[]): Promise<Hub> {
  const clock = createFakeClock();
  const store = openStoreInMemory();
  for (const athleteId of ['mira', 'teo'])
    store.saveAthlete({ athleteId, name: athleteId, simulated: false, settings: initialSettings });
  for (const { sensorId } of sensors) store.assignSensor(sensorId, 'mira');
  const hub = hubInTest({
    clock,
    store,
    sources: [
      {
        source: 'bluetooth',
        start: async (listener) => {
          for (const sensor of sensors) listener.sensorChanged(sensor);
        },
        stop: async () => undefined,
      },
    ],
  });
  await hub.start();
  return hub;
}

test('no session begins on it, nor is its wearer taken into one; the refusal names it and what to do', async () => {
  const hub = await hubWith(status({}));
  const refused = hub.startSession(['teo', 'mira'], '');
  expect(refused.ok ? null : inWords(refused.reason.said)).toMatch(
    /^Desk clip measures once.*Give mira another oximeter, or take this one off mira/,
  );
  expect(hub.session).toBeNull();
  expect(hub.startSession(['teo'], '').ok).toBe(true);
  expect(hub.joinSession('mira')).toMatchObject({
    ok: false,
    reason: { said: { code: 'refusal.spotChecksOnly' } },
  });
});

test.each([
  ['beside an oximeter that streams', [status({}), proper]],
  ['in one device with a heart rate that streams', [status({ kinds: ['heartRate'] })]],
  ['switched off, so that nothing is known of it', [status({ link: 'off', detail: null })]],
])('it is no hindrance %s', async (_name, sensors) => {
  const hub = await hubWith(...sensors);
  expect(hub.startSession(['mira'], '').ok).toBe(true);
});
