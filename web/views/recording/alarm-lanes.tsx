// Alarms under the plots, a lane a condition: by the same time as the plots, the most urgent on top.

import { useComputed } from '@preact/signals';
import { useMemo, useRef } from 'preact/hooks';
import type { AthleteRecording } from '../../../shared/http.ts';
import { useApp } from '../../app/app-context.ts';
import { usePlotArea } from '../../charts/use-plot-area.ts';
import { type AlarmLane, alarmLanes, type LaneAlarm } from '../../state/alarm-lanes.ts';
import { formatDuration } from '../../state/format.ts';
import type { TimeRange } from '../../state/time-range.ts';
import type { TraceView } from './use-trace-view.ts';

export interface AlarmLanesProps {
  readonly athlete: AthleteRecording;
  readonly view: TraceView;
  readonly whole: TimeRange;
}

export function AlarmLanes({ athlete, view, whole }: AlarmLanesProps) {
  const { text } = useApp();
  const element = useRef<HTMLUListElement>(null);
  const area = usePlotArea(element, (own) => own.closest<HTMLElement>('.review-traces'));
  const lanes = useMemo(() => alarmLanes(athlete.alarms, whole.toSeconds), [athlete.alarms, whole.toSeconds]);
  const style = useComputed(() =>
    area.value.width === 0
      ? 'visibility: hidden'
      : // No width: one in pixels would keep the page as wide as it was.
        `margin-left: ${area.value.left}px; margin-right: ${area.value.right}px`,
  );
  return (
    <ul class="alarm-lanes" ref={element} aria-label={text.traces.lanes}>
      {lanes.map((lane) => (
        <li key={lane.kind} class={`alarm-lane alarm-lane--${lane.priority}`} style={style.value}>
          <Bars lane={lane} view={view} />
          <span class="alarm-lane-name">
            {text.alarm.kind[lane.kind]}{' '}
            <small>
              {text.alarm.priority[lane.priority]}, {lane.alarms.length}
            </small>
          </span>
        </li>
      ))}
    </ul>
  );
}

function Bars({ lane, view }: { readonly lane: AlarmLane; readonly view: TraceView }) {
  const { text } = useApp();
  const { fromSeconds, toSeconds } = view.range.value;
  const share = (seconds: number) => (100 * (seconds - fromSeconds)) / (toSeconds - fromSeconds);
  const label = (alarm: LaneAlarm) =>
    `${text.alarm.kind[lane.kind]}, ${formatDuration(alarm.fromSeconds * 1_000)} \u2013 ${formatDuration(alarm.toSeconds * 1_000)}`;
  return (
    <>
      {lane.alarms.map((alarm) => {
        const [from, to] = [Math.max(0, share(alarm.fromSeconds)), Math.min(100, share(alarm.toSeconds))];
        return to < 0 || from > 100 ? null : (
          <span
            key={alarm.alarmId}
            class={`alarm-bar alarm-bar--${alarm.priority}`}
            style={`left: ${from.toFixed(2)}%; width: ${Math.max(0, to - from).toFixed(2)}%`}
            title={label(alarm)}
          />
        );
      })}
    </>
  );
}
