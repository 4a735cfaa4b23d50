// The link logic step by step against a fake clock: every phase, every timeout, every late or odd answer.

import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { told } from '../../../hub/base/hub-error.ts';
import { reduceLinks, scanInterest } from '../../../hub/sensors/bluetooth/link-machine.ts';
import { linkPolicy } from '../../../hub/sensors/bluetooth/link-policy.ts';
import {
  initialLinkState,
  isQuiet,
  type LinkConfig,
  type LinkEffect,
  type LinkState,
  type ProfileLink,
  type RememberedSensor,
  type SensorRecord,
  sensorIdOf,
} from '../../../hub/sensors/bluetooth/link-state.ts';
import type {
  DiscoveredCharacteristic,
  RadioCommand,
  RadioEvent,
} from '../../../hub/sensors/bluetooth/radio.ts';
import { sensorStatus } from '../../../hub/sensors/bluetooth/sensor-status.ts';
import { processMs } from '../../../shared/units.ts';
import { inWords } from '../../support/in-words.ts';

const strapTable: readonly DiscoveredCharacteristic[] = [
  { service: '1800', characteristic: '2a00', properties: ['read'] },
  { service: '180d', characteristic: '2a37', properties: ['notify'] },
  { service: '180f', characteristic: '2a19', properties: ['read', 'notify'] },
];
const clipTable: readonly DiscoveredCharacteristic[] = [
  { service: '1800', characteristic: '2a00', properties: ['read'] },
  { service: '1822', characteristic: '2a5e', properties: ['indicate'] },
  { service: '1822', characteristic: '2a5f', properties: ['notify'] },
];
const isStream = ({ service }: DiscoveredCharacteristic): boolean =>
  !['1800', '180a', '180f'].includes(service);
const remembered = (id: string): RememberedSensor => ({
  sensorId: `bt:${id}`,
  name: id,
  kinds: ['heartRate'],
});

/** Drives the machine as the shell does, tick by tick, and keeps what it asked for. */
class Bench {
  nowMs = 1_000;
  state: LinkState;
  effects: LinkEffect[] = [];
  readonly config: LinkConfig;

  constructor(
    wanted: readonly string[] = ['a'],
    config: Partial<LinkConfig> = {},
    radios: readonly string[] = ['r0'],
  ) {
    this.config = { policy: linkPolicy, profiles: [], takeEverything: false, ...config };
    this.state = initialLinkState(radios, wanted.map(remembered));
  }

  radio(event: RadioEvent, radioId = 'r0'): this {
    return this.#take({ type: 'radio', radioId, event, atMs: processMs(this.nowMs) });
  }

  want(...ids: string[]): this {
    return this.#take({
      type: 'wanted',
      sensorIds: new Set(ids.map((id) => `bt:${id}`)),
      atMs: processMs(this.nowMs),
    });
  }

  stop(): this {
    return this.#take({ type: 'stop', atMs: processMs(this.nowMs) });
  }

  wait(ms: number, each?: () => void): this {
    const endMs = this.nowMs + ms;
    while (this.nowMs < endMs) {
      this.nowMs = Math.min(endMs, this.nowMs + 100);
      each?.();
      this.#take({ type: 'tick', atMs: processMs(this.nowMs) });
    }
    return this;
  }

  /** Twice within a fifth of a second, as sensors advertise. */
  hear(id: string, services: readonly string[] = ['180d'], radioId = 'r0'): this {
    this.hearOnce(id, services, radioId, 200);
    // Nothing is heard while a link is being made.
    return this.phaseOf(id) === 'connecting' ? this : this.hearOnce(id, services, radioId);
  }

  hearOnce(
    id: string,
    services: readonly string[] = ['180d'],
    radioId = 'r0',
    agoMs = 0,
    connectable = true,
  ): this {
    return this.radio(
      {
        type: 'advertisement',
        peripheralId: id,
        name: `Sensor ${id}`,
        services,
        rssiDbm: -60,
        connectable,
        atMs: processMs(this.nowMs - agoMs),
      },
      radioId,
    );
  }

  /** Brings a wanted sensor all the way to `ready`, with what is asked afterwards, but for the reads, answered. */
  connect(id: string, table = strapTable): this {
    this.hear(id);
    this.setUp(id, table);
    expect(this.phaseOf(id)).toBe('ready');
    while (this.#pendingChores(id)) {
      this.wait(100);
      this.answerLast(id, table);
    }
    return this;
  }

  /** From a link being made to the first stream. */
  setUp(id: string, table = strapTable): this {
    const linkId = this.linkOf(id);
    this.radio({ type: 'connected', linkId });
    this.radio({
      type: 'discovered',
      linkId,
      characteristics: this.config.takeEverything ? table : table.filter(isStream),
    });
    for (let left = 8; left > 0 && this.phaseOf(id) === 'subscribing'; left -= 1) this.answerLast(id, table);
    return this;
  }

  answerLast(id: string, table = strapTable): void {
    const last = this.commands.at(-1);
    const linkId = this.linkOf(id);
    if (last?.type === 'discover') {
      this.radio({ type: 'discovered', linkId, characteristics: table.filter((found) => !isStream(found)) });
    } else if (last?.type === 'subscribe' || last?.type === 'write') {
      const type = last.type === 'subscribe' ? 'subscribed' : 'written';
      this.radio({ type, linkId, characteristic: last.characteristic });
    }
  }

  #pendingChores(id: string): boolean {
    const phase = this.sensor(id).phase;
    return phase.phase === 'ready' && phase.chores.some((chore) => chore.type !== 'read');
  }

  #sequence = 0;
  notify(id: string, characteristic = '2a37'): this {
    this.#sequence += 1;
    return this.radio({
      type: 'notification',
      linkId: this.linkOf(id),
      sequence: this.#sequence,
      characteristic,
      bytes: Uint8Array.of(0, 60),
      atMs: processMs(this.nowMs),
    });
  }

  sensor(id: string): SensorRecord {
    return this.state.sensors.get(`bt:${id}`)!;
  }

  phaseOf(id: string): string {
    return this.sensor(id).phase.phase;
  }

  linkOf(id: string): string {
    const phase = this.sensor(id).phase;
    if (!('link' in phase)) throw new Error(`${id} has no link: ${phase.phase}`);
    return phase.link.linkId;
  }

  statusOf(id: string) {
    return sensorStatus(this.sensor(id), this.config.policy, this.nowMs);
  }

  get commands(): readonly RadioCommand[] {
    return this.effects.flatMap((effect) => (effect.type === 'command' ? [effect.command] : []));
  }

  count(type: RadioCommand['type']): number {
    return this.commands.filter((command) => command.type === type).length;
  }

  get restarts(): number {
    return this.effects.filter((effect) => effect.type === 'restartRadio').length;
  }

  get packets(): readonly Extract<LinkEffect, { type: 'packet' }>[] {
    return this.effects.filter((effect) => effect.type === 'packet');
  }

  #take(event: Parameters<typeof reduceLinks>[2]): this {
    for (const sensor of this.state.sensors.values()) {
      // A reducer that wrote into what it was given would throw here.
      Object.freeze(sensor);
      Object.freeze(sensor.phase);
      Object.freeze(sensor.counts);
    }
    const { state, effects } = reduceLinks(this.config, this.state, event);
    this.state = state;
    this.effects.push(...effects);
    this.check();
    return this;
  }

  /** What must hold after every event. */
  check(): void {
    const connecting = new Set<string>();
    for (const { phase } of this.state.sensors.values()) {
      if (phase.phase !== 'connecting') continue;
      const { radioId } = phase.link;
      if (connecting.has(radioId)) throw new Error(`two attempts at once on ${radioId}`);
      connecting.add(radioId);
      if (this.state.radios.get(radioId)!.scanning) throw new Error('scanning while connecting');
    }
  }
}

