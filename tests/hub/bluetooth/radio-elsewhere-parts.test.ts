// A radio on another computer and the hub's end of it, on clocks that differ and part, over a network that is slow, uneven and
// breaks: every word once, in order, and put where it was.

import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { Clock } from '../../../hub/base/ports/clock.ts';
import { mostDrift, offsetBetween } from '../../../hub/sensors/bluetooth/clock-offset.ts';
import { ElsewhereRadio } from '../../../hub/sensors/bluetooth/elsewhere/elsewhere-radio.ts';
import { NumberedInbox, NumberedOutbox } from '../../../hub/sensors/bluetooth/elsewhere/numbered-items.ts';
import { RadioPost } from '../../../hub/sensors/bluetooth/elsewhere/radio-post.ts';
import {
  itemsText,
  mostRadioMessageBytes,
  type RadioLine,
  readFromRadio,
} from '../../../hub/sensors/bluetooth/elsewhere/radio-wire.ts';
import type { RadioEvent } from '../../../hub/sensors/bluetooth/radio.ts';
import { SeededRandom } from '../../../hub/sensors/simulated/seeded-random.ts';
import { processMs } from '../../../shared/units.ts';
import { createFakeClock, type FakeClock } from '../../support/fake-clock.ts';
import { FakeRadio } from './fake-radio.ts';

/** Another computer's clock: begun at another time, and faster or slower by `drift`. */
const otherClock = (base: FakeClock, offsetMs: number, drift: number): Clock => ({
  ...base,
  nowMs: () => processMs(base.nowMs() * (1 + drift) + offsetMs),
});

class World {
  readonly clock = createFakeClock(10_000);
  readonly chance: SeededRandom;
  readonly fake = new FakeRadio();
  readonly events: { readonly event: RadioEvent; readonly heardAtMs: number }[] = [];
  readonly certificates: string[] = [];
  hub: ElsewhereRadio;
  readonly post: RadioPost;
  #isCut = true;
  #delayMs: readonly [toHub: number, toRadio: number] = [0, 0];
  #hubRuns = 0;
  sent = 0;
  readonly trueAtMs: number[] = [];

  constructor(seed: number, drift: number, delayMs: readonly [number, number]) {
    this.chance = new SeededRandom(seed);
    this.#delayMs = delayMs;
    this.hub = this.#newHub();
    this.post = new RadioPost({
      clock: otherClock(this.clock, 7_654_321, drift),
      radio: this.fake,
      log: () => undefined,
      newCertificate: (fingerprint) => this.certificates.push(fingerprint),
    });
    this.#radioNow = () => this.clock.nowMs() * (1 + drift) + 7_654_321;
  }
  readonly #radioNow: () => number;

