// Every measure against date, in one column or two as the width allows, and how comfortable it was.

import { said } from '../../../shared/said.ts';
import type { TrainingEntry } from '../../../shared/training-log.ts';
import { trendMeasures } from '../../../src/sessions/session-summary.ts';
import { useApp } from '../../app/app-context.ts';
import { useWidth } from '../../charts/svg-plot.tsx';
import { comfortPoints, type PastSession, trendPoints } from './past-sessions.ts';
import { TrendPlot } from './trend-plot.tsx';

export interface TrendsProps {
  readonly sessions: readonly PastSession[];
  readonly entries: readonly TrainingEntry[];
  readonly firstDay: number;
  readonly lastDay: number;
  readonly watermark: string | null;
}

export function Trends({ sessions, entries, firstDay, lastDay, watermark }: TrendsProps) {
  const { text, say } = useApp();
  const words = text.history.weeks;
  const { element, width } = useWidth();
  const columns = width >= 760 ? 2 : 1;
  const plotWidth = Math.floor((width - (columns - 1) * 24) / columns);
  const shared = { firstDay, lastDay: lastDay + 1, width: plotWidth, watermark };
  return (
    <div class="trends" ref={element}>
      {width === 0 ? null : (
        <>
          {trendMeasures.map(({ key, unit }) => (
            <TrendPlot
              key={key}
              {...shared}
              title={words.measures[key]}
              definition={say(said(`trend.${key}.is`))}
              unit={unit}
              points={trendPoints(sessions, key)}
            />
          ))}
          <TrendPlot
            {...shared}
            title={words.comfort}
            definition={words.comfortDefinition}
            unit="comfort"
            points={comfortPoints([...sessions, ...entries])}
          />
        </>
      )}
    </div>
  );
}