const on: RadioEvent = { type: 'on' };

describe('finding and connecting', () => {
  test('scans as soon as the radio is on, and not before', () => {
    const bench = new Bench().wait(1_000);
    expect(bench.commands).toEqual([]);
    bench.radio(on);
    expect(bench.commands.map((command) => command.type)).toEqual(['interest', 'scan']);
  });

  test('a remembered sensor is not connected to before it is heard, and at once when it is', () => {
    const bench = new Bench().radio(on).wait(30_000);
    expect(bench.count('connect')).toBe(0);
    expect(bench.statusOf('a')).toMatchObject({ link: 'searching', name: 'a' });
    bench.hear('a');
    expect(bench.commands.slice(-2).map((command) => command.type)).toEqual(['scan', 'connect']);
    expect(bench.statusOf('a').link).toBe('connecting');
  });

  test('scanning is begun anew every two seconds while a sensor is missed', () => {
    const bench = new Bench().radio(on).wait(10_000);
    expect(bench.count('scan')).toBe(1 + 5);
  });

  test('an advertisement that has grown old is not connected to', () => {
    const bench = new Bench(['a', 'b']).radio(on);
    bench.hear('a').hear('b');
    expect(bench.phaseOf('a')).toBe('connecting');
    bench.wait(1_400);
    expect(bench.phaseOf('b')).toBe('searching');
    bench.wait(1_000).radio({ type: 'connectFailed', linkId: bench.linkOf('a'), reason: told('test') });
    // By now the word from b is 2.4 s old.
    expect(bench.phaseOf('b')).toBe('searching');
    bench.hear('b');
    expect(bench.phaseOf('b')).toBe('connecting');
  });

  test('one at a time: the second waits for the first attempt, not for its set-up', () => {
    const bench = new Bench(['a', 'b']).radio(on).hear('a').hear('b');
    expect(bench.count('connect')).toBe(1);
    bench.radio({ type: 'connected', linkId: bench.linkOf('a') });
    expect(bench.phaseOf('a')).toBe('discovering');
    expect(bench.phaseOf('b')).toBe('connecting');
  });

  test('two radios connect side by side, each to what it heard', () => {
    const bench = new Bench(['a', 'b'], {}, ['r0', 'r1']).radio(on).radio(on, 'r1');
    bench.hear('a').hear('b', ['180d'], 'r1');
    expect(bench.phaseOf('a')).toBe('connecting');
    expect(bench.phaseOf('b')).toBe('connecting');
    expect(bench.linkOf('b').startsWith('r1')).toBe(true);
  });

  test('an attempt without an answer is cancelled after three seconds and tried again at the next word', () => {
    const bench = new Bench().radio(on).hear('a');
    const first = bench.linkOf('a');
    bench.wait(2_900);
    expect(bench.count('cancelConnect')).toBe(0);
    bench.wait(100);
    expect(bench.count('cancelConnect')).toBe(1);
    bench.radio({ type: 'connectFailed', linkId: first, reason: told('given up') });
    expect(bench.sensor('a').counts.failedAttempts).toBe(1);
    bench.hear('a');
    expect(bench.linkOf('a')).not.toBe(first);
  });

  test('while others are missed, an attempt gets half the time', () => {
    const bench = new Bench(['a', 'b']).radio(on).hear('a').wait(1_500);
    expect(bench.count('cancelConnect')).toBe(1);
  });

  test('waits between failures grow to eight seconds', () => {
    const bench = new Bench().radio(on);
    const waitsMs: number[] = [];
    for (let failure = 0; failure < 7; failure += 1) {
      const fromMs = bench.nowMs;
      bench.hear('a');
      bench.wait(20_000, () => {
        if (bench.phaseOf('a') === 'searching') bench.hear('a');
        if (bench.phaseOf('a') === 'connecting' && waitsMs.length === failure) {
          waitsMs.push(bench.nowMs - fromMs);
          bench.radio({ type: 'connectFailed', linkId: bench.linkOf('a'), reason: told('test') });
          bench.nowMs += 30_000; // Ends this wait.
        }
      });
    }
    expect(bench.sensor('a').counts.failedAttempts).toBeGreaterThan(5);
    const phase = bench.sensor('a').phase;
    expect(phase.phase === 'searching' && phase.notBeforeMs - bench.nowMs).toBeLessThanOrEqual(8_000);
  });

  test('whoever failed least goes first', () => {
    const bench = new Bench(['a', 'b']).radio(on).hear('a');
    bench.radio({ type: 'connectFailed', linkId: bench.linkOf('a'), reason: told('test') });
    bench.hear('a'); // First retry is at once.
    bench.radio({ type: 'connectFailed', linkId: bench.linkOf('a'), reason: told('test') });
    bench.wait(1_500).hear('b');
    const b = bench.linkOf('b');
    bench.hear('a');
    expect(bench.phaseOf('a')).toBe('searching');
    bench.radio({ type: 'connected', linkId: b });
    expect(bench.phaseOf('a')).toBe('connecting');
  });

  test('an adapter that does not give an attempt up is started again', () => {
    const bench = new Bench()
      .radio(on)
      .hear('a')
      .wait(3_000 + 2_000);
    expect(bench.restarts).toBe(1);
    expect(bench.phaseOf('a')).toBe('searching');
    bench.radio(on).hear('a');
    expect(bench.phaseOf('a')).toBe('connecting');
  });

  test('a connection that comes after it was given up is closed', () => {
    const bench = new Bench().radio(on).hear('a').wait(3_000);
    const linkId = bench.linkOf('a');
    bench.radio({ type: 'connected', linkId });
    expect(bench.commands.at(-1)).toEqual({ type: 'disconnect', linkId });
    expect(bench.phaseOf('a')).toBe('closing');
    bench.radio({ type: 'disconnected', linkId, reason: told('test') });
    expect(bench.phaseOf('a')).toBe('searching');
  });

  test('a connection nobody ever asked for is closed', () => {
    const bench = new Bench().radio(on).radio({ type: 'connected', linkId: 'stranger' });
    expect(bench.commands).toContainEqual({ type: 'disconnect', linkId: 'stranger' });
    expect(bench.state.staleEvents).toBe(1);
  });
});

