// What a sensor is granted of the link it asks for, and what commands and events become on their way.

import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  grantedParameters,
  LinkTuner,
  linkParameters,
} from '../../../hub/sensors/bluetooth/link-parameters.ts';

const hex = (text: string): Buffer => Buffer.from(text.replaceAll(' ', ''), 'hex');
const handle = 0x40;
const u16 = (value: number): number[] => [value & 0xff, value >> 8];
const connected = (interval: number, latency: number, timeout: number): Buffer =>
  Buffer.from([
    ...[0x04, 0x3e, 0x13, 0x01, 0, handle, 0, 0, 1, 1, 2, 3, 4, 5, 0xc6],
    ...[...u16(interval), ...u16(latency), ...u16(timeout), 0],
  ]);
const updated = (interval: number, latency: number, timeout: number): Buffer =>
  Buffer.from([0x04, 0x3e, 0x0a, 0x03, 0, handle, 0, ...u16(interval), ...u16(latency), ...u16(timeout)]);
const request = (least: number, most: number, latency: number, timeout: number): Buffer =>
  Buffer.from([
    ...[0x02, handle, 0x20, 16, 0, 12, 0, 5, 0, 0x12, 9, 8, 0],
    ...[...u16(least), ...u16(most), ...u16(latency), ...u16(timeout)],
  ]);

describe('what is granted', () => {
  test('whatever is asked, the link outlives four seconds, ends within six, and answers within 400 ms', () => {
    const asked = fc.record({
      leastInterval: fc.integer({ min: 0, max: 4_000 }),
      mostInterval: fc.integer({ min: 0, max: 4_000 }),
      latency: fc.nat(600),
      timeout: fc.nat(4_000),
    });
    fc.assert(
      fc.property(asked, (wish) => {
        const granted = grantedParameters(wish);
        if (granted === null) return;
        expect(granted.timeout * 10).toBeGreaterThanOrEqual(4_000);
        expect(granted.timeout * 10).toBeLessThanOrEqual(6_000);
        const everyMs = granted.mostInterval * 1.25;
        expect(everyMs).toBeLessThanOrEqual(1_000);
        if (granted.latency > 0) expect((1 + granted.latency) * everyMs).toBeLessThanOrEqual(400);
        // Vol 6 Part B s4.5.2: the timeout is longer than twice the longest time between two contacts.
        expect(granted.timeout * 10).toBeGreaterThan(2 * (1 + granted.latency) * everyMs);
        expect(granted.leastInterval).toBeLessThanOrEqual(granted.mostInterval);
      }),
    );
  });

  test('a common wish is granted as it is, its timeout apart', () => {
    expect(grantedParameters({ leastInterval: 24, mostInterval: 40, latency: 0, timeout: 42 })).toEqual({
      leastInterval: 24,
      mostInterval: 40,
      latency: 0,
      timeout: 512,
    });
  });

  test.each([
    [5, 40, 0, 400],
    [50, 40, 0, 400],
    [24, 40, 500, 400],
    [24, 40, 0, 9],
  ])('what cannot be is refused: %d to %d, %d, %d', (leastInterval, mostInterval, latency, timeout) => {
    expect(grantedParameters({ leastInterval, mostInterval, latency, timeout })).toBeNull();
  });
});

describe('on the way out', () => {
  test('a link is asked for with a timeout of 5.12 s, in bytes that the native socket reads right', () => {
    const command = Buffer.concat([hex('01 0d 20 19'), Buffer.alloc(25, 0x2a)]);
    const sent = new LinkTuner(true).outward(command);
    expect(sent.subarray(17, 25)).toEqual(Buffer.from([...u16(12), ...u16(24), ...u16(0), ...u16(512)]));
    for (const byte of sent.subarray(17, 25)) expect(byte).toBeLessThan(0x80);
    expect(command[17]).toBe(0x2a);
  });

  test('scanning listens all the time without links and a third of it beside them', () => {
    const tuner = new LinkTuner(true);
    const command = hex('01 0b 20 07 01 12 00 12 00 00 00');
    const share = (): number => {
      const sent = tuner.outward(command);
      return sent.readUInt16LE(7) / sent.readUInt16LE(5);
    };
    expect(share()).toBe(1);
    tuner.inward(connected(24, 0, 512));
    expect(tuner.openLinks).toBe(1);
    expect(share()).toBeCloseTo(1 / 3, 6);
    tuner.inward(Buffer.from([0x04, 0x05, 4, 0, handle, 0, 0x13]));
    expect(share()).toBe(1);
  });

  test('anything else passes untouched, whatever it is', () => {
    fc.assert(
      fc.property(fc.uint8Array({ maxLength: 60 }), (bytes) => {
        const packet = Buffer.from([0x02, ...bytes]);
        expect(new LinkTuner(true).outward(packet)).toBe(packet);
      }),
    );
  });
});

describe('on the way in', () => {
  test('a link with 420 ms is corrected, one with 5.12 s is left alone', () => {
    const tuner = new LinkTuner(false);
    expect(tuner.inward(connected(40, 0, 512)).answers).toEqual([]);
    const { answers, isOurs } = tuner.inward(connected(40, 0, 42));
    expect(isOurs).toBe(false);
    expect(answers).toEqual([
      Buffer.from([0x01, 0x13, 0x20, 14, handle, 0, ...u16(40), ...u16(40), 0, 0, ...u16(512), 0, 0, 0, 0]),
    ]);
  });

  test('corrections end: a sensor that insists is left with its own', () => {
    const tuner = new LinkTuner(false);
    tuner.inward(connected(40, 0, 512));
    const asked = Array.from({ length: 8 }, () => tuner.inward(updated(40, 0, 42)).answers.length);
    expect(asked.reduce((sum, count) => sum + count, 0)).toBe(linkParameters.mostCorrections);
  });

  test('a request over the signalling channel is answered and carried out, and the library does not see it', () => {
    const { answers, isOurs } = new LinkTuner(true).inward(request(80, 160, 4, 600));
    expect(isOurs).toBe(true);
    expect(answers[0]).toEqual(Buffer.from([0x02, handle, 0, 10, 0, 6, 0, 5, 0, 0x13, 9, 2, 0, 0, 0]));
    expect(answers[1]!.readUInt16LE(1)).toBe(0x2013);
    expect(answers[1]!.readUInt16LE(10)).toBe(1);
  });

  test('an impossible request is refused', () => {
    const { answers } = new LinkTuner(true).inward(request(80, 40, 0, 600));
    expect(answers).toHaveLength(1);
    expect(answers[0]!.readUInt16LE(13)).toBe(1);
  });

  test('where the kernel answers, requests are left to it', () => {
    expect(new LinkTuner(false).inward(request(80, 160, 4, 600))).toEqual({ answers: [], isOurs: false });
  });

  test('takes any bytes', () => {
    const tuner = new LinkTuner(true);
    fc.assert(
      fc.property(fc.constantFrom(0x02, 0x04), fc.uint8Array({ maxLength: 40 }), (type, bytes) => {
        tuner.inward(Buffer.from([type, ...bytes]));
        tuner.inward(Buffer.from([type, 0x3e, bytes.length, ...bytes]));
      }),
    );
  });
});
