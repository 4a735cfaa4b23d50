// Foreign generators (SIMULATED), written without sight of the detector: holds found by sensors and kind of session, and
// what becomes of those who obey the forecast alarm, by the air in their lungs.

import { alveolarAthlete } from '../support/foreign-alveolar/alveolar-athlete.ts';
import { sketchAthlete } from '../support/foreign-sketch/sketch-athlete.ts';
import { judgeSession, type Verdict } from '../support/scoring/judge-session.ts';
import {
  type AthleteFactory,
  liveThrough,
  type SensorKit,
  sensorKits,
  sessionKinds,
} from '../support/scoring/living-athlete.ts';
import { type ObeyedHold, obeyForecast, summariseObeyed } from '../support/scoring/obey-forecast.ts';
import type { Lungs } from '../support/scoring/scored-session.ts';
import { splitByCondition, summariseVerdicts } from '../support/scoring/summarise-verdicts.ts';

export const foreignGenerators: readonly { readonly name: string; readonly factory: AthleteFactory }[] = [
  { name: 'alveolar', factory: alveolarAthlete },
  { name: 'sketch', factory: sketchAthlete },
];

const withBeats: ReadonlySet<string> = new Set<SensorKit>([
  'beats and oximetry',
  'beats, oximetry and pleth',
  'beats only',
]);

export function scoreForeign(factory: AthleteFactory, name: string, seed: number, perCell: number) {
  const verdicts: Verdict[] = [];
  for (let round = 0; round < perCell; round++)
    for (const [k, kind] of sessionKinds.entries())
      for (const [s, kit] of sensorKits.entries()) {
        const sessionSeed = 1_000 * seed + 100 * round + 10 * k + s;
        const session = liveThrough(
          factory({ seed: sessionSeed, kind, kit }),
          `${name} ${kind} ${kit} ${sessionSeed}`,
          85,
        );
        verdicts.push(judgeSession(session));
      }
  return {
    all: summariseVerdicts(verdicts),
    withBeats: summariseVerdicts(verdicts.filter((v) => withBeats.has(v.conditions['sensors']!))),
    withoutBeats: summariseVerdicts(verdicts.filter((v) => !withBeats.has(v.conditions['sensors']!))),
    byCondition: splitByCondition(verdicts, summariseVerdicts),
  };
}

const obeyKits: readonly SensorKit[] = [
  'beats and oximetry',
  'oximetry only',
  'heart rate and oximetry',
  'oximetry and pleth',
];
const obeyFloors = [80, 85, 88, 90];

/** `sessionsEach` sessions for each state of the lungs, once with the start marked and once to be found. */
export function scoreObedience(factory: AthleteFactory, seed: number, sessionsEach: number) {
  const holds: (ObeyedHold & { readonly starts: 'marked' | 'found' })[] = [];
  for (const starts of ['marked', 'found'] as const)
    for (const lungs of ['full', 'half', 'emptied'] as const)
      for (let i = 0; i < sessionsEach; i++) {
        const floorPercent = obeyFloors[i % obeyFloors.length]!;
        const athlete = factory({
          seed: 50_000 + 1_000 * seed + i,
          kind: i % 3 === 2 ? 'interval' : 'maximal',
          kit: obeyKits[(i + Math.floor(i / 4)) % obeyKits.length]!,
          lungs,
          beyondFloorPercent: floorPercent,
        });
        for (const hold of obeyForecast(athlete, { floorPercent, marksStarts: starts === 'marked' }))
          holds.push({ ...hold, starts });
      }
  const of = (starts: string, lungs?: Lungs) =>
    summariseObeyed(holds.filter((h) => h.starts === starts && (lungs === undefined || h.lungs === lungs)));
  return Object.fromEntries(
    (['marked', 'found'] as const).map((starts) => [
      starts,
      {
        all: of(starts),
        full: of(starts, 'full'),
        half: of(starts, 'half'),
        emptied: of(starts, 'emptied'),
        bySensors: Object.fromEntries(
          obeyKits.map((kit) => [
            kit,
            summariseObeyed(holds.filter((h) => h.starts === starts && h.conditions['sensors'] === kit)),
          ]),
        ),
      },
    ]),
  );
}