describe('setting a link up', () => {
  test('subscribes readings first, then battery; then reads battery and information one by one', () => {
    const bench = new Bench().radio(on).connect('a');
    expect(
      bench.commands.flatMap((command) => (command.type === 'subscribe' ? [command.characteristic] : [])),
    ).toEqual(['2a37', '2a19']);
    bench.wait(100);
    expect(bench.commands.at(-1)).toMatchObject({ type: 'read', characteristic: '2a19' });
    bench.radio({
      type: 'readDone',
      linkId: bench.linkOf('a'),
      characteristic: '2a19',
      bytes: Uint8Array.of(15),
      atMs: processMs(bench.nowMs),
    });
    expect(bench.statusOf('a').batteryPercent).toBe(15);
    expect(inWords(bench.statusOf('a').detail)).toContain('Battery at 15 %');
    expect(bench.packets.map((packet) => packet.characteristic)).toEqual(['2a19']);
  });

  test('the continuous stream comes before the spot check', () => {
    const bench = new Bench().radio(on).connect('a', clipTable);
    expect(
      bench.commands.flatMap((command) => (command.type === 'subscribe' ? [command.characteristic] : [])),
    ).toEqual(['2a5f', '2a5e']);
    expect(bench.sensor('a').kinds).toContain('oximeter');
  });

  test.each([
    ['discovering', linkPolicy.discoverTimeoutMs],
    ['subscribing', linkPolicy.subscribeTimeoutMs],
  ])('%s has a timeout, after which the link is closed and made anew', (phase, timeoutMs) => {
    const bench = new Bench().radio(on).hear('a');
    const linkId = bench.linkOf('a');
    bench.radio({ type: 'connected', linkId });
    if (phase === 'subscribing') bench.radio({ type: 'discovered', linkId, characteristics: strapTable });
    expect(bench.phaseOf('a')).toBe(phase);
    bench.wait(timeoutMs - 100);
    expect(bench.phaseOf('a')).toBe(phase);
    bench.wait(100);
    expect(bench.commands).toContainEqual({ type: 'disconnect', linkId });
    bench.radio({ type: 'disconnected', linkId, reason: told('test') }).hear('a');
    expect(bench.phaseOf('a')).toBe('connecting');
  });

  test.each(['connecting', 'discovering', 'subscribing'] as const)(
    'a link lost while %s is tried again',
    (phase) => {
      const bench = new Bench().radio(on).hear('a');
      const linkId = bench.linkOf('a');
      if (phase !== 'connecting') bench.radio({ type: 'connected', linkId });
      if (phase === 'subscribing') bench.radio({ type: 'discovered', linkId, characteristics: strapTable });
      expect(bench.phaseOf('a')).toBe(phase);
      bench.radio({ type: 'disconnected', linkId, reason: told('test') });
      expect(bench.phaseOf('a')).toBe('searching');
      bench.hear('a');
      expect(bench.phaseOf('a')).toBe('connecting');
    },
  );

  test('a refused battery subscription does not matter, a refused stream does', () => {
    const bench = new Bench().radio(on).hear('a');
    const linkId = bench.linkOf('a');
    bench.radio({ type: 'connected', linkId });
    bench.radio({ type: 'discovered', linkId, characteristics: strapTable });
    bench.radio({ type: 'subscribed', linkId, characteristic: '2a37' });
    expect(bench.phaseOf('a')).toBe('ready');
    bench.wait(100).answerLast('a');
    bench.wait(100);
    expect(bench.commands.at(-1)).toMatchObject({ type: 'subscribe', characteristic: '2a19' });
    bench.radio({ type: 'stepFailed', linkId, step: 'subscribe', reason: told('no') });
    expect(bench.phaseOf('a')).toBe('ready');

    const other = new Bench().radio(on).hear('a');
    const otherLink = other.linkOf('a');
    other.radio({ type: 'connected', linkId: otherLink });
    other.radio({ type: 'discovered', linkId: otherLink, characteristics: strapTable });
    other.radio({ type: 'stepFailed', linkId: otherLink, step: 'subscribe', reason: told('no') });
    expect(other.phaseOf('a')).toBe('closing');
  });

  test('a sensor with nothing to read is let go, told about, and left alone for a minute', () => {
    const bench = new Bench().radio(on).hear('a');
    const linkId = bench.linkOf('a');
    bench.radio({ type: 'connected', linkId });
    bench.radio({ type: 'discovered', linkId, characteristics: [strapTable[0]!] });
    bench.radio({ type: 'disconnected', linkId, reason: told('test') });
    expect(inWords(bench.statusOf('a').detail)).toContain('no readings this hub understands');
    bench.wait(59_000, () => bench.hear('a'));
    expect(bench.count('connect')).toBe(1);
    bench.wait(1_100, () => bench.hear('a'));
    expect(bench.count('connect')).toBe(2);
  });

  test('a profile sensor is matched by name, subscribed and started with its command', () => {
    const profile: ProfileLink = {
      name: 'One',
      measures: ['oximeter'],
      matchServices: [],
      matchNamePrefix: 'Sensor ',
      service: 'ff00',
      notify: 'ff01',
      start: [{ characteristic: 'ff02', bytes: Uint8Array.of(1, 2), withResponse: true }],
    };
    const bench = new Bench(['a'], { profiles: [profile] }).radio(on).connect('a', [
      { service: 'ff00', characteristic: 'ff01', properties: ['notify'] },
      { service: 'ff00', characteristic: 'ff02', properties: ['write'] },
    ]);
    expect(bench.sensor('a').kinds).toEqual(['heartRate', 'oximeter']);
    expect(bench.commands).toContainEqual({
      type: 'write',
      linkId: bench.linkOf('a'),
      service: 'ff00',
      characteristic: 'ff02',
      bytes: Uint8Array.of(1, 2),
      withResponse: true,
    });
  });

  test('captures take every notifying characteristic of any sensor', () => {
    const bench = new Bench(['a'], { takeEverything: true }).radio(on).connect('a', [
      { service: 'abcd', characteristic: 'ab01', properties: ['notify'] },
      { service: 'abcd', characteristic: 'ab02', properties: ['indicate', 'read'] },
      { service: 'abcd', characteristic: 'ab03', properties: ['read'] },
    ]);
    expect(
      bench.commands.flatMap((command) => (command.type === 'subscribe' ? [command.characteristic] : [])),
    ).toEqual(['ab01', 'ab02']);
    expect(scanInterest(bench.config, bench.state)).toEqual({
      services: [],
      namePrefixes: [],
      peripheralIds: [],
    });
  });
});

