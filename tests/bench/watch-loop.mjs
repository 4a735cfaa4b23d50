// Loaded into a hub before its program: tells, on request, the longest pause of its thread since it was last asked, by the
// clock, and by the thread's own time on the processor, which others on a busy machine cannot lengthen (Linux).

import { readFileSync } from 'node:fs';
import { monitorEventLoopDelay } from 'node:perf_hooks';

const delay = monitorEventLoopDelay({ resolution: 1 });
delay.enable();

/** Time on the processor of the first thread, which is the hub's. */
const ownMs = () =>
  Number(readFileSync(`/proc/self/task/${process.pid}/schedstat`, 'latin1').split(' ')[0]) / 1e6;
let before = ownMs();
let longestOwnMs = 0;
setInterval(() => {
  const now = ownMs();
  longestOwnMs = Math.max(longestOwnMs, now - before);
  before = ownMs();
}, 1).unref();

process.on('message', (message) => {
  if (message === 'begin') {
    delay.reset();
    longestOwnMs = 0;
  } else if (message === 'pause')
    process.send?.({
      longestMs: delay.max / 1e6 - 1,
      p999Ms: delay.percentile(99.9) / 1e6 - 1,
      longestOwnMs,
    });
});
// Not a reason for the hub to stay.
process.channel?.unref();
