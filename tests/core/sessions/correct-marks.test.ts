// Marks corrected afterwards, and undoing and redoing of any sequence of steps against a plain model of two stacks.

import fc from 'fast-check';
import { expect, test } from 'vitest';
import { monotonicMs } from '../../../shared/units.ts';
import { correctMarks, type PlacedMark } from '../../../src/sessions/correct-marks.ts';
import {
  type CorrectionStep,
  correctionsInForce,
  lastInForce,
  lastUndone,
} from '../../../src/sessions/correction-steps.ts';

const mark = (markId: string, atMs: number): PlacedMark => ({
  markId,
  kind: 'contraction',
  atMs: monotonicMs(atMs),
  text: null,
});
const step = (correctionId: string, correction: CorrectionStep['correction']): CorrectionStep => ({
  correctionId,
  madeWallAtMs: 0,
  correction,
  estimated: null,
});

test('a mark moved twice remembers where it was given; one added and moved was never elsewhere', () => {
  const { marks, removed } = correctMarks(
    [mark('a', 1_000), mark('b', 2_000)],
    [
      step('1', { type: 'moveMark', markId: 'a', atMs: monotonicMs(3_000) }),
      step('2', { type: 'addMark', kind: 'note', atMs: monotonicMs(500), text: 'calm' }),
      step('3', { type: 'moveMark', markId: 'a', atMs: monotonicMs(4_000) }),
      step('4', { type: 'moveMark', markId: 'added-2', atMs: monotonicMs(600) }),
      step('5', { type: 'removeMark', markId: 'b' }),
      step('6', { type: 'removeMark', markId: 'nobody' }),
    ],
  );
  expect(
    marks.map(({ mark: { markId, atMs }, how, originallyAtMs }) => [markId, atMs, how, originallyAtMs]),
  ).toEqual([
    ['added-2', 600, 'added', null],
    ['a', 4_000, 'moved', 1_000],
  ]);
  expect(removed).toEqual([mark('b', 2_000)]);
});

test('undo and redo are two stacks, whatever the order', () => {
  fc.assert(
    fc.property(fc.array(fc.constantFrom('do', 'undo', 'redo')), (wishes) => {
      const steps: CorrectionStep[] = [];
      const done: string[] = [];
      const undone: string[] = [];
      wishes.forEach((wish, index) => {
        const id = `s${index}`;
        if (wish === 'do') {
          steps.push(step(id, { type: 'removeMark', markId: id }));
          done.push(id);
          undone.length = 0;
          return;
        }
        const target = wish === 'undo' ? lastInForce(steps) : lastUndone(steps);
        const [from, to] = wish === 'undo' ? [done, undone] : [undone, done];
        expect(target !== undefined).toBe(from.length > 0);
        if (target === undefined) return;
        steps.push(step(id, { type: 'undo', correctionId: target.correctionId }));
        to.push(from.pop()!);
      });
      expect(correctionsInForce(steps).map(({ correctionId }) => correctionId)).toEqual(done);
    }),
  );
});
