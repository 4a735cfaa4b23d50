// What stands in the hub's memory only: listed until it is on the disk, said to be gone when it never will be.

import { expect, test } from 'vitest';
import { notSavedYetCode, said } from '../../shared/said.ts';
import { monotonicMs } from '../../shared/units.ts';
import { HubHttp } from '../../web/connection/hub-http.ts';
import { followSaving } from '../../web/state/follow-saving.ts';
import { httpChangeOf, UnsavedChanges } from '../../web/state/unsaved-changes.ts';
import { FakeTimers } from '../support/fake-timers.ts';

const noMark = () => undefined;
const contraction = {
  type: 'addMark',
  requestId: 'r1',
  athleteId: 'a',
  kind: 'contraction',
  atMs: monotonicMs(83_000),
  text: null,
} as const;
const mark = { type: 'mark', athleteId: 'a', kind: 'contraction', atMs: 83_000 };
const states = ({ list }: UnsavedChanges) => list.value.map(({ changeId, state }) => `${changeId} ${state}`);

function setUp() {
  const saved: string[] = [];
  const unsaved = new UnsavedChanges((changeId) => saved.push(changeId));
  unsaved.connectedTo('run 1');
  return { unsaved, saved };
}

test('a mark that stands unsaved is listed as what it is until the disk has it', () => {
  const { unsaved, saved } = setUp();
  unsaved.asked(contraction, noMark);
  unsaved.standsUnsaved('r1');
  expect(unsaved.list.value).toMatchObject([{ changeId: 'r1', change: mark, state: 'unsaved' }]);
  unsaved.checked({ hubRunId: 'run 1', saved: false });
  expect(unsaved.isWaiting).toBe(true);
  unsaved.checked({ hubRunId: 'run 1', saved: true });
  expect(unsaved.list.value).toEqual([]);
  expect(saved).toEqual(['r1']);
});

test('what is answered otherwise is not listed; what was never asked here neither', () => {
  const { unsaved } = setUp();
  unsaved.asked(contraction, noMark);
  unsaved.answered('r1');
  unsaved.standsUnsaved('r1');
  unsaved.standsUnsaved('of another page');
  expect(unsaved.list.value).toEqual([]);
});

test('each request by what it changes; putting an alarm aside is nothing to save', () => {
  const { unsaved } = setUp();
  const ask = (message: Parameters<UnsavedChanges['asked']>[0]) => {
    unsaved.asked(message, (markId) => (markId === 'm' ? (mark as never) : undefined));
    if ('requestId' in message) unsaved.standsUnsaved(message.requestId);
  };
  ask({ type: 'removeMark', requestId: '1', markId: 'm' });
  ask({ type: 'endSession', requestId: '2' });
  ask({ type: 'rateHold', requestId: '3', athleteId: 'a', holdId: 'h', feeling: 'easy' as never });
  ask({ type: 'acknowledgeAlarms', requestId: '4', athleteId: 'a', alarmIds: ['x'] });
  expect(unsaved.list.value.map(({ change }) => change.type)).toEqual([
    'markRemoved',
    'sessionEnd',
    'feeling',
  ]);
});

test('a hub that was started anew has lost it, and that stands until it is read', () => {
  const { unsaved } = setUp();
  unsaved.asked(contraction, noMark);
  unsaved.standsUnsaved('r1');
  unsaved.connectedTo('run 2');
  unsaved.reconnected(new Set());
  unsaved.checked({ hubRunId: 'run 2', saved: true });
  expect(states(unsaved)).toEqual(['r1 lost']);
  unsaved.checked({ hubRunId: 'run 2', saved: true });
  expect(states(unsaved)).toEqual(['r1 lost']);
  unsaved.dismiss();
  expect(unsaved.list.value).toEqual([]);
});

test('and an answer of that hub before its welcome says nothing yet', () => {
  const { unsaved } = setUp();
  unsaved.asked(contraction, noMark);
  unsaved.standsUnsaved('r1');
  unsaved.checked({ hubRunId: 'run 2', saved: true });
  expect(states(unsaved)).toEqual(['r1 unsaved']);
  unsaved.connectedTo('run 2');
  unsaved.reconnected(new Set());
  unsaved.checked({ hubRunId: 'run 2', saved: true });
  expect(states(unsaved)).toEqual(['r1 lost']);
});

test('unless that hub has it after all, from its disk', () => {
  const { unsaved, saved } = setUp();
  unsaved.asked(contraction, noMark);
  unsaved.standsUnsaved('r1');
  unsaved.connectedTo('run 2');
  unsaved.reconnected(new Set(['r1']));
  unsaved.checked({ hubRunId: 'run 2', saved: true });
  expect(unsaved.list.value).toEqual([]);
  expect(saved).toEqual(['r1']);
});

test('a connection that broke off, to the same hub, changes nothing', () => {
  const { unsaved } = setUp();
  unsaved.asked(contraction, noMark);
  unsaved.standsUnsaved('r1');
  unsaved.reconnected(new Set());
  unsaved.checked({ hubRunId: 'run 1', saved: false });
  expect(states(unsaved)).toEqual(['r1 unsaved']);
});

test('the hub is asked each second while something is unsaved, one question at a time', async () => {
  const { unsaved } = setUp();
  const timers = new FakeTimers();
  let asked = 0;
  let answer: (value: { ok: true; value: { hubRunId: string; saved: boolean } }) => void = () => undefined;
  followSaving({
    unsaved,
    isLive: () => true,
    ask: () => {
      asked += 1;
      return new Promise((resolve) => {
        answer = resolve;
      });
    },
    timers,
  });
  timers.advance(5_000);
  expect(asked).toBe(0);
  unsaved.httpUnsaved('plan');
  timers.advance(5_000);
  expect(asked).toBe(1);
  answer({ ok: true, value: { hubRunId: 'run 1', saved: false } });
  await Promise.resolve();
  timers.advance(1_000);
  expect(asked).toBe(2);
  answer({ ok: true, value: { hubRunId: 'run 1', saved: true } });
  await Promise.resolve();
  timers.advance(5_000);
  expect(asked).toBe(2);
  expect(unsaved.list.value).toEqual([]);
});

test('over HTTP it is a good answer, with what the hub would have said, and is listed', async () => {
  const changes: string[] = [];
  const http = new HubHttp(
    async () =>
      new Response(
        JSON.stringify({
          code: 'recorderFailed',
          message: '',
          said: { code: notSavedYetCode, params: { reason: said('data.full', { path: '/' }) } },
          answer: null,
        }),
        { status: 507 },
      ),
    ({ code }) => code,
    { unsaved: (change) => changes.push(change) },
  );
  expect(await http.assignSensor('s', null)).toEqual({ ok: true, value: null });
  expect((await http.saveTraining({ athleteId: 'a', entryId: 'e' } as never)).ok).toBe(true);
  expect(changes).toEqual(['sensor', 'training']);
  expect(httpChangeOf('/api/sessions/s/athletes/a/corrections')).toBe('correction');
  expect(httpChangeOf('/api/athletes/a')).toBe('athlete');
});
