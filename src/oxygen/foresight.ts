// What can be said of a hold before it: whether the finger's display will show the fall in time, and if not, by when
// to breathe. From what is known of the athlete and how full the lungs are; no reading of the hold is needed.

import { type Said, said } from '../../shared/said.ts';
import type { HoldLungs } from '../../shared/schema-parts.ts';
import { type AthletePrior, holdPriorOf } from './athlete-prior.ts';
import { CurveSet, modelRestPercent, mostCurves } from './curve-set.ts';

export interface Foresight {
  readonly lungs: HoldLungs;
  /** True where the display shows no fall yet when breathing must begin, in at least a quarter of what is thinkable. */
  readonly showsTooLate: boolean;
  /**
   * Where the display is too late: seconds after the start by which to breathe for 95 of 100 such holds to stay at or
   * above the floor. Rounded down to 5 s; 0 where no hold is short enough. Null where the display shows the fall.
   */
  readonly breatheByS: number | null;
}

/** A fall that a person can see and the forecast can use, points (one and a half steps of the display). Our choice. */
const visibleFallPercent = 1.5;
/** Time to notice and to breathe. Our choice. */
const reactionS = 6;
const keptShare = 0.95;
/** Thinkable holds whose fall shows too late before it is said that the display does. Our choice: sooner than an even chance. */
const lateShare = 0.25;

/** For holds of this athlete with these lungs. A pure function of its inputs; some milliseconds. */
export function foresee(prior: AthletePrior, lungs: HoldLungs, floorPercent: number): Foresight {
  const curves = new CurveSet({
    prior: holdPriorOf(prior, lungs),
    curveCount: mostCurves,
    restPercent: modelRestPercent,
    startUncertaintyS: 0,
    mayMisfit: false,
  });
  const times: number[] = [];
  let late = 0;
  for (let index = 0; index < curves.count; index++) {
    const turnS = Math.max(0, curves.turnTimeS(index, floorPercent));
    times.push(turnS);
    const shownPercent = curves.displayed(index, Math.max(0, turnS - reactionS));
    if (curves.top[index]! - shownPercent < visibleFallPercent) late++;
  }
  const showsTooLate = late >= lateShare * curves.count;
  times.sort((one, other) => one - other);
  const earliestS = times[Math.floor((1 - keptShare) * times.length)]!;
  return {
    lungs,
    showsTooLate,
    breatheByS: showsTooLate ? Math.max(0, 5 * Math.floor(earliestS / 5)) : null,
  };
}

/** The same for a person, or undefined where the display shows the fall in time. */
export function sayForesight({ lungs, showsTooLate, breatheByS }: Foresight): Said | undefined {
  if (!showsTooLate || breatheByS === null) return undefined;
  const words = { lungs: said(`lungs.${lungs}`) };
  return breatheByS < 10
    ? said('lungs.noHoldShortEnough', words)
    : said('lungs.displayTooLate', { ...words, breatheByMs: 1_000 * breatheByS });
}
