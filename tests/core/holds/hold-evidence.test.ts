// What is not said where the signals cannot carry it, what a breathing channel decides, and what becomes of proposals.

import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { monotonicMs } from '../../../shared/units.ts';
import type { DetectorEvent, Hold, HoldEvent } from '../../../src/holds/hold.ts';
import { confidenceOf } from '../../../src/holds/hold-confidence.ts';
import { type EvidenceKind, evidenceKindOf, neededLogOdds } from '../../../src/holds/hold-evidence.ts';
import { createHoldDetector } from '../../../src/holds/live-detector.ts';
import { createRespirationPause } from '../../../src/holds/respiration-pause.ts';
import { estimateHolds, reestimateHolds } from '../../../src/holds/smoothing.ts';
import type { Sample } from '../../../src/samples/sample.ts';
import { applyCorrections } from '../../../src/sessions/apply-corrections.ts';
import type { SecondRow } from '../../../src/signal/second-rows.ts';
import { createRandom } from '../../support/corpus/seeded-random.ts';
import { sketchPerson, sketchSession } from '../../support/corpus/sketched-athlete.ts';
import { layOut } from '../../support/corpus/sketched-corpus.ts';

const random = createRandom(3);
const script = layOut('intervals', random);
/** SIMULATED; a clear case by beats. */
const samples = sketchSession(
  3,
  sketchPerson(random, { rsaBpm: 6, fallFraction: 0.25, beatJitterMs: 6 }),
  script,
);
const withoutBeats = samples.filter(({ channel }) => channel !== 'rrIntervalMs');

const said = (events: readonly DetectorEvent[]): HoldEvent[] => {
  const detector = createHoldDetector();
  return events.flatMap((event) => [...detector.push(event)]);
};
const asEvents = (list: readonly Sample[]): DetectorEvent[] =>
  list.map((sample) => ({ type: 'sample', sample }));

describe('signals that cannot carry a decision', () => {
  test('live: without beats no hold is declared and the phase is not known; with them there are holds', () => {
    const events = said(asEvents(withoutBeats));
    expect(events.some(({ type }) => type === 'holdStarted')).toBe(false);
    expect(events.every((event) => event.type !== 'phaseChanged' || event.phase === 'unknown')).toBe(true);
    expect(said(asEvents(samples)).some(({ type }) => type === 'holdStarted')).toBe(true);
  });

  test('live: a mark begins and ends a hold all the same', () => {
    const { startMs, endMs } = script.holds[0]!;
    const marks: DetectorEvent[] = (['holdStart', 'holdEnd'] as const).map((kind, i) => ({
      type: 'mark',
      mark: { markId: kind, kind, atMs: monotonicMs(i === 0 ? startMs : endMs) },
    }));
    const timeOf = (event: DetectorEvent): number =>
      event.type === 'sample' ? event.sample.atMs : event.type === 'mark' ? event.mark.atMs : 0;
    const events = [...asEvents(withoutBeats), ...marks].sort((a, b) => timeOf(a) - timeOf(b));
    expect(said(events).find(({ type }) => type === 'holdEnded')).toMatchObject({
      hold: { start: { atMs: startMs, source: 'mark' }, end: { atMs: endMs, source: 'mark' } },
    });
  });

  test('afterwards: what is found by heart rate alone is a proposal; a mark makes it certain', () => {
    const byRate = samples.filter(({ channel }) => channel === 'heartRateBpm');
    const found = reestimateHolds(byRate, []);
    expect(found.length).toBeGreaterThan(0);
    for (const hold of found) {
      expect(hold.proposed).toBe(true);
      expect(hold.confidence).toBeGreaterThan(0);
      expect(hold.confidence).toBeLessThan(1);
    }
    const first = found[0]!;
    const marked = reestimateHolds(byRate, [
      { markId: 'm', kind: 'holdStart', atMs: first.start.atMs },
      { markId: 'n', kind: 'holdEnd', atMs: first.end!.atMs },
    ]);
    expect(marked[0]).not.toHaveProperty('proposed');
    expect(marked[0]).not.toHaveProperty('confidence');
  });
});

