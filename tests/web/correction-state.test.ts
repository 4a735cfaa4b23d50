// Correcting a recording as a reducer: drafts, one request at a time, steps that wait, what the hub answered.

import { describe, expect, test } from 'vitest';
import { monotonicMs } from '../../shared/units.ts';
import { requestsOfEdited } from '../../web/views/correction/correction-handles.ts';
import {
  type CorrectionEvent,
  type CorrectionState,
  idleCorrection,
  reduceCorrection,
} from '../../web/views/correction/correction-state.ts';

const durationMs = 300_000;
const stateAfter = (events: readonly CorrectionEvent[], from: CorrectionState = idleCorrection) =>
  events.reduce((state, event) => reduceCorrection(state, event, durationMs), from);
const asked = (request: Extract<CorrectionEvent, { type: 'asked' }>['request']): CorrectionEvent => ({
  type: 'asked',
  request,
});
const answered = (canUndo: boolean, canRedo: boolean): CorrectionEvent => ({
  type: 'answered',
  answer: { ok: true, canUndo, canRedo },
});
const refused: CorrectionEvent = { type: 'answered', answer: { ok: false, reason: 'Holds would overlap.' } };
const removal = { type: 'removeHold', holdId: 'hold-1' } as const;

describe('drafts', () => {
  test('a new hold takes the span that is free, or says that there is no room', () => {
    const span = { startMs: 10_000, endMs: 20_000 };
    expect(stateAfter([{ type: 'holdBegun', span }]).newHold).toEqual(span);
    expect(stateAfter([{ type: 'holdBegun', span: null }])).toMatchObject({
      newHold: null,
      problem: { code: 'noRoom' },
    });
  });

  test('its boundaries stay a second apart and inside the recording', () => {
    const begun = stateAfter([{ type: 'holdBegun', span: { startMs: 10_000, endMs: 20_000 } }]);
    const moved = (boundary: 'start' | 'end', atMs: number) =>
      stateAfter([{ type: 'holdBoundaryMoved', boundary, atMs }], begun).newHold;
    expect(moved('start', 15_000)).toEqual({ startMs: 15_000, endMs: 20_000 });
    expect(moved('start', 19_900)).toEqual({ startMs: 19_000, endMs: 20_000 });
    expect(moved('start', -5)).toEqual({ startMs: 0, endMs: 20_000 });
    expect(moved('end', 400_000)).toEqual({ startMs: 10_000, endMs: durationMs });
    expect(moved('end', 0)).toEqual({ startMs: 10_000, endMs: 11_000 });
  });

  test('a new mark begins in what is shown, is moved and written, and is left', () => {
    const begun = stateAfter([{ type: 'markBegun', kind: 'note', atMs: 400_000 }]);
    expect(begun.newMark).toEqual({ kind: 'note', atMs: durationMs, text: '' });
    const written = stateAfter(
      [
        { type: 'markMoved', atMs: 5_000 },
        { type: 'noteWritten', text: 'calm' },
      ],
      begun,
    );
    expect(written.newMark).toEqual({ kind: 'note', atMs: 5_000, text: 'calm' });
    expect(stateAfter([{ type: 'draftLeft' }], written).newMark).toBeNull();
  });

  test('moving or writing without a draft changes nothing', () => {
    const nothing: CorrectionEvent[] = [
      { type: 'holdBoundaryMoved', boundary: 'start', atMs: 1 },
      { type: 'markMoved', atMs: 1 },
      { type: 'noteWritten', text: 'x' },
    ];
    expect(stateAfter(nothing)).toBe(idleCorrection);
  });

  test('ending the correcting leaves drafts and an old problem behind', () => {
    const state = stateAfter([
      { type: 'correctingToggled' },
      { type: 'holdBegun', span: { startMs: 1_000, endMs: 9_000 } },
      { type: 'correctingToggled' },
    ]);
    expect(state).toEqual(idleCorrection);
  });
});

