// A plan's expected saturation and carbon dioxide, drawn: its holds, the band each is likely in, the floor. A model's, and
// said to be.

import type { ComponentChildren } from 'preact';
import type { PlanPreview } from '../../../src/oxygen/plan-preview.ts';
import { useApp } from '../../app/app-context.ts';
import { useWidth } from '../../charts/svg-plot.tsx';
import { formatDecimal, formatWhole } from '../../state/format.ts';
import {
  chartHeight,
  chartLeft,
  co2ChartRight,
  co2Geometry,
  kPaPerMmHg,
  mmHgLines,
  type PreviewGeometry,
  saturationGeometry,
} from './preview-geometry.ts';

const leastWidth = 280;

export interface PreviewChartProps {
  readonly preview: PlanPreview;
  readonly floorPercent: number;
}

export function PreviewChart({ preview, floorPercent }: PreviewChartProps) {
  const { text } = useApp();
  // Drawn at the width it has, so that its numbers keep their size on a phone.
  const { element, width } = useWidth();
  const geometry = saturationGeometry(preview, floorPercent, Math.max(leastWidth, width));
  const { y } = geometry;
  const lowest = Math.min(...preview.holds.map((hold) => hold.lowestReadingPercent.middle));
  return (
    <figure class="plot-figure">
      <figcaption>
        {text.plans.previewAxes} <strong class="plan-chart-model">{text.plans.modelNotMeasured}</strong>
      </figcaption>
      <div ref={element}>
        <PreviewPlot
          preview={preview}
          geometry={geometry}
          label={text.plans.previewLabel(`${formatWhole(lowest)} %`, floorPercent)}
          kind="spo2"
        >
          <line
            class="plan-chart-floor"
            x1={chartLeft}
            x2={geometry.width}
            y1={y(floorPercent)}
            y2={y(floorPercent)}
          />
        </PreviewPlot>
      </div>
      <p class="hint">{text.plans.previewKey}</p>
    </figure>
  );
}

/** Carbon dioxide by itself: another unit, another axis, and nothing that any sensor here measures. */
export function Co2Chart({ preview }: Pick<PreviewChartProps, 'preview'>) {
  const { text } = useApp();
  const words = text.plans;
  const { element, width } = useWidth();
  const geometry = co2Geometry(preview, Math.max(leastWidth, width));
  const highest = Math.max(...preview.holds.map((hold) => hold.endPco2MmHg.middle));
  return (
    <figure class="plot-figure">
      <figcaption>
        {words.co2Axes} <strong class="plan-chart-model">{words.modelNotMeasured}</strong>
      </figcaption>
      <div ref={element}>
        <PreviewPlot
          preview={preview}
          geometry={geometry}
          label={words.co2Label(formatDecimal(highest * kPaPerMmHg, 1), formatWhole(highest))}
          kind="co2"
        >
          {mmHgLines(geometry).map((mmHg) => (
            <text
              key={mmHg}
              class="plan-chart-text"
              x={geometry.width - co2ChartRight + 6}
              y={geometry.y(mmHg * kPaPerMmHg) + 4}
            >
              {mmHg}
            </text>
          ))}
        </PreviewPlot>
      </div>
      <p class="hint">{words.co2Key}</p>
    </figure>
  );
}

function PreviewPlot(props: {
  readonly preview: PlanPreview;
  readonly geometry: PreviewGeometry;
  readonly label: string;
  readonly kind: 'spo2' | 'co2';
  readonly children: ComponentChildren;
}) {
  const { preview, geometry, label, kind, children } = props;
  const { x } = geometry;
  return (
    <svg class="plan-chart" viewBox={`0 0 ${geometry.width} ${chartHeight}`} role="img" aria-label={label}>
      {preview.holds.map((hold) => (
        <rect
          key={hold.segmentIndex}
          class="plan-chart-hold"
          x={x(hold.startsAtMs)}
          y={geometry.plotTop}
          width={Math.max(1, x(hold.endsAtMs) - x(hold.startsAtMs))}
          height={geometry.plotHeight}
        />
      ))}
      <Axes geometry={geometry} right={kind === 'co2' ? co2ChartRight : 0} />
      <polygon class={`plan-chart-band plan-chart-band--${kind}`} points={geometry.band} />
      <polyline class={`plan-chart-line plan-chart-line--${kind}`} points={geometry.middle} />
      {children}
    </svg>
  );
}

function Axes({
  geometry: { x, y, width, lines, minutes },
  right,
}: {
  readonly geometry: PreviewGeometry;
  readonly right: number;
}) {
  return (
    <>
      {lines.map((value) => (
        <g key={value}>
          <line class="plan-chart-grid" x1={chartLeft} x2={width - right} y1={y(value)} y2={y(value)} />
          <text class="plan-chart-text" x={chartLeft - 6} y={y(value) + 4} text-anchor="end">
            {value}
          </text>
        </g>
      ))}
      {minutes.map((minute) => (
        <text
          key={minute}
          class="plan-chart-text"
          x={x(minute * 60_000)}
          y={chartHeight - 6}
          text-anchor="middle"
        >
          {minute}
        </text>
      ))}
    </>
  );
}
