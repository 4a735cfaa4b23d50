// What is opened is closed: in reverse, whatever fails, and all of it when opening fails half way.

import { expect, test } from 'vitest';
import { ServiceScope } from '../../hub/base/service-scope.ts';
import { Hub } from '../../hub/live/hub.ts';
import { openStoreInMemory } from '../../hub/recorder/sqlite-store.ts';
import { pipelineFactory } from '../../src/pipeline.ts';
import { createFakeClock } from '../support/fake-clock.ts';
import { createScriptedSource } from '../support/scripted-source.ts';
import { testLog } from '../support/serve-test-hub.ts';

test('closings run once, newest first, and one that fails keeps none of the others from running', async () => {
  const closed: string[] = [];
  const scope = new ServiceScope();
  scope.onClose(() => void closed.push('store'));
  scope.onClose(() => {
    closed.push('server');
    throw new Error('the server hung');
  });
  scope.onClose(async () => void closed.push('hub'));
  await expect(scope.close()).rejects.toThrow('the server hung');
  expect(closed).toEqual(['hub', 'server', 'store']);
  await scope.close();
  expect(closed).toHaveLength(3);
});

test('opening that fails closes what it had opened and tells its own failure', async () => {
  const closed: string[] = [];
  const opening = ServiceScope.opening(async (scope) => {
    scope.onClose(() => void closed.push('outputs'));
    scope.onClose(() => {
      throw new Error('closing failed too');
    });
    throw new Error('the port is busy');
  });
  await expect(opening).rejects.toThrow('the port is busy');
  expect(closed).toEqual(['outputs']);
});

test('a hub whose second source fails to start leaves no timer and no source running', async () => {
  const clock = createFakeClock();
  const first = createScriptedSource(clock);
  const second = {
    ...createScriptedSource(clock),
    start: async () => {
      throw new Error('there is no radio');
    },
  };
  const hub = new Hub({
    clock,
    pageClock: clock,
    store: openStoreInMemory(),
    sources: [first, second],
    createPipeline: pipelineFactory(),
    log: testLog,
    makeId: () => 'id',
    timeScale: 1,
    simulated: false,
  });
  await expect(hub.start()).rejects.toThrow('there is no radio');
  expect(first.started).toBe(false);
  expect(clock.timerCount).toBe(0);
});
