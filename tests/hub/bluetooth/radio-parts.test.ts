// The small parts under the radio: framing of HCI packets, comparing clocks, addresses of adapters, advice.

import { EventEmitter } from 'node:events';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { told } from '../../../hub/base/hub-error.ts';
import { addExchange, bestOffset, type ClockExchange } from '../../../hub/sensors/bluetooth/clock-offset.ts';
import { initialH4State, passesHciFilter, takeH4 } from '../../../hub/sensors/bluetooth/h4-framing.ts';
import { parseHciAddress } from '../../../hub/sensors/bluetooth/hci-address.ts';
import type { Noble } from '../../../hub/sensors/bluetooth/noble-library.ts';
import { NobleRadio } from '../../../hub/sensors/bluetooth/noble-radio.ts';
import type { RadioEvent } from '../../../hub/sensors/bluetooth/radio.ts';
import { problemOf, radioNotice } from '../../../hub/sensors/bluetooth/radio-notice.ts';
import { isUuid, shortUuid } from '../../../hub/sensors/bluetooth/uuid.ts';
import { inWords } from '../../support/in-words.ts';

describe('H4 framing', () => {
  const packet = fc.oneof(
    fc.uint8Array({ maxLength: 40 }).map((payload) => [2, 0x2a, 0x20, payload.length, 0, ...payload]),
    fc.uint8Array({ maxLength: 40 }).map((payload) => [3, 0x2a, 0x20, payload.length, ...payload]),
    fc.uint8Array({ maxLength: 40 }).map((payload) => [4, 0x3e, payload.length, ...payload]),
    fc.uint8Array({ maxLength: 40 }).map((payload) => [5, 0x2a, 0x20, payload.length, 0, ...payload]),
  );

  test('packets come out whole however the stream is cut', () => {
    fc.assert(
      fc.property(
        fc.array(packet),
        fc.array(fc.integer({ min: 1, max: 9 }), { minLength: 1 }),
        (packets, sizes) => {
          const bytes = packets.flat();
          let state = initialH4State;
          const out: number[][] = [];
          for (let at = 0, turn = 0; at < bytes.length; turn += 1) {
            const size = sizes[turn % sizes.length]!;
            const taken = takeH4(state, Uint8Array.from(bytes.slice(at, at + size)));
            expect(taken.brokenBy).toBeNull();
            state = taken.state;
            out.push(...taken.packets.map((each) => [...each]));
            at += size;
          }
          expect(out).toEqual(packets);
          expect(state.pending).toHaveLength(0);
        },
      ),
    );
  });

  test('a type no controller sends breaks the stream, and what came before still counts', () => {
    const taken = takeH4(initialH4State, Uint8Array.of(4, 0x0e, 1, 7, 0x99, 1, 2));
    expect(taken.packets).toEqual([Uint8Array.of(4, 0x0e, 1, 7)]);
    expect(taken.brokenBy).toBe(0x99);
  });

  test('any bytes are taken without throwing', () => {
    fc.assert(
      fc.property(fc.array(fc.uint8Array()), (chunks) => {
        let state = initialH4State;
        for (const chunk of chunks) state = takeH4(state, chunk).state;
      }),
    );
  });

  test('the raw socket filter lets through what it names', () => {
    const filter = new Uint8Array(14);
    const view = new DataView(filter.buffer);
    view.setUint32(0, (1 << 4) | (1 << 2), true);
    view.setUint32(4, 1 << 0x0e, true);
    view.setUint32(8, 1 << (0x3e - 32), true);
    expect(passesHciFilter(filter, Uint8Array.of(4, 0x0e, 0))).toBe(true);
    expect(passesHciFilter(filter, Uint8Array.of(4, 0x3e, 0))).toBe(true);
    expect(passesHciFilter(filter, Uint8Array.of(4, 0x05, 0))).toBe(false);
    expect(passesHciFilter(filter, Uint8Array.of(2, 0, 0, 0, 0))).toBe(true);
    expect(passesHciFilter(filter, Uint8Array.of(3, 0, 0, 0))).toBe(false);
  });
});

describe('comparing clocks', () => {
  test('the true offset always lies within the uncertainty, and slow answers never make it worse', () => {
    const delay = fc.double({ min: 0, max: 500, noNaN: true });
    fc.assert(
      fc.property(
        fc.double({ min: -1e6, max: 1e6, noNaN: true }),
        fc.array(fc.tuple(delay, delay), { minLength: 1, maxLength: 100 }),
        (trueOffsetMs, delays) => {
          let window: readonly ClockExchange[] = [];
          let best = Infinity;
          for (const [index, [there, back]] of delays.entries()) {
            const askedAtMs = index * 1_000;
            window = addExchange(window, {
              askedAtMs,
              answeredAtMs: askedAtMs + there - trueOffsetMs,
              heardAtMs: askedAtMs + there + back,
            });
            const offset = bestOffset(window)!;
            expect(Math.abs(offset.offsetMs - trueOffsetMs)).toBeLessThanOrEqual(offset.uncertaintyMs + 1e-6);
            if (index < 60) expect(offset.uncertaintyMs).toBeLessThanOrEqual(best + 1e-9);
            best = offset.uncertaintyMs;
          }
        },
      ),
    );
  });

  test('an exchange that ran backwards is left out', () => {
    expect(addExchange([], { askedAtMs: 10, answeredAtMs: 0, heardAtMs: 9 })).toEqual([]);
    expect(addExchange([], { askedAtMs: 0, answeredAtMs: Number.NaN, heardAtMs: 9 })).toEqual([]);
    expect(bestOffset([])).toBeNull();
  });
});

