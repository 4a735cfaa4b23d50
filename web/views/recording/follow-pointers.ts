// The pointer on a recording's trace: what drag, pinch, wheel and a tap make of the range and the cursor, and a press on the
// overview of the range shown.

import type { Signal } from '@preact/signals';
import type { ReviewPanel } from '../../charts/review-panel.ts';
import { moveRange, type TimeRange, zoomRange } from '../../state/time-range.ts';

export interface PointerCursor {
  /** Null once a mouse has left. */
  readonly hover: (atSeconds: number | null) => void;
  readonly tap: (atSeconds: number) => void;
}

/** A finger that moved less than this tapped. */
const tapPixels = 6;

/**
 * Drag moves, two fingers zoom, and so does the wheel with Ctrl or Command (as browsers tell a pinch on a touchpad); the wheel
 * alone lets the page scroll, sideways or with Shift it moves. On the overview (no `cursor`) a press centres the window there.
 */
export function followPointers(
  element: HTMLElement,
  panel: ReviewPanel,
  range: Signal<TimeRange>,
  whole: TimeRange,
  cursor: PointerCursor | null,
): () => void {
  const pointers = new Map<number, number>();
  let pressedAt: number | null = null;
  const widthOf = () => range.value.toSeconds - range.value.fromSeconds;
  const centreOn = (clientX: number) => {
    const at = panel.timeAt(clientX);
    const centre = (range.value.fromSeconds + range.value.toSeconds) / 2;
    range.value = moveRange(range.value, at - centre, whole);
  };
  const down = (event: PointerEvent) => {
    if (event.button !== 0) return;
    element.setPointerCapture(event.pointerId);
    pointers.set(event.pointerId, event.clientX);
    // A second finger makes it no tap.
    pressedAt = pointers.size === 1 ? event.clientX : null;
    if (cursor === null) centreOn(event.clientX);
  };
  const move = (event: PointerEvent) => {
    const before = pointers.get(event.pointerId);
    if (before === undefined) {
      if (event.pointerType === 'mouse') cursor?.hover(panel.timeAt(event.clientX));
      return;
    }
    if (pressedAt !== null && Math.abs(event.clientX - pressedAt) > tapPixels) {
      pressedAt = null;
      cursor?.hover(null);
    }
    if (cursor === null) centreOn(event.clientX);
    else if (pointers.size === 1) {
      // Until it is a drag, a finger that trembles moves nothing.
      if (pressedAt !== null) return;
      range.value = moveRange(range.value, panel.timeAt(before) - panel.timeAt(event.clientX), whole);
    } else {
      const other = [...pointers].find(([id]) => id !== event.pointerId)?.[1] ?? before;
      const apartBefore = Math.abs(before - other);
      const apartNow = Math.abs(event.clientX - other);
      if (apartBefore > 8 && apartNow > 8) {
        range.value = zoomRange(range.value, apartBefore / apartNow, panel.timeAt(other), whole);
      }
    }
    pointers.set(event.pointerId, event.clientX);
  };
  const up = (event: PointerEvent) => {
    pointers.delete(event.pointerId);
    if (pressedAt !== null) cursor?.tap(panel.timeAt(event.clientX));
    pressedAt = null;
  };
  const cancel = (event: PointerEvent) => {
    pointers.delete(event.pointerId);
    pressedAt = null;
  };
  const leave = () => cursor?.hover(null);
  const wheel = (event: WheelEvent) => {
    const isSideways = event.shiftKey || Math.abs(event.deltaX) > Math.abs(event.deltaY);
    if (event.ctrlKey || event.metaKey) {
      event.preventDefault();
      const factor = Math.exp(Math.max(-120, Math.min(120, event.deltaY)) / 300);
      range.value = zoomRange(range.value, factor, panel.timeAt(event.clientX), whole);
    } else if (isSideways) {
      event.preventDefault();
      const along = event.deltaX === 0 ? event.deltaY : event.deltaX;
      range.value = moveRange(range.value, (along / 600) * widthOf(), whole);
    }
  };
  element.addEventListener('pointerdown', down);
  element.addEventListener('pointermove', move);
  element.addEventListener('pointerup', up);
  element.addEventListener('pointercancel', cancel);
  element.addEventListener('pointerleave', leave);
  element.addEventListener('wheel', wheel, { passive: false });
  return () => {
    element.removeEventListener('pointerdown', down);
    element.removeEventListener('pointermove', move);
    element.removeEventListener('pointerup', up);
    element.removeEventListener('pointercancel', cancel);
    element.removeEventListener('pointerleave', leave);
    element.removeEventListener('wheel', wheel);
  };
}
