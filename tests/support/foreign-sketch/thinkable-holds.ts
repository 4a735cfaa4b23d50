// A hold as a person of the sketch generator (SIMULATED) would go, without session, sensors and noise: for a bound on what any
// forecast could know.

import { chanceFrom } from '../scoring/chance.ts';
import type { HoldCourse, SessionKind } from '../scoring/living-athlete.ts';
import type { Lungs } from '../scoring/scored-session.ts';
import { courseOf } from './sketch-curves.ts';
import { drawSketchPerson, type SketchPerson } from './sketch-person.ts';

/** The person of `sketchAthlete` with the same seed and kind. */
export const sketchPersonOf = (seed: number, kind: SessionKind): SketchPerson =>
  drawSketchPerson(chanceFrom(seed * 15_485_863 + 101), kind);

/** A person's holds with the same lungs are all alike in this generator. */
export const thinkableHold = (person: SketchPerson, lungs: Lungs, untilPercent: number): HoldCourse =>
  courseOf(person, [{ startS: 0, stopS: undefined, lungs, walks: false }], untilPercent);
