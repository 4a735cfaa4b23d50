// Over all plots of the detail: one line of the cursor, and two points to measure between as handles to drag or move by keys.

import { useComputed } from '@preact/signals';
import { useRef } from 'preact/hooks';
import { useApp } from '../../app/app-context.ts';
import { usePlotArea } from '../../charts/use-plot-area.ts';
import type { TimeRange } from '../../state/time-range.ts';
import { type BoundaryHandle, BoundaryHandles } from '../correction/boundary-handles.tsx';
import type { TraceView } from './use-trace-view.ts';

export interface TraceLayerProps {
  readonly view: TraceView;
  readonly whole: TimeRange;
}

export function TraceLayer({ view, whole }: TraceLayerProps) {
  const words = useApp().text.traces;
  const points = view.points.value;
  const handles = (['a', 'b'] as const).flatMap((which): BoundaryHandle[] =>
    points === null
      ? []
      : [
          {
            key: `point-${which}`,
            label: words.point[which],
            atMs: points[which] * 1_000,
            what: which === 'a' ? 'pointA' : 'pointB',
            limits: { leastMs: 0, greatestMs: whole.toSeconds * 1_000 },
            onMoved: (atMs) => view.setPoint(which, atMs / 1_000),
          },
        ],
  );
  return (
    <>
      <CursorLine view={view} />
      {handles.length === 0 ? null : <BoundaryHandles handles={handles} originals={[]} range={view.range} />}
    </>
  );
}

function CursorLine({ view }: { readonly view: TraceView }) {
  const element = useRef<HTMLDivElement>(null);
  const area = usePlotArea(element);
  const place = (atSeconds: number): number => {
    const { fromSeconds, toSeconds } = view.range.value;
    return area.value.left + ((atSeconds - fromSeconds) / (toSeconds - fromSeconds)) * area.value.width;
  };
  const cursorStyle = useComputed(() => {
    const at = view.cursor.value;
    if (at === null || area.value.width === 0) return 'display: none';
    const left = place(at);
    const isInside = left >= area.value.left - 1 && left <= area.value.left + area.value.width + 1;
    return isInside ? `transform: translateX(${left.toFixed(1)}px)` : 'display: none';
  });
  const spanStyle = useComputed(() => {
    const points = view.points.value;
    if (points === null || area.value.width === 0) return 'display: none';
    const end = area.value.left + area.value.width;
    const from = Math.max(area.value.left, place(Math.min(points.a, points.b)));
    const to = Math.min(end, place(Math.max(points.a, points.b)));
    return to <= from ? 'display: none' : `left: ${from.toFixed(1)}px; width: ${(to - from).toFixed(1)}px`;
  });
  return (
    <div class="trace-layer" ref={element} aria-hidden="true">
      <Styled class="trace-span" style={spanStyle} />
      <Styled class="trace-cursor" style={cursorStyle} />
    </div>
  );
}

/** So that a moving pointer renders one element and no more. */
function Styled({
  class: name,
  style,
}: {
  readonly class: string;
  readonly style: { readonly value: string };
}) {
  return <div class={name} style={style.value} />;
}
