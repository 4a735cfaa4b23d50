// Threads for work that nobody waits for: the least busy is asked, and none is made once the hub stops.

import { expect, test } from 'vitest';
import { createReviewPool } from '../../hub/recordings/review/review-pool.ts';
import type { ReviewRunner } from '../../hub/recordings/review/review-runner.ts';

const task = {} as Parameters<ReviewRunner['run']>[0];
const order = {} as Parameters<ReviewRunner['run']>[1];

function poolOf(threads: number) {
  const made: { asked: number; closed: boolean; finish: () => void }[] = [];
  const pool = createReviewPool(
    Array.from({ length: threads }, () => () => {
      const one = { asked: 0, closed: false, finish: (): void => undefined };
      made.push(one);
      return {
        run: () => {
          one.asked += 1;
          return new Promise<never>((resolve) => {
            one.finish = () => resolve(undefined as never);
          });
        },
        warm: () => undefined,
        close: async () => {
          one.closed = true;
        },
      } satisfies ReviewRunner;
    }),
  );
  return { pool, made };
}

test('each order goes to the thread with the least to do', async () => {
  const { pool, made } = poolOf(2);
  const first = pool.run(task, order);
  void pool.run(task, order);
  expect(made.map(({ asked }) => asked)).toEqual([1, 1]);
  made[0]!.finish();
  await first;
  void pool.run(task, order);
  expect(made.map(({ asked }) => asked)).toEqual([2, 1]);
});

test('an order that comes while the hub stops is refused, and makes no thread that would outlive it', async () => {
  const { pool, made } = poolOf(2);
  void pool.run(task, order);
  await pool.close();
  expect(made.map(({ closed }) => closed)).toEqual([true]);
  await expect(pool.run(task, order)).rejects.toMatchObject({ said: { code: 'refusal.hubStopping' } });
  expect(made.length).toBe(1);
});
