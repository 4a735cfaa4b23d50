// The whole session on paper: one channel over time with holds, floor, marks, alarms and gaps, told apart without colour.

import type { AthleteRecording } from '../../../shared/http.ts';
import { linePath, makeFrame, SvgPlot, secondSteps, ticksOf } from '../../charts/svg-plot.tsx';
import { formatDuration } from '../../state/format.ts';
import { firstTraceWithSamples, type LoadedTrace } from '../../state/loaded-trace.ts';
import { channelsOf } from '../../state/quantity.ts';

export interface ReportPlotProps {
  readonly quantity: 'spo2' | 'heartRate';
  readonly athlete: AthleteRecording;
  readonly trace: LoadedTrace;
  readonly durationMs: number;
  readonly label: string;
  readonly floorLabel: string;
  readonly watermark: string | null;
}

const width = 720;

export function ReportPlot(props: ReportPlotProps) {
  const { quantity, athlete, trace, durationMs, label, floorLabel, watermark } = props;
  const { acrossSeconds } = trace;
  const own = firstTraceWithSamples(trace, channelsOf[quantity]);
  const seconds: number[] = [];
  const values: number[] = [];
  own?.value.forEach((value, index) => {
    if (value === null || own.quality[index] === 'b') return;
    seconds.push(own.atMs[index]! / 1000);
    values.push(value);
  });
  if (own === null || values.length === 0) return null;
  const floor = athlete.athlete.settings.floorSpo2Percent;
  const least = values.reduce((a, b) => Math.min(a, b), quantity === 'spo2' ? floor - 3 : 50);
  const greatest = values.reduce((a, b) => Math.max(a, b), quantity === 'spo2' ? 100 : 90);
  const yRange: [number, number] =
    quantity === 'spo2'
      ? [Math.floor(least / 5) * 5, 101]
      : [Math.floor(least / 10) * 10, Math.ceil(greatest / 10) * 10];
  const durationS = Math.max(10, durationMs / 1000);
  const frame = makeFrame({
    width,
    height: quantity === 'spo2' ? 170 : 120,
    xRange: [0, durationS],
    yRange,
    margins: { left: 36, right: 10, top: 14, bottom: 22 },
  });
  const x = (atMs: number) => frame.x(atMs / 1000);
  return (
    <SvgPlot
      frame={frame}
      label={label}
      watermark={watermark}
      xTicks={ticksOf(0, durationS, 10, secondSteps).map((at) => ({ at, text: formatDuration(at * 1000) }))}
      yTicks={ticksOf(yRange[0], yRange[1], 6).map((at) => ({ at, text: String(at) }))}
    >
      <g class={`plot-${quantity}`}>
        {athlete.holds.map(({ hold }, index) => {
          const left = x(hold.start.atMs);
          const right = x(hold.end?.atMs ?? durationMs);
          return (
            <g key={hold.holdId}>
              <rect
                class="report-hold"
                x={left}
                y={frame.top}
                width={Math.max(1, right - left)}
                height={frame.bottom - frame.top}
              />
              <path
                class="report-bracket"
                d={`M${left} ${frame.bottom}V${frame.top}H${right}${hold.end === null ? '' : `V${frame.bottom}`}`}
              />
              <text class="plot-name" x={(left + right) / 2} y={frame.top - 3} text-anchor="middle">
                {index + 1}
              </text>
            </g>
          );
        })}
        {athlete.gaps.map((gap) => (
          <path
            key={`${gap.sensorId}-${gap.fromMs}`}
            class="report-gap"
            d={`M${x(gap.fromMs)} ${frame.bottom}H${Math.max(x(gap.toMs), x(gap.fromMs) + 2)}`}
          />
        ))}
        {quantity === 'spo2' ? (
          <>
            <path class="report-floor" d={`M${frame.left} ${frame.y(floor)}H${frame.right}`} />
            <text class="plot-text" x={frame.left + 4} y={frame.y(floor) + 12}>
              {floorLabel}
            </text>
          </>
        ) : null}
        <path class="plot-line report-line" d={linePath(frame, seconds, values, acrossSeconds)} />
        {athlete.marks
          .filter(({ kind }) => kind === 'contraction')
          .map((mark) => (
            <path key={mark.markId} class="report-mark" d={`M${x(mark.atMs) - 4} ${frame.top + 2}h8l-4 7z`} />
          ))}
        {quantity === 'spo2'
          ? athlete.alarms
              .filter(({ alarm }) => alarm.priority === 'high')
              .map(({ alarm }) => (
                <path
                  key={alarm.alarmId}
                  class="report-alarm"
                  d={`M${x(alarm.raisedAtMs) - 5} ${frame.bottom - 1}h10l-5 -9z`}
                />
              ))
          : null}
      </g>
    </SvgPlot>
  );
}
