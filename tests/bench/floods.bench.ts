// What a flood from one onlooker's device costs those who are watched: alarm delay at the coach's pages and the longest
// stall of the hub's event loop, under each kind of flood and without one.

import { fork } from 'node:child_process';
import { loadavg } from 'node:os';
import { upMessageSchema } from '../../shared/messages/up.ts';
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

/** Processor time of reading one message, of the quickest round: what a machine that is busy otherwise can't lengthen. */
function parseCostUs(text: string): number {
  const count = 2_000;
  let least = Number.POSITIVE_INFINITY;
  for (let round = 0; round < 10; round += 1) {
    const before = process.cpuUsage();
    for (let i = 0; i < count; i += 1) upMessageSchema.safeParse(JSON.parse(text));
    const { user, system } = process.cpuUsage(before);
    least = Math.min(least, (user + system) / count);
  }
  return least;
}

/** `npm run bench floods`: for each flood the longest stall, the alarm's delay and whether a stranger could still ask. */
export async function benchFloods(): Promise<Record<string, number>> {
  const results: Record<string, number> = {
    parseShortUs: parseCostUs(JSON.stringify({ type: 'pageState', visible: true, soundReady: true })),
    parseLongUs: parseCostUs(
      JSON.stringify({
        type: 'addMark',
        requestId: 'r',
        athleteId: 'a',
        kind: 'note',
        atMs: null,
        text: '\u00e4'.repeat(2_000),
        more: Array.from({ length: 1_500 }, (_one, index) => index),
      }),
    ),
  };
  for (const flood of floods) {
    process.stderr.write(`  ${flood}\n`);
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
    // Of one minute, at the end: what other programs took stands beside what the flood cost.
    results[`${flood}LoadAverage`] = loadavg()[0]!;
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
