// What every radio must do, whatever it works through. Whoever runs it brings the radio and two sensors in its air.

import { afterAll, beforeAll, expect, test } from 'vitest';
import type { RadioCommand, RadioEvent, RadioListener } from '../../hub/sensors/bluetooth/radio.ts';
import type { RadioProcess } from '../../hub/sensors/bluetooth/radio-process.ts';
import { said } from '../../shared/said.ts';
import { profileUuids } from './rig/sensor-messages.ts';
import { until } from './rig/virtual-air.ts';

export interface ContractSensor {
  readonly peripheralId: string;
  stopAdvertising(): Promise<void>;
  startAdvertising(): void;
  /** As if it had gone out of range. */
  drop(): void;
  /** What was last written to it, in hexadecimal. */
  written(): string | undefined;
}

export interface ContractAir {
  readonly radio: RadioProcess;
  /** "Contract strap": 180d with 2a37 (notified every 50 ms, numbered in its third byte) and 2a38; 180f with 2a19, 80 %. */
  readonly strap: ContractSensor;
  /** "Lantern contract": the invented sensor of the profiles. */
  readonly clip: ContractSensor;
  /** Attempts to connect that have got as far as the controller, or whoever stands for it. */
  attempts(): number;
  close(): Promise<void>;
}

/** @param open starts everything; `log` takes the radio's lines, for when a wait is in vain */
export function radioContract(
  open: (listener: RadioListener, log: (line: string) => void) => Promise<ContractAir>,
): void {
  let air: ContractAir;
  let radio: RadioProcess;
  let strap: ContractSensor;
  let clip: ContractSensor;
  const events: RadioEvent[] = [];
  const log: string[] = [];
  const of = <Type extends RadioEvent['type']>(type: Type, linkId?: string) =>
    events.filter(
      (event): event is Extract<RadioEvent, { type: Type }> =>
        event.type === type && (linkId === undefined || ('linkId' in event && event.linkId === linkId)),
    );
  const send = (command: RadioCommand): void => radio.send(command);
  const got = (type: RadioEvent['type'], linkId?: string) =>
    until(
      `${type} of ${linkId ?? 'the radio'}; ${log.slice(-3).join(' | ')}`,
      () => of(type, linkId).length > 0,
    );
  let links = 0;
  const link = (): string => {
    links += 1;
    return `link${links}`;
  };
  async function hear(sensor: ContractSensor): Promise<void> {
    const from = events.length;
    await until(`word from ${sensor.peripheralId}`, () => {
      if (
        events.slice(from).some((e) => e.type === 'advertisement' && e.peripheralId === sensor.peripheralId)
      ) {
        return true;
      }
      if (performance.now() % 500 < 40) send({ type: 'scan', on: true });
      return false;
    });
    send({ type: 'scan', on: false });
  }
  async function connect(sensor: ContractSensor): Promise<string> {
    await hear(sensor);
    const linkId = link();
    send({ type: 'connect', linkId, peripheralId: sensor.peripheralId });
    await got('connected', linkId);
    return linkId;
  }
  async function close(linkId: string): Promise<void> {
    send({ type: 'disconnect', linkId });
    await got('disconnected', linkId);
  }

  beforeAll(async () => {
    air = await open({ event: (event) => events.push(event) }, (line) => log.push(line));
    ({ radio, strap, clip } = air);
    await got('on');
  });
  afterAll(async () => {
    await radio.stop();
    await air.close();
  });

  test('reports who advertises, with name and services, as asked', async () => {
    await hear(strap);
    const word = of('advertisement').find((event) => event.peripheralId === strap.peripheralId)!;
    expect(word).toMatchObject({ name: 'Contract strap', services: ['180d'], connectable: true });
    send({
      type: 'interest',
      interest: { services: ['1822'], namePrefixes: ['Lantern'], peripheralIds: [] },
    });
    events.length = 0;
    await hear(clip);
    expect(of('advertisement').some((event) => event.peripheralId === strap.peripheralId)).toBe(false);
    send({ type: 'interest', interest: { services: [], namePrefixes: [], peripheralIds: [] } });
  });

  test('connects, lists what was asked for, notifies in numbered order, reads, and ends once', async () => {
    const linkId = await connect(strap);
    send({ type: 'discover', linkId, services: ['180d', '180f'] });
    await got('discovered', linkId);
    const table = of('discovered', linkId)[0]!.characteristics.map((c) => `${c.service}/${c.characteristic}`);
    expect(table.toSorted()).toEqual(['180d/2a37', '180d/2a38', '180f/2a19']);
    send({ type: 'read', linkId, service: '180f', characteristic: '2a19' });
    await got('readDone', linkId);
    expect(of('readDone', linkId)[0]).toMatchObject({ characteristic: '2a19', bytes: Uint8Array.of(80) });
    send({ type: 'subscribe', linkId, service: '180d', characteristic: '2a37' });
    await got('subscribed', linkId);
    await until('ten notifications', () => of('notification', linkId).length >= 10);
    await close(linkId);
    const notifications = of('notification', linkId);
    expect(notifications.map(({ sequence }) => sequence)).toEqual(notifications.map((_, index) => index + 1));
    const { length } = events;
    send({ type: 'read', linkId, service: '180f', characteristic: '2a19' });
    await hear(strap);
    expect(events.slice(length).filter((event) => 'linkId' in event)).toEqual([]);
    expect(of('disconnected', linkId)).toHaveLength(1);
  });

  test('a characteristic that is not there is a failed step, and the link lives on', async () => {
    const linkId = await connect(strap);
    send({ type: 'discover', linkId, services: [] });
    await got('discovered', linkId);
    send({ type: 'read', linkId, service: '1822', characteristic: '2a60' });
    await got('stepFailed', linkId);
    expect(of('stepFailed', linkId)[0]).toMatchObject({ step: 'read' });
    send({ type: 'read', linkId, service: '180f', characteristic: '2a19' });
    await got('readDone', linkId);
    await close(linkId);
  });

  test('listing twice does not make notifications come twice', async () => {
    const linkId = await connect(strap);
    for (let time = 1; time <= 2; time += 1) {
      send({ type: 'discover', linkId, services: ['180d'] });
      await until('the list', () => of('discovered', linkId).length === time);
      send({ type: 'subscribe', linkId, service: '180d', characteristic: '2a37' });
      await until('the subscription', () => of('subscribed', linkId).length === time);
    }
    const from = of('notification', linkId).length;
    await until('notifications', () => of('notification', linkId).length >= from + 8);
    const numbers = of('notification', linkId)
      .slice(from)
      .map(({ bytes }) => bytes[2]!);
    expect(new Set(numbers).size).toBe(numbers.length);
    await close(linkId);
  });

  test('writes reach the sensor', async () => {
    const linkId = await connect(clip);
    send({ type: 'discover', linkId, services: [profileUuids.service] });
    await got('discovered', linkId);
    send({
      type: 'write',
      linkId,
      service: profileUuids.service,
      characteristic: profileUuids.command,
      bytes: Uint8Array.of(7, 8),
      withResponse: true,
    });
    await got('written', linkId);
    await until('the bytes', () => clip.written() === '0708');
    await close(linkId);
  });

  test('a second connect to a linked sensor fails and harms nothing', async () => {
    const linkId = await connect(strap);
    const second = link();
    send({ type: 'connect', linkId: second, peripheralId: strap.peripheralId });
    await got('connectFailed', second);
    send({ type: 'discover', linkId, services: ['180d'] });
    await got('discovered', linkId);
    expect(of('disconnected', linkId)).toHaveLength(0);
    await close(linkId);
  });

  test('two connects to one sensor at once: one link, one failure', async () => {
    await hear(strap);
    const [first, second] = [link(), link()];
    send({ type: 'connect', linkId: first, peripheralId: strap.peripheralId });
    send({ type: 'connect', linkId: second, peripheralId: strap.peripheralId });
    await Promise.all([got('connected', first), got('connectFailed', second)]);
    await close(first);
    expect(of('connectFailed', first)).toHaveLength(0);
    expect(of('connected', second)).toHaveLength(0);
  });

  test('a sensor never heard cannot be connected to', async () => {
    const linkId = link();
    send({ type: 'connect', linkId, peripheralId: '010203040506' });
    await got('connectFailed', linkId);
  });

  test('an attempt on a silent sensor is ended by a cancel, and the next attempt works', async () => {
    await hear(strap);
    // An attempt on a sensor that still advertises would succeed before the cancel.
    await strap.stopAdvertising();
    const linkId = link();
    const attempts = air.attempts();
    send({ type: 'connect', linkId, peripheralId: strap.peripheralId });
    await until('the attempt', () => air.attempts() > attempts);
    send({ type: 'cancelConnect', linkId });
    await got('connectFailed', linkId);
    expect(of('connected', linkId)).toHaveLength(0);
    strap.startAdvertising();
    await close(await connect(strap));
  });

  test('a link that the sensor ends is told with its reason', async () => {
    const linkId = await connect(strap);
    strap.drop();
    await got('disconnected', linkId);
    expect(of('disconnected', linkId)).toEqual([
      { type: 'disconnected', linkId, reason: said('link.outOfRange') },
    ]);
  });

  test('commands for links that never were are ignored or answered, never fatal', async () => {
    const starts = radio.health.starts;
    for (const linkId of ['never', '']) {
      send({ type: 'cancelConnect', linkId });
      send({ type: 'discover', linkId, services: [] });
      send({ type: 'subscribe', linkId, service: 'x', characteristic: 'y' });
      send({ type: 'disconnect', linkId });
    }
    await got('disconnected', 'never');
    expect(radio.health.starts).toBe(starts);
    expect(radio.health.clockUncertaintyMs).toBeLessThan(50);
  });
}
