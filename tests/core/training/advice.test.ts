// The advice table, one test a row: when it applies, when it does not, and what it rests on.

import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { sayInEnglish } from '../../../shared/words/say.ts';
import { adviceTable, adviseTraining, type TrainingSession } from '../../../src/training/advice.ts';
import { sayInGerman } from '../../support/say-in-german.ts';

const day = 86_400_000;
/** 2025-06-15, a Sunday. */
const today = 20_254;
const nowWallMs = today * day + 20 * 3_600_000;

const session = (daysAgo: number, change: Partial<TrainingSession> = {}): TrainingSession => ({
  startedWallAtMs: nowWallMs - daysAgo * day,
  localDay: Math.floor((nowWallMs - daysAgo * day) / day),
  kind: 'dry',
  effort: null,
  minutes: null,
  maximalCount: 0,
  company: null,
  calledOff: null,
  floorAlarmHolds: [],
  comfort: null,
  lowestSpo2Percent: null,
  floorSpo2Percent: null,
  intervalSeries: null,
  ...change,
});
const advise = (...sessions: readonly TrainingSession[]) => adviseTraining({ nowWallMs, today, sessions });
const keys = (...sessions: readonly TrainingSession[]) => advise(...sessions).map(({ key }) => key);
const reasonOf = (key: string, ...sessions: readonly TrainingSession[]) =>
  sayInEnglish(advise(...sessions).find((advice) => advice.key === key)!.reason);
const sourceOf = (key: string) => sayInEnglish(adviceTable.find((row) => row.key === key)!.source);
const hard = (daysAgo: number, comfort: number | null = null) =>
  session(daysAgo, { effort: 'hard', comfort });
const stopped = (why: NonNullable<TrainingSession['calledOff']>['why'], holdNumber = 4) => ({
  calledOff: { title: 'Evening table', holdNumber, plannedCount: 8, why },
});