describe('addresses of adapters', () => {
  test.each([
    ['serial:/dev/ttyACM0', { kind: 'serial', path: '/dev/ttyACM0', baudRate: 1_000_000 }],
    ['/dev/ttyACM0', { kind: 'serial', path: '/dev/ttyACM0', baudRate: 1_000_000 }],
    ['COM7@115200', { kind: 'serial', path: 'COM7', baudRate: 115_200 }],
    ['serial:COM3@460800', { kind: 'serial', path: 'COM3', baudRate: 460_800 }],
    ['tcp:127.0.0.1:9000', { kind: 'tcp', host: '127.0.0.1', port: 9_000 }],
    ['tcp:[::1]:9000', { kind: 'tcp', host: '::1', port: 9_000 }],
    ['unix:/run/x', { kind: 'unix', path: '/run/x' }],
  ])('%s', (text, value) => {
    expect(parseHciAddress(text)).toEqual({ ok: true, value });
  });

  test.each(['', 'hci0', 'tcp:host', 'tcp:host:0', 'tcp:host:70000', 'unix:', 'serial:'])(
    '%j is refused with the forms',
    (text) => {
      const parsed = parseHciAddress(text);
      expect(parsed.ok).toBe(false);
      expect(parsed.ok ? '' : inWords(parsed.reason)).toContain('serial:PATH');
    },
  );

  test('any text is answered', () => {
    fc.assert(fc.property(fc.string(), (text) => void parseHciAddress(text)));
  });
});

describe('advice', () => {
  test.each([
    ['EAFNOSUPPORT, Address family not supported by protocol', 'noBluetooth'],
    ['EPERM, Operation not permitted', 'noPermission'],
    ["Cannot find module '@abandonware/bluetooth-hci-socket'", 'libraryMissing'],
    ['ENODEV, No such device', 'noAdapter'],
    ['Network is down', 'adapterOff'],
  ] as const)('%s is %s', (message, problem) => {
    expect(problemOf(message)).toBe(problem);
  });

  test('every problem on every system says what to do', () => {
    for (const problem of [
      'noBluetooth',
      'noAdapter',
      'noPermission',
      'adapterOff',
      'unsupported',
      'libraryMissing',
      'radioProcessFailed',
    ] as const) {
      for (const platform of ['linux', 'darwin', 'win32'] as const) {
        const notice = inWords(radioNotice(problem, platform, 'kernel', told('said')));
        expect(notice.length).toBeGreaterThan(60);
        expect(notice).toMatch(/\(said\)$/);
      }
    }
    expect(inWords(radioNotice('noPermission', 'linux', 'kernel', null))).toContain('setcap');
    expect(inWords(radioNotice('noAdapter', 'linux', 'tcp:1.2.3.4:5', null))).toContain('tcp:1.2.3.4:5');
  });
});

test('UUIDs have one spelling', () => {
  expect(shortUuid('0000180D-0000-1000-8000-00805F9B34FB')).toBe('180d');
  expect(shortUuid('180D')).toBe('180d');
  expect(shortUuid('0000180d')).toBe('180d');
  expect(shortUuid('7A5E0001-C0DE-4D0A-9B1F-2F6E54696465')).toBe('7a5e0001c0de4d0a9b1f2f6e54696465');
  expect(isUuid('180d')).toBe(true);
  expect(isUuid('180')).toBe(false);
});

describe('an adapter that says nothing', () => {
  const limitMs = 200;
  function begin(): { library: EventEmitter; told: string[] } {
    const library = new EventEmitter();
    const told: string[] = [];
    const emit = (event: RadioEvent): void => void told.push(event.type);
    new NobleRadio(library as Noble, emit, limitMs).start();
    return { library, told };
  }

  test('is told as none', async () => {
    const { told } = begin();
    await new Promise((resolve) => setTimeout(resolve, 3 * limitMs));
    expect(told).toEqual(['problem']);
  });

  test('is not, where the process stood still and what it said lies unread', async () => {
    const { library, told } = begin();
    setImmediate(() => setImmediate(() => library.emit('stateChange', 'poweredOn')));
    for (const untilMs = performance.now() + 2 * limitMs; performance.now() < untilMs; );
    await new Promise((resolve) => setTimeout(resolve, 3 * limitMs));
    expect(told).toEqual(['on']);
  });
});

test.each([
  ['Unknown Connection Identifier (0x2)', 'link.notEstablished'],
  ['Connection Failed to be Established (0x3e)', 'link.notEstablished'],
  ['Connection Timeout (0x8)', 'link.outOfRange'],
  ['Repeated Attempts (0x17)', 'said.asTold'],
  ['the adapter is gone', 'said.asTold'],
])('an attempt that the library ends with "%s" is told as %s', (text, code) => {
  const library = new EventEmitter();
  const events: RadioEvent[] = [];
  const radio = new NobleRadio(library as Noble, (event) => void events.push(event));
  radio.start();
  library.emit('stateChange', 'poweredOn');
  const peripheral = Object.assign(new EventEmitter(), {
    id: 'c4b1a2330412',
    connectable: true,
    rssi: -60,
    advertisement: { localName: 'Strap', serviceUuids: ['180d'] },
    state: 'disconnected',
    connect: () => void peripheral.emit('connect', new Error(text)),
  });
  library.emit('discover', peripheral);
  radio.handle({ type: 'connect', linkId: 'one', peripheralId: peripheral.id });
  expect(events.at(-1)).toMatchObject({ type: 'connectFailed', linkId: 'one', reason: { code } });
});
