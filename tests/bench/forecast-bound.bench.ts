// How much of the time given up for the floor any forecast could save (SIMULATED, the foreign generators): the same planned holds are asked
// of one who knows what will be shown, of forecasters that know the generator itself with and without the person, and of
// the product. Run: npx tsx tests/bench/forecast-bound.bench.ts [--seeds 1,2] [--people 1200] [--sessions 12]

import { mkdirSync, writeFileSync } from 'node:fs';
import { parseArgs } from 'node:util';
import * as alveolar from '../support/foreign-alveolar/thinkable-holds.ts';
import * as sketch from '../support/foreign-sketch/thinkable-holds.ts';
import { askForecaster } from '../support/scoring/asked-forecaster.ts';
import type { HoldCourse, SessionKind } from '../support/scoring/living-athlete.ts';
import {
  followedToPercent,
  latestSafeS,
  lowestAt,
  type PlannedHold,
  type PlannedSession,
  planSession,
  shownAsFloor,
} from '../support/scoring/planned-holds.ts';
import type { Lungs } from '../support/scoring/scored-session.ts';
import { quantile } from '../support/scoring/summarise-verdicts.ts';
import {
  type ChanceCourse,
  chancesIn,
  type OximeterErrors,
  obeyingReactionS,
  type ThinkableHold,
  type ThinkableSet,
} from '../support/scoring/thinking-forecaster.ts';
import { foreignGenerators } from './accuracy-foreign.ts';

const { values } = parseArgs({
  options: {
    seeds: { type: 'string', default: '1,2' },
    people: { type: 'string', default: '1200' },
    sessions: { type: 'string', default: '12' },
  },
});
const seeds = values.seeds.split(',').map(Number);
const states: readonly Lungs[] = ['full', 'half', 'emptied'];
/** As the accuracy bench has them. */
const floors = [80, 85, 88, 90];
const kindOf = (index: number): SessionKind => (index % 3 === 2 ? 'interval' : 'maximal');

// ---- What is thinkable ---------------------------------------------------------------------------------------------

interface Generator {
  readonly errors: OximeterErrors;
  /** Spread of the time to the finger that one person's hold stands for, least to most, s. */
  readonly delays: readonly number[];
  delayOf(seed: number, kind: SessionKind): readonly [own: number, least: number, most: number];
  biasOf(seed: number, kind: SessionKind): number;
  /** The `nth` hold of this person. */
  holdOf(seed: number, kind: SessionKind, lungs: Lungs, nth: number): HoldCourse;
  readonly holdsDiffer: boolean;
}

const generators: Readonly<Record<string, Generator>> = {
  alveolar: {
    errors: { fading: 0.9, noiseStep: 0.12, biasMean: 0, biasSpread: 1 },
    delays: [-6, -3, 0, 3, 6],
    delayOf: (seed, kind) => [alveolar.alveolarPersonOf(seed, kind).circulationS, 9, 20],
    biasOf: (seed, kind) => alveolar.alveolarPersonOf(seed, kind).readingBias,
    holdOf: (seed, kind, lungs, nth) =>
      alveolar.thinkableHold(
        alveolar.alveolarPersonOf(seed, kind),
        lungs,
        seed * 131 + nth,
        followedToPercent,
      ),
    holdsDiffer: true,
  },
  sketch: {
    errors: { fading: 0.85, noiseStep: 0.15, biasMean: 0, biasSpread: 1 },
    delays: [-9, -6, -3, 0, 3, 6, 9],
    delayOf: (seed, kind) => {
      const kernel = sketch.sketchPersonOf(seed, kind).displayKernel;
      return [kernel.length - 40, 6, 22];
    },
    biasOf: (seed, kind) => sketch.sketchPersonOf(seed, kind).restingSaturation - 97.7,
    holdOf: (seed, kind, lungs) =>
      sketch.thinkableHold(sketch.sketchPersonOf(seed, kind), lungs, followedToPercent),
    holdsDiffer: false,
  },
};

const without = (values: readonly number[], bias: number): Float64Array =>
  Float64Array.from(values, (value) => value - bias);

