// What is drawn over and under a trace: hold spans, floor, thresholds, marks, alarms, gaps, the SIMULATED watermark.
// Meaning is carried by shape and text; colour only helps.

import type uPlot from 'uplot';
import type { AlarmPriority, MarkKind } from '../../shared/schema-parts.ts';
import { sampleFlags } from '../state/trace-buffer.ts';
import type { ChartTheme } from './chart-theme.ts';

/** Times in session seconds, as the x scale has them. */
export interface Overlay {
  readonly floorPercent: number | null;
  readonly floorLabel: string;
  readonly thresholdsPercent: readonly number[];
  readonly holds: readonly { readonly fromSeconds: number; readonly toSeconds: number | null }[];
  readonly marks: readonly { readonly atSeconds: number; readonly kind: MarkKind }[];
  readonly gaps: readonly { readonly fromSeconds: number; readonly toSeconds: number }[];
  readonly alarms: readonly {
    readonly fromSeconds: number;
    readonly toSeconds: number | null;
    readonly priority: AlarmPriority;
  }[];
  /** The word across the plot, or null where the data are of a real person's sensors. */
  readonly watermark: string | null;
  readonly compact: boolean;
}

export const emptyOverlay: Overlay = {
  floorPercent: null,
  floorLabel: '',
  thresholdsPercent: [],
  holds: [],
  marks: [],
  gaps: [],
  alarms: [],
  watermark: null,
  compact: false,
};

/** Drawn before the series. A hold without an end reaches to `nowSeconds`, or to the edge of the plot. */
export function drawUnder(
  plot: uPlot,
  overlay: Overlay,
  theme: ChartTheme,
  nowSeconds = Number.POSITIVE_INFINITY,
): void {
  const { ctx, bbox } = plot;
  const ratio = devicePixelRatio;
  ctx.save();
  ctx.beginPath();
  ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height);
  ctx.clip();
  if (overlay.watermark !== null) drawWatermark(plot, overlay.watermark, theme);
  for (const hold of overlay.holds) {
    const left = plot.valToPos(hold.fromSeconds, 'x', true);
    const right = Math.min(
      bbox.left + bbox.width + 4 * ratio,
      plot.valToPos(Math.min(hold.toSeconds ?? nowSeconds, 1e9), 'x', true),
    );
    ctx.fillStyle = theme.hold;
    ctx.fillRect(left, bbox.top, right - left, bbox.height);
    ctx.strokeStyle = theme.holdEdge;
    ctx.lineWidth = 2 * ratio;
    ctx.beginPath();
    // A bracket open downwards: where the hold starts, its span, and its end if it has one.
    ctx.moveTo(left, bbox.top + bbox.height);
    ctx.lineTo(left, bbox.top + ratio);
    ctx.lineTo(right, bbox.top + ratio);
    if (hold.toSeconds !== null) ctx.lineTo(right, bbox.top + bbox.height);
    ctx.stroke();
  }
  for (const gap of overlay.gaps) {
    const left = plot.valToPos(gap.fromSeconds, 'x', true);
    const right = plot.valToPos(gap.toSeconds, 'x', true);
    hatch(ctx, left, bbox.top, Math.max(right - left, 2 * ratio), bbox.height, theme.faint, ratio, 0.35);
  }
  if (overlay.floorPercent !== null) {
    const y = plot.valToPos(overlay.floorPercent, 'y', true);
    hatch(ctx, bbox.left, y, bbox.width, bbox.top + bbox.height - y, theme.ink, ratio, 0.13);
  }
  ctx.restore();
}

/** Drawn after the series. */
export function drawOver(plot: uPlot, overlay: Overlay, theme: ChartTheme): void {
  const { ctx, bbox } = plot;
  const ratio = devicePixelRatio;
  ctx.save();
  ctx.beginPath();
  ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height);
  ctx.clip();
  ctx.lineWidth = ratio;
  ctx.strokeStyle = theme.faint;
  ctx.setLineDash([2 * ratio, 4 * ratio]);
  for (const threshold of overlay.thresholdsPercent) {
    line(ctx, bbox.left, plot.valToPos(threshold, 'y', true), bbox.width);
  }
  ctx.setLineDash([]);
  if (overlay.floorPercent !== null) {
    const y = plot.valToPos(overlay.floorPercent, 'y', true);
    ctx.strokeStyle = theme.ink;
    ctx.lineWidth = 2 * ratio;
    line(ctx, bbox.left, y, bbox.width);
    if (!overlay.compact) {
      ctx.font = `600 ${12 * ratio}px system-ui, sans-serif`;
      ctx.textBaseline = 'top';
      ctx.textAlign = 'left';
      const width = ctx.measureText(overlay.floorLabel).width;
      ctx.fillStyle = theme.surface;
      ctx.fillRect(bbox.left + 4 * ratio, y + 3 * ratio, width + 8 * ratio, 16 * ratio);
      ctx.fillStyle = theme.ink;
      ctx.fillText(overlay.floorLabel, bbox.left + 8 * ratio, y + 5 * ratio);
    }
  }
  for (const alarm of overlay.alarms) {
    if (alarm.priority === 'low') continue;
    const left = plot.valToPos(alarm.fromSeconds, 'x', true);
    const right =
      alarm.toSeconds === null ? bbox.left + bbox.width : plot.valToPos(alarm.toSeconds, 'x', true);
    ctx.fillStyle = alarm.priority === 'high' ? theme.alarmHigh : theme.alarmMedium;
    const bottom = bbox.top + bbox.height;
    ctx.fillRect(left, bottom - 5 * ratio, Math.max(right - left, 3 * ratio), 5 * ratio);
    triangle(ctx, left, bottom - 16 * ratio, 6 * ratio, true);
  }
  const size = (overlay.compact ? 4 : 5) * ratio;
  for (const mark of overlay.marks) {
    const x = plot.valToPos(mark.atSeconds, 'x', true);
    const y = bbox.top + 4 * ratio;
    ctx.fillStyle = theme.ink;
    ctx.strokeStyle = theme.ink;
    ctx.lineWidth = 1.5 * ratio;
    if (mark.kind === 'contraction') triangle(ctx, x, y, size, false);
    else if (mark.kind === 'breathing') {
      ctx.beginPath();
      ctx.arc(x, y + size, size, 0, 2 * Math.PI);
      ctx.stroke();
    } else if (mark.kind === 'note') ctx.fillRect(x - size * 0.8, y, size * 1.6, size * 1.6);
    else {
      const inward = mark.kind === 'holdStart' ? size : -size;
      ctx.beginPath();
      ctx.moveTo(x + inward, y);
      ctx.lineTo(x, y);
      ctx.lineTo(x, y + size * 3);
      ctx.stroke();
    }
  }
  ctx.restore();
}

