import { describe, expect, test } from 'vitest';
import { monotonicMs } from '../../../shared/units.ts';
import { saidInEnglish } from '../../../shared/words/en.ts';
import { sayInEnglish } from '../../../shared/words/say.ts';
import type { Hold } from '../../../src/holds/hold.ts';
import { measureTable, sessionMeasureTable } from '../../../src/holds/measure-table.ts';
import { computeHoldMeasures, computeSessionMeasures } from '../../../src/holds/measures.ts';
import type { Sample } from '../../../src/samples/sample.ts';

const boundary = (seconds: number) => ({
  atMs: monotonicMs(seconds * 1_000),
  uncertaintyMs: 0,
  declaredAtMs: monotonicMs(seconds * 1_000),
  source: 'mark' as const,
  evidence: [],
});
const hold = (start: number, end: number, contractions: number[] = []): Hold => ({
  holdId: `h${start}`,
  start: boundary(start),
  end: boundary(end),
  contractionsAtMs: contractions.map((s) => monotonicMs(s * 1_000)),
});
const at = (channel: Sample['channel'], seconds: number, value: number): Sample => ({
  channel,
  atMs: monotonicMs(seconds * 1_000),
  value,
  sensorId: 's',
  quality: 'good',
  reasons: [],
});

/**
 * Drawn by hand: hold from 200 s to 400 s; saturation 98 until 320 s, then 0.1 %/s down to 88 at 420 s (20 s after the
 * end), back to 98 over 20 s; heart rate 60 at rest, 45 from 230 s on, 60 from 404 s on.
 */
const drawn: Sample[] = [];
for (let t = 60; t <= 520; t++) {
  const spo2 = t < 320 ? 98 : t <= 420 ? 98 - 0.1 * (t - 320) : Math.min(98, 88 + 0.5 * (t - 420));
  drawn.push(at('spo2Percent', t, spo2), at('heartRateBpm', t, t >= 230 && t < 404 ? 45 : 60));
}

