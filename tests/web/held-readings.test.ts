// Readings of a school's rooms wait for the wall's next look, alarms for nothing; and in the end the page knows what it would
// have known without waiting.

import fc from 'fast-check';
import { expect, test } from 'vitest';
import type { DownMessage } from '../../shared/messages/down.ts';
import { HeldReadings } from '../../web/app/held-readings.ts';

const told = (type: DownMessage['type'], number: number): DownMessage =>
  ({ type, number }) as unknown as DownMessage;
const numberOf = (message: DownMessage): number => (message as unknown as { number: number }).number;

function setUp() {
  const applied: { type: DownMessage['type']; number: number; heardAtMs: number }[] = [];
  const readings = new HeldReadings((message, heardAtMs) =>
    applied.push({ type: message.type, number: numberOf(message), heardAtMs }),
  );
  return { applied, readings };
}

test('readings come at the look, with the time at which each was heard', () => {
  const { applied, readings } = setUp();
  readings.take(told('latest', 1), 10);
  readings.take(told('heartbeat', 2), 20);
  expect(applied).toEqual([]);
  readings.look();
  expect(applied).toEqual([
    { type: 'latest', number: 1, heardAtMs: 10 },
    { type: 'heartbeat', number: 2, heardAtMs: 20 },
  ]);
  readings.look();
  expect(applied).toHaveLength(2);
});

test('an alarm is there at once, whatever waits', () => {
  const { applied, readings } = setUp();
  readings.take(told('latest', 1), 10);
  readings.take(told('alarms', 2), 20);
  expect(applied.map(({ number }) => number)).toEqual([2]);
});

test('nothing is lost or twice; only alarms overtake, and only readings', () => {
  const types = fc.constantFrom(
    'latest',
    'trace',
    'heartbeat',
    'alarms',
    'hold',
    'session',
    'welcome',
    'look',
  );
  fc.assert(
    fc.property(fc.array(types), (said) => {
      const { applied, readings } = setUp();
      const sent = said.flatMap((type, number) => (type === 'look' ? [] : [{ type, number }]));
      said.forEach((type, number) => {
        if (type === 'look') readings.look();
        else readings.take(told(type as DownMessage['type'], number), number);
      });
      readings.look();
      const inOrder = (without: boolean): number[] =>
        applied.filter(({ type }) => (type === 'alarms') !== without).map(({ number }) => number);
      const as = (without: boolean): number[] =>
        sent.filter(({ type }) => (type === 'alarms') !== without).map(({ number }) => number);
      expect(inOrder(true)).toEqual(as(true));
      expect(inOrder(false)).toEqual(as(false));
      // Of what is no reading the order is that of the room.
      const told_ = (each: { type: string }): boolean =>
        !['latest', 'trace', 'heartbeat'].includes(each.type);
      expect(applied.filter(told_).map(({ number }) => number)).toEqual(
        sent.filter(told_).map(({ number }) => number),
      );
    }),
  );
});
