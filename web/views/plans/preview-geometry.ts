// Where a plan's preview is drawn: scales, ticks, and the line and band of saturation as SVG points. Pure; CSS pixels.

import type { PlanPreview } from '../../../src/oxygen/plan-preview.ts';

export const chartHeight = 200;
export const chartLeft = 34;
const top = 6;
const bottom = 22;
/** A minute's number needs this much room. */
const leastMinuteWidth = 32;

export interface PreviewGeometry {
  readonly width: number;
  readonly plotTop: number;
  readonly plotHeight: number;
  readonly x: (atMs: number) => number;
  readonly y: (percent: number) => number;
  readonly percentLines: readonly number[];
  readonly minutes: readonly number[];
  /** `points` of a polyline and a polygon. */
  readonly middle: string;
  readonly band: string;
}

export function previewGeometry(
  { points }: Pick<PlanPreview, 'points'>,
  floorPercent: number,
  width: number,
): PreviewGeometry {
  const lastMs = points.at(-1)?.atMs ?? 1;
  const least = Math.min(floorPercent - 5, ...points.map((point) => point.readingPercent.low));
  const bottomPercent = Math.max(40, Math.floor(least / 10) * 10);
  const plotWidth = width - chartLeft;
  const plotHeight = chartHeight - bottom - top;
  const x = (atMs: number) => chartLeft + (plotWidth * atMs) / lastMs;
  const y = (percent: number) =>
    top + (plotHeight * (100 - Math.max(bottomPercent, percent))) / (100 - bottomPercent);
  const at = (atMs: number, percent: number) => `${x(atMs).toFixed(1)},${y(percent).toFixed(1)}`;
  return {
    width,
    plotTop: top,
    plotHeight,
    x,
    y,
    percentLines: steps(bottomPercent, 100, 10),
    minutes: steps(0, lastMs / 60_000, minuteStep(lastMs, plotWidth)),
    middle: points.map((point) => at(point.atMs, point.readingPercent.middle)).join(' '),
    band: [
      ...points.map((point) => at(point.atMs, point.readingPercent.high)),
      ...points.toReversed().map((point) => at(point.atMs, point.readingPercent.low)),
    ].join(' '),
  };
}

const minuteStep = (lastMs: number, plotWidth: number): number =>
  [1, 2, 5, 10, 20].find((step) => (lastMs / 60_000 / step) * leastMinuteWidth < plotWidth) ?? 30;

function steps(from: number, to: number, by: number): number[] {
  const found: number[] = [];
  for (let each = from; each <= to; each += by) found.push(each);
  return found;
}