describe('advice', () => {
  test('no data, no advice; two calm sessions a week draw none', () => {
    expect(keys()).toEqual([]);
    expect(keys(session(2), session(5))).toEqual([]);
  });

  test('calledOff (common practice, no source): which hold, when and why, and all else beside it', () => {
    expect(keys(session(5), session(2, { ...stopped('floorBreached'), comfort: 1 }))).toEqual([
      'calledOff',
      'uncomfortable',
    ]);
    expect(reasonOf('calledOff', session(2, stopped('floorBreached')))).toBe(
      'Hold 4 of “Evening table” on 13 June was called off: saturation was below the floor.',
    );
    expect(reasonOf('calledOff', session(2, stopped('person', 2)))).toContain('somebody said stop');
    // A calm session since does not make it unsaid, two weeks do.
    expect(keys(session(8, stopped('person')), session(2))).toEqual(['calledOff']);
    expect(keys(session(15, stopped('person')), session(2))).toEqual([]);
    expect(sourceOf('calledOff')).toBe('common practice, no source');
  });

  test('endedEarly (common practice, no source): a plan that a person ended with holds left is no alarm', () => {
    expect(keys(session(3, stopped('endedEarly', 5)))).toEqual(['endedEarly']);
    expect(reasonOf('endedEarly', session(3, stopped('endedEarly', 5)))).toBe(
      '“Evening table” on 12 June was ended after 5 of 8 holds.',
    );
    expect(sourceOf('endedEarly')).toBe('common practice, no source');
  });

  test('floorAlarm (common practice, no source): said once, not beside a hold called off for it', () => {
    expect(keys(session(3, { floorAlarmHolds: [2, 5] }))).toEqual(['floorAlarm']);
    expect(reasonOf('floorAlarm', session(3, { floorAlarmHolds: [2] }))).toBe(
      'Hold 2 on 12 June set off the alarm of the floor.',
    );
    expect(keys(session(3, { floorAlarmHolds: [4], ...stopped('floorBreached') }))).toEqual(['calledOff']);
    expect(keys(session(15, { floorAlarmHolds: [4] }), session(3))).toEqual([]);
    expect(sourceOf('floorAlarm')).toBe('common practice, no source');
  });

  test('notAlone (Alert Diver 2016): a hard or maximal session with nobody there, within four weeks', () => {
    expect(keys(session(3, { company: 'alone', maximalCount: 1 }))).toEqual(['notAlone']);
    expect(keys(session(3, { company: 'alone' }))).toEqual([]);
    expect(keys(session(3, { company: null, maximalCount: 1 }))).toEqual([]);
    expect(keys(session(40, { company: 'alone', effort: 'hard' }), session(3))).toEqual([]);
    expect(sourceOf('notAlone')).toMatch(/Alert Diver/);
  });

  test('lowSaturation (design choice; Lindholm 2007): the floor reached in two of the last three, not of long ago', () => {
    const low = (daysAgo: number, lowestSpo2Percent: number) =>
      session(daysAgo, { lowestSpo2Percent, floorSpo2Percent: 88 });
    expect(keys(low(12, 88), low(8, 93), low(4, 85))).toEqual(['lowSaturation']);
    expect(keys(low(12, 85), low(9, 85), low(6, 93), low(3, 93))).toEqual([]);
    expect(keys(low(40, 85), low(30, 85), session(3))).toEqual([]);
    expect(sourceOf('lowSaturation')).toMatch(/Lindholm 2007/);
  });

  test('hardDaysInARow (common practice, no source): three days; two sessions of one day are one day', () => {
    expect(keys(hard(2), hard(3), hard(4))).toEqual(['hardDaysInARow', 'enoughThisWeek']);
    expect(keys(hard(2), hard(4), hard(6))).toEqual(['enoughThisWeek']);
    expect(keys(hard(2), hard(2.1), hard(2.2))).toEqual([]);
    expect(sourceOf('hardDaysInARow')).toBe('common practice, no source');
  });

  test('hardDaysFallingComfort (common practice, no source): ten hard days in a row with falling comfort say so', () => {
    const ten = [5, 5, 4, 4, 4, 3, 3, 2, 2, 1].map((comfort, index) => hard(10 - index, comfort));
    expect(keys(...ten)).toEqual(['hardDaysFallingComfort', 'uncomfortable', 'tooManyDays']);
    expect(reasonOf('hardDaysFallingComfort', ...ten)).toBe(
      '10 hard days in a row, and comfort fell in them from 4.4 to 2.2 of 5.',
    );
    const even = ten.map((each) => ({ ...each, comfort: 4 }));
    expect(reasonOf('hardDaysInARow', ...even)).toBe('10 hard days in a row, up to 14 June.');
    expect(keys(...even)).toEqual(['hardDaysInARow', 'tooManyDays']);
    expect(sourceOf('hardDaysFallingComfort')).toBe('common practice, no source');
  });

  test('fallingComfort (common practice, no source): a point lower within four weeks', () => {
    const rated = (values: readonly number[], every = 4) =>
      values.map((comfort, index) => session((values.length - index) * every, { comfort }));
    expect(keys(...rated([5, 4, 4, 4, 3, 3]))).toEqual(['fallingComfort']);
    expect(keys(...rated([5, 5, 4, 3], 3))).toEqual(['fallingComfort']);
    expect(keys(...rated([4, 4, 4, 4, 4, 3]))).toEqual([]);
    expect(keys(...rated([5, 5, 3]))).toEqual([]);
    // Old figures are not used.
    expect(keys(session(60, { comfort: 5 }), session(50, { comfort: 5 }), ...rated([3, 3]))).toEqual([]);
    expect(sourceOf('fallingComfort')).toBe('common practice, no source');
  });

  test('uncomfortable (common practice, no source): the last session marked 2 or less, within two weeks', () => {
    expect(keys(session(4, { comfort: 2 }))).toEqual(['uncomfortable']);
    expect(keys(session(8, { comfort: 1 }), session(4, { comfort: 3 }))).toEqual([]);
    expect(keys(session(15, { comfort: 1 }))).toEqual([]);
    expect(sourceOf('uncomfortable')).toBe('common practice, no source');
  });

  test('tooManyDays and enoughThisWeek (common practice, no source): two good, three the most; days, not entries', () => {
    expect(keys(session(2), session(4), session(6))).toEqual(['enoughThisWeek']);
    expect(keys(session(2), session(3), session(4), session(6))).toEqual(['tooManyDays']);
    expect(keys(session(2), session(2.1), session(2.2), session(2.3), session(4))).toEqual([]);
    expect(keys(session(2), session(4), session(7.5))).toEqual([]);
    expect(sourceOf('tooManyDays')).toMatch(/^common practice, no source/);
    expect(sourceOf('enoughThisWeek')).toMatch(/^common practice, no source/);
  });

  test('loadRose (Foster et al. 2001): half as much again as in the four weeks before, holds, walks and pool alike', () => {
    const easy = (daysAgo: number, change: Partial<TrainingSession> = {}) =>
      session(daysAgo, { effort: 'easy', minutes: 30, ...change });
    const before = [8, 11, 15, 18, 22, 25, 29, 32].map((daysAgo) => easy(daysAgo));
    // 60 a session, two a week: 120. Then 300 + 60.
    expect(keys(...before, easy(2), session(4, { effort: 'hard', minutes: 60 }))).toEqual(['loadRose']);
    expect(reasonOf('loadRose', ...before, easy(2), session(4, { effort: 'hard', minutes: 60 }))).toBe(
      'Effort times minutes came to 360 in the last seven days, after 120 a week in the four weeks before.',
    );
    expect(keys(...before, easy(2, { kind: 'pool' }), easy(4, { kind: 'walk', minutes: 60 }))).toEqual([]);
    expect(keys(...before, easy(2, { kind: 'pool', minutes: 70 }), easy(4))).toEqual(['loadRose']);
    // Where nobody said how hard they were, nothing is compared.
    const unsaid = before.map((each, index) => (index % 2 === 0 ? { ...each, effort: null } : each));
    expect(keys(...unsaid, session(4, { effort: 'hard', minutes: 60 }))).toEqual([]);
    expect(sourceOf('loadRose')).toMatch(/Foster et al\. 2001/);
  });

  test('recoveryDay (common practice, no source): a hard session less than a day ago', () => {
    expect(keys(hard(0.5))).toEqual(['recoveryDay']);
    expect(keys(hard(1.5))).toEqual([]);
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

  test('lengthenInterval (common practice, no source): from what to what, by a series of the last four weeks', () => {
    const series = (daysAgo: number, ...holds: readonly number[]) =>
      session(daysAgo, {
        intervalSeries: { everyMs: 180_000, holdsMs: holds.map((seconds) => seconds * 1_000) },
      });
    expect(keys(series(4, 120, 115, 110, 60))).toEqual(['lengthenInterval']);
    expect(sayInEnglish(advise(series(4, 120, 115, 110, 60))[0]!.suggestion)).toContain('from 3:00 to 4:00');
    expect(sayInGerman(advise(series(4, 120, 115, 110, 60))[0]!.suggestion)).toContain('von 3:00 auf 4:00');
    expect(keys(series(4, 60, 60, 120, 120))).toEqual([]);
    expect(keys(series(4, 120, 120))).toEqual([]);
    expect(keys(series(29, 120, 115, 110, 60), session(3))).toEqual([]);
    expect(sourceOf('lengthenInterval')).toMatch(/^common practice, no source/);
  });

  test('every row is named in this file by a test, and has a source', () => {
    expect(adviceTable.map((row) => row.key).toSorted()).toEqual(
      [
        'calledOff',
        'endedEarly',
        'floorAlarm',
        'notAlone',
        'lowSaturation',
        'hardDaysInARow',
        'hardDaysFallingComfort',
        'fallingComfort',
        'uncomfortable',
        'tooManyDays',
        'enoughThisWeek',
        'loadRose',
        'recoveryDay',
        'maximalOften',
        'afterABreak',
        'lengthenInterval',
      ].toSorted(),
    );
    for (const row of adviceTable) expect(sayInEnglish(row.source)).toMatch(/\w{4}/);
  });

  test('no row asks for longer holds, for depth, or for being alone; sessions to come are not looked at', () => {
    const nothing = { sessions: [], nowWallMs, today };
    for (const { key, suggestion } of adviceTable) {
      const said = typeof suggestion === 'function' ? suggestion(nothing) : suggestion;
      expect(sayInEnglish(said), key).not.toMatch(
        /longer hold|hold longer|deeper|depth|push|harder|record|more holds/i,
      );
      expect(sayInGerman(said), key).not.toMatch(
        /längere apnoe|länger (an)?halten|tiefer|tiefe|härter|rekord|mehr apnoen/i,
      );
    }
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 100 }), (daysAhead) => {
        expect(keys(session(-daysAhead, stopped('person')))).toEqual([]);
      }),
    );
  });
});
