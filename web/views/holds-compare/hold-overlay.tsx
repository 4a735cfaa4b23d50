// One channel of several holds over one another, with the median band: lines in the trace's colour, or in that of their
// session where there are several, told apart by the name at their end and by bringing one forward.

import { type AlignedTrace, type Alignment, medianBand } from '../../../src/sessions/hold-window.ts';
import {
  bandPath,
  linePath,
  makeFrame,
  type PlotFrame,
  SvgPlot,
  secondSteps,
  ticksOf,
} from '../../charts/svg-plot.tsx';
import { formatDuration } from '../../state/format.ts';

/** Sensors notify about once a second; a line over more than this would hide a silence. */
const acrossSeconds = 5;

export interface OverlaidHold {
  readonly key: string;
  readonly shortName: string;
  /** Which of several sessions it is of; null where there is one. */
  readonly session: number | null;
  readonly trace: AlignedTrace;
}

/** Sessions that have a colour of their own; more begin again, and the letter at a line's end tells them apart. */
export const sessionColours = 6;
const classOf = ({ session }: OverlaidHold): string =>
  session === null ? '' : ` plot-session-${session % sessionColours}`;

export interface HoldOverlayProps {
  readonly quantity: 'spo2' | 'heartRate';
  readonly holds: readonly OverlaidHold[];
  readonly alignment: Alignment;
  readonly xRange: readonly [number, number];
  readonly width: number;
  readonly height: number;
  readonly forward: string | null;
  readonly label: string;
  readonly watermark: string | null;
}

/** Seconds from the anchor as a clock, with a sign before it. */
const signedClock = (seconds: number): string =>
  seconds < 0 ? `\u2212${formatDuration(-seconds * 1000)}` : formatDuration(seconds * 1000);

export function HoldOverlay(props: HoldOverlayProps) {
  const { quantity, holds, alignment, xRange, width, height, forward, label, watermark } = props;
  const values = holds.flatMap(({ trace }) => trace.value);
  const least = Math.min(...values, quantity === 'spo2' ? 85 : 50);
  const greatest = Math.max(...values, quantity === 'spo2' ? 100 : 90);
  const yRange: [number, number] =
    quantity === 'spo2'
      ? [Math.floor(least / 5) * 5, 101]
      : [Math.floor(least / 10) * 10, Math.ceil(greatest / 10) * 10];
  const frame = makeFrame({ width, height, xRange, yRange });
  const band = medianBand(
    holds.map(({ trace }) => trace),
    alignment,
  );
  const ordered = [...holds].sort((a, b) => Number(a.key === forward) - Number(b.key === forward));
  const zero = frame.x(0);
  return (
    <SvgPlot
      frame={frame}
      label={label}
      watermark={watermark}
      xTicks={ticksOf(xRange[0], xRange[1], width < 500 ? 5 : 10, secondSteps).map((at) => ({
        at,
        text: signedClock(at),
      }))}
      yTicks={ticksOf(yRange[0], yRange[1], 7).map((at) => ({ at, text: String(at) }))}
    >
      <g class={`plot-${quantity}`}>
        <path class="plot-band" d={bandPath(frame, band.atSeconds, band.low, band.high, 1.5)} />
        <path class="plot-zero" d={`M${zero} ${frame.top}V${frame.bottom}`} />
        {ordered.map((hold) => (
          <g key={hold.key} class={`plot-hold${hold.key === forward ? ' is-forward' : ''}${classOf(hold)}`}>
            <path
              class="plot-line"
              d={linePath(frame, hold.trace.atSeconds, hold.trace.value, acrossSeconds)}
            />
            {edges(hold.trace).map(({ seconds, value, kind }) => (
              <circle key={kind} class="plot-edge" cx={frame.x(seconds)} cy={frame.y(value)} r={3} />
            ))}
          </g>
        ))}
        <path class="plot-median-under" d={linePath(frame, band.atSeconds, band.median, 1.5)} />
        <path class="plot-median" d={linePath(frame, band.atSeconds, band.median, 1.5)} />
        {nameLabels(ordered, frame).map(({ key, shortName, x, y }) => (
          <text key={key} class={key === forward ? 'plot-name is-forward' : 'plot-name'} x={x} y={y}>
            {shortName}
          </text>
        ))}
      </g>
    </SvgPlot>
  );
}

/** The readings nearest to the start and the end of the hold. */
function edges(trace: AlignedTrace): { seconds: number; value: number; kind: 'start' | 'end' }[] {
  return (['start', 'end'] as const).flatMap((kind) => {
    const at = kind === 'start' ? trace.startSeconds : trace.endSeconds;
    if (at === null) return [];
    const index = trace.atSeconds.findIndex((seconds) => seconds >= at);
    const seconds = trace.atSeconds[index];
    if (seconds === undefined || seconds - at > acrossSeconds) return [];
    return [{ kind, seconds, value: trace.value[index]! }];
  });
}

/** A hold's name beside its end, moved down where it would cover another. */
function nameLabels(holds: readonly OverlaidHold[], frame: PlotFrame) {
  const labels = holds
    .flatMap(({ key, shortName, trace }) => {
      const end = edges(trace).find(({ kind }) => kind === 'end');
      const seconds = end?.seconds ?? trace.atSeconds.at(-1);
      const value = end?.value ?? trace.value.at(-1);
      if (seconds === undefined || value === undefined) return [];
      const width = shortName.length * 7;
      return [
        {
          key,
          shortName,
          width,
          x: Math.min(frame.x(seconds) + 6, frame.right - width),
          y: frame.y(value) - 7,
        },
      ];
    })
    .sort((a, b) => a.y - b.y);
  labels.forEach((label, index) => {
    for (const placed of labels.slice(0, index))
      if (Math.abs(placed.x - label.x) < label.width + 4 && label.y - placed.y < 12) label.y = placed.y + 12;
  });
  return labels;
}
