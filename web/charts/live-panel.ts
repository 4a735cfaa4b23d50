// One live trace: an imperative island owning a uPlot over a ring buffer, redrawn only when something moved a pixel.

import uPlot from 'uplot';
import 'uplot/dist/uPlot.min.css';
import type { Quantity } from '../state/quantity.ts';
import type { TraceBuffer } from '../state/trace-buffer.ts';
import { type ChartTheme, readChartTheme } from './chart-theme.ts';
import { drawDoubt, drawOver, drawUnder, type Overlay } from './overlay.ts';
import { colourOf, plotOptions } from './plot-options.ts';
import { redrawLoop } from './redraw-loop.ts';

export interface LivePanelSource {
  readonly quantity: Quantity;
  readonly compact: boolean;
  readonly showTimeAxis: boolean;
  buffer(): TraceBuffer;
  nowMs(): number | null;
  windowMs(): number;
  /** A new object only when something changed. */
  overlay(): Overlay;
  /** Changes with light and dark. */
  themeName(): string;
}

export class LivePanel {
  readonly #element: HTMLElement;
  readonly #source: LivePanelSource;
  readonly #plot: uPlot;
  readonly #resize: ResizeObserver;
  readonly #visibility: IntersectionObserver;
  readonly #leaveLoop: () => void;
  #theme: ChartTheme;
  #flags: ArrayLike<number> = new Uint8Array();
  #overlay: Overlay;
  #onScreen = true;
  #drawnThemeName = '';
  #drawnVersion = -1;
  #drawnBuffer: TraceBuffer | null = null;
  #drawnToSeconds = Number.NaN;
  #drawnWindowMs = 0;
  #sizeChanged = false;

  constructor(element: HTMLElement, source: LivePanelSource) {
    this.#element = element;
    this.#source = source;
    this.#theme = readChartTheme(element);
    this.#overlay = source.overlay();
    const colour = () => colourOf(source.quantity, this.#theme);
    this.#plot = new uPlot(
      plotOptions({
        quantity: source.quantity,
        width: Math.max(40, element.clientWidth),
        height: Math.max(24, element.clientHeight),
        compact: source.compact,
        showTimeAxis: source.showTimeAxis,
        theme: () => this.#theme,
        flags: () => this.#flags,
        drawUnder: (plot) => drawUnder(plot, this.#overlay, this.#theme, this.#drawnToSeconds),
        drawOver: (plot) => {
          drawDoubt(plot, this.#flags, this.#theme, colour());
          drawOver(plot, this.#overlay, this.#theme);
        },
      }),
      [[], []],
      element,
    );
    this.#resize = new ResizeObserver(() => {
      this.#sizeChanged = true;
    });
    this.#resize.observe(element);
    this.#visibility = new IntersectionObserver((entries) => {
      this.#onScreen = entries.at(-1)?.isIntersecting ?? true;
    });
    this.#visibility.observe(element);
    this.#leaveLoop = redrawLoop.add(() => this.#draw());
  }

  destroy(): void {
    this.#leaveLoop();
    this.#resize.disconnect();
    this.#visibility.disconnect();
    this.#plot.destroy();
  }

  #draw(): void {
    if (!this.#onScreen) return;
    const source = this.#source;
    const buffer = source.buffer();
    const overlay = source.overlay();
    const themeName = source.themeName();
    const windowMs = source.windowMs();
    const nowSeconds = (source.nowMs() ?? Math.max(0, buffer.lastAtMs)) / 1000;
    const secondsPerPixel = windowMs / 1000 / Math.max(1, this.#plot.bbox.width / devicePixelRatio);
    const moved = !(Math.abs(nowSeconds - this.#drawnToSeconds) < secondsPerPixel);
    const changed =
      buffer !== this.#drawnBuffer ||
      buffer.version !== this.#drawnVersion ||
      overlay !== this.#overlay ||
      themeName !== this.#drawnThemeName ||
      windowMs !== this.#drawnWindowMs ||
      this.#sizeChanged;
    if (!moved && !changed) return;
    if (themeName !== this.#drawnThemeName) this.#theme = readChartTheme(this.#element);
    this.#drawnThemeName = themeName;
    this.#drawnBuffer = buffer;
    this.#drawnVersion = buffer.version;
    this.#drawnWindowMs = windowMs;
    this.#drawnToSeconds = nowSeconds;
    this.#overlay = overlay;
    const view = buffer.view();
    this.#flags = view.flags;
    const toSeconds = Math.max(nowSeconds, windowMs / 1000);
    this.#plot.batch(() => {
      if (this.#sizeChanged) {
        this.#sizeChanged = false;
        this.#plot.setSize({
          width: Math.max(40, this.#element.clientWidth),
          height: Math.max(24, this.#element.clientHeight),
        });
      }
      this.#plot.setData([view.atSeconds, view.value], false);
      this.#plot.setScale('x', { min: toSeconds - windowMs / 1000, max: toSeconds });
    });
  }
}
