// Several radios under one link logic: which of them links which sensor, one that is unplugged, one that is full, and one in
// another room that is not reached for a while. And sensors that are known under other addresses.

import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { reduceLinks } from '../../../hub/sensors/bluetooth/link-machine.ts';
import { linkPolicy } from '../../../hub/sensors/bluetooth/link-policy.ts';
import {
  initialLinkState,
  type LinkEffect,
  type LinkEvent,
  type LinkState,
  type RememberedSensor,
} from '../../../hub/sensors/bluetooth/link-state.ts';
import type { RadioEvent } from '../../../hub/sensors/bluetooth/radio.ts';
import { linksOf } from '../../../hub/sensors/bluetooth/radio-choice.ts';
import { sensorStatus } from '../../../hub/sensors/bluetooth/sensor-status.ts';
import { said } from '../../../shared/said.ts';
import { processMs } from '../../../shared/units.ts';

const table = [{ service: '180d', characteristic: '2a37', properties: ['notify'] }];
const wantedOf = (id: string, more: Partial<RememberedSensor> = {}): RememberedSensor => ({
  sensorId: `bt:${id}`,
  name: `Sensor ${id}`,
  kinds: ['heartRate'],
  ...more,
});

/** Radios that do as they are told, each within the reach and the number of links that the test gives it. */
class Hall {
  nowMs = 1_000;
  state: LinkState;
  readonly effects: LinkEffect[] = [];
  readonly config = { policy: linkPolicy, profiles: [], takeEverything: false };
  /** How well each radio hears each sensor; not at all where it is left out. */
  readonly hears = new Map<string, Map<string, number>>();
  readonly mostLinks = new Map<string, number>();
  #sequences = new Map<string, number>();

  constructor(radios: readonly string[], remembered: readonly RememberedSensor[]) {
    this.state = initialLinkState(radios, remembered);
    for (const radioId of radios) this.radio(radioId, { type: 'on' });
  }

  take(event: LinkEvent): void {
    const { state, effects } = reduceLinks(this.config, this.state, event);
    this.state = state;
    this.effects.push(...effects);
    this.check();
  }

  radio(radioId: string, event: RadioEvent): void {
    this.take({ type: 'radio', radioId, event, atMs: processMs(this.nowMs) });
  }

  add(radioId: string, isElsewhere = false): void {
    this.take({ type: 'radioAdded', radioId, isElsewhere, atMs: processMs(this.nowMs) });
    this.radio(radioId, { type: 'on' });
  }

  same(sensorId: string, as: string | null): void {
    this.take({ type: 'same', sensorId, as, atMs: processMs(this.nowMs) });
  }

  reach(radioId: string, id: string, rssiDbm: number): void {
    const own = this.hears.get(radioId) ?? new Map<string, number>();
    own.set(id, rssiDbm);
    this.hears.set(radioId, own);
  }

