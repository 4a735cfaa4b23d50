// The stretch of a recording that is shown, as a picture: an SVG text that says what it is, of whom only where that is asked
// for, SIMULATED when it is, and that no medical device made it. Pure.

import type { Trace } from '../../../shared/views.ts';
import type { ChartTheme } from '../../charts/chart-theme.ts';
import type { Overlay } from '../../charts/overlay.ts';
import type { AlarmLane } from '../../state/alarm-lanes.ts';
import { formatDuration } from '../../state/format.ts';
import type { TimeRange } from '../../state/time-range.ts';
import type { TracePoints } from './use-trace-view.ts';

export interface PicturePlot {
  readonly label: string;
  readonly colour: string;
  /** A wave keeps back: over minutes it is a solid band. */
  readonly isFaint: boolean;
  readonly trace: Trace | null;
  readonly overlay: Overlay;
  /** Of the values. */
  readonly least: number;
  readonly greatest: number;
  readonly ticks: readonly number[];
  readonly height: number;
}

export interface PictureParts {
  readonly title: string;
  readonly lines: readonly string[];
  readonly footer: string;
  /** Across the plots, or null. */
  readonly watermark: string | null;
  readonly missing: string;
  readonly range: TimeRange;
  readonly acrossSeconds: number;
  readonly plots: readonly PicturePlot[];
  readonly lanes: readonly (AlarmLane & { readonly name: string })[];
  readonly points: TracePoints | null;
  readonly theme: ChartTheme;
}

const pictureWidth = 1_200;
const [left, right, top, gap, laneHeight] = [56, 24, 64, 26, 34];

function pictureHeight({ plots, lanes, lines }: Pick<PictureParts, 'plots' | 'lanes' | 'lines'>): number {
  return (
    top +
    18 * lines.length +
    plots.reduce((sum, { height }) => sum + height + gap, 0) +
    lanes.length * laneHeight +
    64
  );
}

export function tracePicture(parts: PictureParts): string {
  const { title, lines, footer, watermark, range, plots, lanes, points, theme } = parts;
  const height = pictureHeight(parts);
  const width = pictureWidth - left - right;
  const x = (seconds: number): number =>
    left + ((seconds - range.fromSeconds) / (range.toSeconds - range.fromSeconds)) * width;
  const inside = (value: number): number => Math.min(left + width, Math.max(left, value));
  const out: string[] = [
    `<svg xmlns="http://www.w3.org/2000/svg" width="${pictureWidth}" height="${height}" viewBox="0 0 ${pictureWidth} ${height}" font-family="system-ui, sans-serif">`,
    `<title>${escaped(title)}</title>`,
    `<rect width="100%" height="100%" fill="${theme.surface}"/>`,
    text(left, 34, 22, theme.ink, title, 'font-weight="700"'),
    ...lines.map((line, index) => text(left, 56 + 18 * index, 14, theme.faint, line)),
  ];
  let y = top + 18 * lines.length;
  const firstTop = y;
  for (const plot of plots) {
    out.push(plotPart(parts, plot, y, x, inside));
    y += plot.height + gap;
  }
  const plotsBottom = y - gap;
  for (const second of timeTicks(range))
    out.push(
      `<path d="M${f(x(second))} ${firstTop}V${plotsBottom}" stroke="${theme.grid}"/>`,
      text(
        x(second),
        plotsBottom + 16,
        12,
        theme.faint,
        formatDuration(second * 1_000),
        'text-anchor="middle"',
      ),
    );
  for (const lane of lanes) {
    out.push(lanePart(lane, y, x, inside, theme));
    y += laneHeight;
  }
  if (points !== null)
    for (const [name, seconds] of [
      ['A', points.a],
      ['B', points.b],
    ] as const)
      if (seconds >= range.fromSeconds && seconds <= range.toSeconds)
        out.push(
          `<path d="M${f(x(seconds))} ${firstTop}V${plotsBottom}" stroke="${theme.ink}" stroke-width="1.5"/>`,
          text(x(seconds) + 4, firstTop + 14, 13, theme.ink, name, 'font-weight="700"'),
        );
  if (watermark !== null)
    out.push(
      text(
        left + width / 2,
        (firstTop + plotsBottom) / 2,
        110,
        theme.watermark,
        watermark,
        'text-anchor="middle" dominant-baseline="middle" font-weight="700"',
      ),
    );
  out.push(text(left, height - 18, 14, theme.ink, footer, 'font-weight="600"'), '</svg>');
  return `${out.join('\n')}\n`;
}

type Place = (value: number) => number;

