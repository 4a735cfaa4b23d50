// How an alarm looks and sounds, as data: colours, flash rates and pulse bursts in the bands of IEC 60601-1-8
// (second hand, reference 6.02-6.09). Used by the page and by the maker of the hub's own sound. No conformity claimed.

import type { AlarmPriority } from '../../shared/schema-parts.ts';

export interface LightPattern {
  readonly colourName: 'red' | 'yellow' | 'cyan';
  /** 0 means constantly on. */
  readonly flashHz: number;
  /** Share of a flash period that is lit; 1 when constant. */
  readonly dutyFraction: number;
}

export interface SoundPattern {
  /** Starts of the pulses from the start of the burst. */
  readonly pulseStartsMs: readonly number[];
  readonly pulseDurationMs: number;
  /** Rise and fall of each pulse. */
  readonly riseMs: number;
  /** From the end of the last pulse to the start of the next burst. */
  readonly interburstMs: number;
  /** The pitch, then each component as a multiple of it with its level. */
  readonly fundamentalHz: number;
  readonly components: readonly { readonly multiple: number; readonly levelDb: number }[];
}

export interface SignalPattern {
  readonly light: LightPattern;
  readonly sound: SoundPattern;
  /** For `navigator.vibrate`: on, off, on ... in ms; one burst. */
  readonly vibrationMs: readonly number[];
}

/** Starts of pulses that follow each other by `duration + gap`. */
function startsOf(durationMs: number, gapsMs: readonly number[]): readonly number[] {
  const starts = [0];
  for (const gapMs of gapsMs) starts.push(starts[starts.length - 1]! + durationMs + gapMs);
  return starts;
}

// Level falls by 3 dB a component: five components within +/-15 dB of the fundamental (reference 6.09).
const components = [
  { multiple: 1, levelDb: 0 },
  { multiple: 2, levelDb: -3 },
  { multiple: 3, levelDb: -6 },
  { multiple: 4, levelDb: -9 },
  { multiple: 5, levelDb: -12 },
];

// Durations, spacings and gaps: middle of the bands (reference 6.05-6.08), exact values our choice.
const highPulseMs = 150;
const highSpacingMs = 100;
// Between 3rd and 4th, and 8th and 9th pulse: 2x + t_d (reference 6.07, from memory).
const highGroupGapMs = 2 * highSpacingMs + highPulseMs;
const highHalf = [highSpacingMs, highSpacingMs, highGroupGapMs, highSpacingMs];
const mediumPulseMs = 200;
const mediumSpacingMs = 200;

/** One pattern a priority. Pitches are our choice; all components lie between 150 and 4000 Hz. */
export const signalPatterns: Readonly<Record<AlarmPriority, SignalPattern>> = {
  high: {
    light: { colourName: 'red', flashHz: 2, dutyFraction: 0.5 },
    sound: {
      pulseStartsMs: startsOf(highPulseMs, [...highHalf, 500, ...highHalf]),
      pulseDurationMs: highPulseMs,
      riseMs: 22,
      interburstMs: 3_000,
      fundamentalHz: 659,
      components,
    },
    vibrationMs: [
      150, 100, 150, 100, 150, 350, 150, 100, 150, 500, 150, 100, 150, 100, 150, 350, 150, 100, 150,
    ],
  },
  medium: {
    light: { colourName: 'yellow', flashHz: 0.6, dutyFraction: 0.5 },
    sound: {
      pulseStartsMs: startsOf(mediumPulseMs, [mediumSpacingMs, mediumSpacingMs]),
      pulseDurationMs: mediumPulseMs,
      riseMs: 30,
      interburstMs: 5_000,
      fundamentalHz: 523,
      components,
    },
    vibrationMs: [200, 200, 200, 200, 200],
  },
  low: {
    light: { colourName: 'cyan', flashHz: 0, dutyFraction: 1 },
    sound: {
      pulseStartsMs: startsOf(mediumPulseMs, [mediumSpacingMs]),
      pulseDurationMs: mediumPulseMs,
      riseMs: 30,
      interburstMs: 20_000,
      fundamentalHz: 392,
      components,
    },
    vibrationMs: [200],
  },
};

/** Length of one burst without the pause after it. */
export function burstDurationMs(sound: SoundPattern): number {
  return sound.pulseStartsMs[sound.pulseStartsMs.length - 1]! + sound.pulseDurationMs;
}
