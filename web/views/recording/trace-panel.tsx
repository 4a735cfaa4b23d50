// One trace of a recording as a chart that follows its signals: the range, what was loaded, what is laid over it.

import { type ReadonlySignal, type Signal, useSignalEffect } from '@preact/signals';
import { useEffect, useRef } from 'preact/hooks';
import { useApp } from '../../app/app-context.ts';
import type { Overlay } from '../../charts/overlay.ts';
import { type ReviewContent, ReviewPanel } from '../../charts/review-panel.ts';
import { firstTraceWithSamples, type LoadedTrace, plainAcrossSeconds } from '../../state/loaded-trace.ts';
import { channelsOf, type Quantity } from '../../state/quantity.ts';
import type { TimeRange } from '../../state/time-range.ts';
import { followPointers } from './follow-pointers.ts';
import type { TraceView } from './use-trace-view.ts';

export interface TracePanelProps {
  readonly quantity: Quantity;
  readonly loaded: ReadonlySignal<LoadedTrace | null>;
  readonly overlay: Overlay;
  readonly range: Signal<TimeRange>;
  readonly whole: TimeRange;
  readonly showTimeAxis?: boolean;
  /** Without: an overview of the whole. */
  readonly view?: TraceView;
}

export function TracePanel({
  quantity,
  loaded,
  overlay,
  range,
  whole,
  showTimeAxis = false,
  view,
}: TracePanelProps) {
  const { theme } = useApp();
  const element = useRef<HTMLDivElement>(null);
  const panel = useRef<ReviewPanel | null>(null);
  const overlayNow = useRef(overlay);
  overlayNow.current = overlay;
  const content = (): ReviewContent => ({
    trace: firstTraceWithSamples(loaded.value, channelsOf[quantity]),
    range: view === undefined ? whole : range.value,
    overlay: overlayNow.current,
    acrossSeconds: loaded.value?.acrossSeconds ?? plainAcrossSeconds,
    window: view === undefined ? range.value : null,
    valueScale: view?.scaleOf(quantity) ?? 'usual',
  });
  useEffect(() => {
    const made = new ReviewPanel(
      element.current!,
      { quantity, showTimeAxis, compact: view === undefined },
      content(),
    );
    panel.current = made;
    const cursor =
      view === undefined
        ? null
        : {
            hover: (atSeconds: number | null) => {
              view.hover.value = atSeconds;
            },
            tap: (atSeconds: number) => {
              view.pinned.value = atSeconds;
            },
          };
    const release = followPointers(element.current!, made, range, whole, cursor);
    return () => {
      release();
      made.destroy();
      panel.current = null;
    };
  }, []);
  useSignalEffect(() => {
    const next = content();
    panel.current?.show(next);
  });
  useSignalEffect(() => {
    theme.value;
    // The attribute that switches the tokens is set by another effect of the same change.
    queueMicrotask(() => panel.current?.themeChanged());
  });
  useEffect(() => panel.current?.show(content()), [overlay]);
  return <div ref={element} class="trace" />;
}