describe('requests', () => {
  test('one at a time: another is not taken while the hub is at work, a step waits', () => {
    const state = stateAfter([
      asked(removal),
      asked({ type: 'removeHold', holdId: 'hold-2' }),
      asked('undo'),
    ]);
    expect(state).toMatchObject({ asking: removal, waiting: ['undo'] });
  });

  test('steps that wait follow in order', () => {
    const first = stateAfter([asked('undo'), asked('undo'), asked('redo'), answered(true, true)]);
    expect(first).toMatchObject({ asking: 'undo', waiting: ['redo'], done: 'undone' });
    const second = stateAfter([answered(true, true)], first);
    expect(second).toMatchObject({ asking: 'redo', waiting: [] });
    expect(stateAfter([answered(true, false)], second)).toMatchObject({ asking: null, done: 'redone' });
  });

  test('a step that is not possible any more holds up none behind it', () => {
    // Redone already: there is nothing to bring back, but something to take back.
    const state = stateAfter([asked('redo'), asked('redo'), asked('undo'), answered(true, false)]);
    expect(state).toMatchObject({ asking: 'undo', waiting: [] });
    // None is possible: none is kept for a later request to set off.
    expect(stateAfter([asked('undo'), asked('undo'), answered(false, false)])).toMatchObject({
      asking: null,
      waiting: [],
    });
  });

  test('a refusal is said, ends the waiting and keeps the draft', () => {
    const state = stateAfter([
      { type: 'holdBegun', span: { startMs: 1_000, endMs: 9_000 } },
      asked({ type: 'addHold', startMs: monotonicMs(1_000), endMs: monotonicMs(9_000) }),
      asked('undo'),
      refused,
    ]);
    expect(state).toMatchObject({
      asking: null,
      waiting: [],
      problem: { code: 'refused', reason: 'Holds would overlap.' },
      newHold: { startMs: 1_000, endMs: 9_000 },
    });
  });

  test('what was saved is no draft any more; another draft stays', () => {
    const drafts: CorrectionEvent[] = [
      { type: 'holdBegun', span: { startMs: 1_000, endMs: 9_000 } },
      { type: 'markBegun', kind: 'contraction', atMs: 5_000 },
    ];
    const hold = asked({ type: 'addHold', startMs: monotonicMs(1_000), endMs: monotonicMs(9_000) });
    expect(stateAfter([...drafts, hold, answered(true, false)])).toMatchObject({
      newHold: null,
      newMark: { kind: 'contraction' },
      done: 'saved',
      problem: null,
    });
    const mark = asked({ type: 'addMark', kind: 'contraction', atMs: monotonicMs(5_000), text: null });
    expect(stateAfter([...drafts, mark, answered(true, false)])).toMatchObject({
      newHold: { startMs: 1_000 },
      newMark: null,
    });
  });
});

describe('a hold that is open on its card', () => {
  const hold = { holdId: 'hold-2', startMs: 60_000, endMs: 120_000 };
  const opened = stateAfter([{ type: 'holdOpened', hold }]);
  const move = (boundary: 'start' | 'end', atMs: number) =>
    ({ type: 'moveBoundary', holdId: 'hold-2', boundary, atMs: monotonicMs(atMs) }) as const;

  test('is moved here alone until it is saved, and left without a trace', () => {
    const moved = stateAfter([{ type: 'openedMoved', boundary: 'end', atMs: 118_000 }], opened);
    expect(moved.editedHold).toEqual({ ...hold, endMs: 118_000 });
    expect(moved.asking).toBeNull();
    expect(stateAfter([{ type: 'draftLeft' }], moved).editedHold).toBeNull();
    expect(stateAfter([{ type: 'openedSaved', requests: [] }], moved).editedHold).toBeNull();
  });

  test('closes when the last of its boundaries is saved, and stays open when the hub refuses one', () => {
    const saving = stateAfter(
      [{ type: 'openedSaved', requests: [move('start', 61_000), move('end', 118_000)] }],
      opened,
    );
    expect(saving.asking).toEqual(move('start', 61_000));
    const half = stateAfter([answered(true, false)], saving);
    expect([half.asking, half.editedHold]).toEqual([move('end', 118_000), hold]);
    expect(stateAfter([answered(true, false)], half)).toMatchObject({ asking: null, editedHold: null });
    expect(stateAfter([refused], saving)).toMatchObject({
      asking: null,
      waiting: [],
      editedHold: hold,
      problem: { code: 'refused' },
    });
  });

  test('is not closed by a correction of another hold', () => {
    expect(stateAfter([asked(removal), answered(true, false)], opened).editedHold).toEqual(hold);
    const own = { type: 'removeHold', holdId: 'hold-2' } as const;
    expect(stateAfter([asked(own), answered(true, false)], opened).editedHold).toBeNull();
  });

  test('asks for the end first where the start goes beyond the former end', () => {
    const view = { hold: { holdId: 'hold-2', start: { atMs: 60_000 }, end: { atMs: 120_000 } } };
    const athlete = { holds: [view] } as never;
    const types = (startMs: number, endMs: number) =>
      requestsOfEdited(athlete, { holdId: 'hold-2', startMs, endMs }).map(
        (each) => each.type === 'moveBoundary' && each.boundary,
      );
    expect(types(50_000, 55_000)).toEqual(['start', 'end']);
    expect(types(125_000, 150_000)).toEqual(['end', 'start']);
    expect(types(60_000, 120_000)).toEqual([]);
    expect(types(60_000, 121_000)).toEqual(['end']);
  });
});
