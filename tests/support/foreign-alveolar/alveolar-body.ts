// A breathing, circulating body in steps of a tenth of a second: the chest's movements drive gas exchange, heart rate and
// the finger's saturation. It can be copied, so that "what if breathing began here" can be asked.

import { type Chance, chanceFrom } from '../scoring/chance.ts';
import type { AlveolarPerson } from './alveolar-person.ts';
import { type GasState, restedGas, stepGas } from './gas-body.ts';

export type Activity = 'quiet' | 'deep' | 'paced' | 'talking' | 'walking' | 'recovering';

export const stepS = 0.1;
/** History of arterial saturation kept for the way to the finger. */
const historySteps = 600;

export interface BodyState {
  atS: number;
  activity: Activity;
  pacePerMin: number;
  chest: 'moving' | 'shut';
  volumeL: number;
  /** The leg of a breath in progress: from one volume to another by a raised cosine. */
  leg: { fromL: number; toL: number; fromS: number; untilS: number; next: 'out' | 'rest' | 'in' | 'shut' };
  /** Timing of the legs of this breath that are still to come. */
  breath: { readonly outS: number; readonly restS: number };
  shutSinceS: number;
  openSinceS: number;
  effort: number;
  gas: GasState;
  slowingBpm: number;
  reboundBpm: number;
  struggle: number;
  arrhythmiaFast: number;
  arrhythmiaSlow: number;
  heartBpm: number;
  saturations: number[];
  finger: number;
  displayed: number[];
}

export interface Body {
  readonly state: BodyState;
  readonly person: AlveolarPerson;
  readonly chance: Chance;
}

export function newBody(person: AlveolarPerson, chance: Chance): Body {
  const { restingL } = person.gas;
  return {
    person,
    chance,
    state: {
      atS: 0,
      activity: 'quiet',
      pacePerMin: 6,
      chest: 'moving',
      volumeL: restingL,
      leg: { fromL: restingL, toL: restingL, fromS: 0, untilS: 1, next: 'in' },
      breath: { outS: 2, restS: 0.3 },
      shutSinceS: 0,
      openSinceS: -1_000,
      effort: 1,
      gas: restedGas(person.gas),
      slowingBpm: 0,
      reboundBpm: 0,
      struggle: 0,
      arrhythmiaFast: restingL,
      arrhythmiaSlow: restingL,
      heartBpm: person.restingBpm,
      saturations: new Array<number>(historySteps).fill(97.5),
      finger: 97.5,
      displayed: new Array<number>(Math.round(person.averagingS / stepS)).fill(97.5),
    },
  };
}

/** The same body for a "what if": its breaths are drawn from a stream of its own. */
export const copyOf = (body: Body, seed: number): Body => ({
  person: body.person,
  chance: chanceFrom(seed),
  state: structuredClone(body.state),
});

/** What the oximeter would show without noise and rounding. */
export function displayedSaturation({ state }: Body): number {
  return state.displayed.reduce((sum, value) => sum + value, 0) / state.displayed.length;
}

/** Moves the chest to the volume of a hold and shuts the airway there. */
export function breatheToHold(body: Body, volumeL: number, withinS: number): void {
  const { state } = body;
  state.leg = {
    fromL: state.volumeL,
    toL: volumeL,
    fromS: state.atS,
    untilS: state.atS + withinS,
    next: 'shut',
  };
}

export function openAirway(body: Body): void {
  const { state, person } = body;
  state.chest = 'moving';
  state.openSinceS = state.atS;
  state.activity = 'recovering';
  const { totalLungL, residualL, restingL } = person.gas;
  // From full lungs air goes out first; from emptied ones it comes in.
  const isFull = state.volumeL > restingL + 0.2 * (totalLungL - residualL);
  const toL = isFull ? restingL : restingL + 0.45 * (totalLungL - restingL);
  state.leg = {
    fromL: state.volumeL,
    toL,
    fromS: state.atS,
    untilS: state.atS + 1.4,
    next: isFull ? 'in' : 'out',
  };
}

