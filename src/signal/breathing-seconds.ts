// A breathing channel second by second: its mean, how it moved within, and whether it is on a body at all. A sensor that lies on
// a table is as still as a held breath; what it lacks is the heart, and the small stir of somebody alive.

import type { Sample } from '../samples/sample.ts';
import { createWornWatch, type Stir } from './worn-watch.ts';

/** One second of a breathing channel, in its own unit; NaN where it is not known. */
export interface BreathingSecond {
  readonly respiration: number;
  /** Of the means of its two halves, so that quick breaths show. */
  readonly respirationLow: number;
  readonly respirationHigh: number;
  /** How much it stirs within the second beside its slow course; NaN with too few samples. */
  readonly respirationStir: number;
  /** How many sensors it came from before this one; absent for the first. */
  readonly respirationSensor?: number;
}

interface BreathingSeconds {
  push(atMs: number, value: number): void;
  /** The second that ends at `rowMs`; undefined until the channel has ever come. */
  takeUntil(rowMs: number): BreathingSecond | undefined;
  /** Of the last second in which anything came: the sensor seems to lie beside the person. */
  readonly isOffBody: boolean;
}

const unknown: BreathingSecond = {
  respiration: Number.NaN,
  respirationLow: Number.NaN,
  respirationHigh: Number.NaN,
  respirationStir: Number.NaN,
};

/** Fewer samples than this in a second show no stir within it. Our choice. */
const leastSamples = 8;
/** A breathing sensor from which nothing usable has come for so long gives way to another that sends. Our choice. */
const replacedAfterMs = 60_000;

/** What one athlete's breathing sensors come to. */
export interface BreathingSource {
  /** Usable samples only. */
  push(sample: Pick<Sample, 'sensorId' | 'atMs' | 'value'>): void;
  /** The second that ends at `rowMs`; undefined until a channel has ever come. */
  takeUntil(rowMs: number): BreathingSecond | undefined;
  /** The sensor that is read and does not seem to be on a body. */
  readonly offBody: string | undefined;
}

/**
 * Two sensors' numbers have nothing in common: the first to bring breathing is the one that is read, while it does. Bounded
 * memory. Deterministic.
 */
export function createBreathingSource(): BreathingSource {
  let seconds = createBreathingSeconds();
  let readId: string | undefined;
  let readAtMs = Number.NEGATIVE_INFINITY;
  let sensorsBefore = 0;
  return {
    push({ sensorId, atMs, value }) {
      readId ??= sensorId;
      if (sensorId !== readId) {
        if (atMs - readAtMs <= replacedAfterMs) return;
        readId = sensorId;
        seconds = createBreathingSeconds();
        sensorsBefore += 1;
      }
      readAtMs = atMs;
      seconds.push(atMs, value);
    },
    takeUntil(rowMs) {
      const second = seconds.takeUntil(rowMs);
      return second === undefined || sensorsBefore === 0
        ? second
        : { ...second, respirationSensor: sensorsBefore };
    },
    get offBody() {
      return seconds.isOffBody ? readId : undefined;
    },
  };
}

/** Bounded memory. Deterministic. */
function createBreathingSeconds(): BreathingSeconds {
  let points: { atMs: number; value: number }[] = [];
  let everCame = false;
  let isOffBody = false;
  const worn = createWornWatch();
  return {
    get isOffBody() {
      return isOffBody;
    },
    push(atMs, value) {
      everCame = true;
      points.push({ atMs, value });
      if (points.length > 4_000) points = points.slice(-2_000);
    },
    takeUntil(rowMs) {
      if (!everCame) return undefined;
      const taken = points.filter(({ atMs }) => atMs > rowMs - 1_000 && atMs <= rowMs);
      points = points.filter(({ atMs }) => atMs > rowMs);
      if (taken.length === 0) return unknown;
      const respiration = meanOf(taken);
      const halves = [
        taken.filter(({ atMs }) => atMs <= rowMs - 500),
        taken.filter(({ atMs }) => atMs > rowMs - 500),
      ].flatMap((half) => (half.length === 0 ? [] : [meanOf(half)]));
      const stir = stirOf(taken);
      isOffBody = !worn(respiration, stir);
      if (isOffBody) return unknown;
      return {
        respiration,
        respirationLow: Math.min(...halves),
        respirationHigh: Math.max(...halves),
        respirationStir: stir?.level ?? Number.NaN,
      };
    },
  };
}

const meanOf = (points: readonly { readonly value: number }[]): number =>
  points.reduce((sum, { value }) => sum + value, 0) / points.length;

/** How much a second stirs beside its slow course. Undefined with too few samples. */
function stirOf(points: readonly { readonly value: number }[]): Stir | undefined {
  if (points.length < leastSamples) return undefined;
  const reach = Math.max(1, Math.round(points.length / 10));
  const stirs: number[] = [];
  for (let i = reach; i < points.length - reach; i += 1)
    stirs.push(Math.abs(points[i]!.value - (points[i - reach]!.value + points[i + reach]!.value) / 2));
  stirs.sort((a, b) => a - b);
  return { level: stirs[stirs.length >> 1]!, peak: stirs.at(-2) ?? stirs.at(-1)! };
}
