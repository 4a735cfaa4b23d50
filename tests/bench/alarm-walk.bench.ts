// The alarm engine's states by every sequence of events, deeper than the unit tests have time for.
// `npx tsx tests/bench/alarm-walk.bench.ts [depth]`; ends with an error at the first broken promise.

import { beginnings, symbols, walkAll } from '../support/alarm-corpus/alarm-walk.ts';

const depth = Number(process.argv[2] ?? 5);
let steps = 0;
for (const beginning of beginnings) steps += walkAll(beginning, depth);
console.log(
  `${steps} steps: every sequence of ${depth} of ${symbols.length} events from ${beginnings.length} beginnings; no promise broken`,
);
