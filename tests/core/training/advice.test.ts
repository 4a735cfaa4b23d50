// The advice table, one test a row: when it applies, when it does not, and what it rests on.

import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { sayInEnglish } from '../../../shared/words/say.ts';
import { adviceTable, adviseTraining, type TrainingSession } from '../../../src/training/advice.ts';
import { sayInGerman } from '../../support/say-in-german.ts';

const day = 86_400_000;
const nowWallMs = 1_750_000_000_000;

const session = (daysAgo: number, change: Partial<TrainingSession> = {}): TrainingSession => ({
  startedWallAtMs: nowWallMs - daysAgo * day,
  kind: 'dry',
  hard: false,
  maximalCount: 0,
  alone: false,
  aborted: false,
  comfort: null,
  lowestSpo2Percent: null,
  floorSpo2Percent: null,
  intervalSeries: null,
  ...change,
});
const keys = (...sessions: readonly TrainingSession[]) =>
  adviseTraining({ nowWallMs, sessions }).map((advice) => advice.key);
const sourceOf = (key: string) => sayInEnglish(adviceTable.find((row) => row.key === key)!.source);

describe('advice', () => {
  test('no data, no advice; two calm sessions a week draw none', () => {
    expect(keys()).toEqual([]);
    expect(keys(session(2), session(5))).toEqual([]);
  });

  test('afterAbort (common practice, no source): alone, before everything else', () => {
    expect(keys(session(5), session(2, { aborted: true, comfort: 1 }))).toEqual(['afterAbort']);
    expect(keys(session(5, { aborted: true }), session(2))).toEqual([]);
    expect(sourceOf('afterAbort')).toBe('common practice, no source');
  });

  test('notAlone (Alert Diver 2016): a hard or maximal session with nobody there, within four weeks', () => {
    expect(keys(session(3, { alone: true, maximalCount: 1 }))).toEqual(['notAlone']);
    expect(keys(session(3, { alone: true }))).toEqual([]);
    expect(keys(session(40, { alone: true, hard: true }), session(3))).toEqual([]);
    expect(sourceOf('notAlone')).toMatch(/Alert Diver/);
  });

  test('lowSaturation (design choice; Lindholm 2007): the floor reached in two of the last three', () => {
    const low = (daysAgo: number, lowestSpo2Percent: number) =>
      session(daysAgo, { lowestSpo2Percent, floorSpo2Percent: 88 });
    expect(keys(low(12, 88), low(8, 93), low(4, 85))).toEqual(['lowSaturation']);
    expect(keys(low(12, 85), low(9, 85), low(6, 93), low(3, 93))).toEqual([]);
    expect(sourceOf('lowSaturation')).toMatch(/Lindholm 2007/);
  });

  test('hardDaysInARow (common practice, no source): three', () => {
    const hard = (daysAgo: number) => session(daysAgo, { hard: true });
    expect(keys(hard(2), hard(3), hard(4))).toEqual(['hardDaysInARow', 'enoughThisWeek']);
    expect(keys(hard(2), hard(4), hard(6))).toEqual(['enoughThisWeek']);
    expect(sourceOf('hardDaysInARow')).toBe('common practice, no source');
  });

  test('fallingComfort (common practice, no source): a point lower over three sessions', () => {
    const rated = (values: readonly number[]) =>
      values.map((comfort, index) => session((values.length - index) * 4, { comfort }));
    expect(keys(...rated([5, 4, 4, 4, 3, 3]))).toEqual(['fallingComfort']);
    expect(keys(...rated([4, 4, 4, 4, 4, 3]))).toEqual([]);
    expect(keys(...rated([5, 5, 3]))).toEqual([]);
    expect(sourceOf('fallingComfort')).toBe('common practice, no source');
  });

  test('uncomfortable (common practice, no source): the last session marked 2 or less', () => {
    expect(keys(session(4, { comfort: 2 }))).toEqual(['uncomfortable']);
    expect(keys(session(8, { comfort: 1 }), session(4, { comfort: 3 }))).toEqual([]);
    expect(sourceOf('uncomfortable')).toBe('common practice, no source');
  });

  test('tooManySessions and enoughThisWeek (common practice, no source): two good, three the most', () => {
    expect(keys(session(2), session(4), session(6))).toEqual(['enoughThisWeek']);
    expect(keys(session(2), session(3), session(4), session(6))).toEqual(['tooManySessions']);
    expect(keys(session(2), session(4), session(7.5))).toEqual([]);
    expect(sourceOf('tooManySessions')).toMatch(/^common practice, no source/);
    expect(sourceOf('enoughThisWeek')).toMatch(/^common practice, no source/);
  });

  test('recoveryDay (common practice, no source): a hard session less than a day ago', () => {
    expect(keys(session(0.5, { hard: true }))).toEqual(['recoveryDay']);
    expect(keys(session(1.5, { hard: true }))).toEqual([]);
    expect(sourceOf('recoveryDay')).toBe('common practice, no source');
  });

  test('maximalOften (common practice, no source): more than two maximal efforts in a week', () => {
    expect(keys(session(2, { maximalCount: 2 }), session(5, { maximalCount: 1 }))).toEqual(['maximalOften']);
    expect(keys(session(2, { maximalCount: 2 }))).toEqual([]);
    expect(sourceOf('maximalOften')).toBe('common practice, no source');
  });

  test('afterABreak (common practice, no source): four weeks', () => {
    expect(keys(session(28))).toEqual(['afterABreak']);
    expect(keys(session(27))).toEqual([]);
    expect(sourceOf('afterABreak')).toBe('common practice, no source');
  });

  test('lengthenInterval (common practice, no source): most holds of the last series left about a minute', () => {
    const series = (...holds: readonly number[]) =>
      session(4, { intervalSeries: { everyMs: 240_000, holdsMs: holds.map((seconds) => seconds * 1_000) } });
    expect(keys(series(180, 175, 170, 120))).toEqual(['lengthenInterval']);
    expect(keys(series(120, 120, 180, 180))).toEqual([]);
    expect(keys(series(180, 180))).toEqual([]);
    expect(sourceOf('lengthenInterval')).toMatch(/^common practice, no source/);
  });

  test('every row is named in this file by a test, and has a source', () => {
    expect(adviceTable.map((row) => row.key).toSorted()).toEqual(
      [
        'afterAbort',
        'notAlone',
        'lowSaturation',
        'hardDaysInARow',
        'fallingComfort',
        'uncomfortable',
        'tooManySessions',
        'enoughThisWeek',
        'recoveryDay',
        'maximalOften',
        'afterABreak',
        'lengthenInterval',
      ].toSorted(),
    );
    for (const row of adviceTable) expect(sayInEnglish(row.source)).toMatch(/\w{4}/);
  });

  test('no row asks for longer holds, for depth, or for being alone; sessions to come are not looked at', () => {
    for (const row of adviceTable) {
      expect(sayInEnglish(row.suggestion), row.key).not.toMatch(
        /longer hold|hold longer|deeper|depth|push|harder|record|more holds/i,
      );
      expect(sayInGerman(row.suggestion), row.key).not.toMatch(
        /längere apnoe|länger (an)?halten|tiefer|tiefe|härter|rekord|mehr apnoen/i,
      );
    }
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 100 }), (daysAhead) => {
        expect(keys(session(-daysAhead, { aborted: true }))).toEqual([]);
      }),
    );
  });
});
