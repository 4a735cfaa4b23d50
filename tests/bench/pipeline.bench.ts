// The pipeline alone: samples a second and how many times real time an hour of strap and oximeter takes, in a process that has
// just begun and once its code has been compiled; by the clock, and by processor time, which other work disturbs less.

import { initialSettings } from '../../hub/live/initial-settings.ts';
import { monotonicMs } from '../../shared/units.ts';
import { createPipeline } from '../../src/pipeline.ts';

export async function benchPipeline(hours = 2): Promise<Record<string, number>> {
  const first = pass(hours);
  pass(hours);
  const third = pass(hours);
  return {
    ...first,
    timesRealTimeWhenWarm: third.timesRealTime,
    timesRealTimeByProcessorWhenWarm: third.timesRealTimeByProcessor,
  };
}

/** Two sensors, each a packet a second: a strap with beats, an oximeter with saturation and pulse rate. */
function pass(hours: number) {
  const pipeline = createPipeline(initialSettings);
  let sampleCount = 0;
  const startedMs = performance.now();
  const cpuBefore = process.cpuUsage();
  for (let second = 1; second <= hours * 3_600; second += 1) {
    // A 2 min hold in every 5 min, so that the forecast and the detector have their work to do.
    const inHold = second % 300 > 180;
    const heartRate = inHold ? 52 : 64 + Math.round(4 * Math.sin((second * 2 * Math.PI) / 5));
    const interval = Math.round((60_000 / heartRate) * 1.024);
    const packets = [
      ['strap', '2a37', Uint8Array.of(0x16, heartRate, interval & 0xff, interval >> 8)],
      [
        'oximeter',
        '2a5f',
        Uint8Array.of(0, inHold ? 98 - Math.max(0, ((second % 300) - 240) / 6) : 98, 0, heartRate, 0),
      ],
    ] as const;
    for (const [sensorId, characteristic, bytes] of packets) {
      for (const output of pipeline.push({
        type: 'packet',
        atMs: monotonicMs(second * 1_000),
        sensorId,
        characteristic,
        bytes,
      })) {
        if (output.type === 'sample') sampleCount += 1;
      }
    }
  }
  const tookS = (performance.now() - startedMs) / 1_000;
  const { user, system } = process.cpuUsage(cpuBefore);
  return {
    samplesPerSecond: sampleCount / tookS,
    timesRealTime: (hours * 3_600) / tookS,
    timesRealTimeByProcessor: (hours * 3_600) / ((user + system) / 1e6),
    millisecondsPerRecordedHour: (tookS * 1_000) / hours,
  };
}