describe('a working link', () => {
  const beating = (bench: Bench, id: string, ms: number): void => {
    for (let at = 0; at < ms; at += 1_000) bench.wait(1_000).notify(id);
  };

  test('delivers each packet once with its stamp', () => {
    const bench = new Bench().radio(on).connect('a');
    beating(bench, 'a', 10_000);
    const notifications = bench.packets.filter((packet) => packet.characteristic === '2a37');
    expect(notifications).toHaveLength(10);
    expect(notifications.map((packet) => packet.atMs)).toEqual(
      notifications.map((_, index) => notifications[0]!.atMs + 1_000 * index),
    );
    expect(bench.sensor('a').counts).toMatchObject({ packets: 10, losses: 0, missed: 0 });
  });

  test('a repeated or late packet is dropped and counted, a missing number is counted', () => {
    const bench = new Bench().radio(on).connect('a');
    const linkId = bench.linkOf('a');
    const send = (sequence: number) =>
      bench.radio({
        type: 'notification',
        linkId,
        sequence,
        characteristic: '2a37',
        bytes: Uint8Array.of(sequence),
        atMs: processMs(bench.nowMs),
      });
    for (const sequence of [1, 2, 2, 4, 3, 5]) send(sequence);
    expect(bench.packets.map((packet) => packet.bytes[0])).toEqual([1, 2, 4, 5]);
    expect(bench.sensor('a').counts).toMatchObject({ packets: 4, duplicates: 1, outOfOrder: 1, missed: 1 });
  });

  test('stamps never go backwards', () => {
    const bench = new Bench().radio(on).connect('a');
    const linkId = bench.linkOf('a');
    for (const [sequence, atMs] of [
      [1, 5_000],
      [2, 4_990],
      [3, 5_010],
    ] as const) {
      bench.radio({
        type: 'notification',
        linkId,
        sequence,
        characteristic: '2a37',
        bytes: Uint8Array.of(),
        atMs: processMs(atMs),
      });
    }
    expect(bench.packets.map((packet) => packet.atMs)).toEqual([5_000, 5_000, 5_010]);
  });

  test('what an old link still says is not delivered', () => {
    const bench = new Bench().radio(on).connect('a');
    const old = bench.linkOf('a');
    bench.radio({ type: 'disconnected', linkId: old, reason: told('test') });
    bench.connect('a');
    bench.radio({
      type: 'notification',
      linkId: old,
      sequence: 99,
      characteristic: '2a37',
      bytes: Uint8Array.of(1),
      atMs: processMs(bench.nowMs),
    });
    expect(bench.packets).toHaveLength(0);
    expect(bench.state.staleEvents).toBe(1);
  });

  test('what still comes over a link that is being given up is delivered: it was sent and heard', () => {
    const bench = new Bench().radio(on).connect('a').notify('a');
    bench.wait(7_000);
    expect(bench.phaseOf('a')).toBe('closing');
    const before = bench.packets.length;
    bench.notify('a').notify('a');
    expect(bench.packets).toHaveLength(before + 2);
    bench.want().notify('a');
    expect(bench.packets).toHaveLength(before + 2);
  });

  test('a lost link is told, counted, and made again at the next word', () => {
    const bench = new Bench().radio(on).connect('a');
    beating(bench, 'a', 3_000);
    bench.radio({ type: 'disconnected', linkId: bench.linkOf('a'), reason: told('out of range') });
    expect(bench.statusOf('a')).toMatchObject({ link: 'lost' });
    expect(inWords(bench.statusOf('a').detail)).toContain('out of range');
    expect(bench.sensor('a').counts.losses).toBe(1);
    bench.connect('a');
    expect(bench.statusOf('a').link).toBe('connected');
  });

  test('silence: asked after 1.5 s, told as lost within 3 s, closed after 6.5 s and not while the link itself may last', () => {
    const bench = new Bench().radio(on).connect('a');
    beating(bench, 'a', 12_000);
    for (const command of bench.commands) {
      if (command.type === 'read') {
        bench.radio({
          type: 'readDone',
          linkId: bench.linkOf('a'),
          characteristic: command.characteristic,
          bytes: Uint8Array.of(50),
          atMs: processMs(bench.nowMs),
        });
      }
    }
    bench.notify('a');
    const reads = bench.count('read');
    const silentFromMs = bench.nowMs;
    bench.wait(1_400);
    expect(bench.count('read')).toBe(reads);
    bench.wait(100);
    expect(bench.count('read')).toBe(reads + 1);
    expect(bench.statusOf('a').link).toBe('connected');
    bench.wait(900);
    expect(bench.statusOf('a').link).toBe('lost');
    expect(bench.nowMs - silentFromMs).toBeLessThan(2_500);
    expect(bench.phaseOf('a')).toBe('ready');
    // A second since the last packet, and the link's own timeout of 5.12 s: until then it may be back.
    bench.wait(3_800);
    expect(bench.phaseOf('a')).toBe('ready');
    bench.wait(400);
    expect(bench.phaseOf('a')).toBe('closing');
    expect(bench.sensor('a').counts.losses).toBe(1);
  });

  test('silence that begins during a background read is noticed as fast', () => {
    const bench = new Bench().radio(on).connect('a').notify('a').wait(100);
    expect(bench.count('read')).toBe(1); // Never answered.
    bench.wait(2_800);
    expect(bench.statusOf('a').link).toBe('lost');
  });

  test('a swallowed background read harms nothing while readings come', () => {
    const bench = new Bench().radio(on).connect('a');
    beating(bench, 'a', 30_000);
    expect(bench.statusOf('a').link).toBe('connected');
    expect(bench.sensor('a').counts.losses).toBe(0);
  });

  test('a packet within the grace revives the link without reconnecting', () => {
    const bench = new Bench().radio(on).connect('a').notify('a').wait(3_000);
    expect(bench.statusOf('a').link).toBe('lost');
    bench.notify('a');
    expect(bench.statusOf('a').link).toBe('connected');
    expect(bench.count('disconnect')).toBe(0);
  });

  test('a sensor that answers and sends nothing is kept for a minute, then linked anew', () => {
    const bench = new Bench().radio(on).connect('a').notify('a');
    let answered = 0;
    const answer = () => {
      const reads = bench.commands.filter((command) => command.type === 'read');
      for (const command of reads.slice(answered)) {
        answered += 1;
        bench.radio({
          type: 'readDone',
          linkId: command.linkId,
          characteristic: command.characteristic,
          bytes: Uint8Array.of(80),
          atMs: processMs(bench.nowMs),
        });
      }
    };
    bench.wait(59_000, answer);
    expect(bench.phaseOf('a')).toBe('ready');
    expect(bench.statusOf('a')).toMatchObject({ link: 'connected' });
    expect(inWords(bench.statusOf('a').detail)).toContain('no readings for');
    bench.wait(1_500, answer);
    expect(bench.phaseOf('a')).toBe('closing');
  });

  test('a sensor that can be asked nothing is judged by silence alone', () => {
    const bench = new Bench().radio(on).connect('a', [strapTable[1]!]).notify('a').wait(3_000);
    expect(bench.count('read')).toBe(0);
    expect(bench.statusOf('a').link).toBe('lost');
  });

  test('a controller that never confirms a closed link is started again', () => {
    const bench = new Bench().radio(on).connect('a').want();
    expect(bench.phaseOf('a')).toBe('closing');
    bench.wait(10_000);
    expect(bench.restarts).toBe(1);
  });

  test('with all connected, scanning only looks in now and then', () => {
    const bench = new Bench().radio(on).connect('a');
    const scans = bench.count('scan');
    for (let at = 0; at < 16; at += 1) bench.wait(1_000).notify('a');
    // Two seconds of eight: on and off twice in sixteen.
    expect(bench.count('scan') - scans).toBeLessThanOrEqual(5);
    expect(bench.count('scan') - scans).toBeGreaterThanOrEqual(3);
  });

  test('battery is read again every five minutes', () => {
    const bench = new Bench().radio(on).connect('a');
    let answered = 0;
    for (let at = 0; at < 660; at += 1) {
      bench.wait(1_000).notify('a');
      const reads = bench.commands.filter((command) => command.type === 'read');
      for (const command of reads.slice(answered)) {
        answered += 1;
        bench.radio({
          type: 'readDone',
          linkId: command.linkId,
          characteristic: command.characteristic,
          bytes: Uint8Array.of(80),
          atMs: processMs(bench.nowMs),
        });
      }
    }
    expect(bench.count('read')).toBe(3);
  });
});