/** Size and timing of the next breath: tidal volume in litres, seconds in, out and at rest. */
function nextBreath({ state, person, chance }: Body) {
  const { restingL, totalLungL } = person.gas;
  const reserve = totalLungL - restingL;
  // Breathing answers carbon dioxide: about 2 l/min per mmHg (from memory), here as a share of the tidal volume.
  const drive = Math.max(0.6, Math.min(2.5, 1 + 0.12 * (state.gas.arterialPco2 - 40)));
  const spread = (value: number, share: number): number => value * Math.max(0.3, chance.gauss(1, share));
  switch (state.activity) {
    case 'paced': {
      const cycle = 60 / state.pacePerMin;
      return {
        tidalL: Math.min(0.6 * reserve, spread(1.1, 0.08)),
        inS: 0.4 * cycle,
        outS: 0.55 * cycle,
        restS: 0.05 * cycle,
      };
    }
    case 'deep':
      return {
        tidalL: Math.min(0.7 * reserve, spread(1.5, 0.2)),
        inS: spread(2.4, 0.15),
        outS: spread(3.6, 0.2),
        restS: 0.4,
      };
    case 'talking':
      // In by a quick breath, out over a phrase (Winkworth 1995; Conrad and Schönle 1979, abstracts); the seconds from memory.
      return {
        tidalL: Math.min(0.6 * reserve, spread(0.95 * drive, 0.4)),
        inS: spread(0.55, 0.2),
        outS: chance.range(1.8, 8),
        restS: chance.happens(0.2) ? chance.range(0.5, 2) : 0.1,
      };
    case 'walking':
      return { tidalL: Math.min(0.6 * reserve, spread(1.1 * drive, 0.15)), inS: 1.1, outS: 1.4, restS: 0.1 };
    case 'recovering':
      return {
        tidalL: Math.min(0.75 * reserve, spread(1.9, 0.2)),
        inS: spread(1.4, 0.2),
        outS: spread(1.8, 0.2),
        restS: 0.2,
      };
    case 'quiet': {
      const cycle = spread(60 / person.restingRatePerMin, 0.14);
      // A sigh about every five minutes, of twice a usual breath or more, then often a pause (Vlemincx, from memory).
      if (chance.happens(cycle / 300))
        return {
          tidalL: Math.min(0.6 * reserve, spread(1.4, 0.25)),
          inS: 2,
          outS: 3,
          restS: chance.range(0.5, 7),
        };
      // A swallow stops breathing for about a second (from memory).
      const swallow = chance.happens(cycle / 90) ? chance.range(0.7, 2) : 0;
      return {
        tidalL: Math.min(0.6 * reserve, spread((0.15 + 4.4 / person.restingRatePerMin) * drive, 0.18)),
        inS: 0.38 * cycle,
        outS: 0.47 * cycle,
        restS: 0.15 * cycle + swallow,
      };
    }
  }
}

/** Picks the next leg of the breath. */
function turn(body: Body): void {
  const { state, person, chance } = body;
  const { restingL } = person.gas;
  const fromS = state.atS;
  if (state.leg.next === 'shut') {
    state.chest = 'shut';
    state.shutSinceS = state.atS;
    return;
  }
  if (state.leg.next === 'in') {
    if (state.activity === 'recovering' && state.atS - state.openSinceS > chance.range(18, 45))
      state.activity = 'quiet';
    const breath = nextBreath(body);
    state.breath = breath;
    state.leg = {
      fromL: state.volumeL,
      toL: restingL + breath.tidalL,
      fromS,
      untilS: fromS + Math.max(0.3, breath.inS),
      next: 'out',
    };
  } else if (state.leg.next === 'out') {
    state.leg = {
      fromL: state.volumeL,
      toL: restingL,
      fromS,
      untilS: fromS + Math.max(0.4, state.breath.outS),
      next: 'rest',
    };
  } else {
    state.leg = {
      fromL: state.volumeL,
      toL: restingL,
      fromS,
      untilS: fromS + Math.max(0.05, state.breath.restS),
      next: 'in',
    };
  }
}

