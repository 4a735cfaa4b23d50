// Movements are told from falls, and no oximeter that shows less is silenced by one that shows more.

import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { monotonicMs } from '../../../shared/units.ts';
import { createForecaster } from '../../../src/oxygen/forecaster.ts';
import { createMovementDip } from '../../../src/oxygen/movement-dip.ts';

const heard = (percents: readonly number[], everyS = 1): boolean[] => {
  const dip = createMovementDip();
  return percents.map((percent, index) => !dip.isOfDip(index * everyS * 1_000, percent));
};

describe('dips of a movement', () => {
  it('leaves out a drop within a second and what follows until it is back', () => {
    expect(heard([97, 97, 91, 86, 84, 85, 91, 97, 97])).toEqual([
      true,
      true,
      false,
      false,
      false,
      false,
      false,
      true,
      true,
    ]);
  });

  it('heeds a low that lasts', () => {
    const low = heard([97, 97, ...new Array<number>(20).fill(88)]);
    expect(low.indexOf(true, 2)).toBeLessThanOrEqual(15);
    expect(low.slice(15)).not.toContain(false);
  });

  it('hears the lower of two oximeters', () => {
    const low = heard(
      Array.from({ length: 120 }, (_, index) => (index % 2 === 0 ? 97 : 92)),
      0.5,
    ).filter((_, index) => index % 2 === 1);
    expect(low.filter((isHeard) => !isHeard).length).toBeLessThanOrEqual(4);
  });

  it('leaves out nothing of a fall of up to 2 points a second', () => {
    fc.assert(
      fc.property(fc.array(fc.integer({ min: -2, max: 2 }), { minLength: 5, maxLength: 60 }), (steps) => {
        let percent = 99;
        const percents = steps.map((step) => {
          percent = Math.min(100, Math.max(50, percent + step));
          return percent;
        });
        expect(heard(percents)).not.toContain(false);
      }),
    );
  });
});

/** A hold with full lungs that falls 0.2 points a second from its 100th second on, marked; when is stopping advised? */
function advisedAtS(readingAt: (atS: number, percent: number) => number): number | undefined {
  const forecaster = createForecaster({ floorSpo2Percent: 88 });
  for (let atS = 0; atS < 260; atS++) {
    const atMs = monotonicMs(atS * 1_000);
    if (atS === 60) {
      forecaster.push({ type: 'lungs', atMs, lungs: 'full' });
      forecaster.push({ type: 'holdStarted', atMs, start: { atMs, uncertaintyMs: 0 } });
    }
    const percent = Math.round(98 - 0.2 * Math.max(0, atS - 160));
    const forecast = forecaster.push({
      type: 'spo2',
      atMs,
      spo2Percent: readingAt(atS, percent),
      quality: 'good',
    });
    if (forecast.known && forecast.stopAdvised) return atS;
  }
  return undefined;
}

describe('the forecast while a finger moves', () => {
  it('is not called by a movement long before the fall', () => {
    const dip = [89, 85, 83, 82, 81, 82, 84, 88, 92];
    const withDip = advisedAtS((atS, percent) => dip[atS - 120] ?? percent);
    const without = advisedAtS((_, percent) => percent);
    expect(withDip).toBeGreaterThan(160);
    expect(Math.abs(withDip! - without!)).toBeLessThanOrEqual(2);
  });

  it('calls at most 5 s later when a movement of 9 s lies over the fall', () => {
    const without = advisedAtS((_, percent) => percent)!;
    for (let beforeS = 0; beforeS <= 14; beforeS += 2) {
      const fromS = without - beforeS;
      const advised = advisedAtS((atS, percent) =>
        atS >= fromS && atS < fromS + 9 ? percent - 8 : percent,
      )!;
      expect(advised).toBeLessThanOrEqual(without + 5);
    }
  });
});
