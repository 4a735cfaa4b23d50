// How much the heart rate rises with a breath at rest, as it is spread among people: a published figure both foreign
// generators draw from.

import type { Chance } from './chance.ts';

/**
 * /min from lowest to highest within a breath. 635 people: 8.6 on average, 1 to 46 (Brain & Heart 2(4), "RSA and
 * breathing-specific heart rate", results); drawn log-normal with that mean and range. One in seven is drawn with next to
 * none, more than in those 635: older people, medicines, a fast heart (our choice).
 */
export function drawArrhythmiaBpm(chance: Chance): number {
  if (chance.happens(1 / 7)) return chance.range(0.6, 2);
  return Math.min(46, Math.max(1, 7.2 * Math.exp(chance.gauss(0, 0.6))));
}
