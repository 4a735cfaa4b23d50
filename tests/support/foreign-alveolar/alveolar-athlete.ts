// Foreign generator 1 (SIMULATED): sessions of a gas-exchanging body, in packets. Written from published-values and papers
// alone, without sight of the detector, the forecast, or the other simulators.

import { chanceFrom } from '../scoring/chance.ts';
import {
  type AthleteFactory,
  type AthleteOptions,
  eachSecond,
  type HoldCourse,
  latestKeeping,
  type SessionKind,
} from '../scoring/living-athlete.ts';
import type { Lungs, TrueHold } from '../scoring/scored-session.ts';
import {
  type Activity,
  type Body,
  breatheToHold,
  copyOf,
  displayedSaturation,
  newBody,
  openAirway,
  stepBody,
  stepS,
} from './alveolar-body.ts';
import { drawPerson } from './alveolar-person.ts';
import { wearSensors } from './worn-sensors.ts';

/** A stretch of the session: time spent breathing in one way, or a hold. */
type Stretch =
  | { readonly does: 'breathe'; readonly activity: Activity; readonly forS: number; readonly moves?: boolean }
  /** Until a share of what would bring the reading to `floorPercent`. */
  | { readonly does: 'hold'; readonly share: number; readonly floorPercent: number };

type Draw = ReturnType<typeof chanceFrom>;

const breathe = (activity: Activity, forS: number, moves = false): Stretch => ({
  does: 'breathe',
  activity,
  forS,
  moves,
});

/** Minutes of breathing, of several kinds, with movement now and then. */
function filler(chance: Draw, forS: number, restless: number): Stretch[] {
  const parts: Stretch[] = [];
  let left = forS;
  while (left > 0) {
    const partS = Math.min(left, chance.range(30, 140));
    left -= partS;
    const activity = chance.happens(restless)
      ? chance.oneOf<Activity>(['talking', 'talking', 'walking', 'deep', 'paced'])
      : 'quiet';
    parts.push(breathe(activity, partS, activity === 'walking' || chance.happens(restless * 0.4)));
  }
  return parts;
}

function planOf(kind: SessionKind, chance: Draw): Stretch[] {
  const before = (forS: number): Stretch =>
    breathe(chance.oneOf<Activity>(['quiet', 'paced', 'paced', 'deep']), forS);
  const hold = (share: number, floorPercent: number): Stretch => ({ does: 'hold', share, floorPercent });
  const start = filler(chance, chance.range(90, 180), kind === 'messy' ? 0.6 : 0.1);
  switch (kind) {
    case 'noHolds':
      return filler(chance, chance.range(1_200, 1_800), chance.range(0.1, 0.7));
    case 'maximal':
      return [
        ...start,
        ...Array.from({ length: chance.oneOf([1, 2, 3]) }, () => [
          before(chance.range(60, 150)),
          hold(chance.range(0.9, 1.08), chance.range(72, 86)),
          ...filler(chance, chance.range(180, 300), 0.1),
        ]).flat(),
      ];
    case 'table': {
      const share = chance.range(0.45, 0.65);
      return [
        ...start,
        ...Array.from({ length: 7 }, (_, i) => [
          hold(share, 86),
          breathe(i % 2 === 0 ? 'quiet' : 'deep', Math.max(20, 130 - 15 * i)),
        ]).flat(),
        ...filler(chance, 120, 0.2),
      ];
    }
    case 'interval':
      return [
        ...start,
        ...Array.from({ length: 5 }, () => [
          hold(chance.range(0.4, 0.7), 88),
          before(chance.range(45, 100)),
        ]).flat(),
        ...filler(chance, 120, 0.1),
      ];
    case 'beginner':
      return [
        ...start,
        ...Array.from({ length: 6 }, () => [
          hold(chance.range(0.15, 0.5), 90),
          ...filler(chance, chance.range(40, 120), 0.25),
        ]).flat(),
      ];
    case 'messy':
      return [
        ...start,
        ...Array.from({ length: 5 }, () => [
          hold(chance.range(0.3, 0.8), 86),
          ...filler(chance, chance.range(60, 180), 0.7),
        ]).flat(),
      ];
  }
}

/** Lung volume at which the airway is shut. Emptied: near residual; half: about half of the vital capacity. */
export function holdVolumeL(lungs: Lungs, { person }: Body, chance: Draw): number {
  const { residualL, totalLungL } = person.gas;
  const vital = totalLungL - residualL;
  if (lungs === 'full') return residualL + vital * chance.range(0.85, 0.99);
  if (lungs === 'half') return residualL + vital * chance.range(0.42, 0.62);
  return residualL + vital * chance.range(0.02, 0.2);
}

/** The lowest displayed reading of a hold that began as `atStart` and is ended after `holdS`. */
function lowestReading(atStart: Body, holdS: number): number {
  const body = copyOf(atStart, 97);
  const steps = Math.round(holdS / stepS);
  let lowest = 101;
  for (let i = 0; i < steps + 90 / stepS; i++) {
    if (i === steps) openAirway(body);
    stepBody(body);
    if (i % 5 === 0) lowest = Math.min(lowest, displayedSaturation(body));
  }
  return lowest + body.person.readingBias;
}

