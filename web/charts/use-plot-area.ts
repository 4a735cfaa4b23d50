// Where the plots of an element draw: what is laid over them by the page's own elements is placed by it.

import { type ReadonlySignal, useSignal } from '@preact/signals';
import type { RefObject } from 'preact';
import { useEffect } from 'preact/hooks';

/** The plots' own area inside the element, in CSS pixels. Width 0 until they stand. */
export interface PlotArea {
  readonly left: number;
  readonly width: number;
  /** What is left of the element beyond it. */
  readonly right: number;
}

/** `inside` answers with the element that the plots stand in. */
export function usePlotArea(
  element: RefObject<HTMLElement | null>,
  inside: (element: HTMLElement) => HTMLElement | null = (own) => own.parentElement,
): ReadonlySignal<PlotArea> {
  const area = useSignal<PlotArea>({ left: 0, width: 0, right: 0 });
  useEffect(() => {
    const parent = inside(element.current!);
    if (parent === null) return undefined;
    const measure = () => {
      const plot = parent.querySelector('.u-over')?.getBoundingClientRect();
      if (plot === undefined) return;
      const own = parent.getBoundingClientRect();
      const next = { left: plot.left - own.left, width: plot.width, right: own.right - plot.right };
      const { left, width, right } = area.value;
      if (next.left !== left || next.width !== width || next.right !== right) area.value = next;
    };
    // After the charts have set their own size.
    const later = () => requestAnimationFrame(measure);
    const observer = new ResizeObserver(later);
    observer.observe(parent);
    later();
    return () => observer.disconnect();
  }, []);
  return area;
}
