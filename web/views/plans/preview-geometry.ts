// Where a plan's preview is drawn: scales, ticks, and the line and band of saturation or of carbon dioxide as SVG points.
// Pure; CSS pixels.

import type { PlanPreview, PreviewBand } from '../../../src/oxygen/plan-preview.ts';

export const chartHeight = 200;
export const chartLeft = 34;
/** 1 mmHg in kPa (BIPM, SI Brochure 9th ed. 2019; reference 2.09). */
export const kPaPerMmHg = 0.1333224;
const top = 6;
const bottom = 22;
/** A minute's number needs this much room. */
const leastMinuteWidth = 32;

export interface PreviewGeometry {
  readonly width: number;
  readonly plotTop: number;
  readonly plotHeight: number;
  readonly x: (atMs: number) => number;
  readonly y: (value: number) => number;
  /** Values with a line across, in the unit drawn. */
  readonly lines: readonly number[];
  readonly minutes: readonly number[];
  /** `points` of a polyline and a polygon. */
  readonly middle: string;
  readonly band: string;
}

/** Saturation, %, down to 10 below what is expected or the floor. */
export function saturationGeometry(
  { points }: Pick<PlanPreview, 'points'>,
  floorPercent: number,
  width: number,
): PreviewGeometry {
  const least = Math.min(floorPercent - 5, ...points.map((point) => point.readingPercent.low));
  const bands = points.map(({ atMs, readingPercent }) => ({ atMs, band: readingPercent }));
  return geometryOf(
    bands,
    { least: Math.max(40, Math.floor(least / 10) * 10), most: 100, step: 10 },
    width,
    0,
  );
}

/** Room on the right for the other unit's numbers. */
export const co2ChartRight = 30;

/** Carbon dioxide of the lungs, kPa, with mmHg on the right. */
export function co2Geometry({ points }: Pick<PlanPreview, 'points'>, width: number): PreviewGeometry {
  const inKPa = ({ middle, low, high }: PreviewBand): PreviewBand => ({
    middle: middle * kPaPerMmHg,
    low: low * kPaPerMmHg,
    high: high * kPaPerMmHg,
  });
  const bands = points.map(({ atMs, pco2MmHg }) => ({ atMs, band: inKPa(pco2MmHg) }));
  // As the last deep breath mixes in, it dips for some seconds: the line leaves the plot there rather than flatten the rest.
  const least = Math.max(2, Math.floor(Math.min(4, ...bands.map(({ band }) => band.low))));
  const most = Math.ceil(Math.max(8, ...bands.map(({ band }) => band.high)));
  return geometryOf(bands, { least, most, step: 1 }, width, co2ChartRight);
}

/** Tens of mmHg that stand on the right of the plot. */
export function mmHgLines({ lines }: Pick<PreviewGeometry, 'lines'>): readonly number[] {
  const [least, most] = [(lines[0] ?? 0) / kPaPerMmHg, (lines.at(-1) ?? 0) / kPaPerMmHg];
  return steps(Math.ceil(least / 10) * 10, most, 10);
}

function geometryOf(
  points: readonly { readonly atMs: number; readonly band: PreviewBand }[],
  { least, most, step }: { readonly least: number; readonly most: number; readonly step: number },
  width: number,
  right: number,
): PreviewGeometry {
  const lastMs = points.at(-1)?.atMs ?? 1;
  const plotWidth = width - chartLeft - right;
  const plotHeight = chartHeight - bottom - top;
  const x = (atMs: number) => chartLeft + (plotWidth * atMs) / lastMs;
  const y = (value: number) =>
    top + (plotHeight * (most - Math.min(most, Math.max(least, value)))) / (most - least);
  const at = (atMs: number, value: number) => `${x(atMs).toFixed(1)},${y(value).toFixed(1)}`;
  return {
    width,
    plotTop: top,
    plotHeight,
    x,
    y,
    lines: steps(least, most, step),
    minutes: steps(0, lastMs / 60_000, minuteStep(lastMs, plotWidth)),
    middle: points.map(({ atMs, band }) => at(atMs, band.middle)).join(' '),
    band: [
      ...points.map(({ atMs, band }) => at(atMs, band.high)),
      ...points.toReversed().map(({ atMs, band }) => at(atMs, band.low)),
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
