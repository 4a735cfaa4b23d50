// A recording's traces: an overview of the whole and a detail to zoom and move by wheel, drag, pinch and keys.

import { type Signal, useComputed, useSignal, useSignalEffect } from '@preact/signals';
import type { ComponentChild } from 'preact';
import { useEffect, useRef } from 'preact/hooks';
import type { AthleteRecording, RecordingBody, TraceBody } from '../../../shared/http.ts';
import type { Trace } from '../../../shared/views.ts';
import { useApp } from '../../app/app-context.ts';
import { emptyOverlay, type Overlay } from '../../charts/overlay.ts';
import type { Quantity } from '../../charts/plot-options.ts';
import { type ReviewContent, ReviewPanel } from '../../charts/review-panel.ts';
import { formatDuration } from '../../state/format.ts';
import { moveRange, type TimeRange, zoomRange } from '../../state/time-range.ts';
import '../../components/live-trace.css';

/** Buckets asked for: about one a pixel of a wide screen, each with its least and greatest value. */
const overviewPoints = 800;
const detailPoints = 1_600;
/** The least time over which a line joins two samples; thinned data need more. */
const plainAcrossSeconds = 3.5;
const channels = ['spo2Percent', 'heartRateBpm', 'pulseRateBpm', 'pleth'] as const;

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

interface Loaded {
  readonly body: TraceBody;
  readonly acrossSeconds: number;
}

function loadedFrom(body: TraceBody, points: number): Loaded {
  const bucketSeconds = (body.toMs - body.fromMs) / 1000 / points;
  return {
    body,
    acrossSeconds: body.thinned ? Math.max(plainAcrossSeconds, bucketSeconds * 3) : plainAcrossSeconds,
  };
}

function traceOf(loaded: Loaded | null, quantity: Quantity): Trace | null {
  if (loaded === null) return null;
  const find = (channel: Trace['channel']) =>
    loaded.body.traces.find((trace) => trace.channel === channel && trace.atMs.length > 0) ?? null;
  if (quantity === 'pleth') return find('pleth');
  return quantity === 'spo2' ? find('spo2Percent') : (find('heartRateBpm') ?? find('pulseRateBpm'));
}

