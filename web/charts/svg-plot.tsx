// A still plot as SVG: for pages that compare, look back, or go on paper. Colours come from classes, never attributes.

import type { ComponentChildren } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';
import './svg-plot.css';

export interface PlotFrame {
  readonly width: number;
  readonly height: number;
  readonly left: number;
  readonly right: number;
  readonly top: number;
  readonly bottom: number;
  readonly x: (value: number) => number;
  readonly y: (value: number) => number;
}

export interface FrameParts {
  readonly width: number;
  readonly height: number;
  readonly xRange: readonly [number, number];
  readonly yRange: readonly [number, number];
  readonly margins?: {
    readonly left: number;
    readonly right: number;
    readonly top: number;
    readonly bottom: number;
  };
}

export function makeFrame({ width, height, xRange, yRange, margins }: FrameParts): PlotFrame {
  const { left, right, top, bottom } = margins ?? { left: 40, right: 12, top: 8, bottom: 24 };
  const [x0, x1] = xRange;
  const [y0, y1] = yRange;
  const xScale = (width - left - right) / (x1 - x0 || 1);
  const yScale = (height - top - bottom) / (y1 - y0 || 1);
  return {
    width,
    height,
    left,
    right: width - right,
    top,
    bottom: height - bottom,
    x: (value) => left + (value - x0) * xScale,
    y: (value) => height - bottom - (value - y0) * yScale,
  };
}

const near = (value: number) => value.toFixed(1);

/** A line through the samples, broken where two are further apart than `across`. */
export function linePath(
  frame: PlotFrame,
  xs: ArrayLike<number>,
  ys: ArrayLike<number>,
  across = Number.POSITIVE_INFINITY,
): string {
  let path = '';
  let before = Number.NEGATIVE_INFINITY;
  for (let index = 0; index < xs.length; index += 1) {
    const broken = xs[index]! - before > across || index === 0;
    path += `${broken ? 'M' : 'L'}${near(frame.x(xs[index]!))} ${near(frame.y(ys[index]!))}`;
    before = xs[index]!;
  }
  return path;
}

/** The area between two lines over the same times, broken like them. */
export function bandPath(
  frame: PlotFrame,
  xs: readonly number[],
  low: readonly number[],
  high: readonly number[],
  across = Number.POSITIVE_INFINITY,
): string {
  let path = '';
  let first = 0;
  for (let index = 1; index <= xs.length; index += 1) {
    if (index < xs.length && xs[index]! - xs[index - 1]! <= across) continue;
    if (xs.length === 0) break;
    const points: string[] = [];
    for (let i = first; i < index; i += 1) points.push(`${near(frame.x(xs[i]!))} ${near(frame.y(high[i]!))}`);
    for (let i = index - 1; i >= first; i -= 1)
      points.push(`${near(frame.x(xs[i]!))} ${near(frame.y(low[i]!))}`);
    path += `M${points.join('L')}Z`;
    first = index;
  }
  return path;
}

/** Round steps so that `least` to `greatest` has about `wanted` of them. */
export function ticksOf(
  least: number,
  greatest: number,
  wanted: number,
  steps: readonly number[] = [1, 2, 5, 10, 20, 50, 100, 200],
): number[] {
  const step = steps.find((each) => (greatest - least) / each <= wanted) ?? steps.at(-1)!;
  const ticks: number[] = [];
  for (let at = Math.ceil(least / step) * step; at <= greatest; at += step) ticks.push(at);
  return ticks;
}

/** About the width of a bold capital, in its font size: a watermark has to fit whole, in every language. */
const capitalWidthEm = 0.78;

/** Steps of seconds that read well as minutes. */
export const secondSteps = [1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1_800, 3_600];

export interface SvgPlotProps {
  readonly frame: PlotFrame;
  /** What it shows, for who cannot see it. */
  readonly label: string;
  readonly xTicks: readonly { readonly at: number; readonly text: string }[];
  readonly yTicks: readonly { readonly at: number; readonly text: string }[];
  readonly watermark?: string | null;
  readonly children: ComponentChildren;
}

export function SvgPlot({ frame, label, xTicks, yTicks, watermark, children }: SvgPlotProps) {
  const { left, right, top, bottom, width, height } = frame;
  return (
    <svg
      class="plot"
      role="img"
      aria-label={label}
      viewBox={`0 0 ${width} ${height}`}
      width={width}
      height={height}
    >
      {yTicks.map(({ at, text }) => (
        <g key={at}>
          <path class="plot-grid" d={`M${left} ${near(frame.y(at))}H${right}`} />
          <text class="plot-text" x={left - 6} y={frame.y(at)} dy="0.35em" text-anchor="end">
            {text}
          </text>
        </g>
      ))}
      {xTicks.map(({ at, text }) => (
        <g key={at}>
          <path class="plot-grid" d={`M${near(frame.x(at))} ${top}V${bottom}`} />
          <text class="plot-text" x={frame.x(at)} y={bottom + 16} text-anchor="middle">
            {text}
          </text>
        </g>
      ))}
      {watermark === undefined || watermark === null ? null : (
        <text
          class="plot-watermark"
          x={(left + right) / 2}
          y={(top + bottom) / 2}
          dy="0.35em"
          text-anchor="middle"
          font-size={near(Math.min(44, (right - left) / (watermark.length * capitalWidthEm)))}
        >
          {watermark}
        </text>
      )}
      {children}
    </svg>
  );
}

/** The width of an element as it changes; 0 before it is laid out. */
export function useWidth() {
  const element = useRef<HTMLDivElement>(null);
  const [width, setWidth] = useState(0);
  useEffect(() => {
    const target = element.current!;
    setWidth(Math.floor(target.clientWidth));
    const observer = new ResizeObserver(() => setWidth(Math.floor(target.clientWidth)));
    observer.observe(target);
    return () => observer.disconnect();
  }, []);
  return { element, width };
}
