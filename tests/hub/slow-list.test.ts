// A list of recordings that takes its time, never comes or cannot be read: the hub listens and monitors all the same, and what
// the list brings late is told then.

import { afterEach, expect, test } from 'vitest';
import type { Store } from '../../hub/base/ports/store.ts';
import type { StoredSessionSummary } from '../../hub/base/ports/stored-session.ts';
import { openStoreInMemory } from '../../hub/recorder/sqlite-store.ts';
import { monotonicMs, wallMs } from '../../shared/units.ts';
import { createFakeClock } from '../support/fake-clock.ts';
import { type ServedTestHub, serveTestHub } from '../support/serve-test-hub.ts';

let served: ServedTestHub | undefined;
afterEach(() => served?.close());

type List = readonly StoredSessionSummary[];

/** A store whose list is what the test makes of it; everything else is real. */
function storeWithList(list: () => Promise<List>, interruptedSessionIds: readonly string[] = []): Store {
  const store = openStoreInMemory();
  return new Proxy(store, {
    get(target, key) {
      if (key === 'listSessions') return list;
      if (key === 'interruptedSessionIds') return interruptedSessionIds;
      const value = Reflect.get(target, key, target) as unknown;
      return typeof value === 'function' ? value.bind(target) : value;
    },
  });
}

/** Starts, and lets time pass until it has. */
async function started(store: Store): Promise<ServedTestHub> {
  const clock = createFakeClock();
  let isUp = false;
  const starting = serveTestHub({ store, clock }).then((made) => {
    isUp = true;
    return made;
  });
  for (let turns = 0; !isUp && turns < 2_000; turns += 1) {
    clock.advance(100);
    await new Promise((resolve) => setImmediate(resolve));
  }
  expect(isUp).toBe(true);
  served = await starting;
  return served;
}

test('a list that never comes keeps no session from being monitored', async () => {
  const { hub, source, clock } = await started(storeWithList(() => new Promise(() => undefined)));
  expect(hub.startSession(['mira'], '').ok).toBe(true);
  for (let second = 0; second < 6; second += 1) {
    source.oximetry(80);
    clock.advance(1_000);
  }
  expect(hub.snapshotOf('mira')?.alarms.map(({ kind }) => kind)).toContain('floorBreached');
});

test('a session that broke off is told of when the list comes late, and is not gone on with beside the one that runs', async () => {
  let come: (list: List) => void = () => undefined;
  const list = new Promise<List>((resolve) => {
    come = resolve;
  });
  const store = storeWithList(() => list, ['before']);
  store.startSession({
    sessionId: 'before',
    startedWallAtMs: wallMs(Date.UTC(2031, 4, 16)),
    simulated: false,
    source: 'live',
    title: 'Before',
    athletes: [],
  });
  const { hub } = await started(store);
  expect(hub.startSession(['mira'], 'Now').ok).toBe(true);
  expect(hub.wasEnded('before')).toBe(false);
  come([
    {
      session: {
        ...store.readSession('before')!.session,
        status: 'interrupted',
        endedAtMs: monotonicMs(5_000),
      },
      athleteNames: [],
      parts: [],
      holdCount: 0,
      longestHoldMs: null,
      lowestSpo2Percent: null,
      durationMs: 5_000,
    },
  ]);
  await new Promise((resolve) => setImmediate(resolve));
  expect(hub.supervision).toMatchObject([{ kind: 'monitoringStopped', session: { title: 'Before' } }]);
  expect(hub.session?.title).toBe('Now');
});

test('two sessions that broke off give one notice', async () => {
  const { hub } = await started(storeWithList(() => Promise.resolve([]), ['one', 'other']));
  expect(hub.notices.list.map(({ code }) => code)).toEqual(['notice.interrupted']);
});

test('a list that cannot be read is said, and monitoring goes on', async () => {
  const { hub } = await started(storeWithList(() => Promise.reject(new Error('unreadable'))));
  expect(hub.notices.list.map(({ code }) => code)).toContain('notice.notListed');
  expect(hub.startSession(['mira'], '').ok).toBe(true);
});