  /** What the radios were asked since the last look is answered as good ones do. */
  #answer(): void {
    for (const effect of this.effects.splice(0)) {
      if (effect.type !== 'command') continue;
      const { radioId, command } = effect;
      if (this.state.radios.get(radioId)?.on !== true) continue;
      if (command.type === 'connect') {
        const open = linksOf(this.state.sensors.values(), radioId) - 1;
        const { linkId } = command;
        if (open >= (this.mostLinks.get(radioId) ?? 99))
          this.radio(radioId, { type: 'connectFailed', linkId, reason: said('link.givenUp'), isLimit: true });
        else this.radio(radioId, { type: 'connected', linkId });
      } else if (command.type === 'discover')
        this.radio(radioId, { type: 'discovered', linkId: command.linkId, characteristics: table });
      else if (command.type === 'subscribe') {
        const { linkId, characteristic } = command;
        this.radio(radioId, { type: 'subscribed', linkId, characteristic });
      } else if (command.type === 'disconnect')
        this.radio(radioId, { type: 'disconnected', linkId: command.linkId, reason: said('link.hubEnded') });
    }
  }

  notify(id: string, atMs = this.nowMs): void {
    const phase = this.state.sensors.get(`bt:${id}`)!.phase;
    if (phase.phase !== 'ready') return;
    const { linkId, radioId } = phase.link;
    const sequence = (this.#sequences.get(linkId) ?? 0) + 1;
    this.#sequences.set(linkId, sequence);
    const bytes = Uint8Array.of(0, 60);
    this.radio(radioId, {
      type: 'notification',
      linkId,
      sequence,
      characteristic: '2a37',
      bytes,
      atMs: processMs(atMs),
    });
  }

  /** Time passes: sensors without a link are heard by whoever can, those with one send. */
  pass(ms: number, silentRadios: readonly string[] = []): void {
    for (const endMs = this.nowMs + ms; this.nowMs < endMs; ) {
      this.nowMs += 100;
      for (const [radioId, own] of this.hears) {
        const radio = this.state.radios.get(radioId);
        if (radio === undefined || !radio.on || !radio.scanning || silentRadios.includes(radioId)) continue;
        for (const [id, rssiDbm] of own) {
          if (this.linkedBy(id) !== null) continue;
          this.radio(radioId, {
            type: 'advertisement',
            peripheralId: id,
            name: `Sensor ${id}`,
            services: ['180d'],
            rssiDbm,
            connectable: true,
            atMs: processMs(this.nowMs),
          });
        }
      }
      if (this.nowMs % 500 === 0)
        for (const { phase, peripheralId, sensorId } of [...this.state.sensors.values()])
          if (phase.phase === 'ready' && !silentRadios.includes(phase.link.radioId))
            this.notify(sensorId.replace('bt:', '') || peripheralId);
      this.take({ type: 'tick', atMs: processMs(this.nowMs) });
      this.#answer();
    }
  }

  /** The radio that has a link to whichever sensor is at this address. */
  linkedBy(address: string): string | null {
    for (const { phase, peripheralId } of this.state.sensors.values())
      if (peripheralId === address && 'link' in phase && phase.phase !== 'closing') return phase.link.radioId;
    return null;
  }

  loads(): Record<string, number> {
    return Object.fromEntries(
      [...this.state.radios.keys()].map((radioId) => [
        radioId,
        linksOf(this.state.sensors.values(), radioId),
      ]),
    );
  }

  /** One sensor, one link, whatever happens. */
  check(): void {
    const addresses = new Set<string>();
    for (const { phase, peripheralId } of this.state.sensors.values()) {
      if (!('link' in phase)) continue;
      if (addresses.has(peripheralId)) throw new Error(`two links to ${peripheralId}`);
      addresses.add(peripheralId);
      if (!this.state.radios.has(phase.link.radioId)) throw new Error('a link of no radio');
    }
  }

  statusOf(id: string) {
    return sensorStatus(this.state.sensors.get(`bt:${id}`)!, linkPolicy, this.nowMs);
  }
}

const ids = ['a', 'b', 'c', 'd', 'e', 'f', 'g', 'h'];

