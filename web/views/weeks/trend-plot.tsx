// One measure against date: each session's median with its range, and the running median with its spread.

import { compareFourWeeks, runningMedian } from '../../../src/sessions/running-median.ts';
import { useApp } from '../../app/app-context.ts';
import { bandPath, linePath, makeFrame, SvgPlot, secondSteps, ticksOf } from '../../charts/svg-plot.tsx';
import { formatDay } from '../../state/calendar.ts';
import { formatDecimal, formatDuration, formatWhole } from '../../state/format.ts';
import type { TrendPoint } from './past-sessions.ts';

export interface TrendPlotProps {
  readonly title: string;
  readonly definition: string;
  readonly unit: 's' | '%' | '/min' | 'comfort';
  /** In order of date. */
  readonly points: readonly TrendPoint[];
  readonly firstDay: number;
  readonly lastDay: number;
  readonly width: number;
  readonly watermark: string | null;
}

/** Seconds under a minute as seconds, beyond as minutes; others to one decimal. */
function formatValue(value: number, unit: TrendPlotProps['unit']): string {
  if (unit === 's') return value < 60 ? `${formatWhole(value)}\u202fs` : formatDuration(value * 1000);
  if (unit === 'comfort') return formatDecimal(value, 1);
  return `${formatDecimal(value, 1)}\u202f${unit}`;
}

export function TrendPlot(props: TrendPlotProps) {
  const { title, definition, unit, points, firstDay, lastDay, width, watermark } = props;
  const { text } = useApp();
  const words = text.history.weeks;
  const inSpan = points.filter(({ atDay }) => atDay >= firstDay && atDay <= lastDay);
  // Many seconds are written as minutes; the heading names the unit of the axis.
  const inMinutes = unit === 's' && inSpan.some(({ greatest }) => greatest >= 60);
  const axisUnit = inMinutes ? 'min:s' : unit;
  const heading = (
    <>
      <h3>
        {title}, {words.unitOf[axisUnit] ?? axisUnit}
      </h3>
      <p class="hint trend-definition">{definition}</p>
    </>
  );
  if (inSpan.length === 0)
    return (
      <section class="trend">
        {heading}
        <p class="hint">{words.noValues}</p>
      </section>
    );
  const least = unit === 'comfort' ? 1 : Math.min(...inSpan.map((point) => point.least));
  const greatest = unit === 'comfort' ? 5 : Math.max(...inSpan.map((point) => point.greatest));
  const margin = unit === 'comfort' ? 0.3 : Math.max(1, (greatest - least) * 0.08);
  const yRange: [number, number] = [Math.max(0, least - margin), greatest + margin];
  const height = 190;
  const frame = makeFrame({
    width,
    height,
    xRange: [firstDay - 1, lastDay + 1],
    yRange,
    margins: { left: 46, right: 10, top: 8, bottom: 24 },
  });
  const running = runningMedian(points);
  const ticks = ticksOf(firstDay, lastDay, width < 420 ? 4 : 6, [7, 14, 28, 56, 91, 182]);
  return (
    <section class="trend">
      {heading}
      <SvgPlot
        frame={frame}
        label={words.plot(title, inSpan.length)}
        watermark={watermark}
        xTicks={ticks.map((at) => ({ at, text: formatDay(at) }))}
        yTicks={ticksOf(yRange[0], yRange[1], 5, unit === 's' ? secondSteps : [1, 2, 5, 10, 20, 50]).map(
          (at) => ({ at, text: inMinutes ? formatDuration(at * 1000) : String(at) }),
        )}
      >
        <g class="plot-trend">
          {running.map((stretch) => {
            const visible = stretch.filter(({ atDay }) => atDay >= firstDay);
            const days = visible.map(({ atDay }) => atDay);
            return (
              <g key={stretch[0]!.atDay}>
                <path
                  class="plot-band"
                  d={bandPath(
                    frame,
                    days,
                    visible.map(({ low }) => low),
                    visible.map(({ high }) => high),
                  )}
                />
                <path
                  class="plot-running"
                  d={linePath(
                    frame,
                    days,
                    visible.map(({ median }) => median),
                  )}
                />
              </g>
            );
          })}
          {inSpan.map((point) => (
            <g key={point.atDay}>
              <path
                class="plot-range"
                d={`M${frame.x(point.atDay).toFixed(1)} ${frame.y(point.least).toFixed(1)}V${frame.y(point.greatest).toFixed(1)}`}
              />
              <circle class="plot-dot" cx={frame.x(point.atDay)} cy={frame.y(point.value)} r={3} />
            </g>
          ))}
        </g>
      </SvgPlot>
      <FourWeeksText points={points} lastDay={lastDay} unit={unit} />
    </section>
  );
}

function FourWeeksText({
  points,
  lastDay,
  unit,
}: {
  readonly points: readonly TrendPoint[];
  readonly lastDay: number;
  readonly unit: TrendPlotProps['unit'];
}) {
  const { text } = useApp();
  const words = text.history.weeks;
  const { now, before, change } = compareFourWeeks(points, lastDay);
  if (now === null) return null;
  const interval = (each: typeof now) =>
    each.low === null || each.high === null
      ? null
      : `${formatValue(each.low, unit)}\u2013${formatValue(each.high, unit)}`;
  return (
    <p class="trend-text">
      {words.lastFourWeeks(formatValue(now.median, unit), interval(now), now.count)}{' '}
      {before === null
        ? null
        : `${words.fourBefore(formatValue(before.median, unit), interval(before), before.count)} `}
      {now.low === null || before?.low == null ? words.tooFew : words.change[change]}
    </p>
  );
}
