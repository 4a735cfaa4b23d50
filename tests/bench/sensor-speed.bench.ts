// How fast the simulator, the decoders and the CSV reader are, in processor time, as JSON: tsx tests/bench/sensor-speed.bench.ts

import { simulateSession } from '../../hub/sensors/simulated/athlete.ts';
import { encodeOximeterReading, encodeStrapReading } from '../../hub/sensors/simulated/encode-readings.ts';
import { ordinaryFaults } from '../../hub/sensors/simulated/faults.ts';
import { personFromSeed } from '../../hub/sensors/simulated/person.ts';
import { selfPacedIntervals } from '../../hub/sensors/simulated/session-script.ts';
import { monotonicMs } from '../../shared/units.ts';
import { createCsvReader } from '../../src/formats/csv/csv-reader.ts';
import type { CsvRow } from '../../src/formats/csv/csv-row.ts';
import { csvLines, csvPreamble } from '../../src/formats/csv/csv-writer.ts';
import { decodePacket } from '../../src/gatt/decode-packet.ts';
import { readingToSamples } from '../../src/gatt/readings-to-samples.ts';
import { inWords } from '../support/in-words.ts';

const timed = <Value>(action: () => Value): { value: Value; ms: number } => {
  // Processor time, so that other work on the machine does not count.
  const from = process.cpuUsage();
  const value = action();
  const used = process.cpuUsage(from);
  return { value, ms: (used.user + used.system) / 1000 };
};

const person = personFromSeed(3);
const script = selfPacedIntervals(3, 90_000, 40);
const options = { seed: 3, person, script, faults: ordinaryFaults };
simulateSession(options);
const { value: session, ms: simulateMs } = timed(() => simulateSession(options));

const packets = [
  ...session.heartRate.map((reading) => ({ characteristic: '2a37', bytes: encodeStrapReading(reading) })),
  ...session.oximetry.map((reading) => ({ characteristic: '2a5f', bytes: encodeOximeterReading(reading) })),
];
const decodeAll = (): number => {
  let samples = 0;
  for (const { characteristic, bytes } of packets) {
    const decoded = decodePacket(characteristic, bytes);
    if (decoded.ok) samples += readingToSamples(decoded.value, 's', monotonicMs(10_000_000)).samples.length;
  }
  return samples;
};
decodeAll();
const rounds = 20;
const { ms: decodeMs } = timed(() => {
  for (let i = 0; i < rounds; i += 1) decodeAll();
});

// Eight hours of a file: beats, saturation, pulse rate, and a pleth wave at 25 Hz.
const rows: CsvRow[] = [];
for (let second = 0; second < 8 * 3_600; second += 1) {
  rows.push({ kind: 'sample', timeMs: second * 1000, channel: 'spo2Percent', value: 97 });
  rows.push({ kind: 'sample', timeMs: second * 1000, channel: 'pulseRateBpm', value: 61 });
  rows.push({ kind: 'sample', timeMs: second * 1000, channel: 'rrIntervalMs', value: 983.4 });
  for (let i = 0; i < 25; i += 1) {
    rows.push({ kind: 'sample', timeMs: second * 1000 + i * 40, channel: 'pleth', value: i / 7 });
  }
}
const { value: text, ms: writeMs } = timed(() => csvPreamble() + csvLines(rows));
const { value: readCount, ms: readMs } = timed(() => {
  const reader = createCsvReader();
  let count = 0;
  for (let from = 0; from < text.length; from += 65_536) {
    const result = reader.push(text.slice(from, from + 65_536));
    if (!result.ok) throw new Error(inWords(result.reason.said));
    count += result.value.length;
  }
  const end = reader.finish();
  if (!end.ok) throw new Error(inWords(end.reason.said));
  return count + end.value.rows.length;
});
if (readCount !== rows.length) throw new Error(`read ${readCount} of ${rows.length} rows`);

process.stdout.write(
  `${JSON.stringify(
    {
      bench: 'sensor-speed',
      simulatorTimesRealTime: Math.round(session.durationMs / simulateMs),
      counterfactualMsPerAnswer: (() => {
        const { value, ms } = timed(() => session.lowestIfBreathingBegan(1, 5_000));
        return Number((ms / value.length).toFixed(2));
      })(),
      packetsDecodedPerSecond: Math.round((packets.length * rounds * 1000) / decodeMs),
      csvRowsReadPerSecond: Math.round((rows.length * 1000) / readMs),
      csvMegabytesReadPerSecond: Number((text.length / 1000 / readMs).toFixed(1)),
      csvRowsWrittenPerSecond: Math.round((rows.length * 1000) / writeMs),
      csvEightHoursReadMs: Math.round(readMs),
    },
    null,
    2,
  )}\n`,
);
