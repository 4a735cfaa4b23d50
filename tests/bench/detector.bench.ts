// Speed and memory of the live detector and of the two-sided pass, on SIMULATED signals.

import { monotonicMs } from '../../shared/units.ts';
import { createHoldDetector } from '../../src/holds/live-detector.ts';
import { reestimateHolds } from '../../src/holds/smoothing.ts';
import type { Sample } from '../../src/samples/sample.ts';
import { createSignalCleaner } from '../../src/signal/signal-cleaner.ts';
import { createRandom } from '../support/corpus/seeded-random.ts';
import { sketchPerson, sketchSession } from '../support/corpus/sketched-athlete.ts';
import { layOut } from '../support/corpus/sketched-corpus.ts';

const heapMegabytes = (): number => {
  globalThis.gc?.();
  return process.memoryUsage().heapUsed / 2 ** 20;
};

/**
 * RR intervals, heart rate and 1 Hz SpO2. `*TimesRealTime`: goal 2,000 on one core. `heapGrowthMegabytes`: heap after
 * 24 simulated hours through the live detector less the heap after the first; run with --expose-gc for a firm figure.
 */
export async function benchDetector(): Promise<Record<string, number>> {
  const random = createRandom(7);
  const person = sketchPerson(random);
  const script = layOut('intervals', random);
  const samples = sketchSession(7, person, script);
  const seconds = script.durationMs / 1_000;
  const hourly: Sample[] = sketchSession(8, person, layOut('quietRest', random, 1));

  const time = (work: () => void): number => {
    work();
    const times = Array.from({ length: 5 }, () => {
      // Processor time, not wall time: the goal is per core, and other programs may share the machine.
      const before = process.cpuUsage();
      work();
      const used = process.cpuUsage(before);
      return (used.user + used.system) / 1_000;
    }).sort((a, b) => a - b);
    return times[2]!;
  };
  const live = time(() => {
    const cleaner = createSignalCleaner();
    const detector = createHoldDetector();
    for (const raw of samples) {
      for (const sample of cleaner.push(raw)) {
        detector.push({ type: 'sample', sample });
      }
    }
  });
  const afterwards = time(() => reestimateHolds(samples, []));

  const cleaner = createSignalCleaner();
  const detector = createHoldDetector();
  let firstHeap = 0;
  for (let hour = 0; hour < 24; hour++) {
    for (const raw of hourly) {
      const shifted = { ...raw, atMs: monotonicMs(raw.atMs + hour * 3_660_000) };
      for (const sample of cleaner.push(shifted)) {
        detector.push({ type: 'sample', sample });
      }
    }
    if (hour === 0) {
      firstHeap = heapMegabytes();
    }
  }
  return {
    liveTimesRealTime: Math.round((seconds * 1_000) / live),
    afterwardsTimesRealTime: Math.round((seconds * 1_000) / afterwards),
    bothTimesRealTime: Math.round((seconds * 1_000) / (live + afterwards)),
    heapGrowthMegabytesOver24h: Math.round((heapMegabytes() - firstHeap) * 100) / 100,
  };
}

if (import.meta.url === `file://${process.argv[1]}`) {
  console.log(JSON.stringify(await benchDetector(), null, 2));
}
