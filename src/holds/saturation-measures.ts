// Saturation of a hold: where it began, how low it went and how fast, for how long below, and its way back.
// Every rule stands in MEASURES.md too, for those who work it out from an exported recording.

import type { Sample } from '../samples/sample.ts';
import { type HoldScene, type Measured, median, type WhyNot } from './hold-scene.ts';
import { countsForLowest, belongsUntilMs as untilOf } from './lowest-reading.ts';
import { thresholdsPercent } from './measure-table.ts';
import type { UnwatchedStretch } from './smoothing.ts';

const longestSpo2GapMs = 5_000;
/** Rest is looked at this long before the start, and not within as long after an earlier hold. A choice. */
const restMs = 60_000;
const leastRestReadings = 5;
/** Back is within this of rest: one step of the display. A choice. */
const backWithinPercent = 1;
/** And stays there for so long, so that one jumping reading is no recovery. A choice. */
const staysMs = 5_000;
/** The way back is looked for this long after the end at most. */
const longestBackMs = 180_000;
/** Smaller falls are within the display's own steps. A choice. */
const leastFallPercent = 2;
const leastFallForRatePercent = 3;
const steepestOverMs = 30_000;
/** A window has readings over at least this much of it, and at least so many. */
const leastWindowMs = 25_000;
const leastWindowReadings = 8;

interface Lowest {
  readonly value: number;
  /** Middle of its first unbroken stretch. */
  readonly atMs: number;
  readonly firstAtMs: number;
}

export function saturationMeasures(scene: HoldScene): Measured {
  const { startMs, endMs, untilMs, near, nextStartMs, unwatched } = scene;
  const spo2 = near.filter((sample) => sample.channel === 'spo2Percent' && sample.quality === 'good');
  const between = { startMs, endMs: untilMs, nextStartMs };
  const belongsUntilMs = untilOf(between);
  const atStart = median(
    spo2.filter((s) => s.atMs > startMs - 15_000 && s.atMs <= startMs).map((s) => s.value),
  );
  const within = spo2.filter((s) => countsForLowest(s, between));
  const lowest = lowestOf(within);
  const fall = atStart !== null && lowest !== null ? atStart - lowest.value : null;
  const whole = spo2.filter((s) => s.atMs >= startMs && s.atMs <= belongsUntilMs);
  const noFall: WhyNot = lowest === null ? 'noSaturation' : 'noSaturationBefore';
  const orFall = (value: number | WhyNot | null, least: number, tooSmall: WhyNot): number | WhyNot =>
    fall === null ? noFall : fall < least ? tooSmall : (value ?? 'fewReadings');
  return {
    spo2AtStartPercent: atStart ?? (spo2.length === 0 ? 'noSaturation' : 'noSaturationBefore'),
    spo2LowestPercent: lowest?.value ?? 'noSaturation',
    spo2LowestAfterEndS: orFall(
      endMs === undefined ? 'noEnd' : lowest === null ? null : (lowest.atMs - endMs) / 1_000,
      leastFallPercent,
      'smallFall',
    ),
    spo2FallRatePercentPerMin: orFall(
      lowest === null || atStart === null ? null : fallRate(within, atStart, lowest.atMs),
      leastFallForRatePercent,
      'smallFallForRate',
    ),
    spo2SteepestFallPercentPerMin: orFall(
      lowest === null ? null : steepestFall(whole, lowest.firstAtMs),
      leastFallForRatePercent,
      'smallFallForRate',
    ),
    ...Object.fromEntries(
      thresholdsPercent.flatMap((threshold) => {
        const { belowS, areaPercentS } = below(whole, threshold, unwatched);
        return [
          [`timeBelow${threshold}S`, belowS],
          [`areaBelow${threshold}PercentS`, areaPercentS],
        ];
      }),
    ),
    timeBackTo95S: timeBackTo95(spo2, lowest, endMs, belongsUntilMs),
    ...wayBack(scene, spo2, lowest),
  };
}

/** The lowest reading and the middle of its first unbroken stretch. */
function lowestOf(readings: readonly Sample[]): Lowest | null {
  if (readings.length === 0) return null;
  const value = readings.reduce((least, s) => Math.min(least, s.value), Number.POSITIVE_INFINITY);
  const first = readings.findIndex((s) => s.value === value);
  let last = first;
  while (last + 1 < readings.length && readings[last + 1]!.value === value) {
    last += 1;
  }
  const firstAtMs = readings[first]!.atMs;
  return { value, atMs: (firstAtMs + readings[last]!.atMs) / 2, firstAtMs };
}

/** Per cent a minute, from the last reading near the start's to the lowest. */
function fallRate(within: readonly Sample[], atStart: number, lowestAtMs: number): number | null {
  const untilLowest = within.filter((s) => s.atMs <= lowestAtMs);
  let from = 0;
  untilLowest.forEach((s, i) => {
    if (s.value >= atStart - 1) {
      from = i;
    }
  });
  const slope = slopePerMs(untilLowest, from);
  return slope === null ? null : -slope * 60_000;
}