describe('measures of a hold', () => {
  const measures = computeHoldMeasures(hold(200, 400, [310, 330, 350]), drawn).values;
  const near = (key: string, value: number, within: number): void => {
    expect(Math.abs(measures[key]! - value), key).toBeLessThanOrEqual(within);
  };

  test('agree with what was drawn', () => {
    near('durationS', 200, 0);
    near('contractionCount', 3, 0);
    near('timeToFirstContractionS', 110, 0);
    near('timeAfterFirstContractionS', 90, 0);
    near('shareBeforeContractionsPercent', 55, 1e-9);
    near('spo2AtStartPercent', 98, 0);
    near('spo2LowestPercent', 88, 1e-9);
    near('spo2LowestAfterEndS', 20, 0.5);
    near('spo2FallRatePercentPerMin', 6, 0.1);
    // Below 90 from 401 s, falling, to 423 s, rising.
    near('timeBelow90S', 23, 1);
    // Triangles: 20 s x 2 % / 2 and 4 s x 2 % / 2.
    near('areaBelow90PercentS', 24, 1);
    near('timeBelow85S', 0, 0);
    near('timeBackTo95S', 34, 0.5);
    near('heartRateRestBpm', 60, 0);
    near('heartRateLowestBpm', 45, 0);
    near('heartRateFallPercent', 25, 1e-9);
    // Seconds up to 404 are at 45: the first three at 60 are (404, 407].
    near('heartRateBackS', 5.5, 1);
    near('heartRateHalfBackS', 4.5, 1);
    // Back within 1 % of 98 when 97 is reached, 18 s after 420 s.
    near('spo2BaselinePercent', 98, 0);
    near('spo2BackToBaselineS', 38, 0.5);
    // From 88 at 420 s to 93 at 430 s.
    near('spo2HalfTimeS', 10, 0.5);
    near('spo2SteepestFallPercentPerMin', 6, 1e-6);
    near('heartRateInitialPeakBpm', 60, 0);
    // 60 until 230 s, then 45.
    near('heartRateHalfFallS', 30, 1.5);
    near('heartRateMostFallS', 30, 1.5);
    near('heartRateCoveragePercent', 100, 0);
  });

  test('what the signals do not tell is null, never zero', () => {
    const nothing = computeHoldMeasures(hold(200, 400), []).values;
    for (const { key } of measureTable) {
      expect([key, nothing[key]]).toEqual([key, key === 'durationS' ? 200 : null]);
    }
    expect(measures['rmssdRestMs']).toBeNull();
  });

  test('each unknown measure says its own reason', () => {
    const { values, whyNot } = computeHoldMeasures(hold(200, 400), drawn, { nextStartMs: 425_000 });
    expect(Object.keys(whyNot).sort()).toEqual(
      Object.keys(values)
        .filter((key) => values[key] === null)
        .sort(),
    );
    expect(whyNot).toMatchObject({
      spo2BackToBaselineS: 'notBackBeforeNext',
      contractionCount: 'noMark',
      rmssdRestMs: 'noBeats',
    });
    const level = computeHoldMeasures(
      hold(200, 400),
      drawn.map((s) => ({ ...s, value: s.channel === 'spo2Percent' ? 98 : 60 })),
    );
    expect(level.whyNot).toMatchObject({
      spo2LowestAfterEndS: 'smallFall',
      spo2BackToBaselineS: 'smallFall',
      timeBackTo95S: 'never95',
      heartRateBackS: 'rateNotLower',
      heartRateHalfFallS: 'noRateFall',
    });
    const unended = { holdId: 'h', start: boundary(200), contractionsAtMs: [] };
    expect(computeHoldMeasures(unended, drawn).whyNot).toMatchObject({
      durationS: 'noEnd',
      heartRateBackS: 'noEnd',
      spo2HalfTimeS: 'noEnd',
    });
    for (const reason of new Set([...Object.values(whyNot), ...Object.values(level.whyNot)]))
      expect(Object.keys(saidInEnglish)).toContain(`measure.why.${reason}`);
  });

  test('a hold soon after another takes the rest of saturation that was known before', () => {
    const soon = computeHoldMeasures(hold(200, 400), drawn, {
      previousEndMs: 190_000,
      previousBaselinePercent: 97,
    });
    expect(soon.values['spo2BaselinePercent']).toBe(97);
    expect(computeHoldMeasures(hold(200, 400), drawn, { previousEndMs: 190_000 }).whyNot).toMatchObject({
      spo2BaselinePercent: 'noSaturationBefore',
      spo2BackToBaselineS: 'noSaturationBefore',
    });
  });

  test('the table names exactly what is computed', () => {
    expect(Object.keys(measures).sort()).toEqual(measureTable.map(({ key }) => key).sort());
    const session = computeSessionMeasures([hold(200, 400)], [measures]);
    expect(Object.keys(session.values).sort()).toEqual(sessionMeasureTable.map(({ key }) => key).sort());
    for (const { source, unit } of [...measureTable, ...sessionMeasureTable])
      expect(Math.min(sayInEnglish(source).length, unit.length)).toBeGreaterThan(0);
    const worded = new Set(Object.keys(saidInEnglish));
    for (const { key } of measureTable)
      expect(
        [`measure.${key}`, `measure.${key}.is`].every((code) => worded.has(code)),
        key,
      ).toBe(true);
    for (const { key } of sessionMeasureTable) expect(worded.has(`sessionMeasure.${key}.is`), key).toBe(true);
  });

  test('readings in doubt do not make a lowest value', () => {
    const dipped = drawn.map((s) =>
      s.channel === 'spo2Percent' && s.atMs === 250_000
        ? { ...s, value: 70, quality: 'suspect' as const }
        : s,
    );
    expect(computeHoldMeasures(hold(200, 400), dipped).values['spo2LowestPercent']).toBeCloseTo(88, 6);
  });

  test('resting variability is that of the intervals before', () => {
    const rr: Sample[] = [];
    let t = 60;
    for (let i = 0; t < 420; i++) {
      const value = i % 2 === 0 ? 980 : 1_020;
      t += value / 1_000;
      rr.push(at('rrIntervalMs', t, value));
    }
    // Alternating by 40 ms: RMSSD is 40 ms by definition, SDNN 20 ms (but for N - 1).
    const rested = computeHoldMeasures(hold(200, 400), rr).values;
    expect(rested['rmssdRestMs']).toBeCloseTo(40, 6);
    expect(Math.abs(rested['sdnnRestMs']! - 20)).toBeLessThan(0.3);
  });
});

test('a session: work to recovery, trend, lag', () => {
  const holds = [hold(100, 160), hold(280, 350), hold(470, 550)];
  const { values, notKnown } = computeSessionMeasures(
    holds,
    holds.map((one) => computeHoldMeasures(one, []).values),
  );
  expect(values['holdCount']).toBe(3);
  expect(values['totalHoldS']).toBe(210);
  expect(values['workToRecoveryRatio']).toBeCloseTo(130 / 240, 9);
  expect(values['durationTrendSPerHold']).toBe(10);
  expect(values['lowestSpo2Percent']).toBeNull();
  expect(notKnown.length).toBeGreaterThan(0);
});
