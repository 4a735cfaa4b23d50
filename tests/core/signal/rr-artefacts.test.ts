import { readFileSync } from 'node:fs';
import * as fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { rmssdMs, sdnnMs } from '../../../src/signal/heart-rate-variability.ts';
import { classifyRr, correctRr } from '../../../src/signal/rr-artefacts.ts';

const real = readFileSync(new URL('../../../fixtures/rr-intervals/real_rri.txt', import.meta.url), 'utf8')
  .trim()
  .split('\n')
  .map(Number)
  .filter((rr) => rr > 300);

/** Rest with respiratory swing, as a strap gives it. */
const clean = Array.from({ length: 200 }, (_, i) => 900 + 40 * Math.sin(i / 1.9) + 7 * Math.sin(i * 12.9898));

describe('artefacts in RR intervals', () => {
  test('a real rest recording: RMSSD and SDNN as an independent program computed them', () => {
    // numpy: sqrt(mean(diff(rr)^2)) and std(rr, ddof=1) of the same file.
    expect(rmssdMs(real)).toBeCloseTo(72.27062236581928, 6);
    expect(sdnnMs(real)).toBeCloseTo(75.03213712287736, 6);
  });

  test('clean intervals are left alone', () => {
    expect(classifyRr(clean).filter((verdict) => verdict !== undefined)).toEqual([]);
  });

  test('a missed beat is found and put in', () => {
    const broken = [...clean.slice(0, 100), clean[100]! + clean[101]!, ...clean.slice(102)];
    expect(classifyRr(broken)[100]).toBe('missedBeat');
    const { correctedMs } = correctRr(broken);
    expect(correctedMs.length).toBe(clean.length);
    expect(Math.abs(rmssdMs(correctedMs)! / rmssdMs(clean)! - 1)).toBeLessThan(0.08);
  });

  test('an extra beat is found and taken out', () => {
    const broken = [...clean.slice(0, 80), 0.4 * clean[80]!, 0.6 * clean[80]!, ...clean.slice(81)];
    expect(classifyRr(broken)[80]).toBe('extraBeat');
    const { correctedMs } = correctRr(broken);
    expect(correctedMs.length).toBe(clean.length);
    expect(correctedMs[80]).toBeCloseTo(clean[80]!, 6);
  });

  test('an early beat with its pause is found and smoothed', () => {
    const broken = [...clean];
    broken[120] = clean[120]! * 0.68;
    broken[121] = clean[121]! * 1.32;
    const verdicts = classifyRr(broken);
    expect([verdicts[120], verdicts[121]]).toContain('ectopicBeat');
    expect(rmssdMs(correctRr(broken).correctedMs)!).toBeLessThan(rmssdMs(broken)!);
  });

  test('correction keeps the time, whatever comes, when only beats are missed or extra', () => {
    fc.assert(
      fc.property(fc.array(fc.double({ min: 300, max: 2_500, noNaN: true }), { maxLength: 150 }), (rr) => {
        const { verdicts, correctedMs, touched } = correctRr(rr);
        expect(verdicts.length).toBe(rr.length);
        expect(touched.length).toBe(correctedMs.length);
        expect(correctedMs.every((value) => value > 0 && Number.isFinite(value))).toBe(true);
      }),
      { numRuns: 100 },
    );
  });
});
