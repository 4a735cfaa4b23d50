// The pulses of an alarm burst, with times inside the bands of IEC 60601-1-8 Tables 3 and 4. No conformity is claimed.

import type { AlarmPriority } from '../../shared/schema-parts.ts';

export interface Pulse {
  /** From the burst's start. */
  readonly atMs: number;
  readonly durationMs: number;
  readonly frequencyHz: number;
}

export interface BurstPlan {
  readonly pulses: readonly Pulse[];
  /** From the end of a burst to the start of the next. */
  readonly interburstMs: number;
}

/** Harmonics of each pulse with their amplitudes: four or more within 15 dB of the fundamental (Table 4). */
export const harmonicAmplitudes: readonly number[] = [1, 0.7, 0.5, 0.4, 0.3, 0.25];
/** Rise and fall as a share of the pulse: 10 to 20 % (Table 4, A1). */
export const riseShare = 0.15;

function pulseTrain(
  count: number,
  durationMs: number,
  gapsMs: readonly number[],
  frequencyHz: number,
): Pulse[] {
  let atMs = 0;
  return Array.from({ length: count }, (_, index) => {
    const pulse = { atMs, durationMs, frequencyHz };
    atMs += durationMs + (gapsMs[index] ?? 0);
    return pulse;
  });
}

/** High: ten pulses in two groups of 3 + 2; the gap after the third is twice the spacing and one pulse long. */
const highGapsMs = [100, 100, 350, 100, 700, 100, 100, 350, 100];

/** Fundamentals lie in the 150-1000 Hz band of Table 4. */
export const burstPlans: Readonly<Record<AlarmPriority, BurstPlan>> = {
  high: { pulses: pulseTrain(10, 150, highGapsMs, 660), interburstMs: 2_600 },
  medium: { pulses: pulseTrain(3, 200, [200, 200], 523), interburstMs: 6_000 },
  low: { pulses: pulseTrain(2, 200, [200], 440), interburstMs: 20_000 },
};

/** Length of a burst from its first pulse's start to its last pulse's end. */
export function burstDurationMs(plan: BurstPlan): number {
  const last = plan.pulses.at(-1);
  return last === undefined ? 0 : last.atMs + last.durationMs;
}
