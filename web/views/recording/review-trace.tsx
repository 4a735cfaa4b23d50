// A recording's traces: an overview of the whole and a detail to zoom and move by wheel, drag, pinch and keys.

import { type ReadonlySignal, type Signal, useComputed } from '@preact/signals';
import type { ComponentChild } from 'preact';
import type { AthleteRecording, RecordingBody } from '../../../shared/http.ts';
import { useApp } from '../../app/app-context.ts';
import { formatDuration } from '../../state/format.ts';
import { firstTraceWithSamples, type LoadedTrace } from '../../state/loaded-trace.ts';
import { channelsOf } from '../../state/quantity.ts';
import { rangeAfterKey, type TimeRange, zoomMiddle } from '../../state/time-range.ts';
import { reviewOverlays } from './review-overlays.ts';
import { TracePanel } from './trace-panel.tsx';
import { useRecordingTraces } from './use-recording-traces.ts';
import '../../components/live-trace.css';

export interface ReviewTraceProps {
  readonly recording: RecordingBody;
  readonly athlete: AthleteRecording;
  readonly range: Signal<TimeRange>;
  readonly whole: TimeRange;
  /** As the sensors sent them, rather than cleaned. */
  readonly raw: Signal<boolean>;
  /** Laid over the detail. */
  readonly layer?: ComponentChild;
}

export function ReviewTrace({ recording, athlete, range, whole, raw, layer }: ReviewTraceProps) {
  const { text } = useApp();
  const words = text.recording;
  const { sessionId, simulated } = recording.session;
  const { name, settings } = athlete.athlete;
  const { overview, detail, problem } = useRecordingTraces({ sessionId, athlete, range, whole, raw });
  const hasWave = useComputed(() => firstTraceWithSamples(overview.value, channelsOf.pleth) !== null);
  const overlays = reviewOverlays(
    athlete,
    text.readout.floor(settings.floorSpo2Percent),
    simulated ? text.simulatedBand : null,
  );
  const onKey = (event: KeyboardEvent) => {
    const next = rangeAfterKey(event.key, range.value, whole);
    if (next === null || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    range.value = next;
  };
  const panel = { loaded: detail, range, whole };
  return (
    <section class="review-traces">
      {problem.value === null ? null : <p class="problem">{problem.value}</p>}
      <ReviewTools range={range} whole={whole} raw={raw} workedOut={athlete.workedOut} />
      <div
        class="review-detail"
        role="application"
        aria-label={`${name}: ${words.detailLabel}`}
        aria-busy={overview.value === null && problem.value === null}
        // biome-ignore lint/a11y/noNoninteractiveTabindex: the traces are moved and zoomed by keyboard
        tabIndex={0}
        onKeyDown={onKey}
      >
        <div class="trace-row trace-row--spo2">
          <span class="trace-label">
            {text.readout.spo2Short} <span class="trace-unit">{text.unitPercent}</span>
          </span>
          <TracePanel {...panel} quantity="spo2" overlay={overlays.spo2} />
        </div>
        <div class="trace-row trace-row--heart-rate">
          <span class="trace-label">
            {text.readout.heartRateShort} <span class="trace-unit">{text.unitBpm}</span>
          </span>
          <TracePanel
            {...panel}
            key={hasWave.value ? 'inner' : 'lowest'}
            quantity="heartRate"
            overlay={overlays.plain}
            showTimeAxis={!hasWave.value}
          />
        </div>
        {hasWave.value ? (
          <div class="trace-row trace-row--pleth">
            <span class="trace-label">{text.readout.plethShort}</span>
            <TracePanel {...panel} quantity="pleth" overlay={overlays.plain} showTimeAxis />
          </div>
        ) : null}
        {layer}
      </div>
      <div class="review-overview" aria-hidden="true" title={words.overviewLabel}>
        <TracePanel {...panel} quantity="spo2" loaded={overview} overlay={overlays.overview} overview />
      </div>
      <WhatIsDrawn detail={detail} />
    </section>
  );
}

interface ReviewToolsProps {
  readonly range: Signal<TimeRange>;
  readonly whole: TimeRange;
  readonly raw: Signal<boolean>;
  readonly workedOut: boolean;
}

/** The range in words, and buttons for what keys, wheel and pinch do. */
function ReviewTools({ range, whole, raw, workedOut }: ReviewToolsProps) {
  const { text } = useApp();
  const words = text.recording;
  const correction = text.history.correction;
  const zoomBy = (factor: number) => {
    range.value = zoomMiddle(range.value, factor, whole);
  };
  return (
    <div class="review-tools">
      <p class="review-range">
        {useComputed(
          () =>
            `${formatDuration(range.value.fromSeconds * 1000)} \u2013 ${formatDuration(range.value.toSeconds * 1000)}`,
        )}
        {workedOut ? null : <small class="review-working">{words.workingOutShort}</small>}
      </p>
      <button type="button" class="button" aria-pressed={raw.value} onClick={() => (raw.value = !raw.value)}>
        {correction.signals}: {raw.value ? correction.raw : correction.cleaned}
      </button>
      <button type="button" class="button" onClick={() => zoomBy(0.6)}>
        {words.zoomIn}
      </button>
      <button type="button" class="button" onClick={() => zoomBy(1 / 0.6)}>
        {words.zoomOut}
      </button>
      <button type="button" class="button" onClick={() => (range.value = whole)}>
        {words.all}
      </button>
    </div>
  );
}

/** Whether every sample is drawn, and whether they are cleaned. */
function WhatIsDrawn({ detail }: { readonly detail: ReadonlySignal<LoadedTrace | null> }) {
  const { text } = useApp();
  const words = text.recording;
  const correction = text.history.correction;
  return (
    <p class="hint review-decimated">
      {useComputed(() =>
        detail.value === null ? '' : detail.value.body.decimated ? words.decimated : words.full,
      )}{' '}
      {useComputed(() => (detail.value?.body.cleaned === true ? correction.cleanedNote : correction.rawNote))}
    </p>
  );
}
