// Every request ends: done, refused with the reason, or unanswered after a while; each answer finds its own request.

import { expect, test } from 'vitest';
import type { UpMessage } from '../../shared/messages/up.ts';
import { answerWithinMs, HubRequests } from '../../web/state/hub-requests.ts';
import { FakeTimers } from '../support/fake-timers.ts';

function setUp(deliverable = true) {
  const sent: UpMessage[] = [];
  const timers = new FakeTimers();
  let number = 0;
  const requests = new HubRequests({
    send: (message) => {
      if (deliverable) sent.push(message);
      return deliverable;
    },
    timers,
    newRequestId: () => `r${++number}`,
  });
  const ask = () => requests.ask((requestId) => ({ type: 'endSession', requestId }));
  return { sent, timers, requests, ask };
}

test('two requests under way are answered by their ids, in any order', async () => {
  const { requests, ask, sent } = setUp();
  const first = ask();
  const second = ask();
  requests.refused('r2', 'No session is being recorded.');
  requests.done('r1');
  expect(await first).toEqual({ type: 'done' });
  expect(await second).toEqual({ type: 'refused', message: 'No session is being recorded.' });
  expect(sent).toHaveLength(2);
});

test('what is not answered in time is said to be unanswered, and a late answer changes nothing', async () => {
  const { requests, ask, timers } = setUp();
  const answer = ask();
  timers.advance(answerWithinMs);
  expect(await answer).toEqual({ type: 'unanswered' });
  requests.done('r1');
});

test('what cannot be sent is unanswered at once', async () => {
  expect(await setUp(false).ask()).toEqual({ type: 'unanswered' });
});
