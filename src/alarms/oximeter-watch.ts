// What is known of one oximeter: its readings against the floor, whether its display moves, and how it is supplied.
// Each oximeter is watched by itself, so that a second one at 98 % never speaks against a low reading of the first.

import type { SampleQuality } from '../../shared/schema-parts.ts';
import type { QualityReason } from '../samples/sample.ts';
import { alarmLimits as limits } from './alarm-limits.ts';
import { type FloorWatch, freshFloorWatch, watchReading, watchTime } from './floor-watch.ts';
import { noSupply, type Supply, withUnusable, withUsable } from './supply-watch.ts';

/** Reasons by which the oximeter itself says that its signal is poor. */
const sensorDoubts: ReadonlySet<QualityReason> = new Set<QualityReason>([
  'poorSignal',
  'questionable',
  'noContact',
]);

/** What its display shows and since when nothing of it has changed; times in session ms, null for never. */
export interface Display {
  readonly percent: number | null;
  readonly pulseBpm: number | null;
  readonly pulseAtMs: number | null;
  /** The first reading that looked as all since. */
  readonly sameSinceMs: number | null;
  /** The last reading that looked so. */
  readonly sameUntilMs: number | null;
  /** Since when the saturation alone has been the same, and the averaged one then and now, where both are sent. */
  readonly percentSinceMs: number | null;
  readonly averagedThenPercent: number | null;
  readonly averagedPercent: number | null;
}

export interface OximeterWatch {
  readonly sensorId: string;
  readonly floor: FloorWatch;
  /** Of the slower reading that some send beside the fast one; the worse of both decides. */
  readonly averagedFloor: FloorWatch;
  readonly display: Display;
  readonly supply: Supply;
}

export const freshOximeterWatch = (sensorId: string): OximeterWatch => ({
  sensorId,
  floor: freshFloorWatch,
  averagedFloor: freshFloorWatch,
  display: {
    percent: null,
    pulseBpm: null,
    pulseAtMs: null,
    sameSinceMs: null,
    sameUntilMs: null,
    percentSinceMs: null,
    averagedThenPercent: null,
    averagedPercent: null,
  },
  supply: noSupply,
});

interface ReadValue {
  readonly spo2Percent: number;
  readonly quality: SampleQuality;
  readonly reasons: readonly QualityReason[];
}
/** A reading, and the slower one of the same moment where the oximeter sends both. */
export interface SaturationReading extends ReadValue {
  readonly averaged?: ReadValue;
}

/** Takes in one reading. What the sensor calls invalid, or is no saturation at all, is no value. */
export function watchSaturation(
  watch: OximeterWatch,
  atMs: number,
  reading: SaturationReading,
  floorPercent: number,
): OximeterWatch {
  const { spo2Percent, quality, reasons, averaged } = reading;
  const { sensorId, display, supply } = watch;
  const floor = judged(watch.floor, atMs, reading, floorPercent);
  // Without a second reading the one there is goes on with what the second began; and where the second comes only now,
  // what has been read so far was both.
  const averagedFloor =
    watch.averagedFloor.last !== null
      ? judged(watch.averagedFloor, atMs, averaged ?? reading, floorPercent)
      : averaged === undefined
        ? watch.averagedFloor
        : judged(watch.floor, atMs, averaged, floorPercent);
  // Field by field here and below, because spreads cost most of a reading's time.
  if (quality === 'bad')
    return { sensorId, floor, averagedFloor, display, supply: withUnusable(supply, atMs, reasons) };
  if (!isSaturation(spo2Percent)) {
    const said = [...reasons, 'outOfRange'] as const;
    return { sensorId, floor, averagedFloor, display, supply: withUnusable(supply, atMs, said) };
  }
  return {
    sensorId,
    floor,
    averagedFloor,
    display: shown(display, atMs, spo2Percent, averaged?.spo2Percent ?? null),
    supply: withUsable(supply, atMs, quality === 'suspect'),
  };
}

