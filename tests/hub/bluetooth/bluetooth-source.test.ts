// The Bluetooth source over a radio in memory: what it delivers, tells and forgets.

import { expect, test } from 'vitest';
import { told } from '../../../hub/base/hub-error.ts';
import type { Clock } from '../../../hub/base/ports/clock.ts';
import type { SensorPacket, SensorStatus } from '../../../hub/base/ports/sensor-source.ts';
import { BluetoothSource } from '../../../hub/sensors/bluetooth/bluetooth-source.ts';
import type { RememberedSensor } from '../../../hub/sensors/bluetooth/link-state.ts';
import { openBluetooth } from '../../../hub/sensors/bluetooth/open-bluetooth.ts';
import type { RadioEvent } from '../../../hub/sensors/bluetooth/radio.ts';
import { said } from '../../../shared/said.ts';
import { processMs, wallMs } from '../../../shared/units.ts';
import { inWords } from '../../support/in-words.ts';
import { FakeRadio } from './fake-radio.ts';

class FakeClock implements Clock {
  #nowMs = 0;
  #timers: { atMs: number; everyMs: number | null; callback: () => void }[] = [];
  nowMs = () => processMs(this.#nowMs);
  wallNowMs = () => wallMs(1_700_000_000_000 + this.#nowMs);
  every(everyMs: number, callback: () => void) {
    return this.#add({ atMs: this.#nowMs + everyMs, everyMs, callback });
  }
  after(delayMs: number, callback: () => void) {
    return this.#add({ atMs: this.#nowMs + delayMs, everyMs: null, callback });
  }
  soon(callback: () => void) {
    this.after(0, callback);
  }
  get timerCount(): number {
    return this.#timers.length;
  }
  #add(timer: { atMs: number; everyMs: number | null; callback: () => void }) {
    this.#timers.push(timer);
    return () => {
      this.#timers = this.#timers.filter((other) => other !== timer);
    };
  }
  wait(ms: number): void {
    const endMs = this.#nowMs + ms;
    for (;;) {
      const next = this.#timers.filter((timer) => timer.atMs <= endMs).sort((a, b) => a.atMs - b.atMs)[0];
      if (next === undefined) break;
      this.#nowMs = next.atMs;
      if (next.everyMs === null) this.#timers = this.#timers.filter((timer) => timer !== next);
      else next.atMs += next.everyMs;
      next.callback();
    }
    this.#nowMs = endMs;
  }
}

function bench(remembered: readonly RememberedSensor[] = []) {
  const clock = new FakeClock();
  const radio = new FakeRadio();
  const packets: SensorPacket[] = [];
  const statuses: SensorStatus[] = [];
  const notices: string[] = [];
  const gone: string[] = [];
  const source = new BluetoothSource({
    clock,
    log: () => {},
    radios: [{ radioId: 'r0', radio, transport: 'kernel' }],
    remembered,
    platform: 'linux',
  });
  const started = source.start({
    packet: (packet) => packets.push(packet),
    sensorChanged: (status) => statuses.push(status),
    sensorGone: (sensorId) => gone.push(sensorId),
    sourceNotices: (all) => notices.push(inWords(...all)),
  });
  const linkId = () => {
    const connect = radio.commands.findLast((command) => command.type === 'connect');
    return connect?.type === 'connect' ? connect.linkId : '';
  };
  const advertise = (peripheralId: string, rssiDbm = -50): RadioEvent => ({
    type: 'advertisement',
    peripheralId,
    name: 'Strap',
    services: ['180d'],
    rssiDbm,
    connectable: true,
    atMs: clock.nowMs(),
  });
  return { clock, radio, packets, statuses, notices, gone, source, started, linkId, advertise };
}
type Bench = ReturnType<typeof bench>;

function connect({ radio, linkId, advertise }: Bench): void {
  radio.emit({ type: 'on' });
  radio.emit(advertise('a'));
  radio.emit({ type: 'connected', linkId: linkId() });
  radio.emit({
    type: 'discovered',
    linkId: linkId(),
    characteristics: [{ service: '180d', characteristic: '2a37', properties: ['notify'] }],
  });
  radio.emit({ type: 'subscribed', linkId: linkId(), characteristic: '2a37' });
}
const remembered: RememberedSensor = { sensorId: 'bt:a', name: 'My strap', kinds: ['heartRate'] };

test('a remembered sensor is there by name before it is heard', async () => {
  const { statuses, started } = bench([remembered]);
  await started;
  expect(statuses).toEqual([
    expect.objectContaining({ sensorId: 'bt:a', name: 'My strap', kinds: ['heartRate'], link: 'searching' }),
  ]);
});

test('packets are delivered with their stamp, also those read', () => {
  const all = bench([remembered]);
  connect(all);
  all.clock.wait(50);
  all.radio.emit({
    type: 'notification',
    linkId: all.linkId(),
    sequence: 1,
    characteristic: '2a37',
    bytes: Uint8Array.of(0, 61),
    atMs: processMs(42),
  });
  expect(all.packets).toEqual([
    { sensorId: 'bt:a', characteristic: '2a37', bytes: Uint8Array.of(0, 61), receivedAtMs: 42 },
  ]);
});

test('statuses are told when they change and not otherwise', () => {
  const all = bench([remembered]);
  connect(all);
  const told = all.statuses.length;
  for (let sequence = 1; sequence <= 50; sequence += 1) {
    all.clock.wait(100);
    all.radio.emit({
      type: 'notification',
      linkId: all.linkId(),
      sequence,
      characteristic: '2a37',
      bytes: Uint8Array.of(0, 61),
      atMs: all.clock.nowMs(),
    });
  }
  expect(all.statuses.length).toBe(told);
  expect(all.statuses.at(-1)!.link).toBe('connected');
});

test('a problem of the radio becomes one notice with advice, and is taken back', () => {
  const { radio, notices, clock } = bench();
  radio.emit({ type: 'problem', problem: 'noPermission', reason: told('EPERM') });
  radio.emit({ type: 'problem', problem: 'noPermission', reason: told('EPERM') });
  clock.wait(1_000);
  expect(notices).toHaveLength(1);
  expect(notices[0]).toContain('CAP_NET_RAW');
  radio.emit({ type: 'on' });
  expect(notices.at(-1)).toBe('');
});

test('an adapter that hangs is started again through the port', () => {
  const all = bench([remembered]);
  all.radio.emit({ type: 'on' });
  all.radio.emit(all.advertise('a'));
  all.clock.wait(6_000);
  expect(all.radio.restarts).toEqual([said('link.cancelNotTaken')]);
});

test('strangers that go silent are told as gone', () => {
  const all = bench();
  all.radio.emit({ type: 'on' });
  for (let stranger = 0; stranger < 100; stranger += 1) {
    all.radio.emit(all.advertise(`s${stranger}`));
    all.clock.wait(1_000);
  }
  all.clock.wait(130_000);
  expect(new Set(all.gone).size).toBe(100);
  expect(all.source.counts.sensors.size).toBe(0);
});

test('stopping closes the link, waits for it, stops the radio and leaves no timer', async () => {
  const all = bench([remembered]);
  connect(all);
  const stopping = all.source.stop();
  expect(all.radio.commands).toContainEqual({ type: 'disconnect', linkId: all.linkId() });
  expect(all.radio.stopped).toBe(false);
  all.radio.emit({ type: 'disconnected', linkId: all.linkId(), reason: told('ended') });
  await stopping;
  expect(all.radio.stopped).toBe(true);
  expect(all.clock.timerCount).toBe(0);
  const { length } = all.packets;
  all.radio.emit({
    type: 'notification',
    linkId: all.linkId(),
    sequence: 9,
    characteristic: '2a37',
    bytes: Uint8Array.of(),
    atMs: all.clock.nowMs(),
  });
  expect(all.packets).toHaveLength(length);
});

test('stopping does not wait for ever for a link that will not close', async () => {
  const all = bench([remembered]);
  connect(all);
  const stopping = all.source.stop();
  all.clock.wait(3_000);
  await stopping;
  expect(all.radio.stopped).toBe(true);
});

test('an adapter that cannot be understood is refused before anything is opened', () => {
  const opened = openBluetooth({
    settings: { adapters: ['default', 'tcp:nowhere'], library: '@abandonware/noble' },
    clock: new FakeClock(),
    log: () => {},
    remembered: [],
  });
  expect(opened).toMatchObject({ ok: false });
});
