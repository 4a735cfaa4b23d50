// One measure against date: each session's median with its range, to be opened from here, the median of the two weeks before
// each with its spread, and one sentence.

import { useSignal } from '@preact/signals';
import { useLayoutEffect, useRef } from 'preact/hooks';
import { trailingMedian, trendOf } from '../../../src/sessions/trend.ts';
import { useApp } from '../../app/app-context.ts';
import {
  bandPath,
  linePath,
  makeFrame,
  type PlotFrame,
  SvgPlot,
  secondSteps,
  ticksOf,
} from '../../charts/svg-plot.tsx';
import { formatDay } from '../../state/calendar.ts';
import { formatDuration } from '../../state/format.ts';
import type { TrendPoint } from './past-sessions.ts';
import { formatValue, type TrendUnit, trendSentence } from './trend-words.ts';

export interface TrendPlotProps {
  readonly title: string;
  /** Stands over the plot in place of the title and its unit, where those stand over several. */
  readonly heading?: string;
  readonly definition: string;
  readonly unit: TrendUnit;
  /** In order of date. */
  readonly points: readonly TrendPoint[];
  readonly firstDay: number;
  readonly lastDay: number;
  readonly width: number;
  readonly watermark: string | null;
  /** A scale shared with other plots; its own where left out. */
  readonly yRange?: readonly [number, number] | undefined;
  /** Instead of what can be said of the last four weeks. */
  readonly sentence?: string;
}

/** What the plot of some points spans, with a margin; never below zero, which none of the measures can be. */
export function rangeOf(points: readonly TrendPoint[], unit: TrendUnit): [number, number] {
  if (unit === 'comfort') return [0.7, 5.3];
  const least = Math.min(...points.map((point) => point.least));
  const greatest = Math.max(...points.map((point) => point.greatest));
  const margin = Math.max(1, (greatest - least) * 0.08);
  return [Math.max(0, least - margin), greatest + margin];
}

/** Many seconds are written as minutes. */
const isInMinutes = (unit: TrendUnit, greatest: number): boolean => unit === 's' && greatest >= 60;
/** What an axis up to `greatest` is written in. */
export const axisUnitOf = (unit: TrendUnit, greatest: number): string =>
  isInMinutes(unit, greatest) ? 'min:s' : unit;

export function TrendPlot(props: TrendPlotProps) {
  const { title, definition, unit, points, firstDay, lastDay, width, watermark } = props;
  const { text } = useApp();
  const words = text.history.weeks;
  const inSpan = points.filter(({ atDay }) => atDay >= firstDay && atDay <= lastDay);
  const greatest = props.yRange?.[1] ?? Math.max(0, ...inSpan.map((point) => point.greatest));
  const inMinutes = isInMinutes(unit, greatest);
  const axisUnit = axisUnitOf(unit, greatest);
  return (
    <section class="trend">
      {props.heading === undefined ? (
        <h3>
          {title}, {words.unitOf[axisUnit] ?? axisUnit}
        </h3>
      ) : (
        <h4>{props.heading}</h4>
      )}
      {definition === '' ? null : <p class="hint trend-definition">{definition}</p>}
      {inSpan.length === 0 ? (
        <p class="hint">{words.noValues}</p>
      ) : (
        <>
          <Plot
            title={title}
            unit={unit}
            points={points}
            inSpan={inSpan}
            inMinutes={inMinutes}
            firstDay={firstDay}
            lastDay={lastDay}
            width={width}
            watermark={watermark}
            yRange={props.yRange ?? rangeOf(inSpan, unit)}
          />
          <p class="trend-text">{props.sentence ?? trendSentence(trendOf(points, lastDay), unit, text)}</p>
        </>
      )}
    </section>
  );
}

interface PlotProps extends Omit<TrendPlotProps, 'heading' | 'definition' | 'yRange' | 'sentence'> {
  readonly inSpan: readonly TrendPoint[];
  readonly inMinutes: boolean;
  readonly yRange: readonly [number, number];
}

function Plot(props: PlotProps) {
  const { title, unit, points, inSpan, inMinutes, firstDay, lastDay, width, watermark, yRange } = props;
  const { text } = useApp();
  const frame = makeFrame({
    width,
    height: 190,
    xRange: [firstDay - 1, lastDay + 1],
    yRange,
    margins: { left: 46, right: 10, top: 8, bottom: 24 },
  });
  const ticks = ticksOf(firstDay, lastDay, width < 240 ? 2 : width < 420 ? 4 : 6, [7, 14, 28, 56, 91, 182]);
  return (
    <PointLinks frame={frame} unit={unit} points={inSpan}>
      <SvgPlot
        frame={frame}
        label={text.history.weeks.plot(title, inSpan.length)}
        watermark={watermark}
        xTicks={ticks.map((at) => ({ at, text: formatDay(at) }))}
        yTicks={ticksOf(yRange[0], yRange[1], 5, unit === 's' ? secondSteps : [1, 2, 5, 10, 20, 50]).map(
          (at) => ({ at, text: inMinutes ? formatDuration(at * 1000) : String(at) }),
        )}
      >
        <g class="plot-trend">
          {trailingMedian(points).map((stretch) => (
            <Stretch
              key={stretch[0]!.atDay}
              frame={frame}
              stretch={stretch.filter(({ atDay }) => atDay >= firstDay && atDay <= lastDay)}
              within={yRange}
            />
          ))}
          {inSpan.map((point) => (
            <g key={point.atDay}>
              <path
                class="plot-range"
                d={`M${frame.x(point.atDay).toFixed(1)} ${frame.y(clipped(point.least, yRange)).toFixed(1)}V${frame.y(clipped(point.greatest, yRange)).toFixed(1)}`}
              />
              {isWithin(point.value, yRange) ? (
                <circle class="plot-dot" cx={frame.x(point.atDay)} cy={frame.y(point.value)} r={3} />
              ) : null}
            </g>
          ))}
        </g>
      </SvgPlot>
    </PointLinks>
  );
}

