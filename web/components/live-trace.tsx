// The live trace as a component: hands an athlete's buffers, holds and marks to the imperative chart.

import { useComputed } from '@preact/signals';
import { useEffect, useRef } from 'preact/hooks';
import { useApp } from '../app/app-context.ts';
import { LivePanel, type LivePanelSource } from '../charts/live-panel.ts';
import { emptyOverlay, type Overlay } from '../charts/overlay.ts';
import { whileNear } from '../charts/while-near.ts';
import type { AthleteModel } from '../state/athlete-model.ts';
import type { Quantity } from '../state/quantity.ts';
import './live-trace.css';

export interface LiveTraceProps {
  readonly model: AthleteModel;
  readonly quantity: Quantity;
  readonly windowMs: number;
  readonly compact?: boolean;
  readonly showTimeAxis?: boolean;
}

export function LiveTrace({
  model,
  quantity,
  windowMs,
  compact = false,
  showTimeAxis = false,
}: LiveTraceProps) {
  const app = useApp();
  const element = useRef<HTMLDivElement>(null);
  const windowNow = useRef(windowMs);
  windowNow.current = windowMs;
  const overlay = useComputed<Overlay>(() => ({
    ...emptyOverlay,
    compact,
    floorPercent: quantity === 'spo2' ? model.athlete.value.settings.floorSpo2Percent : null,
    floorLabel: app.text.readout.floor(model.athlete.value.settings.floorSpo2Percent),
    thresholdsPercent: quantity === 'spo2' && !compact ? model.athlete.value.settings.thresholdsPercent : [],
    holds: model.holds.value.map((hold) => ({
      fromSeconds: hold.start.atMs / 1000,
      toSeconds: hold.end === null ? null : hold.end.atMs / 1000,
    })),
    marks:
      quantity === 'spo2'
        ? model.marks.value.map((mark) => ({ atSeconds: mark.atMs / 1000, kind: mark.kind }))
        : [],
    gaps: [...model.missing.value, ...(app.hub.session.value?.unwatched ?? [])].map((span) => ({
      fromSeconds: span.fromMs / 1000,
      toSeconds: span.toMs / 1000,
    })),
    watermark: app.hub.hub.value?.simulated ? app.text.simulatedBand : null,
  }));
  useEffect(() => {
    const source: LivePanelSource = {
      quantity,
      compact,
      showTimeAxis,
      buffer: () => (quantity === 'spo2' ? model.traces.spo2Percent : model.heartRateTrace()),
      nowMs: () => app.hub.clock.nowMs(app.timers.nowMs()) ?? app.hub.nowMs.peek(),
      windowMs: () => windowNow.current,
      overlay: () => overlay.peek(),
      themeName: () => app.theme.peek(),
    };
    return whileNear(element.current!, () => {
      const panel = new LivePanel(element.current!, source);
      return () => panel.destroy();
    });
  }, [model, quantity, compact, showTimeAxis]);
  return <div ref={element} class="trace" aria-hidden="true" />;
}
