// A scored session's cleaned signals second by second, as the networks get them.

import { createPipeline } from '../../../src/pipeline.ts';
import { createSecondRows, type SecondRow } from '../../../src/signal/second-rows.ts';
import { settingsWithFloor } from './judge-session.ts';
import type { ScoredSession } from './scored-session.ts';

export function cleanedRows(session: Pick<ScoredSession, 'events'>): SecondRow[] {
  const pipeline = createPipeline(settingsWithFloor(85), [], { scope: 'signals' });
  const stream = createSecondRows();
  const rows: SecondRow[] = [];
  for (const event of session.events)
    for (const output of pipeline.push(event))
      if (output.type === 'sample') rows.push(...stream.push(output.sample));
  return [...rows, ...stream.flush()];
}
