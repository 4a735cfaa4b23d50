// Foreign generators (SIMULATED), written without sight of the detector: holds found by sensors and kind of session, and
// what becomes of those who obey the forecast alarm, by the air in their lungs.

import { type MarkKind, markKindSchema } from '../../shared/schema-parts.ts';
import { monotonicMs } from '../../shared/units.ts';
import type { PipelineEvent } from '../../src/pipeline.ts';
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

/** The marks by which a person says how full the lungs are, where the contract has them. */
const lungsMarks: Readonly<Record<Lungs, string>> = {
  full: 'lungsFull',
  half: 'lungsHalf',
  emptied: 'lungsEmptied',
};
const canSayLungs = Object.values(lungsMarks).every((kind) =>
  (markKindSchema.options as readonly string[]).includes(kind),
);
const sayLungs = (atMs: number, lungs: Lungs): PipelineEvent => ({
  type: 'mark',
  mark: { markId: `lungs-${atMs}`, kind: lungsMarks[lungs] as MarkKind, atMs: monotonicMs(atMs) },
});

/** What the athlete tells the program of a hold. */
const tellings = [
  'start found',
  'start marked',
  ...(canSayLungs ? (['start found, lungs said', 'start marked, lungs said'] as const) : []),
] as const;
type Telling = (typeof tellings)[number];

/** `sessionsEach` sessions for each state of the lungs and for each way of telling. */
export function scoreObedience(factory: AthleteFactory, seed: number, sessionsEach: number) {
  const holds: (ObeyedHold & { readonly telling: Telling })[] = [];
  for (const telling of tellings)
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
        const obeyed = obeyForecast(athlete, {
          floorPercent,
          marksStarts: telling.startsWith('start marked'),
          ...(telling.endsWith('said') && { sayLungs }),
        });
        holds.push(...obeyed.map((hold) => ({ ...hold, telling })));
      }
  const of = (telling: Telling, lungs?: Lungs) =>
    summariseObeyed(holds.filter((h) => h.telling === telling && (lungs === undefined || h.lungs === lungs)));
  return Object.fromEntries(
    tellings.map((telling) => [
      telling,
      {
        all: of(telling),
        full: of(telling, 'full'),
        half: of(telling, 'half'),
        emptied: of(telling, 'emptied'),
        bySensors: Object.fromEntries(
          obeyKits.map((kit) => [
            kit,
            summariseObeyed(holds.filter((h) => h.telling === telling && h.conditions['sensors'] === kit)),
          ]),
        ),
      },
    ]),
  );
}
