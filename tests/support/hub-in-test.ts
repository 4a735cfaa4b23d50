// A hub as a test needs it that serves no pages: what does not matter there is what is usual.

import { Hub } from '../../hub/live/hub.ts';
import { pipelineFactory } from '../../src/pipeline.ts';
import { testLog } from './serve-test-hub.ts';

type HubParts = ConstructorParameters<typeof Hub>[0];

/** Ids are `id-1`, `id-2` and so on. */
export function hubInTest(parts: Pick<HubParts, 'clock' | 'store' | 'sources'> & Partial<HubParts>): Hub {
  let ids = 0;
  return new Hub({
    pageClock: parts.clock,
    createPipeline: pipelineFactory(),
    log: testLog,
    makeId: () => `id-${++ids}`,
    timeScale: 1,
    simulated: false,
    ...parts,
  });
}
