// The last minutes of one athlete's plotted samples, so that a page that joins or reconnects can be filled in.

import type { Channel } from '../../shared/schema-parts.ts';
import { type MonotonicMs, monotonicMs } from '../../shared/units.ts';
import type { Readout, Trace } from '../../shared/views.ts';
import type { Sample } from '../../src/samples/sample.ts';

/** Channels that live pages plot. Beat intervals and waveforms are recorded and reviewed, not streamed. */
const plotted: ReadonlySet<Channel> = new Set(['spo2Percent', 'heartRateBpm', 'pulseRateBpm']);
/** Twenty minutes: longer than any live plot, short enough for sixteen athletes in a few megabytes. */
const keepMs = 20 * 60_000;
/**
 * A sensor that says the same again so soon says nothing new: some put their reading into each of ten or fifty packets of a wave a
 * second. Well within what a page calls fresh. Our choice.
 */
const repeatsWithinMs = 500;
const letter = { good: 'g', suspect: 's', bad: 'b' } as const;

export interface TraceMemory {
  /** False where it is of no channel that live pages plot, or a repeat that nobody would see; then it is not kept. */
  add(sample: Sample): boolean;
  /** Samples with `fromMs < atMs`, by channel, and the time from which they are complete. */
  since(fromMs: MonotonicMs): { fromMs: MonotonicMs; traces: Trace[] };
  /** Samples added since the last call; what a batch to all pages carries. */
  takeNew(): Trace[];
}

export function createTraceMemory(): TraceMemory {
  let samples: Sample[] = [];
  let fresh: Sample[] = [];
  const lastOf = new Map<Channel, Sample>();
  let forgottenToMs = monotonicMs(-1);

  function forget(newestMs: number): void {
    const first = samples[0];
    // Amortised: a sweep only when a tenth more than needed has piled up.
    if (first === undefined || newestMs - first.atMs < keepMs * 1.1) return;
    const limitMs = newestMs - keepMs;
    const firstKept = samples.findIndex((s) => s.atMs > limitMs);
    samples = samples.slice(firstKept);
    forgottenToMs = monotonicMs(limitMs);
  }

  return {
    add(sample) {
      if (!plotted.has(sample.channel) || isRepeat(lastOf.get(sample.channel), sample)) return false;
      lastOf.set(sample.channel, sample);
      samples.push(sample);
      fresh.push(sample);
      forget(sample.atMs);
      return true;
    },
    since(fromMs) {
      const completeFromMs = monotonicMs(Math.max(fromMs, forgottenToMs));
      return { fromMs: completeFromMs, traces: toTraces(samples.filter((s) => s.atMs > completeFromMs)) };
    },
    takeNew() {
      const taken = fresh;
      fresh = [];
      return toTraces(taken);
    },
  };
}

/** Whether nobody would see the one after the other. */
export const isRepeat = (
  last: NonNullable<Readout> | Sample | undefined,
  sample: NonNullable<Readout> | Sample,
): boolean =>
  last !== undefined &&
  sample.atMs - last.atMs < repeatsWithinMs &&
  sample.value === last.value &&
  sample.quality === last.quality &&
  sample.sensorId === last.sensorId &&
  sample.reasons.length === last.reasons.length &&
  sample.reasons.every((reason, index) => reason === last.reasons[index]);

/** Groups samples by channel into the wire's parallel arrays. A bad sample keeps its value: the page shows it as bad. */
function toTraces(samples: readonly Sample[]): Trace[] {
  const byChannel = new Map<
    Channel,
    { channel: Channel; atMs: number[]; value: (number | null)[]; letters: string[] }
  >();
  for (const sample of samples) {
    let trace = byChannel.get(sample.channel);
    if (trace === undefined) {
      trace = { channel: sample.channel, atMs: [], value: [], letters: [] };
      byChannel.set(sample.channel, trace);
    }
    trace.atMs.push(sample.atMs);
    trace.value.push(sample.value);
    trace.letters.push(letter[sample.quality]);
  }
  return [...byChannel.values()].map(({ channel, atMs, value, letters }) => ({
    channel,
    atMs,
    value,
    quality: letters.join(''),
  }));
}
