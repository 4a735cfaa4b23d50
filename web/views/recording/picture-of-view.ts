// What is shown of a recording, gathered for its picture: the traces in view with their scales, holds, gaps and lanes.

import type { AthleteRecording, RecordingBody } from '../../../shared/http.ts';
import type { Trace } from '../../../shared/views.ts';
import { type ChartTheme, readChartTheme } from '../../charts/chart-theme.ts';
import { colourOf } from '../../charts/plot-options.ts';
import type { Messages } from '../../i18n/en.ts';
import { alarmLanes } from '../../state/alarm-lanes.ts';
import { formatDuration, formatWallTime } from '../../state/format.ts';
import { firstTraceWithSamples, type LoadedTrace, plainAcrossSeconds } from '../../state/loaded-trace.ts';
import { channelsOf, type Quantity } from '../../state/quantity.ts';
import type { TimeRange } from '../../state/time-range.ts';
import type { ReviewOverlays } from './review-overlays.ts';
import { type PicturePlot, tracePicture } from './trace-picture.ts';
import type { TraceView } from './use-trace-view.ts';

export interface ViewToDraw {
  readonly recording: RecordingBody;
  readonly athlete: AthleteRecording;
  readonly view: TraceView;
  readonly whole: TimeRange;
  readonly loaded: LoadedTrace | null;
  readonly overlays: ReviewOverlays;
  readonly text: Messages;
}

export function pictureOfView(
  { recording, athlete, view, whole, loaded, overlays, text }: ViewToDraw,
  withName: boolean,
): string {
  const { session } = recording;
  const words = text.traces.picture;
  const theme = readChartTheme(document.documentElement);
  const range = view.range.value;
  const plots = (['spo2', 'heartRate', 'pleth'] as const).flatMap((quantity): PicturePlot[] => {
    const trace = firstTraceWithSamples(loaded, channelsOf[quantity]);
    if (trace === null && quantity === 'pleth') return [];
    return [plotOf(quantity, trace, range, view, overlays, theme, text)];
  });
  const span = `${formatDuration(range.fromSeconds * 1_000)} \u2013 ${formatDuration(range.toSeconds * 1_000)}`;
  return tracePicture({
    title: session.title === '' ? text.recordings.untitled : session.title,
    lines: [
      `${withName ? `${athlete.athlete.name} \u00b7 ` : ''}${formatWallTime(session.startedWallAtMs)} \u00b7 ${span}`,
    ],
    footer: session.simulated ? `${text.recording.simulated} ${words.notMedical}` : words.notMedical,
    watermark: session.simulated ? text.simulatedBand : null,
    missing: text.traces.missing,
    range,
    acrossSeconds: loaded?.acrossSeconds ?? plainAcrossSeconds,
    plots,
    lanes: alarmLanes(athlete.alarms, whole.toSeconds)
      .filter(({ alarms }) =>
        alarms.some((each) => each.fromSeconds <= range.toSeconds && each.toSeconds >= range.fromSeconds),
      )
      .map((lane) => ({ ...lane, name: text.alarm.kind[lane.kind] })),
    points: view.points.value,
    theme,
  });
}

function plotOf(
  quantity: Quantity,
  trace: Trace | null,
  range: TimeRange,
  view: TraceView,
  overlays: ReviewOverlays,
  theme: ChartTheme,
  text: Messages,
): PicturePlot {
  const shown = (trace?.value ?? []).filter(
    (value, index): value is number =>
      value !== null &&
      trace!.atMs[index]! >= range.fromSeconds * 1_000 &&
      trace!.atMs[index]! <= range.toSeconds * 1_000,
  );
  let [least, greatest] = [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY];
  for (const value of shown) {
    least = Math.min(least, value);
    greatest = Math.max(greatest, value);
  }
  const [from, to] = rangeOf(quantity, view, shown.length === 0 ? null : [least, greatest]);
  const step = [1, 2, 5, 10, 20, 50].find((each) => (to - from) / each <= 8) ?? 100;
  const first = Math.ceil(from / step) * step;
  const { readout } = text;
  return {
    label:
      quantity === 'spo2'
        ? `${readout.spo2Short} ${text.unitPercent}`
        : quantity === 'heartRate'
          ? `${readout.heartRateShort} ${text.unitBpm}`
          : readout.plethShort,
    colour: colourOf(quantity, theme),
    isFaint: quantity === 'pleth',
    trace,
    overlay: overlays[quantity],
    least: from,
    greatest: to,
    // A wave has no unit.
    ticks:
      quantity === 'pleth'
        ? []
        : Array.from({ length: Math.floor((to - first) / step) + 1 }, (_, index) => first + index * step),
    height: quantity === 'spo2' ? 260 : quantity === 'heartRate' ? 180 : 120,
  };
}

/** As the plots have it, but never narrower than what is drawn. */
function rangeOf(
  quantity: Quantity,
  view: TraceView,
  seen: readonly [number, number] | null,
): [number, number] {
  const scale = view.scaleOf(quantity);
  if (typeof scale === 'object') return [...scale];
  const [least, greatest] = seen ?? [quantity === 'spo2' ? 90 : 50, 100];
  if (scale === 'fitted' || quantity === 'pleth') {
    const margin = Math.max(1, 0.06 * (greatest - least));
    return [least - margin, greatest + margin];
  }
  return quantity === 'spo2'
    ? [Math.min(70, 5 * Math.floor(least / 5)), 101]
    : [Math.min(40, 20 * Math.floor(least / 20)), Math.max(120, 20 * Math.ceil(greatest / 20))];
}
