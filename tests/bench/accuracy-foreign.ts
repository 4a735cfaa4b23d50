// Foreign generators (SIMULATED), written without sight of the detector: holds found by sensors and kind of session, and
// what becomes of those who obey the forecast alarm, by the air in their lungs.

import { type MarkKind, markKindSchema } from '../../shared/schema-parts.ts';
import { monotonicMs } from '../../shared/units.ts';
import type { AthletePrior } from '../../src/oxygen/athlete-prior.ts';
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

/** What the athlete tells the program of a hold, and how many days of the same athlete, who obeyed then too, it has met before. */
const tellings = [
  { name: 'start found', marksStarts: false, saysLungs: false, earlierDays: 0 },
  { name: 'start marked', marksStarts: true, saysLungs: false, earlierDays: 0 },
  ...(canSayLungs
    ? [
        { name: 'start found, lungs said', marksStarts: false, saysLungs: true, earlierDays: 0 },
        { name: 'start marked, lungs said', marksStarts: true, saysLungs: true, earlierDays: 0 },
        {
          name: 'start marked, lungs said, one day before',
          marksStarts: true,
          saysLungs: true,
          earlierDays: 1,
        },
        {
          name: 'start marked, lungs said, three days before',
          marksStarts: true,
          saysLungs: true,
          earlierDays: 3,
        },
      ]
    : []),
] as const;
type Telling = (typeof tellings)[number];
type ToldHold = ObeyedHold & { readonly telling: string };

/** What became of one athlete's holds on the last of their days; the same holds however many days were before. */
function obeySession(
  factory: AthleteFactory,
  seed: number,
  index: number,
  lungs: Lungs,
  telling: Telling,
): ToldHold[] {
  const floorPercent = obeyFloors[index % obeyFloors.length]!;
  const kit = obeyKits[(index + Math.floor(index / 4)) % obeyKits.length]!;
  const visits = [...Array.from({ length: telling.earlierDays }, (_, day) => day + 1), undefined];
  let prior: AthletePrior | undefined;
  let holds: readonly ObeyedHold[] = [];
  for (const visit of visits) {
    const athlete = factory({
      seed: 50_000 + 1_000 * seed + index,
      kind: index % 3 === 2 ? 'interval' : 'maximal',
      kit,
      lungs,
      beyondFloorPercent: floorPercent,
      visit,
    });
    ({ holds, prior } = obeyForecast(athlete, {
      floorPercent,
      marksStarts: telling.marksStarts,
      ...(telling.saysLungs && { sayLungs }),
      prior,
    }));
  }
  return holds.map((hold) => ({ ...hold, telling: telling.name }));
}

/** `sessionsEach` sessions for each state of the lungs and for each way of telling. */
export function scoreObedience(factory: AthleteFactory, seed: number, sessionsEach: number) {
  const holds: ToldHold[] = [];
  for (const telling of tellings)
    for (const lungs of ['full', 'half', 'emptied'] as const)
      for (let index = 0; index < sessionsEach; index++)
        holds.push(...obeySession(factory, seed, index, lungs, telling));
  const of = (telling: string, lungs?: Lungs) =>
    summariseObeyed(holds.filter((h) => h.telling === telling && (lungs === undefined || h.lungs === lungs)));
  return Object.fromEntries(
    tellings.map(({ name }) => [
      name,
      {
        all: of(name),
        full: of(name, 'full'),
        half: of(name, 'half'),
        emptied: of(name, 'emptied'),
        bySensors: Object.fromEntries(
          obeyKits.map((kit) => [
            kit,
            summariseObeyed(holds.filter((h) => h.telling === name && h.conditions['sensors'] === kit)),
          ]),
        ),
      },
    ]),
  );
}