  #newHub(): ElsewhereRadio {
    this.#hubRuns += 1;
    const hub = new ElsewhereRadio({
      radioId: 'at-1',
      hubRunId: `run-${this.#hubRuns}`,
      clock: this.clock,
      log: () => undefined,
    });
    hub.start({ event: (event) => this.events.push({ event, heardAtMs: this.clock.nowMs() }) });
    return hub;
  }

  /** The hub was killed and started again. */
  restartHub(): void {
    this.cut();
    this.hub = this.#newHub();
  }

  #ends: (() => void)[] = [];

  connect(): void {
    this.#isCut = false;
    const { hub, post, clock } = this;
    const ends = { hub: null as RadioLine | null, radio: null as RadioLine | null };
    let isOpen = true;
    const end = (): void => {
      if (!isOpen) return;
      isOpen = false;
      if (ends.hub !== null) hub.lineEnded(ends.hub);
      if (ends.radio !== null) post.lineEnded(ends.radio);
    };
    // In order, as over TCP, each after a delay of its own.
    const way = (mostMs: number, deliver: (text: string) => void) => {
      let notBeforeMs = 0;
      return (text: string): void => {
        if (!isOpen || this.#isCut) return;
        notBeforeMs = Math.max(notBeforeMs, clock.nowMs() + 1 + this.chance.next() * mostMs);
        clock.after(notBeforeMs - clock.nowMs(), () => {
          if (isOpen && !this.#isCut) deliver(text);
        });
      };
    };
    ends.hub = {
      send: way(this.#delayMs[1], (text) => {
        if (!post.received(ends.radio!, text)) end();
      }),
      cut: end,
    };
    ends.radio = {
      send: way(this.#delayMs[0], (text) => {
        if (hub.received(ends.hub!, text) !== null) end();
      }),
      cut: end,
    };
    this.#ends.push(end);
    hub.attach(ends.hub);
    post.attach(ends.radio);
  }

  cut(): void {
    this.#isCut = true;
    for (const end of this.#ends.splice(0)) end();
  }

  /** Without a word: each end finds out for itself. */
  fallSilent(): void {
    this.#isCut = true;
  }

  notify(): void {
    this.sent += 1;
    this.trueAtMs.push(this.clock.nowMs());
    this.fake.emit({
      type: 'notification',
      linkId: 'at-1-1',
      sequence: this.sent,
      characteristic: '2a37',
      bytes: Uint8Array.of(0, 60),
      atMs: processMs(this.#radioNow()),
    });
  }

  pass(ms: number, notifyEveryMs = 500): void {
    for (let passed = 0; passed < ms; passed += notifyEveryMs) {
      this.clock.advance(notifyEveryMs);
      if (this.fake.listener !== null) this.notify();
    }
  }

  heard(): readonly Extract<RadioEvent, { type: 'notification' }>[] {
    return this.events.flatMap(({ event }) => (event.type === 'notification' ? [event] : []));
  }

  /** How far each stamp lies from when it was. */
  errors(): number[] {
    return this.heard().map(({ sequence, atMs }) => atMs - this.trueAtMs[sequence - 1]!);
  }
}

describe('numbered items', () => {
  test('whatever is lost on the way, each comes once and in order', () => {
    fc.assert(
      fc.property(
        fc.array(fc.constantFrom('push', 'send', 'lose', 'hear', 'again'), { maxLength: 200 }),
        (steps) => {
          const outbox = new NumberedOutbox<number>();
          const inbox = new NumberedInbox();
          const limits = { mostItems: 3, mostBytes: 1_000, mostUnheard: 7 };
          const got: number[] = [];
          let pushed = 0;
          const send = (arrives: boolean): void => {
            const next = outbox.next(limits);
            if (next === null) return;
            if (!arrives) {
              // A connection that loses something is over.
              outbox.again();
              return;
            }
            got.push(...(inbox.take(next.first, next.items) ?? []));
          };
          for (const step of steps) {
            if (step === 'push') outbox.push(++pushed, 10);
            else if (step === 'again') outbox.again();
            else if (step === 'hear') outbox.heard(inbox.heard);
            else send(step === 'send');
          }
          for (let left = pushed + 1; left > 0; left -= 1) {
            send(true);
            outbox.heard(inbox.heard);
          }
          expect(got).toEqual(Array.from({ length: pushed }, (_, index) => index + 1));
          expect(outbox.length).toBe(0);
          expect(outbox.bytes).toBe(0);
        },
      ),
    );
  });

  test('a hole is no honest end’s doing', () => {
    expect(new NumberedInbox().take(2, ['b'])).toBeNull();
    expect(new NumberedInbox().take(0, ['z'])).toBeNull();
  });
});

describe('clocks', () => {
  test.each([
    [0, [2, 2]],
    [150e-6, [5, 80]],
    [-200e-6, [80, 5]],
  ] as const)('drift %f, delays up to %j ms: stamps within what is told', (drift, delays) => {
    const world = new World(3, drift, delays);
    world.connect();
    world.pass(120_000);
    const told = world.hub.health.clockUncertaintyMs!;
    const errors = world.errors();
    expect(errors.length).toBeGreaterThan(220);
    const worst = Math.max(...errors.map(Math.abs));
    console.log(
      `drift ${(drift * 1e6).toFixed(0)} ppm, delays to ${delays.join('/')} ms: stamps off by ${worst.toFixed(1)} ms at most, told ${told.toFixed(1)} ms`,
    );
    // Each is as good as was known at its time; the window of questions makes that ever better.
    expect(worst).toBeLessThan(Math.max(...delays) / 2 + 8);
    const last = errors.slice(-100).map(Math.abs);
    expect(Math.max(...last)).toBeLessThan(told + 60_000 * mostDrift);
  });

  test('ten minutes without the hub: what was kept is put where it was, though the clocks have parted by 0.1 s', () => {
    const world = new World(4, 180e-6, [10, 10]);
    world.connect();
    world.pass(60_000);
    world.cut();
    const atCut = world.sent;
    world.pass(590_000);
    world.connect();
    world.pass(30_000);
    const errors = world.errors().slice(atCut, atCut + 1_180);
    const worst = Math.max(...errors.map(Math.abs));
    console.log(
      `after ten minutes without the hub: ${errors.length} packets, off by ${worst.toFixed(1)} ms at most`,
    );
    expect(errors).toHaveLength(1_180);
    expect(worst).toBeLessThan(12);
  });

  test('between two known offsets lies the straight line, and never more doubt than drift allows', () => {
    const before = { theirMs: 0, offsetMs: 100, uncertaintyMs: 2 };
    const after = { theirMs: 100_000, offsetMs: 110, uncertaintyMs: 3 };
    expect(offsetBetween(before, after, 50_000).offsetMs).toBe(105);
    expect(offsetBetween(before, after, 50_000).uncertaintyMs).toBeCloseTo(13, 6);
    expect(offsetBetween(before, after, 200_000)).toMatchObject({ offsetMs: 110, uncertaintyMs: 3 });
    expect(offsetBetween(null, after, 0).uncertaintyMs).toBeCloseTo(23, 6);
  });
});

describe('a network that breaks', () => {
  test('at any time, in any way: each packet once, in order, and none lost', () => {
    const step = fc.oneof(
      fc.record({ what: fc.constant('pass'), ms: fc.integer({ min: 1, max: 20 }) }),
      fc.record({ what: fc.constantFrom('cut', 'silent', 'connect') }),
    );
    fc.assert(
      fc.property(fc.integer(), fc.array(step, { maxLength: 30 }), (seed, steps) => {
        const world = new World(seed, 50e-6, [30, 30]);
        world.connect();
        world.pass(2_000);
        for (const each of steps) {
          if ('ms' in each) world.pass(each.ms * 250, 250);
          else if (each.what === 'connect') world.connect();
          else if (each.what === 'cut') world.cut();
          else world.fallSilent();
        }
        world.cut();
        world.connect();
        world.pass(5_000);
        world.clock.advance(2_000);
        const numbers = world.heard().map(({ sequence }) => sequence);
        expect(numbers).toEqual(numbers.map((_, index) => index + 1));
        expect(numbers).toHaveLength(world.sent);
        // A network is no reason to end a link.
        expect(world.fake.restarts).toHaveLength(0);
      }),
      { numRuns: 40 },
    );
  });

  test('is told as soon as it is silent, and as over when the clocks have been compared', () => {
    const world = new World(1, 0, [5, 5]);
    world.connect();
    world.pass(5_000);
    world.fallSilent();
    const fromMs = world.clock.nowMs();
    world.pass(4_000);
    const away = world.events.find(({ event }) => event.type === 'away')!;
    expect(away.heardAtMs - fromMs).toBeLessThan(3_100);
    world.connect();
    world.pass(1_000);
    const back = world.events.findIndex(({ event }) => event.type === 'back');
    const late = world.events.findIndex(
      ({ event, heardAtMs }) => event.type === 'notification' && heardAtMs > away.heardAtMs,
    );
    expect(back).toBeGreaterThan(0);
    expect(back).toBeLessThan(late);
  });

  test('of more than there is room for, the oldest is kept, and the rest counted and told', () => {
    const world = new World(1, 0, [1, 1]);
    world.connect();
    world.pass(2_000);
    world.cut();
    const before = world.sent;
    for (let more = 0; more < 45_000; more += 1) world.notify();
    world.connect();
    world.clock.advance(10_000);
    const numbers = world.heard().map(({ sequence }) => sequence);
    expect(numbers).toEqual(numbers.map((_, index) => index + 1));
    expect(numbers.length).toBeGreaterThan(before + 30_000);
    expect(world.hub.health.packetsLost).toBe(world.sent - numbers.length);
    expect(world.post.counts.kept).toBe(0);
  });

  test('beyond ten minutes both ends give the links up, and begin anew', () => {
    const world = new World(1, 0, [5, 5]);
    world.connect();
    world.pass(2_000);
    world.cut();
    world.clock.advance(605_000);
    expect(world.events.at(-1)!.event).toMatchObject({ type: 'problem', problem: 'notReached' });
    expect(world.fake.restarts).toHaveLength(1);
    world.fake.emit({ type: 'on' });
    world.connect();
    world.clock.advance(2_000);
    // Begun anew once more, so that both agree from where.
    expect(world.fake.restarts).toHaveLength(2);
    world.fake.emit({ type: 'on' });
    world.clock.advance(1_000);
    expect(world.events.at(-1)!.event).toEqual({ type: 'on' });
  });

  test('a hub that was killed knows nothing of the past: the radio begins anew', () => {
    const world = new World(1, 0, [5, 5]);
    world.connect();
    world.pass(3_000);
    world.restartHub();
    const heard = world.heard().length;
    world.pass(3_000);
    world.connect();
    world.clock.advance(2_000);
    expect(world.fake.restarts).toHaveLength(1);
    expect(world.heard()).toHaveLength(heard);
    world.hub.send({ type: 'scan', on: true });
    world.clock.advance(500);
    expect(world.fake.commands.at(-1)).toEqual({ type: 'scan', on: true });
  });

  test('orders reach the radio once and in order, whatever breaks between', () => {
    const world = new World(9, 0, [20, 20]);
    world.connect();
    world.pass(2_000);
    for (let number = 0; number < 60; number += 1) {
      world.hub.send({ type: 'disconnect', linkId: `at-1-${number}` });
      if (number % 7 === 0) world.cut();
      if (number % 7 === 3) world.connect();
      world.clock.advance(150);
    }
    world.cut();
    world.connect();
    world.clock.advance(3_000);
    expect(world.fake.commands.map((command) => ('linkId' in command ? command.linkId : ''))).toEqual(
      Array.from({ length: 60 }, (_, number) => `at-1-${number}`),
    );
  });

  test('the next certificate is told over the connection of the one before', () => {
    const world = new World(1, 0, [1, 1]);
    world.connect();
    world.pass(1_000);
    const fingerprint = Array.from({ length: 32 }, () => 'AB').join(':');
    world.hub.tellCertificate(fingerprint);
    world.clock.advance(100);
    expect(world.certificates).toEqual([fingerprint]);
  });
});

describe('what a radio says is not believed', () => {
  test('any text is read or refused, and never throws', () => {
    fc.assert(
      fc.property(
        fc.oneof(
          fc.string(),
          fc.json(),
          fc.json().map((json) => `{"type":"items","first":1,"items":[${json}]}`),
        ),
        (text) => {
          const read = readFromRadio(text);
          expect(typeof read.ok).toBe('boolean');
        },
      ),
    );
    expect(readFromRadio('x'.repeat(mostRadioMessageBytes + 1))).toMatchObject({ ok: false });
  });

  test('words of links that are not its own are passed over', () => {
    const world = new World(1, 0, [1, 1]);
    world.connect();
    world.pass(1_000);
    const before = world.events.length;
    for (const linkId of ['radio0-1', 'at-1-', 'at-1-1-2', 'at-11-1', 'at-1-x'])
      world.fake.emit({ type: 'connected', linkId });
    world.clock.advance(100);
    expect(world.events.slice(before).filter(({ event }) => event.type === 'connected')).toEqual([]);
  });

  test('a reason is said in plain words only, however it is nested', () => {
    let reason: object = { code: 'link.lost', params: { reason: 'x' } };
    for (let depth = 0; depth < 20; depth += 1) reason = { code: 'link.lost', params: { reason } };
    const nested = readFromRadio(
      itemsText(1, [{ type: 'disconnected', linkId: 'at-1-1', reason } as RadioEvent]),
    );
    expect(nested.ok).toBe(true);
    expect(JSON.stringify(nested).match(/link\.lost/g)).toHaveLength(5);
    const odd = readFromRadio(
      itemsText(1, [
        {
          type: 'disconnected',
          linkId: 'at-1-1',
          reason: { code: 'sensor.partlyLocked', params: { what: 'x' } },
        },
      ] as RadioEvent[]),
    );
    expect(JSON.stringify(odd)).toContain('"code":"said.asTold"');
  });

  test('a message of another shape ends the connection', () => {
    const world = new World(1, 0, [1, 1]);
    const line = { send: () => undefined, cut: () => undefined };
    world.hub.attach(line);
    expect(world.hub.received(line, '{"type":"items","first":1,"items":[]}')).toBe('badMessage');
    expect(world.hub.received(line, '{"type":"hello","version":99,"hubRunId":null,"heard":0,"lost":0}')).toBe(
      'wrongVersion',
    );
  });
});