/** How often a course asks what would come of stopping. */
const courseStepS = 4;
/** The course of a hold that began as `atStart`. Its lowest values are told once the display has risen again by a point. */
export function courseOf(atStart: Body, untilPercent: number): HoldCourse {
  const body = copyOf(atStart, 97);
  const bias = body.person.readingBias;
  const displayed: number[] = [];
  const lowest: number[] = [];
  for (let second = 0; second <= 600; second++) {
    displayed.push(displayedSaturation(body) + bias);
    if (second % courseStepS === 0) {
      const stopped = copyOf(body, 97);
      openAirway(stopped);
      let least = displayedSaturation(stopped);
      for (let step = 0; step < 90 / stepS; step++) {
        stepBody(stopped);
        if (step % 5 !== 4) continue;
        const shown = displayedSaturation(stopped);
        least = Math.min(least, shown);
        if (step > 35 / stepS && shown > least + 1) break;
      }
      lowest.push(least + bias);
      if (least + bias < untilPercent) break;
    }
    for (let step = 0; step < 1 / stepS; step++) stepBody(body);
  }
  return { displayed, lowestIfStopped: eachSecond(lowest, courseStepS) };
}

/** Streams of chance: who the person is, what this day brings, what the sensors do. */
function chancesOf({ seed, kind, visit }: AthleteOptions) {
  const first = chanceFrom(seed * 7_919 + 13);
  const person = drawPerson(first, kind);
  return visit === undefined
    ? { person, chance: first, sensing: chanceFrom(seed * 104_729 + 7) }
    : {
        person,
        chance: chanceFrom(seed * 7_919 + 13 + 1_000_003 * visit),
        sensing: chanceFrom(seed * 104_729 + 7 + 1_000_003 * visit),
      };
}

export const alveolarAthlete: AthleteFactory = (options: AthleteOptions) => {
  const { person, chance, sensing } = chancesOf(options);
  const body = newBody(person, chance);
  const sensors = wearSensors(options.kit, sensing);
  const plan = planOf(options.kind, chance);
  const holds: TrueHold[] = [];
  let index = -1;
  let endsAtS = 0;
  let moves = false;
  let lungs: Lungs = 'full';
  let getting: Extract<Stretch, { does: 'hold' }> | undefined;
  let atStart: Body | undefined;
  let holding: { startMs: number; lungs: Lungs } | undefined;
  let nextContractionS = 0;
  let contractionFromS = Number.POSITIVE_INFINITY;
  /** Nobody plans more than seven minutes, but who means to go beyond the floor must be able to. */
  const longestS = options.beyondFloorPercent === undefined ? 420 : 660;
  const millis = (): number => Math.round(body.state.atS * 1_000);

  const safeS = (floorPercent: number): number =>
    latestKeeping(600, floorPercent, (holdS) => lowestReading(atStart!, holdS));

  function begin(stretch: Stretch | undefined): void {
    if (stretch === undefined) return;
    if (stretch.does === 'breathe') {
      if (body.state.activity !== 'recovering' || body.state.atS - body.state.openSinceS > 25)
        body.state.activity = stretch.activity;
      body.state.pacePerMin = chance.range(3.8, 6.2);
      moves = stretch.moves ?? false;
      endsAtS = body.state.atS + stretch.forS;
      return;
    }
    moves = false;
    getting = stretch;
    lungs = options.lungs ?? chance.oneOf<Lungs>(['full', 'full', 'full', 'half', 'emptied']);
    endsAtS = Number.POSITIVE_INFINITY;
    breatheToHold(body, holdVolumeL(lungs, body, chance), chance.range(1.8, 4));
  }

  function shut(stretch: Extract<Stretch, { does: 'hold' }>): void {
    getting = undefined;
    atStart = copyOf(body, 1);
    holding = { startMs: millis(), lungs };
    const wishedS =
      options.beyondFloorPercent === undefined
        ? stretch.share * safeS(stretch.floorPercent)
        : safeS(options.beyondFloorPercent) + chance.range(15, 45);
    const forS = Math.max(options.kind === 'beginner' ? 12 : 15, Math.min(longestS, wishedS));
    endsAtS = body.state.atS + forS;
    contractionFromS = body.state.atS + person.contractionsFrom * Math.max(forS, safeS(80));
    nextContractionS = contractionFromS;
  }

  function open(): void {
    holds.push({
      startMs: holding!.startMs,
      endMs: millis(),
      lungs: holding!.lungs,
      lowestSpo2Percent: lowestReading(atStart!, (millis() - holding!.startMs) / 1_000),
    });
    holding = undefined;
    openAirway(body);
    index += 1;
    begin(plan[index]);
  }

  /** The push of an involuntary breathing movement, in litres; each lasts about a second, 2 to 6 s apart (from memory). */
  function contraction(): number {
    const { atS } = body.state;
    if (holding === undefined || atS < contractionFromS) return 0;
    if (atS > nextContractionS + 1) nextContractionS = atS + chance.range(1.5, 5);
    return atS < nextContractionS ? 0 : 0.5 * Math.sin(Math.PI * Math.min(1, atS - nextContractionS));
  }

  return {
    conditions: {
      kind: options.kind,
      sensors: options.kit,
      arrhythmia: person.arrhythmiaBpm < 2.5 ? 'little' : 'usual',
      ...(options.lungs !== undefined && { lungs: options.lungs }),
    },
    get nowMs() {
      return millis();
    },
    get isOver() {
      return index >= plan.length;
    },
    get hold() {
      return holding;
    },
    holds,
    live() {
      for (let i = 0; i < 1 / stepS && index < plan.length; i++) {
        if (getting !== undefined && body.state.chest === 'shut') shut(getting);
        if (body.state.atS >= endsAtS) {
          if (holding !== undefined) open();
          else {
            index += 1;
            begin(plan[index]);
          }
        }
        stepBody(body);
        sensors.step(body, moves, contraction());
      }
      return sensors.takeSent();
    },
    breatheNow() {
      if (holding !== undefined) open();
    },
    latestSafeStopMs: (floorPercent) => Math.round((atStart!.state.atS + safeS(floorPercent)) * 1_000),
    courseOfHold: (untilPercent) => courseOf(atStart!, untilPercent),
  };
};