export function ReviewTrace({ recording, athlete, range, whole, raw, layer }: ReviewTraceProps) {
  const { text, http, timers } = useApp();
  const words = text.recording;
  const { sessionId } = recording.session;
  const { athleteId, name } = athlete.athlete;
  const overview = useSignal<Loaded | null>(null);
  const detail = useSignal<Loaded | null>(null);
  const problem = useSignal<string | null>(null);

  const signals = raw.value ? 'raw' : 'cleaned';
  const { workedOut } = athlete;
  useEffect(() => {
    const leave = new AbortController();
    void http
      .trace(
        sessionId,
        athleteId,
        whole.fromSeconds * 1000,
        whole.toSeconds * 1000,
        overviewPoints,
        signals,
        channels,
        leave.signal,
      )
      .then((answer) => {
        if (leave.signal.aborted) return;
        if (answer.ok) overview.value = loadedFrom(answer.value, overviewPoints);
        problem.value = answer.ok ? null : words.traceFailed(answer.reason);
      });
    return () => leave.abort();
  }, [athleteId, raw.value, workedOut]);

  // The overview is drawn at once; samples closer together follow when the range has come to rest.
  useSignalEffect(() => {
    const { fromSeconds, toSeconds } = range.value;
    if (overview.value?.body.thinned !== true) {
      detail.value = null;
      return undefined;
    }
    const wanted = raw.value ? 'raw' : 'cleaned';
    const leave = new AbortController();
    const cancel = timers.after(140, () => {
      const marginSeconds = (toSeconds - fromSeconds) / 2;
      void http
        .trace(
          sessionId,
          athleteId,
          Math.max(0, fromSeconds - marginSeconds) * 1000,
          Math.min(whole.toSeconds, toSeconds + marginSeconds) * 1000,
          detailPoints,
          wanted,
          channels,
          leave.signal,
        )
        .then((answer) => {
          if (!leave.signal.aborted && answer.ok) detail.value = loadedFrom(answer.value, detailPoints);
        });
    });
    return () => {
      leave.abort();
      cancel();
    };
  });

  const shown = useComputed<Loaded | null>(() => {
    const finer = detail.value;
    if (finer === null) return overview.value;
    const covers =
      finer.body.fromMs <= range.value.fromSeconds * 1000 + 1 &&
      finer.body.toMs >= range.value.toSeconds * 1000 - 1;
    return covers ? finer : overview.value;
  });
  const hasWave = useComputed(() => traceOf(overview.value, 'pleth') !== null);
  const seconds = (ms: number) => ms / 1000;
  const shared: Overlay = {
    ...emptyOverlay,
    holds: athlete.holds.map(({ hold }) => ({
      fromSeconds: seconds(hold.start.atMs),
      toSeconds: hold.end === null ? null : seconds(hold.end.atMs),
    })),
    gaps: athlete.gaps.map((gap) => ({ fromSeconds: seconds(gap.fromMs), toSeconds: seconds(gap.toMs) })),
    watermark: recording.session.simulated ? text.simulatedBand : null,
  };
  const spo2Overlay: Overlay = {
    ...shared,
    floorPercent: athlete.athlete.settings.floorSpo2Percent,
    floorLabel: text.readout.floor(athlete.athlete.settings.floorSpo2Percent),
    thresholdsPercent: athlete.athlete.settings.thresholdsPercent,
    marks: athlete.marks.map((mark) => ({ atSeconds: seconds(mark.atMs), kind: mark.kind })),
    alarms: athlete.alarms.map(({ alarm, clearedAtMs }) => ({
      fromSeconds: seconds(alarm.raisedAtMs),
      toSeconds: clearedAtMs === null ? null : seconds(clearedAtMs),
      priority: alarm.priority,
    })),
  };

  const zoomBy = (factor: number) => {
    range.value = zoomRange(
      range.value,
      factor,
      (range.value.fromSeconds + range.value.toSeconds) / 2,
      whole,
    );
  };
  const moveBy = (share: number) => {
    range.value = moveRange(range.value, share * (range.value.toSeconds - range.value.fromSeconds), whole);
  };
  const onKey = (event: KeyboardEvent) => {
    const actions: Readonly<Record<string, () => void>> = {
      ArrowLeft: () => moveBy(-0.15),
      ArrowRight: () => moveBy(0.15),
      '+': () => zoomBy(0.7),
      '=': () => zoomBy(0.7),
      '-': () => zoomBy(1 / 0.7),
      '0': () => (range.value = whole),
      Home: () => moveBy(-1e6),
      End: () => moveBy(1e6),
    };
    const action = actions[event.key];
    if (action === undefined || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    action();
  };
  return (
    <section class="review-traces">
      {problem.value === null ? null : <p class="problem">{problem.value}</p>}
      <div class="review-tools">
        <p class="review-range">
          {useComputed(
            () =>
              `${formatDuration(range.value.fromSeconds * 1000)} \u2013 ${formatDuration(range.value.toSeconds * 1000)}`,
          )}
          {workedOut ? null : <small class="review-working">{words.workingOutShort}</small>}
        </p>
        <button
          type="button"
          class="button"
          aria-pressed={raw.value}
          onClick={() => (raw.value = !raw.value)}
        >
          {text.history.correction.signals}:{' '}
          {raw.value ? text.history.correction.raw : text.history.correction.cleaned}
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
          <Panel quantity="spo2" loaded={shown} overlay={spo2Overlay} range={range} whole={whole} />
        </div>
        <div class="trace-row trace-row--heart-rate">
          <span class="trace-label">
            {text.readout.heartRateShort} <span class="trace-unit">{text.unitBpm}</span>
          </span>
          <Panel
            key={hasWave.value ? 'inner' : 'lowest'}
            quantity="heartRate"
            loaded={shown}
            overlay={shared}
            range={range}
            whole={whole}
            showTimeAxis={!hasWave.value}
          />
        </div>
        {hasWave.value ? (
          <div class="trace-row trace-row--pleth">
            <span class="trace-label">{text.readout.plethShort}</span>
            <Panel
              quantity="pleth"
              loaded={shown}
              overlay={shared}
              range={range}
              whole={whole}
              showTimeAxis
            />
          </div>
        ) : null}
        {layer}
      </div>
      <div class="review-overview" aria-hidden="true" title={words.overviewLabel}>
        <Panel
          quantity="spo2"
          loaded={overview}
          overlay={{ ...spo2Overlay, compact: true, watermark: null, thresholdsPercent: [], marks: [] }}
          range={range}
          whole={whole}
          overview
        />
      </div>
      <p class="hint review-thinned">
        {useComputed(() =>
          shown.value === null ? '' : shown.value.body.thinned ? words.thinned : words.full,
        )}{' '}
        {useComputed(() =>
          shown.value?.body.cleaned === true
            ? text.history.correction.cleanedNote
            : text.history.correction.rawNote,
        )}
      </p>
    </section>
  );
}

interface PanelProps {
  readonly quantity: Quantity;
  readonly loaded: { readonly value: Loaded | null };
  readonly overlay: Overlay;
  readonly range: Signal<TimeRange>;
  readonly whole: TimeRange;
  readonly showTimeAxis?: boolean;
  readonly overview?: boolean;
}

function Panel({
  quantity,
  loaded,
  overlay,
  range,
  whole,
  showTimeAxis = false,
  overview = false,
}: PanelProps) {
  const { theme } = useApp();
  const element = useRef<HTMLDivElement>(null);
  const panel = useRef<ReviewPanel | null>(null);
  const overlayNow = useRef(overlay);
  overlayNow.current = overlay;
  const content = (): ReviewContent => ({
    trace: traceOf(loaded.value, quantity),
    range: overview ? whole : range.value,
    overlay: overlayNow.current,
    acrossSeconds: loaded.value?.acrossSeconds ?? plainAcrossSeconds,
    window: overview ? range.value : null,
  });
  useEffect(() => {
    const made = new ReviewPanel(element.current!, { quantity, showTimeAxis, compact: overview }, content());
    panel.current = made;
    const release = followPointers(element.current!, made, range, whole, overview);
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

/** Drag moves, two fingers and the wheel zoom; on the overview a press centres the window there. */
function followPointers(
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
