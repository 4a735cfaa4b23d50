// Holds as people of the alveolar generator (SIMULATED) would go, without session, sensors and noise: for a bound on what any
// forecast could know. Each person several times, with the lungs filled anew.

import { chanceFrom } from '../scoring/chance.ts';
import type { HoldCourse, SessionKind } from '../scoring/living-athlete.ts';
import type { Lungs } from '../scoring/scored-session.ts';
import { courseOf, holdVolumeL } from './alveolar-athlete.ts';
import { type Activity, breatheToHold, newBody, stepBody } from './alveolar-body.ts';
import { type AlveolarPerson, drawPerson } from './alveolar-person.ts';

/** The person of `alveolarAthlete` with the same seed and kind. */
export const alveolarPersonOf = (seed: number, kind: SessionKind): AlveolarPerson =>
  drawPerson(chanceFrom(seed * 7_919 + 13), kind);

/** One more hold of this person, as rested people begin one. */
export function thinkableHold(
  person: AlveolarPerson,
  lungs: Lungs,
  seed: number,
  untilPercent: number,
): HoldCourse {
  const chance = chanceFrom(seed);
  const body = newBody(person, chance);
  const activity = chance.oneOf<Activity>(['quiet', 'paced', 'paced', 'deep']);
  body.state.pacePerMin = chance.range(3.8, 6.2);
  body.state.activity = activity;
  const breatheS = chance.range(60, 150);
  while (body.state.atS < breatheS) stepBody(body);
  breatheToHold(body, holdVolumeL(lungs, body, chance), chance.range(1.8, 4));
  while (body.state.chest !== 'shut') stepBody(body);
  return courseOf(body, untilPercent);
}