describe('a proposal', () => {
  const boundary = (atMs: number): Hold['start'] => ({
    atMs: monotonicMs(atMs),
    uncertaintyMs: 1_000,
    declaredAtMs: monotonicMs(90_000),
    source: 'detected',
    evidence: [],
  });
  const proposal: Hold = {
    holdId: 'found-1',
    start: boundary(10_000),
    end: boundary(50_000),
    contractionsAtMs: [],
    confidence: 0.6,
    proposed: true,
  };
  const estimated = { startMs: monotonicMs(10_000), endMs: monotonicMs(50_000) };

  test('is accepted by setting its start where it already is, and stands like any other hold', () => {
    const { holds } = applyCorrections(
      [proposal],
      [
        {
          correctionId: 'c',
          madeWallAtMs: 0,
          correction: {
            type: 'moveBoundary',
            holdId: 'found-1',
            boundary: 'start',
            atMs: proposal.start.atMs,
          },
          estimated,
        },
      ] as never,
      [],
    );
    expect(holds).toHaveLength(1);
    expect(holds[0]).not.toHaveProperty('proposed');
    expect(holds[0]!.start).toMatchObject({ atMs: 10_000, source: 'corrected' });
  });
});

describe('a breathing channel', () => {
  /** Rows whose band moves as `breathing` says; heart rate and saturation are level throughout. */
  const rows = (seconds: number, breathing: (s: number) => number): SecondRow[] =>
    Array.from({ length: seconds }, (_, s) => ({
      atMs: monotonicMs(1_000 * (s + 1)),
      heartRateBpm: 60,
      heartRateSource: 'heartRate',
      spo2Percent: 98,
      plethBreathing: Number.NaN,
      plethSwing: Number.NaN,
      respiration: breathing(s),
    }));
  const wave = (s: number, perMin: number): number => 40 * Math.sin((2 * Math.PI * s * perMin) / 60);

  test('finds the hold that no other signal shows, and says so with confidence', () => {
    const held = rows(600, (s) => (s >= 240 && s < 330 ? 12 : wave(s, 13)));
    const [hold, ...others] = estimateHolds(held);
    expect(others).toEqual([]);
    expect(Math.abs(hold!.start.atMs - 240_000)).toBeLessThan(5_000);
    expect(Math.abs(hold!.end.atMs - 330_000)).toBeLessThan(5_000);
    expect(hold!.proposed).toBe(false);
    expect(hold!.confidence).toBeGreaterThan(0.9);
  });

  test('breathing of any rate from 6 to 24 a minute, shallow breaths among it, is no hold', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 6, max: 24 }),
        fc.double({ min: 0.6, max: 1, noNaN: true }),
        (perMin, least) => {
          const depth = (s: number): number => (s % 90 < 45 ? 1 : least);
          expect(estimateHolds(rows(500, (s) => depth(s) * wave(s, perMin)))).toEqual([]);
        },
      ),
      { numRuns: 20 },
    );
  });

  test('says nothing before it has been worn for a while, and nothing of a gap', () => {
    const pause = createRespirationPause();
    const answers = rows(300, (s) => (s > 200 ? Number.NaN : wave(s, 12))).map((row) => pause(row));
    expect(answers.slice(0, 30).every((p) => p === undefined)).toBe(true);
    expect(answers[150]).toBeLessThan(0.1);
    expect(answers.slice(215).every((p) => p === undefined)).toBe(true);
  });
});

test('each kind of evidence needs at least as much to stand as to be proposed; confidence rises with the log odds', () => {
  for (const [kind, { proposed, stands }] of Object.entries(neededLogOdds)) {
    expect(stands).toBeGreaterThanOrEqual(proposed);
    fc.assert(
      fc.property(fc.double({ min: -5, max: 20, noNaN: true }), (logOdds) => {
        const p = confidenceOf(kind as EvidenceKind, logOdds);
        expect(p).toBeGreaterThan(0);
        expect(p).toBeLessThanOrEqual(1);
        expect(confidenceOf(kind as EvidenceKind, logOdds + 1)).toBeGreaterThanOrEqual(p);
      }),
      { numRuns: 20 },
    );
  }
});

test('a pleth that loses beats is no steady one', () => {
  const row = (heartRateSource: SecondRow['heartRateSource']): SecondRow => ({
    atMs: monotonicMs(0),
    heartRateBpm: 60,
    heartRateSource,
    spo2Percent: Number.NaN,
    plethBreathing: 1,
    plethSwing: 1,
  });
  const mixed = (beats: number): SecondRow[] =>
    Array.from({ length: 100 }, (_, i) => row(i < beats ? 'rr' : 'heartRate'));
  expect(evidenceKindOf(mixed(95))).toBe('pleth');
  expect(evidenceKindOf(mixed(76))).toBe('unsteadyPleth');
  expect(evidenceKindOf([])).toBe('none');
});
