// One trace of a recording: a uPlot over arrays fetched from the hub, with the range set from outside.

import uPlot from 'uplot';
import 'uplot/dist/uPlot.min.css';
import type { Trace } from '../../shared/views.ts';
import type { Quantity } from '../state/quantity.ts';
import type { TimeRange } from '../state/time-range.ts';
import { sampleFlags } from '../state/trace-buffer.ts';
import { type ChartTheme, readChartTheme } from './chart-theme.ts';
import { drawDoubt, drawOver, drawUnder, type Overlay } from './overlay.ts';
import { colourOf, plotOptions, type ValueScale } from './plot-options.ts';

export interface ReviewContent {
  readonly trace: Trace | null;
  readonly range: TimeRange;
  readonly overlay: Overlay;
  /** A line is drawn between samples no further apart than this. */
  readonly acrossSeconds: number;
  /** The part of an overview that the detail shows. */
  readonly window: TimeRange | null;
  readonly valueScale: ValueScale;
}

/** Nulls end a line: the sample after one starts another. */
function columnsOf(trace: Trace | null): { atSeconds: Float64Array; value: Float64Array; flags: Uint8Array } {
  const length = trace?.atMs.length ?? 0;
  const atSeconds = new Float64Array(length);
  const value = new Float64Array(length);
  const flags = new Uint8Array(length);
  let count = 0;
  let broken = false;
  for (let index = 0; index < length; index += 1) {
    const sample = trace!.value[index];
    if (sample === null || sample === undefined) {
      broken = true;
      continue;
    }
    const letter = trace!.quality[index];
    atSeconds[count] = trace!.atMs[index]! / 1000;
    value[count] = sample;
    flags[count] =
      (letter === 'b' ? sampleFlags.bad : letter === 's' ? sampleFlags.suspect : 0) |
      (broken ? sampleFlags.breakBefore : 0);
    broken = false;
    count += 1;
  }
  return {
    atSeconds: atSeconds.subarray(0, count),
    value: value.subarray(0, count),
    flags: flags.subarray(0, count),
  };
}

export class ReviewPanel {
  readonly #element: HTMLElement;
  readonly #plot: uPlot;
  readonly #resize: ResizeObserver;
  #theme: ChartTheme;
  #content: ReviewContent;
  #flags: ArrayLike<number> = new Uint8Array();

  constructor(
    element: HTMLElement,
    parts: { readonly quantity: Quantity; readonly showTimeAxis: boolean; readonly compact: boolean },
    content: ReviewContent,
  ) {
    this.#element = element;
    this.#content = content;
    this.#theme = readChartTheme(element);
    const { quantity } = parts;
    this.#plot = new uPlot(
      plotOptions({
        ...parts,
        width: Math.max(40, element.clientWidth),
        height: Math.max(24, element.clientHeight),
        theme: () => this.#theme,
        flags: () => this.#flags,
        acrossSeconds: () => this.#content.acrossSeconds,
        valueScale: () => this.#content.valueScale,
        drawUnder: (plot) => drawUnder(plot, this.#content.overlay, this.#theme),
        drawOver: (plot) => {
          if (!parts.compact) drawDoubt(plot, this.#flags, this.#theme, colourOf(quantity, this.#theme));
          drawOver(plot, this.#content.overlay, this.#theme);
          if (this.#content.window !== null) drawWindow(plot, this.#content.window, this.#theme);
        },
      }),
      [[], []],
      element,
    );
    this.#resize = new ResizeObserver(() => {
      this.#plot.setSize({
        width: Math.max(40, element.clientWidth),
        height: Math.max(24, element.clientHeight),
      });
    });
    this.#resize.observe(element);
    this.show(content);
  }

  show(content: ReviewContent): void {
    const sameTrace = content.trace === this.#content.trace && this.#plot.data[0].length > 0;
    this.#content = content;
    this.#plot.batch(() => {
      if (!sameTrace) {
        const columns = columnsOf(content.trace);
        this.#flags = columns.flags;
        this.#plot.setData([columns.atSeconds, columns.value], false);
      }
      this.#plot.setScale('x', { min: content.range.fromSeconds, max: content.range.toSeconds });
    });
    // The overlay may have changed though neither data nor range did.
    this.#plot.redraw(false);
  }

  themeChanged(): void {
    this.#theme = readChartTheme(this.#element);
    this.#plot.redraw(false, true);
  }

  /** The time at a client x coordinate. */
  timeAt(clientX: number): number {
    const bounds = this.#plot.over.getBoundingClientRect();
    return this.#plot.posToVal(clientX - bounds.left, 'x');
  }

  destroy(): void {
    this.#resize.disconnect();
    this.#plot.destroy();
  }
}

function drawWindow(plot: uPlot, window: TimeRange, theme: ChartTheme): void {
  const { ctx, bbox } = plot;
  const left = plot.valToPos(window.fromSeconds, 'x', true);
  const right = plot.valToPos(window.toSeconds, 'x', true);
  ctx.save();
  ctx.fillStyle = theme.surface;
  ctx.globalAlpha = 0.65;
  ctx.fillRect(bbox.left, bbox.top, Math.max(0, left - bbox.left), bbox.height);
  ctx.fillRect(right, bbox.top, Math.max(0, bbox.left + bbox.width - right), bbox.height);
  ctx.globalAlpha = 1;
  ctx.strokeStyle = theme.ink;
  ctx.lineWidth = 2 * devicePixelRatio;
  ctx.strokeRect(left, bbox.top + 1, right - left, bbox.height - 2);
  ctx.restore();
}