describe('sensors with habits of their own', () => {
  const chest: readonly DiscoveredCharacteristic[] = [
    ...strapTable,
    { service: '1822', characteristic: '2a5f', properties: ['notify'] },
    { service: '180a', characteristic: '2a24', properties: ['read'] },
  ];

  test.each(['refused', 'locked', 'missing'] as const)(
    'heart rate goes on where oximetry is %s, and the page is told',
    (refusal) => {
      const bench = new Bench().radio(on).hear('a').setUp('a', chest);
      expect(bench.phaseOf('a')).toBe('ready');
      bench.wait(100);
      expect(bench.commands.at(-1)).toMatchObject({ type: 'subscribe', characteristic: '2a5f' });
      bench.radio({
        type: 'stepFailed',
        linkId: bench.linkOf('a'),
        step: 'subscribe',
        reason: told('no'),
        refusal,
      });
      for (let at = 0; at < 20; at += 1) bench.wait(1_000, () => bench.answerLast('a', chest)).notify('a');
      expect(bench.statusOf('a').link).toBe('connected');
      expect(bench.sensor('a').counts).toMatchObject({ losses: 0, failedAttempts: 0 });
      expect(bench.sensor('a').troubles).toMatchObject([{ characteristic: '2a5f', refusal }]);
      if (refusal === 'locked') expect(inWords(bench.statusOf('a').detail)).toContain('saturation is locked');
    },
  );

  test('a question that is never answered costs neither the link nor the readings', () => {
    const bench = new Bench().radio(on).connect('a', chest);
    for (let at = 0; at < 120; at += 1) bench.wait(1_000).notify('a');
    expect(bench.sensor('a').counts).toMatchObject({ losses: 0, packets: 120 });
    // Nothing more is asked once a question has been swallowed.
    expect(bench.count('read')).toBe(1);
    bench.wait(2_600);
    expect(bench.statusOf('a').link).toBe('lost');
  });

  test('a stream whose subscription hangs is asked for last on the next link', () => {
    const bench = new Bench().radio(on).hear('a');
    const first = bench.linkOf('a');
    bench.radio({ type: 'connected', linkId: first });
    bench.radio({ type: 'discovered', linkId: first, characteristics: chest.filter(isStream) });
    expect(bench.commands.at(-1)).toMatchObject({ type: 'subscribe', characteristic: '2a37' });
    bench.radio({
      type: 'stepFailed',
      linkId: first,
      step: 'subscribe',
      reason: told('it did not answer'),
      refusal: 'noAnswer',
    });
    bench
      .radio({ type: 'disconnected', linkId: first, reason: told('test') })
      .hear('a')
      .setUp('a', chest);
    const asked = bench.commands.flatMap((command) =>
      command.type === 'subscribe' ? [command.characteristic] : [],
    );
    expect(asked).toEqual(['2a37', '2a5f']);
    expect(bench.phaseOf('a')).toBe('ready');
  });

  test('locked altogether: said so, and tried again twice a minute', () => {
    const bench = new Bench().radio(on).hear('a');
    const linkId = bench.linkOf('a');
    bench.radio({ type: 'connected', linkId });
    bench.radio({ type: 'discovered', linkId, characteristics: strapTable.filter(isStream) });
    bench.radio({ type: 'stepFailed', linkId, step: 'subscribe', reason: told('code 5'), refusal: 'locked' });
    bench.radio({ type: 'disconnected', linkId, reason: told('test') });
    expect(inWords(bench.statusOf('a').detail)).toContain('paired');
    expect(inWords(bench.statusOf('a').detail)).not.toContain('Not heard');
    expect(bench.statusOf('a').isHeard).toBe(true);
    bench.wait(29_000, () => bench.hear('a'));
    expect(bench.count('connect')).toBe(1);
    bench.wait(2_000, () => bench.hear('a'));
    expect(bench.count('connect')).toBe(2);
  });

  test('an assigned sensor without a link says that it is heard, as long as it is, and no other says so', () => {
    const bench = new Bench().radio(on);
    expect(bench.statusOf('a')).not.toHaveProperty('isHeard');
    bench.hear('a');
    const linkId = bench.linkOf('a');
    expect(bench.statusOf('a')).not.toHaveProperty('isHeard');
    bench.radio({ type: 'connectFailed', linkId, reason: told('test') });
    expect(bench.statusOf('a')).toMatchObject({ link: 'searching', isHeard: true });
    bench.wait(linkPolicy.vanishedAfterMs + 100);
    expect(bench.statusOf('a').link).not.toBe('connected');
    expect(bench.statusOf('a')).not.toHaveProperty('isHeard');
    bench.want().hear('a');
    expect(bench.statusOf('a')).not.toHaveProperty('isHeard');
  });

  test('an oximeter that sends every four seconds is not told to sit badly, once its pace is known', () => {
    const bench = new Bench().radio(on).connect('a', [strapTable[0]!, clipTable[2]!]);
    const details = new Set<string>();
    for (let at = 0; at < 20; at += 1) {
      bench.wait(4_000, () => {
        const last = bench.commands.at(-1);
        if (last?.type === 'read')
          bench.radio({
            type: 'readDone',
            linkId: bench.linkOf('a'),
            characteristic: last.characteristic,
            bytes: Uint8Array.of(1),
            atMs: processMs(bench.nowMs),
          });
        if (at > 5) details.add(inWords(bench.statusOf('a').detail));
        if (at > 5) expect(bench.statusOf('a').link).toBe('connected');
      });
      bench.notify('a', '2a5f');
    }
    expect([...details].every((detail) => detail.includes('every 4 s'))).toBe(true);
    expect(bench.sensor('a').counts.losses).toBe(0);
  });

  test('a slow sensor that cannot be asked is not lost between its readings', () => {
    const bench = new Bench().radio(on).connect('a', [clipTable[2]!]);
    for (let at = 0; at < 20; at += 1) {
      bench.wait(4_000, () => {
        if (at > 5) expect(bench.statusOf('a').link).toBe('connected');
      });
      bench.notify('a', '2a5f');
    }
    bench.wait(8_000);
    expect(bench.statusOf('a').link).toBe('lost');
  });

  test('spot checks only: connected, said so, and no oximeter to alarms', () => {
    const bench = new Bench().radio(on).connect('a', clipTable.slice(0, 2));
    expect(bench.statusOf('a')).toMatchObject({ link: 'connected', kinds: ['heartRate'] });
    expect(inWords(bench.statusOf('a').detail)).toContain('one measurement at a time');
  });

  test('a sensor that advertises every four seconds is met by an attempt in time for its next word', () => {
    const bench = new Bench(['a', 'b']).radio(on);
    let attempts = 0;
    let linked = false;
    for (let tick = 0; tick < 300 && !linked; tick += 1) {
      const before = bench.count('connect');
      bench.wait(100);
      // Every 4 s and a few milliseconds, as advertising goes; heard only while scanning.
      const isDue = tick % 40 === 0;
      const phase = bench.sensor('a').phase;
      if (isDue && phase.phase === 'searching') bench.hearOnce('a');
      else if (isDue && phase.phase === 'connecting') {
        bench.radio({ type: 'connected', linkId: phase.link.linkId });
        linked = true;
      }
      const cancelled = bench.commands.at(-1);
      if (cancelled?.type === 'cancelConnect')
        bench.radio({ type: 'connectFailed', linkId: cancelled.linkId, reason: told('given up') });
      attempts += bench.count('connect') - before;
    }
    expect(linked).toBe(true);
    expect(attempts).toBeLessThanOrEqual(3);
  });

  test('a sensor heard that takes no link is said to be in use elsewhere', () => {
    const bench = new Bench().radio(on).hearOnce('a', ['180d'], 'r0', 0, false);
    expect(bench.statusOf('a')).toMatchObject({ link: 'searching' });
    expect(inWords(bench.statusOf('a').detail)).toContain('takes no connection');
  });

  describe('one sensor under another address', () => {
    const known: readonly DiscoveredCharacteristic[] = [
      strapTable[1]!,
      { service: '180a', characteristic: '2a25', properties: ['read'] },
    ];
    const tell = (bench: Bench, text: string): void => {
      bench.wait(200);
      expect(bench.commands.at(-1)).toMatchObject({ type: 'read', characteristic: '2a25' });
      bench.radio({
        type: 'readDone',
        linkId: bench.linkOf('a'),
        characteristic: '2a25',
        bytes: new TextEncoder().encode(text),
        atMs: processMs(bench.nowMs),
      });
    };
    /** `a` has been linked, told its serial number, and gone; one of its name is heard at `b`. */
    const gone = (): Bench => {
      const bench = new Bench().radio(on).connect('a', known);
      tell(bench, 'SN 1234');
      bench.notify('a');
      bench.radio({ type: 'disconnected', linkId: bench.linkOf('a'), reason: told('out of range') });
      bench.wait(10_000);
      for (const agoMs of [400, 0]) {
        bench.radio({
          type: 'advertisement',
          peripheralId: 'b',
          name: 'Sensor a',
          services: ['180d'],
          rssiDbm: -50,
          connectable: true,
          atMs: processMs(bench.nowMs - agoMs),
        });
      }
      return bench;
    };

    test('is tried, and known again by its serial number; nothing is delivered before', () => {
      const bench = gone();
      expect(bench.commands.at(-1)).toMatchObject({ type: 'connect', peripheralId: 'b' });
      bench.setUp('a', known).notify('a');
      expect(bench.statusOf('a').link).toBe('connecting');
      const packets = bench.packets.length;
      bench.wait(100).answerLast('a', known);
      tell(bench, 'SN 1234');
      expect(bench.packets.length).toBe(packets);
      bench.notify('a');
      expect(bench.packets.at(-1)).toMatchObject({ sensorId: 'bt:a', characteristic: '2a37' });
      expect(bench.statusOf('a').link).toBe('connected');
      expect(bench.state.sensors.has('bt:b')).toBe(false);
      // From now on it is met there at once.
      bench.radio({ type: 'disconnected', linkId: bench.linkOf('a'), reason: told('test') });
      bench.radio({
        type: 'advertisement',
        peripheralId: 'b',
        name: 'Sensor a',
        services: ['180d'],
        rssiDbm: -50,
        connectable: true,
        atMs: processMs(bench.nowMs),
      });
      expect(bench.commands.at(-1)).toMatchObject({ type: 'connect', peripheralId: 'b' });
    });

    test.each(['SN 9999', ''])(
      'another of its name (%j) is let go, left in the list and not tried again',
      (serial) => {
        const bench = gone();
        bench.setUp('a', known).wait(100);
        bench.answerLast('a', known);
        tell(bench, serial);
        bench.notify('a');
        const linkId = bench.linkOf('a');
        bench.wait(200);
        expect(bench.commands).toContainEqual({ type: 'disconnect', linkId });
        bench.radio({ type: 'disconnected', linkId, reason: told('test') });
        expect(bench.packets.filter(({ characteristic }) => characteristic === '2a37')).toHaveLength(1);
        const connects = bench.count('connect');
        bench.wait(5_000, () =>
          bench.radio({
            type: 'advertisement',
            peripheralId: 'b',
            name: 'Sensor a',
            services: ['180d'],
            rssiDbm: -50,
            connectable: true,
            atMs: processMs(bench.nowMs),
          }),
        );
        expect(bench.count('connect')).toBe(connects);
        expect(bench.state.sensors.has('bt:b')).toBe(true);
        bench.hear('a');
        expect(bench.commands.at(-1)).toMatchObject({ type: 'connect', peripheralId: 'a' });
      },
    );
  });

  test('signals that nobody wants leave the list a minute after they were last heard', () => {
    const bench = new Bench([]).radio(on).hear('x').wait(59_000);
    expect(bench.state.sensors.size).toBe(1);
    bench.wait(1_100);
    expect(bench.state.sensors.size).toBe(0);
  });

  test('a keep-alive command is written at its pace', () => {
    const profile: ProfileLink = {
      name: 'One',
      measures: ['oximeter'],
      matchServices: ['ff00'],
      matchNamePrefix: null,
      service: 'ff00',
      notify: 'ff01',
      also: ['ff03'],
      start: [],
      stop: [{ characteristic: 'ff02', bytes: Uint8Array.of(0), withResponse: true }],
      keepAlive: { characteristic: 'ff02', bytes: Uint8Array.of(7), withResponse: true, everyMs: 20_000 },
    };
    const table = [
      { service: 'ff00', characteristic: 'ff01', properties: ['notify'] },
      { service: 'ff00', characteristic: 'ff02', properties: ['write'] },
      { service: 'ff00', characteristic: 'ff03', properties: ['notify'] },
    ];
    const bench = new Bench(['a'], { profiles: [profile] }).radio(on).connect('a', table);
    let answered = 0;
    for (let at = 0; at < 70; at += 1) {
      bench.wait(1_000, () => {
        if (bench.count('write') === answered) return;
        answered += 1;
        bench.radio({ type: 'written', linkId: bench.linkOf('a'), characteristic: 'ff02' });
      });
      bench.notify('a', 'ff01');
    }
    expect(bench.count('write')).toBe(3);
    expect(bench.count('subscribe')).toBe(2);
    bench.want();
    const last = bench.commands.filter(({ type }) => type === 'write' || type === 'disconnect').slice(-2);
    expect(last).toMatchObject([{ type: 'write', bytes: Uint8Array.of(0) }, { type: 'disconnect' }]);
  });

  test('an adapter out of links says so', () => {
    const bench = new Bench(['a', 'b']).radio(on).connect('b').hear('a');
    bench.radio({ type: 'connectFailed', linkId: bench.linkOf('a'), reason: told('limit'), isLimit: true });
    expect(inWords(bench.statusOf('a').detail)).toContain('as many links as it can hold');
  });
});

