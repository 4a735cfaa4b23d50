// Heart rate second by second as a hold's measures use it: with all beats at hand, before and after each second, unlike
// the rows of the live detector. MEASURES.md says the rule.

import type { Sample } from '../samples/sample.ts';
import { createBeatScreen } from '../signal/beat-screen.ts';

/** Of a second, covered by beats, that their rate needs, ms; less is carried on from the last beat for so long. */
const leastCoveredMs = 250;
const carriedMs = 2_500;
/** A strap's or an oximeter's own rate stands for so long. */
const staleAfterMs = 5_000;

interface Beats {
  readonly endMs: readonly number[];
  readonly rrMs: readonly number[];
}
interface Rates {
  readonly atMs: readonly number[];
  readonly bpm: readonly number[];
}

/** `samples` in time order; `atMs` rising, the ends of the seconds asked for. NaN where it is not known. */
export function heartRateSeconds(samples: readonly Sample[], atMs: readonly number[]): number[] {
  const beats = screenedBeats(samples);
  const strap = ratesOf(samples, 'heartRateBpm');
  const pulse = ratesOf(samples, 'pulseRateBpm');
  let firstBeat = 0;
  return atMs.map((endMs) => {
    while (firstBeat < beats.endMs.length && beats.endMs[firstBeat]! <= endMs - 1_000) firstBeat += 1;
    const fromBeats = rateOfBeats(beats, firstBeat, endMs);
    if (!Number.isNaN(fromBeats)) return fromBeats;
    const fromStrap = latestRate(strap, endMs);
    return Number.isNaN(fromStrap) ? latestRate(pulse, endMs) : fromStrap;
  });
}

function screenedBeats(samples: readonly Sample[]): Beats {
  const screen = createBeatScreen();
  const endMs: number[] = [];
  const rrMs: number[] = [];
  for (const sample of samples) {
    if (sample.channel !== 'rrIntervalMs') continue;
    for (const beat of screen.push(sample.atMs, sample.value)) {
      endMs.push(beat.endMs);
      rrMs.push(beat.rrMs);
    }
  }
  return { endMs, rrMs };
}

function ratesOf(samples: readonly Sample[], channel: 'heartRateBpm' | 'pulseRateBpm'): Rates {
  const own = samples.filter(
    (sample) =>
      sample.channel === channel && sample.quality !== 'bad' && sample.value >= 20 && sample.value <= 250,
  );
  return { atMs: own.map((sample) => sample.atMs), bpm: own.map((sample) => sample.value) };
}

/** `first` is the first beat that ends after the second's begin. */
function rateOfBeats({ endMs, rrMs }: Beats, first: number, untilMs: number): number {
  const fromMs = untilMs - 1_000;
  let covered = 0;
  let weighted = 0;
  let last = first - 1;
  // No interval is longer than 6 s.
  for (let i = first; i < endMs.length && endMs[i]! - 6_000 < untilMs; i++) {
    const overlap = Math.min(endMs[i]!, untilMs) - Math.max(endMs[i]! - rrMs[i]!, fromMs);
    if (overlap > 0) {
      covered += overlap;
      weighted += (overlap * 60_000) / rrMs[i]!;
    }
    if (endMs[i]! <= untilMs) last = i;
  }
  if (covered >= leastCoveredMs) return weighted / covered;
  return last >= 0 && untilMs - endMs[last]! < carriedMs ? 60_000 / rrMs[last]! : Number.NaN;
}

function latestRate({ atMs, bpm }: Rates, untilMs: number): number {
  let low = 0;
  let high = atMs.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (atMs[middle]! <= untilMs) low = middle + 1;
    else high = middle;
  }
  return low > 0 && untilMs - atMs[low - 1]! <= staleAfterMs ? bpm[low - 1]! : Number.NaN;
}
