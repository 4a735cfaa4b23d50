// Plan files: what is written is read back; what is wrong is told with its place, field and reason.

import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { sayInEnglish } from '../../../shared/words/say.ts';
import { makeIntervalSeries } from '../../../src/plans/generate-plan.ts';
import { parsePlanFile, planProblemText, writePlanFile } from '../../../src/plans/plan-file.ts';
import { carbonDioxideTableOf, plansOfEveryKind } from '../../support/usual-plans.ts';

const problemsOf = (text: string): readonly string[] => {
  const parsed = parsePlanFile(text);
  return parsed.ok ? [] : parsed.reason.map((problem) => planProblemText('plan.json', problem, sayInEnglish));
};

const series = writePlanFile(makeIntervalSeries());

describe('plan files', () => {
  test('every starter plan is written and read back equal', () => {
    for (const plan of plansOfEveryKind())
      expect(parsePlanFile(writePlanFile(plan))).toEqual({ ok: true, value: plan });
  });

  test('fields with defaults may be left out', () => {
    const { note: _note, leadInSeconds: _leadIn, ...rest } = makeIntervalSeries();
    expect(parsePlanFile(JSON.stringify(rest))).toEqual({ ok: true, value: makeIntervalSeries() });
  });

  test.each([
    [
      'a value out of range',
      series.replace('"starts": 8', '"starts": 40'),
      ['plan.json:8:13 starts: must be at most 24'],
    ],
    [
      'text for a number',
      series.replace('"starts": 8', '"starts": "8"'),
      ['plan.json:8:13 starts: must be a number'],
    ],
    [
      'a fraction',
      series.replace('"starts": 8', '"starts": 7.5'),
      ['plan.json:8:13 starts: must be a whole number'],
    ],
    ['a missing field', series.replace('  "starts": 8,\n', ''), ['plan.json:1:1 starts: is missing']],
    [
      'a field that is not known',
      series.replace('"starts": 8', '"starts": 8, "target": 240'),
      ['plan.json:8:26 target: is not a field of this kind of plan'],
    ],
    [
      'a kind that is not known',
      series.replace('"intervalSeries"', '"ladder"'),
      [
        'plan.json:7:11 kind: must be one of "intervalSeries", "holdTable", "maximalAttempts", "apneaWalk", "freeSession", "poolIntervals", "timedSwim"',
      ],
    ],
    [
      "another program's file",
      series.replace('slackwater-plan', 'something'),
      ['plan.json:2:13 format: must be "slackwater-plan"; this is another program\'s file'],
    ],
    [
      'another version',
      series.replace('"version": 1', '"version": 2'),
      ['plan.json:3:14 version: must be 1; this file is of another version'],
    ],
    ['not JSON', '{\n  "format": slackwater\n}', ['plan.json:2:13 This is not JSON: invalid symbol.']],
    [
      'a comma missing',
      series.replace('"starts": 8,', '"starts": 8'),
      ['plan.json:9:3 This is not JSON: comma expected.'],
    ],
    ['nothing', '  \n', ['plan.json:1:1 The file is empty.']],
    ['a list', '[]', ['plan.json:1:1 A plan is a JSON object, in braces.']],
    ['too deep', '['.repeat(5_000), ['plan.json:1:1 The file is nested too deeply for a plan.']],
  ])('%s', (_what, text, expected) => {
    expect(problemsOf(text)).toEqual(expected);
  });

  test('a wrong row is named by its number, and every wrong field is told', () => {
    const text = writePlanFile(carbonDioxideTableOf(180))
      .replace('"ceilingSeconds": 90', '"ceilingSeconds": 4')
      .replace('"recoverySeconds": 105', '"recoverySeconds": null');
    expect(problemsOf(text)).toEqual([
      'plan.json:11:25 rows[0].ceilingSeconds: must be at least 5',
      'plan.json:16:26 rows[1].recoverySeconds: must be a number',
    ]);
  });

  test('any text gets an answer, and a damaged file never passes for another plan', () => {
    fc.assert(
      fc.property(fc.string({ maxLength: 200 }), (text) => {
        expect(parsePlanFile(text).ok).toBe(false);
      }),
    );
    fc.assert(
      fc.property(fc.json(), (text) => {
        expect(parsePlanFile(text).ok).toBe(false);
      }),
    );
    fc.assert(
      fc.property(fc.integer({ min: 0, max: series.length - 3 }), (length) => {
        expect(parsePlanFile(series.slice(0, length)).ok).toBe(false);
      }),
    );
  });
});