/** Heart rate without its noise; lung volume acts through a one-pole filter and fades as baroreceptors adapt. */
function stepHeart(body: Body): void {
  const { state, person } = body;
  const isShut = state.chest === 'shut';
  const saturation = state.gas.arterialSaturation * 100;
  const wanted = isShut
    ? person.slowing * person.restingBpm + person.hypoxicSlowing * Math.max(0, 94 - saturation)
    : 0;
  // Slowing comes within half a minute (3.02); it is gone about 5 s after the first breath (3.09).
  state.slowingBpm += ((wanted - state.slowingBpm) * stepS) / (isShut ? person.slowingTauS : 2.5);
  const sinceOpen = state.atS - state.openSinceS;
  const rebound = !isShut && sinceOpen < 15 ? 6 + 0.3 * Math.max(0, 95 - saturation) : 0;
  state.reboundBpm += ((rebound - state.reboundBpm) * stepS) / 4;
  const struggle = isShut && state.gas.arterialPco2 > 48 ? Math.min(1, (state.gas.arterialPco2 - 48) / 8) : 0;
  state.struggle += ((struggle - state.struggle) * stepS) / 5;
  state.arrhythmiaFast += ((state.volumeL - state.arrhythmiaFast) * stepS) / person.arrhythmiaTauS;
  state.arrhythmiaSlow += ((state.volumeL - state.arrhythmiaSlow) * stepS) / 12;
  const swing = person.arrhythmiaBpmPerL * (state.arrhythmiaFast - state.arrhythmiaSlow);
  state.heartBpm = Math.max(
    28,
    person.restingBpm * (1 + 0.35 * (state.effort - 1)) -
      state.slowingBpm +
      state.reboundBpm +
      person.struggleBpm * state.struggle +
      // Large breaths no longer add in proportion: slow deep breathing swings 20 ± 5 /min (Hirsch and Bishop 1981).
      13 * Math.tanh(swing / 13),
  );
}

export function stepBody(body: Body): void {
  const { state, person } = body;
  state.atS += stepS;
  let imposed: number | undefined;
  if (state.chest === 'moving') {
    if (state.atS >= state.leg.untilS) {
      state.volumeL = state.leg.toL;
      turn(body);
    }
    const { fromL, toL, fromS, untilS } = state.leg;
    const through = Math.min(1, Math.max(0, (state.atS - fromS) / (untilS - fromS)));
    state.volumeL = fromL + (toL - fromL) * 0.5 * (1 - Math.cos(Math.PI * through));
    if ((state.chest as string) === 'moving') imposed = state.volumeL;
  }
  const effortWanted = state.activity === 'walking' ? 2.6 : state.activity === 'talking' ? 1.15 : 1;
  state.effort += ((effortWanted - state.effort) * stepS) / 25;
  const heldFor = state.chest === 'shut' ? state.atS - state.shutSinceS : 0;
  const saved = 1 - person.gas.saving * Math.min(1, heldFor / 60);
  const outputRatio = Math.max(
    0.5,
    (0.35 + (0.65 * state.heartBpm) / person.restingBpm) * (0.5 + 0.5 * state.effort),
  );
  stepGas(state.gas, person.gas, imposed, state.effort * saved, outputRatio, stepS);
  stepHeart(body);

  state.saturations.push(state.gas.arterialSaturation * 100);
  state.saturations.shift();
  // A slower circulation takes longer to the finger (3.24).
  const delayS = Math.min(45, person.circulationS / Math.max(0.6, outputRatio));
  const arriving = state.saturations[Math.max(0, historySteps - 1 - Math.round(delayS / stepS))]!;
  state.finger += ((arriving - state.finger) * stepS) / person.fingerTauS;
  state.displayed.push(state.finger);
  state.displayed.shift();
}