const clipped = (value: number, [least, greatest]: readonly [number, number]): number =>
  Math.min(greatest, Math.max(least, value));
const isWithin = (value: number, [least, greatest]: readonly [number, number]): boolean =>
  value >= least && value <= greatest;

function Stretch(props: {
  readonly frame: PlotFrame;
  readonly stretch: readonly { atDay: number; median: number; low: number; high: number }[];
  readonly within: readonly [number, number];
}) {
  const { frame, stretch, within } = props;
  const days = stretch.map(({ atDay }) => atDay);
  const column = (of: (point: (typeof stretch)[number]) => number): number[] =>
    stretch.map((point) => clipped(of(point), within));
  return (
    <g>
      <path
        class="plot-band"
        d={bandPath(
          frame,
          days,
          column(({ low }) => low),
          column(({ high }) => high),
        )}
      />
      <path
        class="plot-running"
        d={linePath(
          frame,
          days,
          column(({ median }) => median),
        )}
      />
    </g>
  );
}

/** How near to a point a finger or pointer means it, px: a target of 44 px, or half the way to its neighbour. */
const reachPx = 22;

interface PointLinksProps {
  readonly frame: PlotFrame;
  readonly unit: TrendUnit;
  readonly points: readonly TrendPoint[];
  readonly children: preact.ComponentChildren;
}

/** A plot whose points open what they are of: by pointer the nearest one, by keys along the dates. */
function PointLinks({ frame, unit, points, children }: PointLinksProps) {
  const { text } = useApp();
  const words = text.weeksMore.trend;
  const linked = points.filter(({ sessionId }) => sessionId !== null);
  const element = useRef<HTMLDivElement>(null);
  const shown = useSignal<number | null>(null);
  const links = (): HTMLAnchorElement[] => [
    ...(element.current?.querySelectorAll<HTMLAnchorElement>('a.trend-point') ?? []),
  ];
  const nearest = (event: MouseEvent): number | null => {
    const box = element.current!.getBoundingClientRect();
    let best: { index: number; awayPx: number } | null = null;
    linked.forEach((point, index) => {
      const awayPx = Math.hypot(
        event.clientX - box.left - frame.x(point.atDay),
        event.clientY - box.top - frame.y(point.value),
      );
      if (awayPx <= reachPx && awayPx < (best?.awayPx ?? Number.POSITIVE_INFINITY)) best = { index, awayPx };
    });
    return (best as { index: number } | null)?.index ?? null;
  };
  const nameOf = ({ atDay, value }: TrendPoint): string =>
    words.point(formatDay(Math.floor(atDay)), formatValue(value, unit));
  const step = (event: KeyboardEvent, index: number) => {
    const to = { ArrowLeft: index - 1, ArrowRight: index + 1, Home: 0, End: linked.length - 1 }[event.key];
    if (to === undefined || linked[to] === undefined) return;
    event.preventDefault();
    links()[to]?.focus();
  };
  const now = shown.value === null ? undefined : linked[shown.value];
  // The plot answers for its points, which are too near to each other to be pressed each; keys go from link to link.
  useLayoutEffect(() => {
    const figure = element.current!;
    const over = (event: PointerEvent) => {
      shown.value = nearest(event);
    };
    const away = () => {
      shown.value = null;
    };
    const press = (event: MouseEvent) => {
      if (event.target instanceof Element && event.target.closest('a') !== null) return;
      const index = nearest(event);
      if (index !== null) links()[index]?.click();
    };
    figure.addEventListener('pointermove', over);
    figure.addEventListener('pointerleave', away);
    figure.addEventListener('click', press);
    return () => {
      figure.removeEventListener('pointermove', over);
      figure.removeEventListener('pointerleave', away);
      figure.removeEventListener('click', press);
    };
  });
  return (
    <>
      <div ref={element} class={now === undefined ? 'trend-figure' : 'trend-figure is-over-point'}>
        {children}
        {linked.map((point, index) => (
          <a
            key={`${point.sessionId} ${point.atDay}`}
            class={index === shown.value ? 'trend-point is-shown' : 'trend-point'}
            href={`/recordings/${point.sessionId}`}
            tabIndex={index === (shown.value ?? linked.length - 1) ? 0 : -1}
            style={{ left: `${frame.x(point.atDay)}px`, top: `${frame.y(point.value)}px` }}
            onFocus={() => (shown.value = index)}
            onKeyDown={(event) => step(event, index)}
          >
            <span class="visually-hidden">{words.openPoint(nameOf(point))}</span>
          </a>
        ))}
      </div>
      <p class="trend-point-name" aria-hidden="true">
        {now === undefined ? '' : nameOf(now)}
      </p>
    </>
  );
}
