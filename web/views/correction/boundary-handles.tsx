// Handles over the trace, one a boundary or mark: dragged by mouse or finger, moved by keys. A dashed line stays where
// the estimate, or the mark as it was given, is.

import { type Signal, useSignal } from '@preact/signals';
import { useLayoutEffect, useRef } from 'preact/hooks';
import { useApp } from '../../app/app-context.ts';
import { usePlotArea } from '../../charts/use-plot-area.ts';
import { type Limits, withinLimits } from '../../state/boundary-limits.ts';
import { formatExactTime } from '../../state/format.ts';
import type { TimeRange } from '../../state/time-range.ts';
import './correction.css';

export interface BoundaryHandle {
  readonly key: string;
  readonly label: string;
  readonly atMs: number;
  readonly what: keyof typeof grips;
  readonly limits: Limits;
  /** Hears the new time when the person lets go, presses Enter or leaves the handle. */
  readonly onMoved: (atMs: number) => void;
  /** Where given, the Delete key takes it away. */
  readonly onRemoved?: () => void;
}

const grips = {
  start: '\u25b8',
  end: '\u25c2',
  contraction: '\u25bc',
  note: '\u25a0',
  pointA: 'A',
  pointB: 'B',
} as const;

/** Where a boundary or mark was before it was corrected. */
export interface OriginalTime {
  readonly key: string;
  readonly label: string;
  readonly atMs: number;
}

export interface BoundaryHandlesProps {
  readonly handles: readonly BoundaryHandle[];
  readonly originals: readonly OriginalTime[];
  readonly range: Signal<TimeRange>;
}

export function BoundaryHandles({ handles, originals, range }: BoundaryHandlesProps) {
  const element = useRef<HTMLDivElement>(null);
  const area = usePlotArea(element);
  const { fromSeconds, toSeconds } = range.value;
  const leftOf = (atMs: number): number | null => {
    const share = (atMs / 1000 - fromSeconds) / (toSeconds - fromSeconds);
    return share < -0.001 || share > 1.001 || area.value.width === 0
      ? null
      : area.value.left + share * area.value.width;
  };
  const timeAt = (clientX: number): number => {
    const parent = element.current!.parentElement!.getBoundingClientRect();
    const share = (clientX - parent.left - area.value.left) / area.value.width;
    return (fromSeconds + share * (toSeconds - fromSeconds)) * 1000;
  };
  return (
    <div class="boundary-layer" ref={element}>
      {originals.map(({ key, label, atMs }) => {
        const left = leftOf(atMs);
        return left === null ? null : (
          <span key={key} class="boundary-original" style={{ left: `${left}px` }} title={label}>
            <span class="visually-hidden">{label}</span>
          </span>
        );
      })}
      {handles.map((handle) => (
        <Handle key={handle.key} handle={handle} leftOf={leftOf} timeAt={timeAt} />
      ))}
    </div>
  );
}

interface HandleProps {
  readonly handle: BoundaryHandle;
  readonly leftOf: (atMs: number) => number | null;
  readonly timeAt: (clientX: number) => number;
}

function Handle({ handle, leftOf, timeAt }: HandleProps) {
  const { text } = useApp();
  const words = text.history.correction;
  const { label, atMs, what, limits, onMoved, onRemoved } = handle;
  const moved = useSignal<number | null>(null);
  const dragging = useRef(false);
  // At once: after the paint it could take back a move begun by then.
  useLayoutEffect(() => {
    moved.value = null;
  }, [atMs]);
  const nowAtMs = moved.value ?? atMs;
  const left = leftOf(nowAtMs);
  if (left === null) return null;
  const moveTo = (toMs: number) => {
    moved.value = withinLimits(toMs, limits);
  };
  const letGo = () => {
    dragging.current = false;
    const toMs = moved.value;
    if (toMs !== null && toMs !== atMs) onMoved(toMs);
    else moved.value = null;
  };
  return (
    <div
      class={`boundary-handle boundary-handle--${what}${moved.value === null ? '' : ' is-moved'}`}
      style={{ left: `${left}px` }}
      role="slider"
      tabIndex={0}
      aria-label={label}
      aria-valuemin={limits.leastMs / 1000}
      aria-valuemax={limits.greatestMs / 1000}
      aria-valuenow={nowAtMs / 1000}
      aria-valuetext={formatExactTime(nowAtMs)}
      onPointerDown={(event) => {
        if (event.button !== 0) return;
        event.preventDefault();
        event.currentTarget.focus();
        event.currentTarget.setPointerCapture(event.pointerId);
        dragging.current = true;
      }}
      onPointerMove={(event) => {
        if (dragging.current) moveTo(timeAt(event.clientX));
      }}
      onPointerUp={letGo}
      onPointerCancel={() => {
        dragging.current = false;
        moved.value = null;
      }}
      onBlur={() => {
        if (!dragging.current) letGo();
      }}
      onKeyDown={(event) => {
        const step = event.shiftKey ? 10_000 : event.altKey ? 100 : 1_000;
        const keys: Readonly<Record<string, () => void>> = {
          ArrowLeft: () => moveTo(nowAtMs - step),
          ArrowDown: () => moveTo(nowAtMs - step),
          ArrowRight: () => moveTo(nowAtMs + step),
          ArrowUp: () => moveTo(nowAtMs + step),
          Enter: letGo,
          ...(onRemoved !== undefined && { Delete: onRemoved, Backspace: onRemoved }),
          Escape: () => {
            moved.value = null;
          },
        };
        const act = keys[event.key];
        if (act === undefined || event.ctrlKey || event.metaKey) return;
        // The trace round it moves with the same keys.
        event.preventDefault();
        event.stopPropagation();
        act();
      }}
    >
      <span class="boundary-grip">{grips[what]}</span>
      {moved.value === null ? null : (
        <span class="boundary-time">
          {formatExactTime(nowAtMs)} <small>{words.keys}</small>
        </span>
      )}
    </div>
  );
}
