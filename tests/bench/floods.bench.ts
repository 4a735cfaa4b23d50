// What a flood from one onlooker's device costs those who are watched: alarm delay at the coach's pages and the longest
// stall of the hub's event loop, under each kind of flood and without one.

import { fork } from 'node:child_process';
import type { Flood } from './flood-client.ts';
import { measureHub } from './hub.bench.ts';

const floods: readonly (Flood | 'none')[] = [
  'none',
  'frames',
  'longFrames',
  'fragments',
  'pings',
  'requests',
  'handshakes',
  'slowHeaders',
  'slowBodies',
];
const runMs = 12_000;

/** `npm run bench floods`: for each flood the longest stall, the alarm's delay and whether a stranger could still ask. */
export async function benchFloods(): Promise<Record<string, number>> {
  const results: Record<string, number> = {};
  for (const flood of floods) {
    const figures = await measureHub({
      // Those from the twentieth on fall below the floor within the time (hub.bench.ts).
      athleteCount: 28,
      pageCount: 4,
      runMs,
      devicesJoin: true,
      during: (lanPort, cookie) => {
        if (flood === 'none') return () => undefined;
        const attacker = fork(new URL('./flood-client.ts', import.meta.url), [], {
          execArgv: ['--import', 'tsx'],
        });
        attacker.send({ flood, lanPort, cookie });
        return () => attacker.kill('SIGKILL');
      },
    });
    results[`${flood}StallMaxMs`] = figures['stallMaxMs'] ?? Number.NaN;
    results[`${flood}AlarmP99Ms`] = figures['alarmPacketToSocketP99Ms'] ?? Number.NaN;
    results[`${flood}AlarmMaxMs`] = figures['alarmPacketToSocketMaxMs'] ?? Number.NaN;
    results[`${flood}AlarmsMissed`] = figures['alarmMessagesMissed'] ?? Number.NaN;
    results[`${flood}HubCpuPercent`] = figures['hubCpuPercent'] ?? Number.NaN;
    results[`${flood}OthersAskMaxMs`] = figures['othersAskMaxMs'] ?? Number.NaN;
    results[`${flood}OthersRefused`] = figures['othersRefused'] ?? Number.NaN;
  }
  return results;
}