function judged(floor: FloorWatch, atMs: number, one: ReadValue, floorPercent: number): FloorWatch {
  if (one.quality === 'bad' || !isSaturation(one.spo2Percent)) return floor;
  const doubted = one.reasons.some((reason) => sensorDoubts.has(reason));
  return watchReading(floor, atMs, one.spo2Percent, one.quality, floorPercent, doubted);
}

export function watchOximeterPulse(watch: OximeterWatch, atMs: number, pulseBpm: number): OximeterWatch {
  const { sensorId, floor, averagedFloor, display, supply } = watch;
  const changed = pulseBpm !== display.pulseBpm;
  return {
    sensorId,
    floor,
    averagedFloor,
    display: {
      percent: display.percent,
      pulseBpm,
      pulseAtMs: atMs,
      sameSinceMs: changed ? atMs : display.sameSinceMs,
      sameUntilMs: changed ? atMs : display.sameUntilMs,
      percentSinceMs: display.percentSinceMs,
      averagedThenPercent: display.averagedThenPercent,
      averagedPercent: display.averagedPercent,
    },
    supply,
  };
}

export function watchOximeterTime(watch: OximeterWatch, nowMs: number): OximeterWatch {
  const floor = watchTime(watch.floor, nowMs);
  const averagedFloor = watchTime(watch.averagedFloor, nowMs);
  return floor === watch.floor && averagedFloor === watch.averagedFloor
    ? watch
    : { ...watch, floor, averagedFloor };
}

/** The reading that decides: of a breach the breached one, of both breached the lower. */
export function decidingFloor({ floor, averagedFloor }: OximeterWatch): FloorWatch {
  if (floor.breached !== averagedFloor.breached) return floor.breached ? floor : averagedFloor;
  if (averagedFloor.last === null || floor.last === null) return floor.last === null ? averagedFloor : floor;
  return averagedFloor.breached && averagedFloor.last.percent < floor.last.percent ? averagedFloor : floor;
}

/**
 * For how long readings have come that show not the slightest change of saturation and pulse, ms, and whether something
 * speaks against that: the averaged reading moved, or the strap's heart rate did (`strapBpm`, null while none is heard).
 */
export function stillFor(
  { display }: OximeterWatch,
  strapBpm: number | null,
): { readonly forMs: number; readonly contradicted: boolean } {
  const { sameSinceMs, sameUntilMs, pulseAtMs, percentSinceMs, averagedThenPercent, averagedPercent } =
    display;
  if (sameSinceMs === null || sameUntilMs === null) return { forMs: 0, contradicted: false };
  // Without a pulse beside it, a steady saturation is what a person at rest has: that says nothing.
  const still = pulseAtMs !== null && pulseAtMs >= sameSinceMs ? sameUntilMs - sameSinceMs : 0;
  // The averaged reading moves and the fast one does not: it has stopped, whatever the pulse does.
  const leftBehind =
    averagedThenPercent !== null &&
    averagedPercent !== null &&
    Math.abs(averagedPercent - averagedThenPercent) >= limits.leftBehindPercent;
  const { pulseBpm } = display;
  return {
    forMs: leftBehind ? Math.max(still, sameUntilMs - (percentSinceMs ?? sameUntilMs)) : still,
    contradicted:
      leftBehind ||
      (strapBpm !== null && pulseBpm !== null && Math.abs(strapBpm - pulseBpm) >= limits.stillHeartRateBpm),
  };
}

/** 0 is what many displays send for "no value" (PLXS v1.0.1 s3.2.1.2 has NaN for it). */
function isSaturation(percent: number): boolean {
  return percent > 0 && percent <= 100;
}

function shown(display: Display, atMs: number, percent: number, averagedPercent: number | null): Display {
  const same = percent === display.percent;
  return {
    percent,
    pulseBpm: display.pulseBpm,
    pulseAtMs: display.pulseAtMs,
    sameSinceMs: same ? display.sameSinceMs : atMs,
    sameUntilMs: atMs,
    percentSinceMs: same ? display.percentSinceMs : atMs,
    averagedThenPercent: same ? display.averagedThenPercent : averagedPercent,
    averagedPercent,
  };
}
