// Tiles that fill their place whole, as large as they can all be at once; none is below the fold.

import { useSignal } from '@preact/signals';
import type { ComponentChildren } from 'preact';
import { useLayoutEffect, useRef } from 'preact/hooks';
import { columnsFor } from '../../state/wall-order.ts';
import './fitted-tiles.css';

export function FittedTiles(props: { readonly count: number; readonly children: ComponentChildren }) {
  const { count, children } = props;
  const element = useRef<HTMLOListElement>(null);
  const columns = useSignal(1);
  useLayoutEffect(() => {
    const target = element.current!;
    const measure = () => {
      columns.value = columnsFor(count, target.clientWidth, target.clientHeight);
    };
    measure();
    const observer = new ResizeObserver(measure);
    observer.observe(target);
    return () => observer.disconnect();
  }, [count]);
  return (
    <ol
      ref={element}
      class="fitted-tiles"
      style={{
        gridTemplateColumns: `repeat(${columns.value}, minmax(0, 1fr))`,
        gridTemplateRows: `repeat(${Math.ceil(count / columns.value)}, minmax(0, 1fr))`,
      }}
    >
      {children}
    </ol>
  );
}
