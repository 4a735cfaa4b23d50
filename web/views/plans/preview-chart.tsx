// A plan's expected saturation, drawn: its holds, the band it is likely in, the floor.

import type { PlanPreview } from '../../../src/oxygen/plan-preview.ts';
import { useApp } from '../../app/app-context.ts';
import { useWidth } from '../../charts/svg-plot.tsx';
import { formatWhole } from '../../state/format.ts';
import { chartHeight, chartLeft, type PreviewGeometry, previewGeometry } from './preview-geometry.ts';

const leastWidth = 280;

export interface PreviewChartProps {
  readonly preview: PlanPreview;
  readonly floorPercent: number;
}

export function PreviewChart({ preview, floorPercent }: PreviewChartProps) {
  const { text } = useApp();
  // Drawn at the width it has, so that its numbers keep their size on a phone.
  const { element, width } = useWidth();
  const geometry = previewGeometry(preview, floorPercent, Math.max(leastWidth, width));
  const { x, y } = geometry;
  const lowest = Math.min(...preview.holds.map((hold) => hold.lowestReadingPercent.middle));
  return (
    <figure class="plot-figure">
      <figcaption>{text.plans.previewAxes}</figcaption>
      <div ref={element}>
        <svg
          class="plan-chart"
          viewBox={`0 0 ${geometry.width} ${chartHeight}`}
          role="img"
          aria-label={text.plans.previewLabel(`${formatWhole(lowest)} %`, floorPercent)}
        >
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
          <Axes geometry={geometry} />
          <polygon class="plan-chart-band" points={geometry.band} />
          <polyline class="plan-chart-line" points={geometry.middle} />
          <line
            class="plan-chart-floor"
            x1={chartLeft}
            x2={geometry.width}
            y1={y(floorPercent)}
            y2={y(floorPercent)}
          />
        </svg>
      </div>
      <p class="hint">{text.plans.previewKey}</p>
    </figure>
  );
}

function Axes({ geometry: { x, y, width, percentLines, minutes } }: { readonly geometry: PreviewGeometry }) {
  return (
    <>
      {percentLines.map((percent) => (
        <g key={percent}>
          <line class="plan-chart-grid" x1={chartLeft} x2={width} y1={y(percent)} y2={y(percent)} />
          <text class="plan-chart-text" x={chartLeft - 6} y={y(percent) + 4} text-anchor="end">
            {percent}
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