describe('radios that come and go', () => {
  test.each([{ type: 'problem', problem: 'adapterOff', reason: null }, { type: 'on' }] as const)(
    'after %j every link is gone and made again',
    (event) => {
      const bench = new Bench(['a', 'b']).radio(on).connect('a').hear('b');
      expect(bench.phaseOf('b')).toBe('connecting');
      bench.radio(event);
      expect(bench.statusOf('a').link).toBe('lost');
      expect(bench.phaseOf('b')).toBe('searching');
      expect(bench.sensor('a').counts.losses).toBe(1);
      bench.radio(on).connect('a');
      expect(bench.statusOf('a').link).toBe('connected');
    },
  );

  test('a problem of one radio leaves the links of the other alone', () => {
    const bench = new Bench(['a', 'b'], {}, ['r0', 'r1']).radio(on).radio(on, 'r1').connect('a');
    bench.radio({ type: 'problem', problem: 'adapterOff', reason: null }, 'r1');
    expect(bench.phaseOf('a')).toBe('ready');
  });

  test('words from a radio that does not exist are counted', () => {
    const bench = new Bench().radio(on, 'r9');
    expect(bench.state.staleEvents).toBe(1);
    expect(bench.commands).toEqual([]);
  });
});

describe('who is wanted', () => {
  test('a sensor found is shown and left alone until it is wanted', () => {
    const bench = new Bench([]).radio(on).hear('x', ['1822']);
    expect(bench.statusOf('x')).toMatchObject({
      sensorId: 'bt:x',
      name: 'Sensor x',
      kinds: ['oximeter'],
      link: 'off',
      rssiDbm: -60,
    });
    expect(bench.count('connect')).toBe(0);
    bench.want('x');
    expect(bench.phaseOf('x')).toBe('connecting');
  });

  test('a sensor no longer wanted is let go in every phase', () => {
    for (const reach of [0, 1, 2, 3, 4]) {
      const bench = new Bench().radio(on);
      if (reach > 0) bench.hear('a');
      const linkId = reach > 0 ? bench.linkOf('a') : '';
      if (reach > 1) bench.radio({ type: 'connected', linkId });
      if (reach > 2) bench.radio({ type: 'discovered', linkId, characteristics: strapTable });
      if (reach > 3) {
        bench.radio({ type: 'subscribed', linkId, characteristic: '2a37' });
        bench.radio({ type: 'subscribed', linkId, characteristic: '2a19' });
      }
      bench.want();
      if (reach === 1) {
        expect(bench.commands).toContainEqual({ type: 'cancelConnect', linkId });
        bench.radio({ type: 'connectFailed', linkId, reason: told('given up') });
      } else if (reach > 1) {
        expect(bench.commands).toContainEqual({ type: 'disconnect', linkId });
        bench.radio({ type: 'disconnected', linkId, reason: told('ended') });
      }
      expect(bench.phaseOf('a')).toBe('idle');
      bench.hear('a').wait(5_000);
      expect(bench.count('connect')).toBe(reach > 0 ? 1 : 0);
    }
  });

  test('stopping lets everything go, connects nothing more, and becomes quiet', () => {
    const bench = new Bench(['a', 'b']).radio(on).connect('a').hear('b').stop();
    expect(isQuiet(bench.state)).toBe(false);
    bench.radio({ type: 'disconnected', linkId: bench.linkOf('a'), reason: told('ended') });
    bench.radio({ type: 'connectFailed', linkId: bench.linkOf('b'), reason: told('given up') });
    expect(isQuiet(bench.state)).toBe(true);
    bench.hear('a').wait(5_000);
    expect(bench.count('connect')).toBe(2);
    expect([...bench.state.radios.values()].some((radio) => radio.scanning)).toBe(false);
  });

  test('rotating addresses do not pile up: a thousand strangers leave no trace after two minutes', () => {
    const bench = new Bench([]).radio(on);
    let most = 0;
    for (let stranger = 0; stranger < 1_000; stranger += 1) {
      bench.hear(`s${stranger}`).wait(100);
      most = Math.max(most, bench.state.sensors.size);
    }
    expect(most).toBeLessThanOrEqual(65);
    bench.wait(120_000);
    expect(bench.state.sensors.size).toBe(0);
  });

  test('tells which of many it is: the one whose signal comes or goes', () => {
    const bench = new Bench([]).radio(on);
    bench.hear('x').wait(20_000, () => bench.hear('x').hear('y'));
    expect(inWords(bench.statusOf('x').detail)).toContain('In range');
    bench.wait(10_000, () => bench.hear('y'));
    expect(inWords(bench.statusOf('x').detail)).toMatch(/Signal gone for 10 s/);
    expect(inWords(bench.statusOf('y').detail)).toContain('In range');
    bench.hear('x');
    expect(inWords(bench.statusOf('x').detail)).toContain('Signal appeared 0 s ago');
  });

  test('ids of any origin become ids that the hub accepts', () => {
    fc.assert(
      fc.property(fc.string({ maxLength: 200 }), (id) => {
        expect(sensorIdOf(id)).toMatch(/^bt:[A-Za-z0-9._-]{0,60}$/);
      }),
    );
  });
});