describe('several adapters', () => {
  test('eight sensors heard alike are shared four and four', () => {
    const hall = new Hall(
      ['r0', 'r1'],
      ids.map((id) => wantedOf(id)),
    );
    for (const id of ids) for (const radioId of ['r0', 'r1']) hall.reach(radioId, id, -60);
    hall.pass(10_000);
    expect(hall.loads()).toEqual({ r0: 4, r1: 4 });
  });

  test('whoever hears it far better has it, though it has more links', () => {
    const hall = new Hall(
      ['r0', 'r1'],
      ids.map((id) => wantedOf(id)),
    );
    for (const id of ids) {
      hall.reach('r0', id, -55);
      hall.reach('r1', id, -92);
    }
    hall.pass(10_000);
    // 27 dB below a good signal outweigh four links: it is asked where the nearer one has five already.
    expect(hall.loads().r0).toBeGreaterThanOrEqual(5);
    expect(hall.loads().r0! + hall.loads().r1!).toBe(8);
  });

  test('an adapter that is unplugged loses its sensors to the other, and working links stay where they are', () => {
    const hall = new Hall(
      ['r0', 'r1'],
      ids.slice(0, 4).map((id) => wantedOf(id)),
    );
    for (const id of ids.slice(0, 4)) for (const radioId of ['r0', 'r1']) hall.reach(radioId, id, -60);
    hall.pass(6_000);
    expect(hall.loads()).toEqual({ r0: 2, r1: 2 });
    const stays = ids.slice(0, 4).filter((id) => hall.linkedBy(id) === 'r1');
    const losses = stays.map((id) => hall.state.sensors.get(`bt:${id}`)!.counts.losses);
    hall.radio('r0', { type: 'problem', problem: 'noAdapter', reason: null });
    hall.pass(6_000);
    expect(hall.loads()).toEqual({ r0: 0, r1: 4 });
    expect(stays.map((id) => hall.state.sensors.get(`bt:${id}`)!.counts.losses)).toEqual(losses);
    for (const id of ids.slice(0, 4)) expect(hall.statusOf(id).link).toBe('connected');
  });

  test('at its limit an adapter is left alone, the person is told, and another that is plugged in takes the rest', () => {
    const hall = new Hall(
      ['r0'],
      ids.slice(0, 5).map((id) => wantedOf(id)),
    );
    hall.mostLinks.set('r0', 3);
    for (const id of ids.slice(0, 5)) for (const radioId of ['r0', 'r1']) hall.reach(radioId, id, -60);
    hall.pass(8_000);
    expect(hall.loads()).toEqual({ r0: 3 });
    const left = ids.slice(0, 5).filter((id) => hall.linkedBy(id) === null);
    expect(left).toHaveLength(2);
    for (const id of left) expect(hall.statusOf(id).detail?.code).toBe('sensor.linkLimit');
    const tries = left.reduce(
      (sum, id) => sum + hall.state.sensors.get(`bt:${id}`)!.counts.failedAttempts,
      0,
    );
    hall.pass(60_000);
    // Asked again now and then, not all the time; and still said.
    expect(
      left.reduce((sum, id) => sum + hall.state.sensors.get(`bt:${id}`)!.counts.failedAttempts, 0),
    ).toBeLessThan(tries + 6);
    for (const id of left) expect(hall.statusOf(id).detail?.code).toBe('sensor.linkLimit');
    hall.add('r1');
    hall.pass(6_000);
    expect(hall.loads()).toEqual({ r0: 3, r1: 2 });
  });

  test('an adapter that is gone for good takes no sensor with it', () => {
    const hall = new Hall(
      ['r0', 'r1'],
      ids.slice(0, 4).map((id) => wantedOf(id)),
    );
    for (const id of ids.slice(0, 4)) for (const radioId of ['r0', 'r1']) hall.reach(radioId, id, -60);
    hall.pass(6_000);
    hall.take({ type: 'radioRemoved', radioId: 'r1', atMs: processMs(hall.nowMs) });
    hall.pass(6_000);
    expect(hall.loads()).toEqual({ r0: 4 });
  });

  test('a radio speaks of its own links only', () => {
    const hall = new Hall(['r0', 'r1'], [wantedOf('a')]);
    hall.reach('r0', 'a', -60);
    hall.pass(3_000);
    const { phase } = hall.state.sensors.get('bt:a')!;
    const linkId = 'link' in phase ? phase.link.linkId : '';
    const packets = hall.state.sensors.get('bt:a')!.counts.packets;
    hall.radio('r1', {
      type: 'notification',
      linkId,
      sequence: 99,
      characteristic: '2a37',
      bytes: Uint8Array.of(0, 99),
      atMs: processMs(hall.nowMs),
    });
    hall.radio('r1', { type: 'disconnected', linkId, reason: said('link.hubEnded') });
    expect(hall.state.sensors.get('bt:a')!.counts.packets).toBe(packets);
    expect(hall.linkedBy('a')).toBe('r0');
  });

  test('whatever radios do in whatever order, no sensor has two links, and all are linked in the end', () => {
    const radioIds = ['r0', 'r1', 'r2'] as const;
    const radio = fc.constantFrom(...radioIds);
    const step = fc.oneof(
      fc.record({ what: fc.constantFrom('on', 'off', 'away', 'back'), radio }),
      fc.record({ what: fc.constant('pass'), ms: fc.integer({ min: 1, max: 40 }) }),
      fc.record({
        what: fc.constantFrom('same', 'notSame'),
        id: fc.constantFrom('x', 'y'),
        as: fc.constantFrom('a', 'b'),
      }),
    );
    fc.assert(
      fc.property(fc.array(step, { maxLength: 25 }), (steps) => {
        const hall = new Hall(
          radioIds,
          ['a', 'b', 'c', 'd'].map((id) => wantedOf(id)),
        );
        for (const id of ['a', 'b', 'c', 'd', 'x', 'y'])
          for (const each of radioIds) hall.reach(each, id, -60);
        for (const each of steps) {
          if ('ms' in each) hall.pass(each.ms * 100);
          else if ('radio' in each) {
            const event: RadioEvent =
              each.what === 'off'
                ? { type: 'problem', problem: 'adapterOff', reason: null }
                : { type: each.what as 'on' | 'away' | 'back' };
            hall.radio(each.radio, event);
          } else hall.same(`bt:${each.id}`, each.what === 'same' ? `bt:${each.as}` : null);
        }
        for (const each of radioIds) hall.radio(each, { type: 'on' });
        hall.pass(40_000);
        for (const id of ['a', 'b', 'c', 'd']) expect(hall.statusOf(id).link).toBe('connected');
      }),
      { numRuns: 40 },
    );
  });
});

