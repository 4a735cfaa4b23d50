// What the page does when the hub is asked too much at once: it waits as long as it is told, and a person needs not know.

import { expect, test } from 'vitest';
import { askAgainWhenBusy } from '../../web/connection/ask-again.ts';
import { FakeTimers } from '../support/fake-timers.ts';

const busy = (retryAfter: string | null) =>
  new Response('{}', { status: 429, ...(retryAfter !== null && { headers: { 'retry-after': retryAfter } }) });

function asking(answers: readonly Response[]) {
  const timers = new FakeTimers();
  const asked: string[] = [];
  const fetch = askAgainWhenBusy(async (path, init) => {
    init?.signal?.throwIfAborted();
    asked.push(`${init?.method ?? 'GET'} ${path}`);
    const answer = answers[asked.length - 1];
    if (answer === undefined) throw new Error('asked more often than there are answers');
    return answer;
  }, timers);
  return { timers, asked, fetch };
}
const settled = () => new Promise((resolve) => setImmediate(resolve));

test('a question is asked again after as long as the hub says, no sooner', async () => {
  const { timers, asked, fetch } = asking([busy('7'), new Response('[]')]);
  const answer = fetch('/api/athletes');
  await settled();
  timers.advance(6_999);
  await settled();
  expect(asked).toHaveLength(1);
  timers.advance(1);
  expect((await answer).status).toBe(200);
  expect(asked).toEqual(['GET /api/athletes', 'GET /api/athletes']);
});

test('not for ever: the third refusal is told', async () => {
  const { timers, asked, fetch } = asking([busy('1'), busy('1'), busy('1')]);
  const answer = fetch('/api/athletes');
  for (let i = 0; i < 3; i += 1) {
    await settled();
    timers.advance(1_000);
  }
  expect((await answer).status).toBe(429);
  expect(asked).toHaveLength(3);
});

test.each([
  ['longer than the hub counts', '3600'],
  ['at a date', 'Mon, 30 Nov 2026 20:00:00 GMT'],
  ['nobody knows when', null],
])('who is told to come back %s is told so at once', async (_name, retryAfter) => {
  const { asked, fetch } = asking([busy(retryAfter)]);
  expect((await fetch('/api/athletes')).status).toBe(429);
  expect(asked).toHaveLength(1);
});

test('what changes something is never repeated by itself', async () => {
  const { asked, fetch } = asking([busy('1')]);
  expect((await fetch('/api/athletes', { method: 'POST' })).status).toBe(429);
  expect(asked).toHaveLength(1);
});

test('who leaves is not kept waiting', async () => {
  const { fetch } = asking([busy('5')]);
  const leaving = new AbortController();
  const answer = fetch('/api/athletes', { signal: leaving.signal });
  await settled();
  leaving.abort();
  await expect(answer).rejects.toThrow(/abort/i);
});
