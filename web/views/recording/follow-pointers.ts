// The pointer on a recording's trace: what drag, pinch, wheel and a press on the overview make of the range shown.

import type { Signal } from '@preact/signals';
import type { ReviewPanel } from '../../charts/review-panel.ts';
import { moveRange, type TimeRange, zoomRange } from '../../state/time-range.ts';

/** Drag moves, two fingers and the wheel zoom; on the overview a press centres the window there. */
export function followPointers(
  element: HTMLElement,
  panel: ReviewPanel,
  range: Signal<TimeRange>,
  whole: TimeRange,
  overview: boolean,
): () => void {
  const pointers = new Map<number, number>();
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
    if (overview) centreOn(event.clientX);
  };
  const move = (event: PointerEvent) => {
    const before = pointers.get(event.pointerId);
    if (before === undefined) return;
    if (overview) centreOn(event.clientX);
    else if (pointers.size === 1) {
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
  const up = (event: PointerEvent) => pointers.delete(event.pointerId);
  const wheel = (event: WheelEvent) => {
    event.preventDefault();
    if (event.shiftKey || Math.abs(event.deltaX) > Math.abs(event.deltaY)) {
      const along = event.deltaX === 0 ? event.deltaY : event.deltaX;
      range.value = moveRange(range.value, (along / 600) * widthOf(), whole);
    } else {
      const factor = Math.exp(Math.max(-120, Math.min(120, event.deltaY)) / 300);
      range.value = zoomRange(range.value, factor, panel.timeAt(event.clientX), whole);
    }
  };
  element.addEventListener('pointerdown', down);
  element.addEventListener('pointermove', move);
  element.addEventListener('pointerup', up);
  element.addEventListener('pointercancel', up);
  element.addEventListener('wheel', wheel, { passive: false });
  return () => {
    element.removeEventListener('pointerdown', down);
    element.removeEventListener('pointermove', move);
    element.removeEventListener('pointerup', up);
    element.removeEventListener('pointercancel', up);
    element.removeEventListener('wheel', wheel);
  };
}
