// A recording's traces: an overview of the whole, and a detail to look at closely by pointer, fingers and keys.

import { type ReadonlySignal, type Signal, useComputed, useSignal } from '@preact/signals';
import type { ComponentChild } from 'preact';
import type { AthleteRecording, RecordingBody } from '../../../shared/http.ts';
import { useApp } from '../../app/app-context.ts';
import { firstTraceWithSamples, type LoadedTrace } from '../../state/loaded-trace.ts';
import { channelsOf } from '../../state/quantity.ts';
import type { TimeRange } from '../../state/time-range.ts';
import { AlarmLanes } from './alarm-lanes.tsx';
import { OverviewHandles } from './overview-handles.tsx';
import { pictureOfView } from './picture-of-view.ts';
import { reviewOverlays } from './review-overlays.ts';
import { SavePicture } from './save-picture.tsx';
import { TraceLayer } from './trace-layer.tsx';
import { TracePanel } from './trace-panel.tsx';
import { CursorTime, CursorValue, PointTable } from './trace-readout.tsx';
import { TraceTools } from './trace-tools.tsx';
import { useInterval } from './use-interval.ts';
import { useRecordingTraces } from './use-recording-traces.ts';
import { useTraceView } from './use-trace-view.ts';
import '../../components/live-trace.css';
import './traces.css';

export interface ReviewTraceProps {
  readonly recording: RecordingBody;
  readonly athlete: AthleteRecording;
  readonly range: Signal<TimeRange>;
  readonly whole: TimeRange;
  /** As the sensors sent them, rather than cleaned. */
  readonly raw: Signal<boolean>;
  /** Laid over the detail. */
  readonly layer?: ComponentChild;
  /** To correct with, right above the detail. */
  readonly tools?: ComponentChild;
}

export function ReviewTrace({ recording, athlete, range, whole, raw, layer, tools }: ReviewTraceProps) {
  const { text } = useApp();
  const words = text.recording;
  const { sessionId, simulated } = recording.session;
  const { athleteId, name, settings } = athlete.athlete;
  const { overview, detail, problem } = useRecordingTraces({ sessionId, athlete, range, whole, raw });
  const hasWave = useComputed(() => firstTraceWithSamples(overview.value, channelsOf.pleth) !== null);
  const heartRateChannel = useComputed(
    () => firstTraceWithSamples(overview.value, channelsOf.heartRate)?.channel,
  );
  const view = useTraceView({ athlete, range, whole });
  const interval = useInterval({ sessionId, athleteId, points: view.points, raw });
  const isSaving = useSignal(false);
  const overlays = reviewOverlays(
    athlete,
    text.readout.floor(settings.floorSpo2Percent),
    simulated ? text.simulatedBand : null,
    heartRateChannel.value,
  );
  const panel = { loaded: detail, range, whole };
  return (
    <section class="review-traces">
      {problem.value === null ? null : <p class="problem">{problem.value}</p>}
      <TraceTools
        view={view}
        whole={whole}
        raw={raw}
        workedOut={athlete.workedOut}
        hasHolds={athlete.holds.length > 0}
        onPicture={() => (isSaving.value = true)}
      />
      {tools}
      <CursorTime view={view} />
      <div
        class="review-detail"
        role="application"
        aria-label={`${name}: ${words.detailLabel}`}
        aria-busy={overview.value === null && problem.value === null}
        // biome-ignore lint/a11y/noNoninteractiveTabindex: the traces are moved and zoomed by keyboard
        tabIndex={0}
        onKeyDown={(event) => view.onKey(event)}
      >
        <div class="trace-row trace-row--spo2">
          <span class="trace-label">
            {text.readout.spo2Short} <span class="trace-unit">{text.unitPercent}</span>{' '}
            <CursorValue quantity="spo2" loaded={detail} view={view} />
          </span>
          <TracePanel {...panel} view={view} quantity="spo2" overlay={overlays.spo2} />
        </div>
        <div class="trace-row trace-row--heart-rate">
          <span class="trace-label">
            {text.readout.heartRateShort} <span class="trace-unit">{text.unitBpm}</span>{' '}
            <CursorValue quantity="heartRate" loaded={detail} view={view} />
          </span>
          <TracePanel
            {...panel}
            view={view}
            key={hasWave.value ? 'inner' : 'lowest'}
            quantity="heartRate"
            overlay={overlays.heartRate}
            showTimeAxis={!hasWave.value}
          />
        </div>
        {hasWave.value ? (
          <div class="trace-row trace-row--pleth">
            <span class="trace-label">{text.readout.plethShort}</span>
            <TracePanel {...panel} view={view} quantity="pleth" overlay={overlays.pleth} showTimeAxis />
          </div>
        ) : null}
        <TraceLayer view={view} whole={whole} />
        {layer}
      </div>
      {athlete.alarms.length === 0 ? null : <AlarmLanes athlete={athlete} view={view} whole={whole} />}
      <section class="review-overview" aria-label={words.overviewLabel} title={words.overviewLabel}>
        <TracePanel {...panel} quantity="spo2" loaded={overview} overlay={overlays.overview} />
        <OverviewHandles view={view} whole={whole} />
      </section>
      <PointTable view={view} interval={interval} floorPercent={settings.floorSpo2Percent} />
      <WhatIsDrawn detail={detail} />
      {isSaving.value ? (
        <SavePicture
          simulated={simulated}
          fileName={`slackwater-${new Date(recording.session.startedWallAtMs).toISOString().slice(0, 10)}${simulated ? '-SIMULATED' : ''}`}
          onClose={() => (isSaving.value = false)}
          draw={(withName) =>
            pictureOfView({ recording, athlete, view, whole, loaded: detail.value, overlays, text }, withName)
          }
        />
      ) : null}
    </section>
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
