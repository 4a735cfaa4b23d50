// The two ends of the stretch that is shown, as handles on the overview: dragged, or moved by keys.

import { useComputed } from '@preact/signals';
import { useRef } from 'preact/hooks';
import { useApp } from '../../app/app-context.ts';
import { usePlotArea } from '../../charts/use-plot-area.ts';
import { formatDuration } from '../../state/format.ts';
import { fitRange, leastWidthSeconds, type TimeRange } from '../../state/time-range.ts';
import type { TraceView } from './use-trace-view.ts';

export interface OverviewHandlesProps {
  readonly view: TraceView;
  readonly whole: TimeRange;
}

type End = 'from' | 'to';

const targetPixels = 44;
/** What is seen of a handle. */
const gripPixels = 10;

export function OverviewHandles({ view, whole }: OverviewHandlesProps) {
  const words = useApp().text.traces;
  const element = useRef<HTMLDivElement>(null);
  const area = usePlotArea(element);
  const dragging = useRef(false);
  const width = whole.toSeconds - whole.fromSeconds;
  const secondsOf = (end: End) =>
    end === 'from' ? view.range.value.fromSeconds : view.range.value.toSeconds;
  const moveTo = (end: End, seconds: number) => {
    const { fromSeconds, toSeconds } = view.range.value;
    const next =
      end === 'from'
        ? { fromSeconds: Math.min(seconds, toSeconds - leastWidthSeconds), toSeconds }
        : { fromSeconds, toSeconds: Math.max(seconds, fromSeconds + leastWidthSeconds) };
    view.range.value = fitRange(
      {
        fromSeconds: Math.max(whole.fromSeconds, next.fromSeconds),
        toSeconds: Math.min(whole.toSeconds, next.toSeconds),
      },
      whole,
    );
  };
  const secondsAt = (clientX: number) => {
    const box = element.current!.getBoundingClientRect();
    return whole.fromSeconds + ((clientX - box.left - area.value.left) / area.value.width) * width;
  };
  /** Each reaches outwards, so that neither covers the other, but never out of the overview. */
  const styles = useComputed((): Readonly<Record<End, string>> => {
    const { left, width: plotWidth } = area.value;
    if (plotWidth === 0) return { from: 'display: none', to: 'display: none' };
    const placed = (end: End) => left + ((secondsOf(end) - whole.fromSeconds) / width) * plotWidth;
    const styleOf = (end: End, at: number) =>
      `transform: translateX(${at.toFixed(1)}px); --grip: ${(placed(end) - at - gripPixels / 2).toFixed(1)}px`;
    return {
      from: styleOf('from', Math.max(0, placed('from') - targetPixels + gripPixels / 2)),
      to: styleOf('to', Math.min(left + plotWidth - targetPixels, placed('to') - gripPixels / 2)),
    };
  });
  return (
    <div class="overview-handles" ref={element}>
      {(['from', 'to'] as const).map((end) => (
        <div
          key={end}
          class={`overview-handle overview-handle--${end}`}
          style={styles.value[end]}
          role="slider"
          tabIndex={0}
          aria-label={words.shownEnd[end]}
          aria-valuemin={whole.fromSeconds}
          aria-valuemax={whole.toSeconds}
          aria-valuenow={Math.round(secondsOf(end))}
          aria-valuetext={formatDuration(secondsOf(end) * 1_000)}
          onPointerDown={(event) => {
            if (event.button !== 0) return;
            event.preventDefault();
            event.stopPropagation();
            event.currentTarget.focus();
            event.currentTarget.setPointerCapture(event.pointerId);
            dragging.current = true;
          }}
          onPointerMove={(event) => {
            if (dragging.current) moveTo(end, secondsAt(event.clientX));
          }}
          onPointerUp={() => (dragging.current = false)}
          onPointerCancel={() => (dragging.current = false)}
          onKeyDown={(event) => {
            const step = Math.max(1, width / (event.shiftKey ? 20 : 100));
            const by = { ArrowLeft: -step, ArrowDown: -step, ArrowRight: step, ArrowUp: step }[event.key];
            if (by === undefined || event.ctrlKey || event.metaKey || event.altKey) return;
            event.preventDefault();
            event.stopPropagation();
            moveTo(end, secondsOf(end) + by);
          }}
        />
      ))}
    </div>
  );
}