/** Hollow rings on samples that are suspect and crosses on bad ones, so that doubt is seen and not only read. */
export function drawDoubt(plot: uPlot, flags: ArrayLike<number>, theme: ChartTheme, colour: string): void {
  const [atSeconds, values] = plot.data;
  const min = plot.scales['x']?.min;
  const max = plot.scales['x']?.max;
  if (atSeconds === undefined || values === undefined || atSeconds.length === 0) return;
  if (min === undefined || max === undefined) return;
  const { ctx, bbox } = plot;
  const ratio = devicePixelRatio;
  const firstIndex = Math.max(0, plot.valToIdx(min));
  ctx.save();
  ctx.beginPath();
  ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height);
  ctx.clip();
  ctx.lineWidth = 1.5 * ratio;
  let lastX = Number.NEGATIVE_INFINITY;
  for (let index = firstIndex; index < atSeconds.length && atSeconds[index]! <= max; index += 1) {
    const flag = flags[index]!;
    if ((flag & (sampleFlags.suspect | sampleFlags.bad)) === 0) continue;
    const x = plot.valToPos(atSeconds[index]!, 'x', true);
    if (x - lastX < 5 * ratio) continue;
    lastX = x;
    const y = plot.valToPos(values[index]!, 'y', true);
    const size = 3 * ratio;
    ctx.beginPath();
    if ((flag & sampleFlags.bad) !== 0) {
      ctx.strokeStyle = theme.ink;
      ctx.moveTo(x - size, y - size);
      ctx.lineTo(x + size, y + size);
      ctx.moveTo(x + size, y - size);
      ctx.lineTo(x - size, y + size);
    } else {
      ctx.fillStyle = theme.surface;
      ctx.strokeStyle = colour;
      ctx.arc(x, y, size, 0, 2 * Math.PI);
      ctx.fill();
    }
    ctx.stroke();
  }
  ctx.restore();
}

function drawWatermark(plot: uPlot, word: string, theme: ChartTheme): void {
  const { ctx, bbox } = plot;
  const ratio = devicePixelRatio;
  const size = Math.max(11 * ratio, Math.min(bbox.height * 0.28, bbox.width / 9));
  ctx.font = `700 ${size}px system-ui, sans-serif`;
  // Whole, in a language with a longer word too.
  const fits = (bbox.width * 0.9) / ctx.measureText(word).width;
  if (fits < 1) ctx.font = `700 ${size * fits}px system-ui, sans-serif`;
  ctx.textAlign = 'center';
  ctx.textBaseline = 'middle';
  ctx.fillStyle = theme.watermark;
  ctx.fillText(word, bbox.left + bbox.width / 2, bbox.top + bbox.height / 2);
}

function line(ctx: CanvasRenderingContext2D, left: number, y: number, width: number): void {
  ctx.beginPath();
  ctx.moveTo(left, y);
  ctx.lineTo(left + width, y);
  ctx.stroke();
}

function triangle(ctx: CanvasRenderingContext2D, x: number, y: number, size: number, up: boolean): void {
  ctx.beginPath();
  ctx.moveTo(x - size, up ? y + size * 1.6 : y);
  ctx.lineTo(x + size, up ? y + size * 1.6 : y);
  ctx.lineTo(x, up ? y : y + size * 1.6);
  ctx.closePath();
  ctx.fill();
}

function hatch(
  ctx: CanvasRenderingContext2D,
  left: number,
  top: number,
  width: number,
  height: number,
  colour: string,
  ratio: number,
  alpha: number,
): void {
  if (width <= 0 || height <= 0) return;
  ctx.save();
  ctx.beginPath();
  ctx.rect(left, top, width, height);
  ctx.clip();
  ctx.globalAlpha = alpha;
  ctx.strokeStyle = colour;
  ctx.lineWidth = ratio;
  ctx.beginPath();
  const step = 8 * ratio;
  const first = Math.floor((left - height) / step) * step;
  for (let x = first; x < left + width; x += step) {
    ctx.moveTo(x, top + height);
    ctx.lineTo(x + height, top);
  }
  ctx.stroke();
  ctx.restore();
}