function thinkableOf(generator: Generator, seed: number, kind: SessionKind, lungs: Lungs, nth: number) {
  const course = generator.holdOf(seed, kind, lungs, nth);
  const bias = generator.biasOf(seed, kind);
  return {
    displayed: without(course.displayed, bias),
    lowestIfStopped: without(course.lowestIfStopped, bias),
  };
}

/** People nobody has met, each with two holds and several ways to the finger. */
function population(generator: Generator, lungs: Lungs, people: number): ThinkableSet {
  const holds: ThinkableHold[] = [];
  for (let person = 0; person < people; person++) {
    const seed = 9_000_000 + person;
    const kind = kindOf(person);
    const [own, least, most] = generator.delayOf(seed, kind);
    const laters = generator.delays.filter((later) => own + later >= least && own + later <= most);
    for (let nth = 0; nth < (generator.holdsDiffer ? 2 : 1); nth++) {
      const hold = thinkableOf(generator, seed, kind, lungs, nth);
      for (const laterS of laters) holds.push({ person, laterS, ...hold });
    }
  }
  return { holds, errors: generator.errors, coarseness: 0.25 };
}

/** One person, known for good: only this hold's filling and the noise are not. */
function knownPerson(generator: Generator, { options }: PlannedSession): ThinkableSet {
  const { seed, kind, lungs } = options;
  const count = generator.holdsDiffer ? 40 : 1;
  const holds = Array.from({ length: count }, (_, nth) => ({
    person: 0,
    laterS: 0,
    ...thinkableOf(generator, seed, kind, lungs!, nth),
  }));
  const bias = generator.biasOf(seed, kind);
  return {
    holds,
    errors: { ...generator.errors, biasMean: bias, biasSpread: 0.05 },
    coarseness: 0.3,
  };
}

// ---- Judging --------------------------------------------------------------------------------------------------------

interface Stop {
  readonly hold: PlannedHold;
  readonly floorPercent: number;
  readonly isFirst: boolean;
  /** Seconds into the hold; its planned end where nobody advised anything. */
  readonly stoppedS: number;
}

const isKept = ({ hold, floorPercent, stoppedS }: Stop): boolean =>
  lowestAt(hold.course, stoppedS) >= shownAsFloor(floorPercent);
const givenUpOf = ({ hold, floorPercent, stoppedS }: Stop): number =>
  latestSafeS(hold.course, floorPercent) - stoppedS;

interface Row {
  readonly holds: number;
  readonly kept: number;
  readonly givenUpS: number;
}

function rowOf(stops: readonly Stop[]): Row {
  const kept = stops.filter(isKept);
  return {
    holds: stops.length,
    kept: Math.round((1_000 * kept.length) / stops.length) / 1_000,
    givenUpS: Math.round(10 * quantile(kept.map(givenUpOf), 0.5)!) / 10,
  };
}

interface Judged {
  readonly session: PlannedSession;
  readonly chances: readonly (readonly ChanceCourse[])[];
}

const stopsAt = (judged: readonly Judged[], risk: number): Stop[] =>
  judged.flatMap(({ session, chances }) =>
    session.holds.map((hold, index) => {
      const lastS = hold.endS - hold.startS;
      const advised = chances[index]!.find(({ chance }) => chance >= risk)?.atS ?? lastS;
      return {
        hold,
        floorPercent: session.floorPercent,
        isFirst: index === 0,
        stoppedS: Math.min(lastS, advised + obeyingReactionS),
      };
    }),
  );

/** At the greatest accepted chance with which 95 of 100 keep the floor. */
function atNinetyFive(judged: readonly Judged[]) {
  const risks = [
    0.8, 0.65, 0.5, 0.4, 0.3, 0.25, 0.2, 0.16, 0.13, 0.1, 0.08, 0.06, 0.05, 0.04, 0.03, 0.02, 0.01,
  ];
  const risk = risks.find((one) => rowOf(stopsAt(judged, one)).kept >= 0.95) ?? 0.005;
  return splitOf(stopsAt(judged, risk), risk);
}

const splitOf = (stops: readonly Stop[], risk?: number) => ({
  ...(risk !== undefined && { acceptedChance: risk }),
  all: rowOf(stops),
  first: rowOf(stops.filter(({ isFirst }) => isFirst)),
  later: rowOf(stops.filter(({ isFirst }) => !isFirst)),
  ...Object.fromEntries(
    states.map((lungs) => [lungs, rowOf(stops.filter(({ hold }) => hold.lungs === lungs))]),
  ),
});