/** Per cent a minute: the steepest least-squares slope over any 30 s from a reading on, up to the first lowest one. */
function steepestFall(whole: readonly Sample[], lowestFirstAtMs: number): number | null {
  const readings = whole.filter((s) => s.atMs <= lowestFirstAtMs);
  let steepest: number | null = null;
  let last = 0;
  for (let first = 0; first < readings.length; first++) {
    last = Math.max(last, first);
    const fromMs = readings[first]!.atMs;
    while (last + 1 < readings.length && readings[last + 1]!.atMs <= fromMs + steepestOverMs) last += 1;
    if (last - first + 1 < leastWindowReadings || readings[last]!.atMs - fromMs < leastWindowMs) continue;
    const slope = slopePerMs(readings, first, last + 1);
    if (slope !== null && (steepest === null || -slope * 60_000 > steepest)) steepest = -slope * 60_000;
  }
  return steepest;
}

/** Seconds below a threshold, and per cent times seconds; a reading counts until the next, for 5 s at most. */
function below(
  readings: readonly Sample[],
  threshold: number,
  unwatched: readonly UnwatchedStretch[],
): { readonly belowS: number | WhyNot; readonly areaPercentS: number | WhyNot } {
  if (readings.length < 2) {
    return { belowS: 'noSaturation', areaPercentS: 'noSaturation' };
  }
  let belowS = 0;
  let areaPercentS = 0;
  for (let i = 0; i + 1 < readings.length; i++) {
    const [fromMs, nextMs] = [readings[i]!.atMs, readings[i + 1]!.atMs];
    const unseenFromMs =
      unwatched.find((span) => span.toMs > fromMs && span.fromMs < nextMs)?.fromMs ?? nextMs;
    const gap = Math.max(0, Math.min(longestSpo2GapMs, nextMs - fromMs, unseenFromMs - fromMs)) / 1_000;
    const { value } = readings[i]!;
    if (value < threshold) {
      belowS += gap;
      areaPercentS += gap * (threshold - value);
    }
  }
  return { belowS, areaPercentS };
}

function timeBackTo95(
  spo2: readonly Sample[],
  lowest: Lowest | null,
  endMs: number | undefined,
  belongsUntilMs: number,
): number | WhyNot {
  if (endMs === undefined) return 'noEnd';
  if (lowest === null) return 'noSaturation';
  if (lowest.value >= 95) return 'never95';
  const back = spo2.find((s) => s.atMs > lowest.atMs && s.value >= 95 && s.atMs <= belongsUntilMs + 30_000);
  if (back === undefined) return 'notBackInTime';
  // A fall that was over before the end was another hold's.
  return back.atMs < endMs ? 'fallOverBeforeEnd' : (back.atMs - endMs) / 1_000;
}

/** Saturation at rest of this athlete before this hold, or as it was taken for the hold before; null where neither is. */
function baselineOf(
  { startMs, previousEndMs, previousBaselinePercent }: HoldScene,
  spo2: readonly Sample[],
): number | null {
  const fromMs = Math.max(startMs - restMs, previousEndMs + restMs);
  const rest = spo2.filter((s) => s.atMs > fromMs && s.atMs <= startMs).map((s) => s.value);
  return rest.length >= leastRestReadings ? median(rest) : (previousBaselinePercent ?? null);
}

/** Back to the athlete's own rest, and half the way there. */
function wayBack(scene: HoldScene, spo2: readonly Sample[], lowest: Lowest | null): Measured {
  const { endMs, nextStartMs } = scene;
  const baseline = baselineOf(scene, spo2);
  const answer = (back: number | WhyNot, half: number | WhyNot = back): Measured => ({
    spo2BaselinePercent: baseline ?? (spo2.length === 0 ? 'noSaturation' : 'noSaturationBefore'),
    spo2BackToBaselineS: back,
    spo2HalfTimeS: half,
  });
  if (endMs === undefined) return answer('noEnd');
  if (lowest === null) return answer('noSaturation');
  if (baseline === null) return answer('noSaturationBefore');
  if (baseline - lowest.value < leastFallPercent) return answer('smallFall');
  const untilMs = Math.min(endMs + longestBackMs, nextStartMs);
  const after = spo2.filter((s) => s.atMs > lowest.atMs && s.atMs <= untilMs);
  const firstStaying = (leastPercent: number): Sample | undefined =>
    after.find(
      (s, index) =>
        s.value >= leastPercent &&
        after.slice(index).every((later) => later.atMs > s.atMs + staysMs || later.value >= leastPercent),
    );
  const missing: WhyNot = nextStartMs < endMs + longestBackMs ? 'notBackBeforeNext' : 'notBackInTime';
  const back = firstStaying(baseline - backWithinPercent);
  const half = firstStaying((lowest.value + baseline) / 2);
  return answer(
    back === undefined ? missing : back.atMs < endMs ? 'fallOverBeforeEnd' : (back.atMs - endMs) / 1_000,
    half === undefined ? missing : (half.atMs - lowest.atMs) / 1_000,
  );
}

/** Of the readings from index `from` up to but not including `to`; sums, for a steepest fall asks of every reading. */
function slopePerMs(readings: readonly Sample[], from: number, to = readings.length): number | null {
  const count = to - from;
  if (count < 4) {
    return null;
  }
  let sumT = 0;
  let sumV = 0;
  for (let i = from; i < to; i++) {
    sumT += readings[i]!.atMs;
    sumV += readings[i]!.value;
  }
  const meanT = sumT / count;
  const meanV = sumV / count;
  let top = 0;
  let bottom = 0;
  for (let i = from; i < to; i++) {
    const fromMeanT = readings[i]!.atMs - meanT;
    top += fromMeanT * (readings[i]!.value - meanV);
    bottom += fromMeanT ** 2;
  }
  return bottom > 0 ? top / bottom : null;
}