test('advertisements stamped ahead of the hub’s clock do not make a sensor seem to advertise seldom', () => {
  const bench = new Bench(['a']);
  for (const atMs of [58_851, 70_851])
    bench.radio({
      type: 'advertisement',
      peripheralId: 'a',
      name: null,
      services: [],
      rssiDbm: null,
      connectable: false,
      atMs: processMs(atMs),
    });
  bench.want('a').radio(on).wait(70_000);
  bench.radio(on).connect('a').notify('a');
  expect(bench.packets.at(-1)!.sensorId).toBe('bt:a');
});

describe('anything at any time', () => {
  const id = fc.constantFrom('a', 'b', 'c', 'd');
  const linkId = fc.oneof(
    fc.integer({ min: 1, max: 12 }).map((number) => `r0-${number}`),
    fc.constant('none'),
  );
  const uuid = fc.constantFrom('2a37', '2a5f', '2a5e', '2a19', '2a00', 'zzzz', '');
  const bytes = fc.uint8Array({ maxLength: 30 });
  const table = fc.array(
    fc.record({
      service: fc.constantFrom('180d', '1822', '1800', '180f', 'junk'),
      characteristic: uuid,
      properties: fc.subarray(['read', 'notify', 'indicate', 'write', 'nonsense']),
    }),
    { maxLength: 12 },
  );
  const event: fc.Arbitrary<RadioEvent | 'tick' | { want: string[] }> = fc.oneof(
    fc.constant('tick' as const),
    fc.constant('tick' as const),
    fc.constant({ type: 'on' } as const),
    fc.constant({ type: 'problem', problem: 'adapterOff', reason: null } as const),
    fc.uniqueArray(id, { maxLength: 4 }).map((want) => ({ want })),
    fc.record({
      type: fc.constant('advertisement' as const),
      peripheralId: fc.oneof(id, fc.string({ maxLength: 20 })),
      name: fc.option(fc.string({ maxLength: 60, unit: 'binary' })),
      services: fc.array(fc.constantFrom('180d', '1822', '180a', 'junk'), { maxLength: 5 }),
      rssiDbm: fc.option(fc.integer({ min: -128, max: 127 })),
      connectable: fc.boolean(),
      atMs: fc.integer({ min: 0, max: 100_000 }).map(processMs),
    }),
    fc.record({ type: fc.constant('connected' as const), linkId }),
    fc.record({ type: fc.constant('connectFailed' as const), linkId, reason: fc.string().map(told) }),
    fc.record({ type: fc.constant('discovered' as const), linkId, characteristics: table }),
    fc.record({ type: fc.constant('subscribed' as const), linkId, characteristic: uuid }),
    fc.record({ type: fc.constant('written' as const), linkId, characteristic: uuid }),
    fc.record({
      type: fc.constant('readDone' as const),
      linkId,
      characteristic: uuid,
      bytes,
      atMs: fc.nat().map(processMs),
    }),
    fc.record({
      type: fc.constant('notification' as const),
      linkId,
      sequence: fc.nat(20),
      characteristic: uuid,
      bytes,
      atMs: fc.nat(100_000).map(processMs),
    }),
    fc.record({
      type: fc.constant('stepFailed' as const),
      linkId,
      step: fc.constantFrom('discover', 'subscribe', 'read', 'write'),
      reason: fc.string().map(told),
    }),
    fc.record({ type: fc.constant('disconnected' as const), linkId, reason: fc.string().map(told) }),
  );

  test('no order of events breaks an invariant, and a well-behaved adapter afterwards always leads to readings', () => {
    fc.assert(
      fc.property(fc.array(event, { maxLength: 120 }), (events) => {
        const bench = new Bench(['a', 'b']);
        for (const each of events) {
          if (each === 'tick') bench.wait(700);
          else if ('want' in each) bench.want(...each.want);
          else bench.radio(each);
        }
        for (const sensor of bench.state.sensors.values()) {
          sensorStatus(sensor, linkPolicy, bench.nowMs);
          expect(sensor.name.length).toBeGreaterThan(0);
        }
        // From any state: restart, and the wanted one is reached.
        bench.want('a').radio(on).wait(70_000);
        bench.radio(on).connect('a').notify('a');
        expect(bench.packets.at(-1)!.sensorId).toBe('bt:a');
      }),
      { numRuns: 60 },
    );
  });
});