function askProduct(
  sessions: readonly PlannedSession[],
  saysLungs: boolean,
  earlier?: readonly PlannedSession[],
) {
  return splitOf(
    sessions.flatMap((session, which) => {
      const prior = earlier === undefined ? undefined : askForecaster(earlier[which]!, saysLungs).prior;
      const { advisedS } = askForecaster(session, saysLungs, prior);
      return session.holds.map((hold, index) => {
        const lastS = hold.endS - hold.startS;
        const stoppedS = Math.min(lastS, (advisedS[index] ?? lastS) + obeyingReactionS);
        return { hold, floorPercent: session.floorPercent, isFirst: index === 0, stoppedS };
      });
    }),
  );
}

function judgeGenerator(name: string) {
  const generator = generators[name]!;
  const { factory } = foreignGenerators.find((one) => one.name === name)!;
  const planned = (visit?: number): PlannedSession[] =>
    seeds.flatMap((seed) =>
      states.flatMap((lungs) =>
        Array.from({ length: Number(values.sessions) }, (_, i) =>
          planSession(factory, {
            seed: 50_000 + 1_000 * seed + i,
            kind: kindOf(i),
            kit: 'oximetry only',
            lungs,
            beyondFloorPercent: floors[i % floors.length]!,
            visit,
          }),
        ),
      ),
    );
  const sessions = planned();
  const earlier = planned(1);
  console.error(`${name}: ${sessions.length} sessions planned`);
  const judgedBy = (setOf: (session: PlannedSession) => ThinkableSet, isRemembered: boolean): Judged[] =>
    sessions.map((session) => ({
      session,
      chances: chancesIn(setOf(session), session.readings, session.holds, session.floorPercent, isRemembered),
    }));
  const sets = Object.fromEntries(
    states.map((lungs) => [lungs, population(generator, lungs, Number(values.people))]),
  );
  const anyLungs: ThinkableSet = {
    ...sets['full']!,
    holds: states.flatMap((lungs) => sets[lungs]!.holds),
  };
  console.error(`${name}: ${anyLungs.holds.length} thinkable holds`);
  const exact: Stop[] = sessions.flatMap(({ holds, floorPercent }) =>
    holds.map((hold, index) => ({
      hold,
      floorPercent,
      isFirst: index === 0,
      // Told on a whole second, so that the breath after the reaction still keeps the floor.
      stoppedS: Math.min(hold.endS - hold.startS, Math.floor(latestSafeS(hold.course, floorPercent))),
    })),
  );
  return {
    knowsWhatWillBeShown: splitOf(exact),
    knowsThePerson: atNinetyFive(judgedBy((session) => knownPerson(generator, session), false)),
    knowsPeopleAndEarlierHolds: atNinetyFive(judgedBy(({ options }) => sets[options.lungs!]!, true)),
    knowsPeople: atNinetyFive(judgedBy(({ options }) => sets[options.lungs!]!, false)),
    knowsPeopleNotTheLungs: atNinetyFive(judgedBy(() => anyLungs, false)),
    product: askProduct(sessions, true),
    productThatKnowsAnEarlierDay: askProduct(sessions, true, earlier),
    productLungsNotSaid: askProduct(sessions, false),
  };
}

const results = Object.fromEntries(
  foreignGenerators.map(({ name }) => [`${name} (SIMULATED)`, judgeGenerator(name)]),
);
for (const [name, byForecaster] of Object.entries(results))
  for (const [forecaster, split] of Object.entries(byForecaster))
    console.log(
      `${name.padEnd(21)} ${forecaster.padEnd(28)} ` +
        Object.entries(split)
          .map(([part, row]) =>
            typeof row === 'number'
              ? `chance ${row}`
              : `${part} ${row.kept.toFixed(3)} (${row.givenUpS.toFixed(1)} s, ${row.holds})`,
          )
          .join('; '),
    );
const root = new URL('../../', import.meta.url).pathname;
mkdirSync(`${root}artefacts`, { recursive: true });
writeFileSync(
  `${root}artefacts/forecast-bound.json`,
  `${JSON.stringify({ seeds, people: Number(values.people), results }, null, 1)}\n`,
);
