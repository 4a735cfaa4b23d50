// Loaded into a hub before its program: tells, on request, the longest pause of its thread since it was last asked.

import { monitorEventLoopDelay } from 'node:perf_hooks';

const delay = monitorEventLoopDelay({ resolution: 1 });
delay.enable();
process.on('message', (message) => {
  if (message === 'begin') delay.reset();
  else if (message === 'pause')
    process.send?.({ longestMs: delay.max / 1e6 - 1, p999Ms: delay.percentile(99.9) / 1e6 - 1 });
});
// Not a reason for the hub to stay.
process.channel?.unref();
