// The parts of a uPlot set-up that live and review charts share: axes in session time, ranges, gap finding.

import uPlot from 'uplot';
import { formatDuration } from '../state/format.ts';
import { plainAcrossSeconds } from '../state/loaded-trace.ts';
import type { Quantity } from '../state/quantity.ts';
import { sampleFlags } from '../state/trace-buffer.ts';
import type { ChartTheme } from './chart-theme.ts';

/** The colour of a quantity's line. A pulse wave has no unit and no meaning beyond its shape: it keeps back. */
export const colourOf = (quantity: Quantity, theme: ChartTheme): string =>
  quantity === 'spo2' ? theme.spo2 : quantity === 'heartRate' ? theme.heartRate : theme.faint;

const timeSteps = [1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600];

/** `usual` stays the same whatever is shown; `fitted` follows what is in view; two numbers are a person's own. */
export type ValueScale = 'usual' | 'fitted' | readonly [least: number, greatest: number];

/** Narrower than this, the last digit of a reading would fill the plot. */
const leastFittedSpan = { spo2: 4, heartRate: 12 } as const;

function scaledRange(
  quantity: Quantity,
  scale: ValueScale,
  least: number | null,
  greatest: number | null,
): [number, number] {
  if (typeof scale === 'object' && quantity !== 'pleth') return [...scale];
  if (scale !== 'fitted' || quantity === 'pleth' || least === null || greatest === null)
    return valueRange(quantity, least, greatest);
  const span = Math.max(leastFittedSpan[quantity], greatest - least);
  const middle = (least + greatest) / 2;
  const [low, high] = [middle - 0.55 * span, middle + 0.55 * span];
  // No axis goes on to what cannot be read.
  return quantity === 'spo2' && high > 101 ? [101 - (high - low), 101] : [low, high];
}

/** Axis ranges that do not jump: saturation is always drawn up to 100 and at least down to 70. */
function valueRange(quantity: Quantity, least: number | null, greatest: number | null): [number, number] {
  if (quantity === 'spo2') return [Math.min(70, 5 * Math.floor((least ?? 70) / 5)), 101];
  if (quantity === 'pleth') {
    const [from, to] = [least ?? 0, greatest ?? 1];
    const margin = from === to ? 1 : 0.05 * (to - from);
    return [from - margin, to + margin];
  }
  const low = Math.min(40, 20 * Math.floor((least ?? 40) / 20));
  const high = Math.max(120, 20 * Math.ceil((greatest ?? 120) / 20));
  return [low, high];
}

/** Canvas spans of the x axis where no line may be drawn: silences, holes, and bad samples' neighbourhoods. */
function gapSpans(
  plot: uPlot,
  flags: ArrayLike<number>,
  atSeconds: ArrayLike<number>,
  firstIndex: number,
  lastIndex: number,
  acrossSeconds: number,
): [number, number][] {
  const spans: [number, number][] = [];
  for (let index = firstIndex + 1; index <= lastIndex; index += 1) {
    const before = atSeconds[index - 1]!;
    const here = atSeconds[index]!;
    const broken =
      here - before > acrossSeconds ||
      (flags[index]! & (sampleFlags.breakBefore | sampleFlags.bad)) !== 0 ||
      (flags[index - 1]! & sampleFlags.bad) !== 0;
    if (broken) spans.push([plot.valToPos(before, 'x', true), plot.valToPos(here, 'x', true)]);
  }
  return spans;
}

export interface PlotParts {
  readonly quantity: Quantity;
  readonly width: number;
  readonly height: number;
  readonly compact: boolean;
  readonly showTimeAxis: boolean;
  readonly theme: () => ChartTheme;
  readonly flags: () => ArrayLike<number>;
  readonly acrossSeconds?: () => number;
  readonly valueScale?: () => ValueScale;
  readonly drawUnder: (plot: uPlot) => void;
  readonly drawOver: (plot: uPlot) => void;
}

export function plotOptions(parts: PlotParts): uPlot.Options {
  const { quantity, compact } = parts;
  const colour = () => colourOf(quantity, parts.theme());
  const axisFont = '12px system-ui, sans-serif';
  return {
    width: parts.width,
    height: parts.height,
    pxAlign: 0,
    padding: compact ? [2, 2, 2, 2] : [20, 18, parts.showTimeAxis ? 0 : 6, 0],
    legend: { show: false },
    cursor: { show: false },
    scales: {
      x: { time: false, auto: false },
      y: {
        range: (_plot, least, greatest) =>
          scaledRange(quantity, parts.valueScale?.() ?? 'usual', least, greatest),
      },
    },
    axes: [
      {
        show: !compact && parts.showTimeAxis,
        stroke: () => parts.theme().faint,
        font: axisFont,
        size: 26,
        gap: 3,
        space: 56,
        incrs: timeSteps,
        grid: { stroke: () => parts.theme().grid, width: 1 },
        ticks: { show: false },
        values: (_plot, splits) => splits.map((split) => (split < 0 ? '' : formatDuration(split * 1000))),
      },
      {
        show: !compact,
        stroke: () => parts.theme().faint,
        font: axisFont,
        size: 38,
        gap: 4,
        space: 22,
        // A wave has no unit: its axis keeps its place and says nothing.
        ...(quantity === 'pleth'
          ? { values: (_plot: uPlot, splits: number[]) => splits.map(() => '') }
          : {
              incrs: () => {
                const usual = quantity === 'spo2' ? [5, 10, 20] : [20, 40, 80];
                return (parts.valueScale?.() ?? 'usual') === 'usual' ? usual : [1, 2, 5, ...usual];
              },
            }),
        grid: { stroke: () => parts.theme().grid, width: 1 },
        ticks: { show: false },
      },
    ],
    series: [
      {},
      {
        stroke: colour,
        width: quantity === 'pleth' ? 1 : 2,
        // Over minutes a wave is a solid band: holds show through it.
        alpha: quantity === 'pleth' ? 0.55 : 1,
        points: { show: false },
        ...(uPlot.paths.linear ? { paths: uPlot.paths.linear() } : {}),
        gaps: (plot, _seriesIndex, firstIndex, lastIndex) =>
          gapSpans(
            plot,
            parts.flags(),
            plot.data[0],
            firstIndex,
            lastIndex,
            parts.acrossSeconds?.() ?? plainAcrossSeconds,
          ),
      },
    ],
    hooks: { drawAxes: [parts.drawUnder], draw: [parts.drawOver] },
  };
}
