// What the traces read at the cursor, and between two points: the difference, its rate, and the statistics of all readings.

import { type ReadonlySignal, useComputed } from '@preact/signals';
import type { Trace } from '../../../shared/views.ts';
import { type IntervalStatistics, intervalStatistics } from '../../../src/sessions/interval-statistics.ts';
import { useApp } from '../../app/app-context.ts';
import { ScrollRegion } from '../../components/scroll-region.tsx';
import { formatDecimal, formatExactTime } from '../../state/format.ts';
import { firstTraceWithSamples, type LoadedTrace } from '../../state/loaded-trace.ts';
import { channelsOf } from '../../state/quantity.ts';
import { differenceOf, readingAt, type TraceReading } from '../../state/trace-reading.ts';
import type { IntervalReadings } from './use-interval.ts';
import type { TraceView } from './use-trace-view.ts';

const quantities = ['spo2', 'heartRate'] as const;
type Read = (typeof quantities)[number];

/** A quantity at the cursor, beside its name on the plot. */
export function CursorValue({
  quantity,
  loaded,
  view,
}: {
  readonly quantity: Read;
  readonly loaded: ReadonlySignal<LoadedTrace | null>;
  readonly view: TraceView;
}) {
  const { text } = useApp();
  const shown = useComputed(() => {
    const at = view.cursor.value;
    if (at === null) return '';
    const reading = readingAt(firstTraceWithSamples(loaded.value, channelsOf[quantity]), at);
    if (reading === null) return text.traces.noReading;
    return `${valueText(reading.value)}${reading.quality === 'good' ? '' : ` (${text.traces.quality[reading.quality]})`}`;
  });
  return <strong class="trace-value">{shown}</strong>;
}

/** The time at the cursor, and what was last jumped to. */
export function CursorTime({ view }: { readonly view: TraceView }) {
  const words = useApp().text.traces;
  const time = useComputed(() =>
    view.cursor.value === null ? words.pointAtIt : words.cursorAt(formatExactTime(view.cursor.value * 1_000)),
  );
  return (
    <p class="trace-cursor-time">
      <span>{time}</span>{' '}
      <span role="status" class="trace-arrived">
        {view.arrived}
      </span>
    </p>
  );
}

const valueText = (value: number): string =>
  Number.isInteger(value) ? String(value) : formatDecimal(value, 1);

interface PointColumn {
  readonly quantity: Read;
  readonly a: TraceReading | null;
  readonly b: TraceReading | null;
  readonly change: number | null;
  readonly changePerMinute: number | null;
  readonly statistics: IntervalStatistics | null;
}

function columnsOf(
  { points, traces }: Extract<IntervalReadings, { state: 'known' }>,
  floorPercent: number,
): PointColumn[] {
  return quantities.map((quantity): PointColumn => {
    const trace: Trace | null =
      channelsOf[quantity]
        .map((channel) => traces.find((each) => each.channel === channel && each.atMs.length > 0))
        .find((each) => each !== undefined) ?? null;
    const [a, b] = [readingAt(trace, points.a), readingAt(trace, points.b)];
    const { change, changePerMinute } = differenceOf(
      { atSeconds: points.a, reading: a },
      { atSeconds: points.b, reading: b },
    );
    const [fromMs, toMs] = [Math.min(points.a, points.b) * 1_000, Math.max(points.a, points.b) * 1_000];
    const statistics =
      trace === null
        ? null
        : intervalStatistics(trace, fromMs, toMs, quantity === 'spo2' ? floorPercent : null);
    return { quantity, a, b, change, changePerMinute, statistics };
  });
}

export interface PointTableProps {
  readonly view: TraceView;
  readonly interval: ReadonlySignal<IntervalReadings | null>;
  readonly floorPercent: number;
}

export function PointTable({ view, interval, floorPercent }: PointTableProps) {
  const { text } = useApp();
  const words = text.traces;
  const readings = interval.value;
  const points = view.points.value;
  if (points === null || readings === null) return null;
  if (readings.state !== 'known')
    return (
      <p class="hint trace-points" role="status">
        {words.interval[readings.state]}
      </p>
    );
  const columns = columnsOf(readings, floorPercent);
  const unitOf = (quantity: Read) => (quantity === 'spo2' ? text.unitPercent : text.unitBpm);
  const shown = (value: number | null | undefined, signed = false): string => {
    if (value === null || value === undefined) return words.noReading;
    const number = valueText(Math.abs(value) < 0.05 ? 0 : Math.abs(value));
    const sign = number === '0' || !(signed || value < 0) ? '' : value < 0 ? '\u2212' : '+';
    return `${sign}${number}`;
  };
  const { a, b } = readings.points;
  const row = (label: string, of: (column: PointColumn) => string) => (
    <tr key={label}>
      <th scope="row">{label}</th>
      {columns.map((column) => (
        <td key={column.quantity}>{of(column)}</td>
      ))}
    </tr>
  );
  return (
    <ScrollRegion label={words.pointsLabel}>
      <table class="trace-points">
        <caption>
          {words.between(formatExactTime(a * 1_000), formatExactTime(b * 1_000), shown(b - a, true))}
        </caption>
        <thead>
          <tr>
            <td />
            {quantities.map((quantity) => (
              <th key={quantity} scope="col">
                {text.readout[quantity === 'spo2' ? 'spo2Short' : 'heartRateShort']}{' '}
                <span class="trace-unit">{unitOf(quantity)}</span>
              </th>
            ))}
          </tr>
        </thead>
        <tbody>
          {row(words.atPoint.a, ({ a: reading }) => shown(reading?.value))}
          {row(words.atPoint.b, ({ b: reading }) => shown(reading?.value))}
          {row(words.change, ({ change }) => shown(change, true))}
          {row(words.rate, ({ changePerMinute }) => shown(changePerMinute, true))}
          {row(words.least, ({ statistics }) => shown(statistics?.least))}
          {row(words.greatest, ({ statistics }) => shown(statistics?.greatest))}
          {row(words.mean, ({ statistics }) => shown(statistics?.mean))}
          {row(words.belowFloor(floorPercent), ({ quantity, statistics }) =>
            quantity !== 'spo2'
              ? ''
              : statistics?.belowSeconds == null
                ? words.noReading
                : words.seconds(valueText(Math.round(statistics.belowSeconds * 10) / 10)),
          )}
          {row(words.readings, ({ statistics }) =>
            statistics === null
              ? words.noReading
              : words.readingCount(statistics.readingCount, statistics.leftOutCount),
          )}
        </tbody>
      </table>
    </ScrollRegion>
  );
}