describe('a radio that is not reached', () => {
  function farHall(): Hall {
    const hall = new Hall([], [wantedOf('a')]);
    hall.add('far', true);
    hall.reach('far', 'a', -60);
    hall.pass(5_000);
    expect(hall.statusOf('a').link).toBe('connected');
    return hall;
  }

  test('its sensor is told as lost within 3 s, and the link is left alone for minutes', () => {
    const hall = farHall();
    hall.radio('far', { type: 'away' });
    hall.pass(2_900, ['far']);
    expect(hall.statusOf('a').link).toBe('lost');
    hall.effects.length = 0;
    hall.pass(300_000, ['far']);
    expect(hall.linkedBy('a')).toBe('far');
    expect(hall.effects.filter(({ type }) => type !== 'command')).toEqual([]);
  });

  test('what it kept comes late, and revives nothing; the next word of now does', () => {
    const hall = farHall();
    hall.radio('far', { type: 'away' });
    hall.pass(20_000, ['far']);
    hall.radio('far', { type: 'back' });
    hall.effects.length = 0;
    for (let agoMs = 19_000; agoMs >= 0; agoMs -= 500) {
      hall.notify('a', hall.nowMs - agoMs);
      if (agoMs > linkPolicy.lateAfterMs) expect(hall.statusOf('a').link).toBe('lost');
    }
    const packets = hall.effects.filter((effect) => effect.type === 'packet');
    expect(packets.filter(({ isLate }) => isLate)).toHaveLength(32);
    expect(packets.filter(({ isLate }) => !isLate)).toHaveLength(7);
    expect(packets.map(({ atMs }) => atMs)).toEqual(
      packets.map(({ atMs }) => atMs).toSorted((a, b) => a - b),
    );
    expect(hall.statusOf('a').link).toBe('connected');
    hall.pass(10_000);
    expect(hall.state.sensors.get('bt:a')!.counts.losses).toBe(0);
  });

  test('a sensor that left meanwhile is looked for again', () => {
    const hall = farHall();
    hall.radio('far', { type: 'away' });
    hall.pass(20_000, ['far']);
    hall.radio('far', { type: 'back' });
    hall.hears.clear();
    hall.pass(8_000, ['far']);
    expect(hall.linkedBy('a')).toBeNull();
  });
});

describe('a sensor under another address', () => {
  test('after a restart of the hub it is known by its serial number’s addresses, and by its name while it is off', () => {
    const hall = new Hall(['r0'], [wantedOf('a', { addresses: ['new'], serialNumber: 'S1' })]);
    expect(hall.statusOf('a').name).toBe('Sensor a');
    hall.reach('r0', 'new', -60);
    hall.pass(3_000);
    expect(hall.linkedBy('new')).toBe('r0');
    expect(hall.statusOf('a').link).toBe('connected');
  });

  test('a person says that it is the same, and takes that back', () => {
    const hall = new Hall(['r0'], [wantedOf('a')]);
    hall.reach('r0', 'new', -60);
    hall.pass(3_000);
    expect(hall.state.sensors.get('bt:new')!.phase.phase).toBe('idle');
    hall.same('bt:new', 'bt:a');
    hall.pass(3_000);
    expect(hall.statusOf('a').link).toBe('connected');
    expect(hall.linkedBy('new')).toBe('r0');
    expect(hall.state.sensors.has('bt:new')).toBe(false);
    hall.same('bt:new', null);
    hall.pass(4_000);
    expect(hall.statusOf('a').link).not.toBe('connected');
    expect(hall.state.sensors.get('bt:new')!.phase.phase).toBe('idle');
    hall.reach('r0', 'a', -60);
    hall.pass(4_000);
    expect(hall.linkedBy('a')).toBe('r0');
  });
});
