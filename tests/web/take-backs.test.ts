// What can be taken back: how long it stands, who keeps it standing, and what becomes of a try that fails.

import { expect, test } from 'vitest';
import { TakeBacks, takeBackStandsMs } from '../../web/state/take-backs.ts';
import { FakeTimers } from '../support/fake-timers.ts';

function begin() {
  const timers = new FakeTimers();
  const takeBacks = new TakeBacks(timers);
  const tried: string[] = [];
  const offer = (name: string, problem: string | null = null, withinMs?: number) =>
    takeBacks.offer({
      done: name,
      actions: [
        {
          label: 'Undo',
          act: async () => {
            tried.push(name);
            return problem;
          },
        },
      ],
      ...(withinMs !== undefined && { withinMs }),
    });
  const standing = () => takeBacks.standing.value.map(({ done }) => done);
  return { timers, takeBacks, tried, offer, standing };
}

test('stands for its time and then goes', () => {
  const { timers, offer, standing } = begin();
  offer('one');
  timers.advance(takeBackStandsMs - 1);
  expect(standing()).toEqual(['one']);
  timers.advance(1);
  expect(standing()).toEqual([]);
});

test('stays while somebody is at it, and its time begins anew; but not what the hub takes no longer', () => {
  const { timers, takeBacks, offer, standing } = begin();
  offer('one');
  offer('short', null, 5_000);
  takeBacks.hold(true);
  offer('while held');
  timers.advance(10 * takeBackStandsMs);
  expect(standing()).toEqual(['one', 'while held']);
  takeBacks.hold(false);
  timers.advance(takeBackStandsMs - 1);
  expect(standing()).toEqual(['one', 'while held']);
  timers.advance(1);
  expect(standing()).toEqual([]);
});

test('the key takes back the newest; one that fails says why and can be tried again', async () => {
  const { takeBacks, tried, offer, standing } = begin();
  expect(takeBacks.actOnNewest()).toBe(false);
  offer('one');
  offer('two', 'no such thing');
  expect(takeBacks.actOnNewest()).toBe(true);
  expect(takeBacks.standing.value.at(-1)?.busy).toBe(true);
  await Promise.resolve();
  await Promise.resolve();
  expect(takeBacks.standing.value.at(-1)).toMatchObject({ busy: false, problem: 'no such thing' });
  const one = takeBacks.standing.value[0]!;
  await takeBacks.act(one.number);
  expect(tried).toEqual(['two', 'one']);
  expect(standing()).toEqual(['two']);
});

test('no more than three at once, and none of their timers is left behind', () => {
  const { timers, takeBacks, offer, standing } = begin();
  for (const name of ['one', 'two', 'three', 'four']) offer(name);
  expect(standing()).toEqual(['two', 'three', 'four']);
  for (const { number } of takeBacks.standing.value) takeBacks.dismiss(number);
  offer('five');
  timers.advance(takeBackStandsMs - 1);
  expect(standing()).toEqual(['five']);
});
