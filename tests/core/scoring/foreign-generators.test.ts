// The foreign generators against published group values: a generator that no person could be refutes nobody.

import { describe, expect, test } from 'vitest';
import { alveolarAthlete } from '../../support/foreign-alveolar/alveolar-athlete.ts';
import {
  breatheToHold,
  displayedSaturation,
  newBody,
  stepBody,
  stepS,
} from '../../support/foreign-alveolar/alveolar-body.ts';
import { drawPerson } from '../../support/foreign-alveolar/alveolar-person.ts';
import { saturationAt } from '../../support/foreign-alveolar/gas-body.ts';
import { sketchAthlete } from '../../support/foreign-sketch/sketch-athlete.ts';
import { arterialSaturation, displayedReading } from '../../support/foreign-sketch/sketch-curves.ts';
import { drawSketchPerson } from '../../support/foreign-sketch/sketch-person.ts';
import { chanceFrom } from '../../support/scoring/chance.ts';
import { liveThrough, type SessionKind } from '../../support/scoring/living-athlete.ts';
import { quantile } from '../../support/scoring/summarise-verdicts.ts';

const seeds = Array.from({ length: 25 }, (_, i) => i + 1);

test('dissociation is Severinghaus 1979 (reference 1.01, vectors.odc_golden)', () => {
  for (const [po2, percent] of [
    [26, 47.8563],
    [40, 74.9465],
    [60, 90.5797],
    [100, 97.7465],
  ] as const)
    expect(100 * saturationAt(po2, 40)).toBeCloseTo(percent, 3);
});

/** Median over people of the hold time at which arterial and displayed saturation fall below, and of the CO2 risen. */
function alveolarFalls(kind: SessionKind, shareOfVital: number) {
  const arterial95: number[] = [];
  const displayed84: number[] = [];
  const riseIn60s: number[] = [];
  for (const seed of seeds) {
    const chance = chanceFrom(seed);
    const person = drawPerson(chance, kind);
    const body = newBody(person, chance);
    const run = (seconds: number) => {
      for (let i = 0; i < seconds / stepS; i++) stepBody(body);
    };
    run(120);
    const { residualL, totalLungL } = person.gas;
    const restingPco2 = body.state.gas.arterialPco2;
    breatheToHold(body, residualL + (totalLungL - residualL) * shareOfVital, 3);
    run(3.5);
    let belowArterial: number | undefined;
    for (let s = 0; s < 420; s++) {
      run(1);
      if (s === 60) riseIn60s.push(body.state.gas.arterialPco2 - restingPco2);
      if (100 * body.state.gas.arterialSaturation < 95) belowArterial ??= s;
      if (displayedSaturation(body) < 84) {
        displayed84.push(s);
        break;
      }
    }
    arterial95.push(belowArterial ?? 420);
    if (displayed84.length < arterial95.length) displayed84.push(420);
  }
  return {
    arterial95: quantile(arterial95, 0.5)!,
    displayed84: quantile(displayed84, 0.5)!,
    riseIn60s: quantile(riseIn60s, 0.5)!,
  };
}

describe('alveolar', () => {
  test('trained, full lungs: 84 % shown after about 250 s (3.05), CO2 up by 3 to 10 mmHg in a minute', () => {
    const falls = alveolarFalls('maximal', 0.92);
    expect(falls.displayed84).toBeGreaterThan(190);
    expect(falls.displayed84).toBeLessThan(320);
    expect(falls.riseIn60s).toBeGreaterThan(2);
    expect(falls.riseIn60s).toBeLessThan(13);
  });
  test('untrained, from resting volume: arterial 95 % after 22 s or so (2.29), CO2 up by 7 to 14 (2.15 to 2.18)', () => {
    const falls = alveolarFalls('beginner', 0.3);
    expect(falls.arterial95).toBeGreaterThan(10);
    expect(falls.arterial95).toBeLessThan(32);
    expect(falls.riseIn60s).toBeGreaterThan(6);
    expect(falls.riseIn60s).toBeLessThan(14);
  });
});

describe('sketch', () => {
  const people = (kind: SessionKind) => seeds.map((seed) => drawSketchPerson(chanceFrom(seed), kind));
  test('the reading trails the blood by 10 to 40 s (3.19 to 3.27)', () => {
    for (const person of people('maximal')) {
      const centre = person.displayKernel.reduce((sum, weight, s) => sum + weight * s, 0);
      expect(centre).toBeGreaterThan(7);
      expect(centre).toBeLessThan(40);
    }
  });
  test('trained, full lungs: nothing lost in the first minute, 84 % shown between 150 and 350 s', () => {
    const times = people('maximal').map((person) => {
      const holds = [{ startS: 0, stopS: undefined, lungs: 'full' as const, walks: false }];
      expect(arterialSaturation(person, holds, 60)).toBeGreaterThan(person.restingSaturation - 2.5);
      let s = 0;
      while (displayedReading(person, holds, s) >= 84 && s < 500) s += 1;
      return s;
    });
    expect(quantile(times, 0.5)).toBeGreaterThan(150);
    expect(quantile(times, 0.5)).toBeLessThan(350);
  });
});

describe.each([
  ['alveolar', alveolarAthlete],
  ['sketch', sketchAthlete],
] as const)('%s', (name, factory) => {
  test('one seed gives one session, in time order, marked SIMULATED; another gives another', () => {
    const make = (seed: number) =>
      liveThrough(factory({ seed, kind: 'interval', kit: 'beats, oximetry and pleth' }), name, 85);
    const session = make(3);
    expect(make(3)).toEqual(session);
    expect(make(4).events).not.toEqual(session.events);
    expect(session.name).toContain('SIMULATED');
    const times = session.events.map((e) =>
      e.type === 'sample' ? e.sample.atMs : e.type === 'packet' ? e.atMs : -1,
    );
    expect(times.every((t, i) => i === 0 || t >= times[i - 1]!)).toBe(true);
    expect(session.holds.length).toBeGreaterThan(3);
  });
  test('who breathes earlier falls less far, and the session goes on', () => {
    const lowest = (stopAfterMs: number): number => {
      const athlete = factory({ seed: 11, kind: 'maximal', kit: 'oximetry only', lungs: 'full' });
      while (!athlete.isOver) {
        athlete.live();
        if (athlete.hold !== undefined && athlete.nowMs - athlete.hold.startMs >= stopAfterMs)
          athlete.breatheNow();
      }
      return athlete.holds[0]!.lowestSpo2Percent!;
    };
    expect(lowest(60_000)).toBeGreaterThan(lowest(Number.POSITIVE_INFINITY));
  });
});