function plotPart(
  { theme, missing, acrossSeconds, range }: PictureParts,
  { label, colour, isFaint, trace, overlay, least, greatest, ticks, height }: PicturePlot,
  plotTop: number,
  x: Place,
  inside: Place,
): string {
  const bottom = plotTop + height;
  const y: Place = (value) => bottom - ((value - least) / (greatest - least)) * height;
  const within: Place = (value) => Math.min(bottom, Math.max(plotTop, y(value)));
  const end = x(range.toSeconds);
  const out: string[] = [];
  for (const { fromSeconds, toSeconds } of overlay.holds) {
    const [from, to] = [inside(x(fromSeconds)), toSeconds === null ? end : inside(x(toSeconds))];
    if (to <= from) continue;
    out.push(
      `<rect x="${f(from)}" y="${plotTop}" width="${f(to - from)}" height="${height}" fill="${theme.hold}"/>`,
      `<path d="M${f(from)} ${bottom}V${plotTop}H${f(to)}V${bottom}" fill="none" stroke="${theme.holdEdge}" stroke-width="1.5"/>`,
    );
  }
  for (const { fromSeconds, toSeconds } of overlay.gaps) {
    const [from, to] = [inside(x(fromSeconds)), inside(x(toSeconds))];
    if (to <= from) continue;
    out.push(
      `<rect x="${f(from)}" y="${plotTop}" width="${f(to - from)}" height="${height}" fill="${theme.faint}" fill-opacity="0.14"/>`,
      ...(to - from > 60
        ? [text((from + to) / 2, bottom - 8, 11, theme.faint, missing, 'text-anchor="middle"')]
        : []),
    );
  }
  for (const tick of ticks)
    out.push(
      `<path d="M${left} ${f(y(tick))}H${f(end)}" stroke="${theme.grid}"/>`,
      text(left - 6, y(tick) + 4, 12, theme.faint, String(tick), 'text-anchor="end"'),
    );
  const { floorPercent } = overlay;
  if (floorPercent !== null && floorPercent > least && floorPercent < greatest)
    out.push(
      `<path d="M${left} ${f(y(floorPercent))}H${f(end)}" stroke="${theme.ink}" stroke-width="2"/>`,
      text(left + 6, y(floorPercent) + 15, 12, theme.ink, overlay.floorLabel, 'font-weight="600"'),
    );
  out.push(
    `<path d="${linePath(trace, range, acrossSeconds, x, within)}" fill="none" stroke="${colour}" stroke-width="${isFaint ? 1 : 2}" stroke-linejoin="round"${isFaint ? ' stroke-opacity="0.55"' : ''}/>`,
    text(left + 4, plotTop - 6, 12, theme.ink, label, 'font-weight="650"'),
  );
  return out.join('\n');
}

/** A line that ends where readings are missing or bad. */
function linePath(trace: Trace | null, range: TimeRange, acrossSeconds: number, x: Place, y: Place): string {
  const parts: string[] = [];
  let before = Number.NaN;
  trace?.atMs.forEach((atMs, index) => {
    const seconds = atMs / 1_000;
    const value = trace.value[index];
    const isDrawn =
      value !== null &&
      value !== undefined &&
      trace.quality[index] !== 'b' &&
      seconds >= range.fromSeconds &&
      seconds <= range.toSeconds;
    if (!isDrawn) {
      if (seconds >= range.fromSeconds) before = Number.NaN;
      return;
    }
    parts.push(`${seconds - before <= acrossSeconds ? 'L' : 'M'}${f(x(seconds))} ${f(y(value))}`);
    before = seconds;
  });
  return parts.join('');
}

function lanePart(
  { name, alarms }: PictureParts['lanes'][number],
  top_: number,
  x: Place,
  inside: Place,
  theme: ChartTheme,
): string {
  const bars = alarms.flatMap(({ fromSeconds, toSeconds, priority }) => {
    const [from, to] = [inside(x(fromSeconds)), inside(x(toSeconds))];
    if (to <= from && !(inside(x(fromSeconds)) === x(fromSeconds))) return [];
    const colour = { high: theme.alarmHigh, medium: theme.alarmMedium, low: theme.alarmLow }[priority];
    // As on the page: the lowest by its edge alone.
    const fill = priority === 'low' ? 'none' : colour;
    return `<rect x="${f(from)}" y="${top_ + 19}" width="${f(Math.max(3, to - from))}" height="11" fill="${fill}" stroke="${priority === 'low' ? colour : theme.ink}"/>`;
  });
  return [...bars, text(left, top_ + 14, 12, theme.ink, name)].join('\n');
}

const steps = [1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1_800, 3_600, 7_200];

/** About ten, on whole steps. */
function timeTicks({ fromSeconds, toSeconds }: TimeRange): number[] {
  const step = steps.find((each) => (toSeconds - fromSeconds) / each <= 12) ?? steps.at(-1)!;
  const first = Math.ceil(fromSeconds / step) * step;
  return Array.from({ length: Math.floor((toSeconds - first) / step) + 1 }, (_, i) => first + i * step);
}

const f = (value: number): string => String(Math.round(value * 10) / 10);

const text = (x: number, y: number, size: number, fill: string, words: string, more = ''): string =>
  `<text x="${f(x)}" y="${f(y)}" font-size="${size}" fill="${fill}" ${more}>${escaped(words)}</text>`;

const escaped = (words: string): string =>
  words
    .replaceAll('&', '&amp;')
    .replaceAll('<', '&lt;')
    .replaceAll('>', '&gt;')
    .replaceAll('"', '&quot;')
    // What XML 1.0 cannot hold.
    .replaceAll(/[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\u{10000}-\u{10ffff}]/gu, '?');
