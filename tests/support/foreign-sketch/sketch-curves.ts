// Closed curves of a drawn person: saturation and trend of the heart rate as functions of when holds began and ended, and
// the chest as a row of bumps. Nothing here is stepped or carries state.

import { eachSecond, type HoldCourse } from '../scoring/living-athlete.ts';
import type { Lungs } from '../scoring/scored-session.ts';
import type { SketchPerson } from './sketch-person.ts';

export interface SketchHold {
  readonly startS: number;
  /** Unset while it lasts. */
  stopS: number | undefined;
  readonly lungs: Lungs;
  readonly walks: boolean;
}

export interface SketchBreath {
  readonly atS: number;
  readonly size: number;
  readonly widthS: number;
}

const bendS = 11;
const softened = (s: number): number => (s > 200 ? s : bendS * Math.log1p(Math.exp(s / bendS)));

/** Per cent of arterial saturation missing because of one hold. */
function deficit(person: SketchPerson, hold: SketchHold, atS: number, stopS: number): number {
  const { onsetS, slopePercentPerS } = person.falls[hold.lungs];
  // A walker uses about twice the oxygen (from memory: 3 METs are three times rest; the start is slower).
  const pace = hold.walks ? 2.1 : 1;
  const lost = (heldS: number): number =>
    heldS <= 0 ? 0 : pace * slopePercentPerS * (softened(heldS - onsetS / pace) - softened(-onsetS / pace));
  if (atS <= hold.startS) return 0;
  // Blood that left the lungs before the first breath is still on its way for about 2 s.
  if (atS <= stopS + 2) return lost(Math.min(atS, stopS + 2) - hold.startS);
  return lost(stopS + 2 - hold.startS) * Math.exp(-(atS - stopS - 2) / person.recoveryTauS);
}

/** `stopS` stands for the stop of the last hold, for a "what if". */
export function arterialSaturation(
  person: SketchPerson,
  holds: readonly SketchHold[],
  atS: number,
  stopS?: number,
): number {
  let missing = 0;
  for (const hold of holds.slice(-3)) {
    const isLast = hold === holds.at(-1);
    missing += deficit(
      person,
      hold,
      atS,
      (isLast ? stopS : undefined) ?? hold.stopS ?? Number.POSITIVE_INFINITY,
    );
  }
  return Math.max(30, person.restingSaturation - missing);
}

export function displayedReading(
  person: SketchPerson,
  holds: readonly SketchHold[],
  atS: number,
  stopS?: number,
): number {
  let shown = 0;
  for (const [agoS, weight] of person.displayKernel.entries())
    if (weight > 0) shown += weight * arterialSaturation(person, holds, atS - agoS, stopS);
  return shown;
}

export function lowestReadingOf(person: SketchPerson, holds: readonly SketchHold[], stopS: number): number {
  let lowest = 101;
  for (let s = Math.max(holds.at(-1)!.startS, stopS - 5); s <= stopS + 70; s += 1)
    lowest = Math.min(lowest, displayedReading(person, holds, s, stopS));
  return lowest;
}

const courseStepS = 3;
/** The course of the last hold while it goes on. */
export function courseOf(
  person: SketchPerson,
  holds: readonly SketchHold[],
  untilPercent: number,
): HoldCourse {
  const { startS } = holds.at(-1)!;
  const displayed: number[] = [];
  const lowest: number[] = [];
  for (let second = 0; second <= 600; second++) {
    displayed.push(displayedReading(person, holds, startS + second, Number.POSITIVE_INFINITY));
    if (second % courseStepS > 0) continue;
    lowest.push(lowestReadingOf(person, holds, startS + second));
    if (lowest.at(-1)! < untilPercent) break;
  }
  return { displayed, lowestIfStopped: eachSecond(lowest, courseStepS) };
}

const smooth = (x: number): number => {
  const c = Math.min(1, Math.max(0, x));
  return c * c * (3 - 2 * c);
};

/** /min by which the trend of the heart rate differs from rest because of the last hold. */
export function holdTrendBpm(person: SketchPerson, hold: SketchHold | undefined, atS: number): number {
  if (hold === undefined || atS < hold.startS) return 0;
  const within = (heldS: number): number => {
    if (hold.walks) return 28 * smooth(heldS / 40) - 0.5 * person.firstFallBpm * smooth(heldS / 30);
    const lateFromS = 1.15 * person.falls[hold.lungs].onsetS;
    return (
      person.earlyRiseBpm * smooth(heldS / 2) * (1 - smooth((heldS - 3) / 12)) -
      person.firstFallBpm * smooth(heldS / 28) -
      person.lateFallBpm * Math.max(0, Math.min(1.2, (heldS - lateFromS) / 100))
    );
  };
  if (hold.stopS === undefined || atS <= hold.stopS) return within(atS - hold.startS);
  const sinceS = atS - hold.stopS;
  // Back within about 5 s (3.09), past rest, and settled in half a minute.
  return (
    within(hold.stopS - hold.startS) * Math.exp(-sinceS / 2.5) +
    person.overshootBpm * smooth(sinceS / 4) * Math.exp(-sinceS / 18)
  );
}

export function chestAt(breaths: readonly SketchBreath[], atS: number): number {
  let sum = 0;
  for (const { atS: centreS, size, widthS } of breaths)
    sum += size * Math.exp(-(((atS - centreS) / widthS) ** 2));
  return sum;
}
