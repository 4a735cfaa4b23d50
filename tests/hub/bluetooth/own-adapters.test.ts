// Adapters that are plugged in and pulled out: each becomes a radio by itself, and what is known of sensors is kept.

import { mkdtempSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, test, vi } from 'vitest';
import { BluetoothSource } from '../../../hub/sensors/bluetooth/bluetooth-source.ts';
import {
  followAdapters,
  kernelAdapters,
  type OwnAdapters,
  radioIdOf,
  radiosAtFirst,
} from '../../../hub/sensors/bluetooth/own-adapters.ts';
import { sensorMemoryIn } from '../../../hub/sensors/bluetooth/sensor-memory.ts';
import { createFakeClock } from '../../support/fake-clock.ts';
import { inWords } from '../../support/in-words.ts';
import { FakeRadio } from './fake-radio.ts';

function bench(atFirst: readonly number[]) {
  const clock = createFakeClock();
  let adapters = atFirst;
  const radios = new Map<string, FakeRadio>();
  const found: OwnAdapters = {
    clock,
    list: () => adapters,
    radioOf: (index) => {
      const radio = new FakeRadio();
      radios.set(radioIdOf(index), radio);
      return { radioId: radioIdOf(index), radio, transport: 'kernel', name: radioIdOf(index), isExtra: true };
    },
  };
  const notices: string[] = [];
  const source = new BluetoothSource({
    clock,
    log: () => undefined,
    radios: radiosAtFirst(found),
    remembered: [],
    platform: 'linux',
    beside: (own) => followAdapters(found, own),
  });
  void source.start({
    packet: () => undefined,
    sensorChanged: () => undefined,
    sourceNotices: (all) => notices.push(inWords(...all)),
  });
  return {
    source,
    radios,
    notices,
    plug: (...now: number[]) => {
      adapters = now;
      clock.advance(2_100);
    },
    names: () => source.radios.map(({ name }) => name),
  };
}

test('an adapter is used as soon as it is plugged in, and let go when it is pulled out; the last stays to say so', () => {
  const hub = bench([]);
  expect(hub.names()).toEqual(['radio0']);
  hub.plug(0);
  expect(hub.names()).toEqual(['hci0']);
  expect(hub.radios.get('hci0')!.listener).not.toBeNull();
  expect(hub.radios.get('radio0')!.stopped).toBe(true);
  hub.plug(0, 1);
  expect(hub.names()).toEqual(['hci0', 'hci1']);
  hub.plug(1);
  expect(hub.names()).toEqual(['hci1']);
  expect(hub.radios.get('hci0')!.stopped).toBe(true);
  hub.plug();
  expect(hub.names()).toEqual(['hci1']);
});

test('as long as one adapter works, what is wrong with another is nobody’s worry', () => {
  const hub = bench([0, 1]);
  const [first, second] = [hub.radios.get('hci0')!, hub.radios.get('hci1')!];
  first.emit({ type: 'on' });
  second.emit({ type: 'problem', problem: 'adapterOff', reason: null });
  expect(hub.notices.filter((notice) => notice !== '')).toEqual([]);
  expect(hub.source.radios[1]!.problem?.code).toBe('radio.adapterOff.linux');
  first.emit({ type: 'problem', problem: 'noAdapter', reason: null });
  expect(hub.notices.at(-1)).toContain('No Bluetooth adapter');
});

test('a system without a list of adapters has none to follow', () => {
  expect(kernelAdapters('/nonexistent')).toEqual([]);
});

test('what is known of sensors is a private file; one that cannot be read is set aside', async () => {
  const directory = mkdtempSync(join(tmpdir(), 'slackwater-memory-'));
  const warn = vi.fn();
  try {
    const memory = sensorMemoryIn(directory, warn);
    expect(memory.load()).toEqual([]);
    const known = {
      sensorId: 'bt:a',
      name: 'A',
      kinds: ['heartRate'] as const,
      serialNumber: 'S',
      addresses: ['b'],
    };
    for (let turn = 0; turn < 5; turn += 1) memory.keep([{ ...known, name: `A${turn}` }]);
    await vi.waitFor(() => expect(memory.load()[0]?.name).toBe('A4'));
    expect(statSync(join(directory, 'sensors.json')).mode & 0o777).toBe(0o600);
    writeFileSync(join(directory, 'sensors.json'), '{"version":1,"sensors":[{"sensorId":"../x"}]}');
    expect(memory.load()).toEqual([]);
    expect(warn).toHaveBeenCalledOnce();
    expect(readFileSync(join(directory, 'sensors.json.damaged'), 'utf8')).toContain('../x');
  } finally {
    rmSync(directory, { recursive: true, force: true, maxRetries: 5 });
  }
});
