// Newest values and samples of athletes at random, as a hub could have to tell them: every field may change or not.

import fc from 'fast-check';
import type { LiveState } from '../../shared/live-frame/live-frame.ts';
import { phaseSchema, qualitySchema } from '../../shared/schema-parts.ts';
import { monotonicMs, percent } from '../../shared/units.ts';
import type { ForecastView, Readout, Trace } from '../../shared/views.ts';

const finite = { noNaN: true, noDefaultInfinity: true } as const;
const value = fc.oneof(
  fc.integer({ min: 0, max: 250 }),
  fc.integer({ min: -9_999, max: 2_500 }).map((tenths) => tenths / 10 + 0),
  fc.double({ ...finite, min: 0, max: 1e6 }).map((each) => each + 0),
);
/** Never two so close that the second is a repeat of the first. */
const time = fc.nat(100_000).map((seconds) => seconds * 1_000.3);
const percentage = fc.double({ ...finite, min: 0, max: 100 }).map((each) => percent(each + 0));
const quality = fc.constantFrom(...qualitySchema.options);
const reasons = fc.array(fc.constantFrom('noContact', 'still', 'über 20\u202fs'), { maxLength: 2 });
const sensorId = fc.constantFrom('strap-1', 'AA:BB:CC:DD:EE:FF', 'x'.repeat(64));

const readout: fc.Arbitrary<Readout> = fc.option(
  fc.record({ value, atMs: time.map(monotonicMs), quality, reasons, sensorId }),
);
const forecast: fc.Arbitrary<ForecastView> = fc.record({
  known: fc.boolean(),
  lowestIfStoppedNow: fc.option(
    fc.record({ percent: percentage, lowPercent: percentage, highPercent: percentage }),
  ),
  secondsToStop: fc.option(fc.record({ seconds: value, lowSeconds: value, highSeconds: value })),
  lungs: fc.option(
    fc.record({
      said: fc.constantFrom('full' as const, 'half' as const, 'emptied' as const),
      warning: fc.option(
        fc.record({
          code: fc.constantFrom('foresight.short', 'foresight.late') as fc.Arbitrary<string>,
          params: fc.dictionary(fc.constantFrom('seconds', 'percent'), fc.integer()),
        }),
      ),
    }),
  ),
});

/** Of the channels that live pages plot. */
export const randomTraces: fc.Arbitrary<Trace[]> = fc
  .uniqueArray(
    fc.record({
      channel: fc.constantFrom('spo2Percent' as const, 'heartRateBpm' as const, 'pulseRateBpm' as const),
      samples: fc.array(
        fc.record({ at: time, value: fc.option(value), quality: fc.constantFrom('g', 's', 'b') }),
        {
          minLength: 1,
          maxLength: 4,
        },
      ),
    }),
    { selector: ({ channel }) => channel, maxLength: 3 },
  )
  .map((traces) =>
    traces.map(({ channel, samples }) => ({
      channel,
      atMs: samples.map(({ at }) => at).sort((one, other) => one - other),
      value: samples.map((sample) => sample.value),
      quality: samples.map((sample) => sample.quality).join(''),
    })),
  );

/** The state that follows `before`, or the first: any of its parts anew, and a readout often the newest sample, as it is live. */
export const randomStep = fc
  .record({
    phase: fc.option(fc.constantFrom(...phaseSchema.options)),
    spo2: fc.option(readout, { nil: undefined }),
    heartRate: fc.option(readout, { nil: undefined }),
    forecast: fc.option(forecast),
    traces: randomTraces,
    readsNewest: fc.boolean(),
  })
  .map((step) => ({
    traces: step.traces,
    after(athleteId: string, atMs: number, before: LiveState | undefined): LiveState {
      const spo2 = step.spo2 === undefined ? (before?.spo2 ?? null) : step.spo2;
      const heartRate = step.heartRate === undefined ? (before?.heartRate ?? null) : step.heartRate;
      return {
        athleteId,
        atMs: monotonicMs(atMs),
        phase: step.phase ?? before?.phase ?? 'unknown',
        spo2: step.readsNewest ? newest(step.traces, 'spo2Percent', spo2) : spo2,
        heartRate: step.readsNewest ? newest(step.traces, 'heartRateBpm', heartRate) : heartRate,
        forecast: step.forecast ??
          before?.forecast ?? { known: false, lowestIfStoppedNow: null, secondsToStop: null, lungs: null },
      };
    },
  }));

function newest(traces: readonly Trace[], channel: Trace['channel'], otherwise: Readout): Readout {
  const trace = traces.find((each) => each.channel === channel);
  const last = trace?.value.at(-1);
  if (trace === undefined || last == null || otherwise === null) return otherwise;
  const letter = trace.quality.at(-1);
  return {
    ...otherwise,
    value: last,
    atMs: monotonicMs(trace.atMs.at(-1) ?? 0),
    quality: letter === 'g' ? 'good' : letter === 's' ? 'suspect' : 'bad',
  };
}
