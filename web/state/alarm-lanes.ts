// Alarms of a recording on lanes, one a condition, so that a long alarm of the system covers no short one of the floor. Pure.

import type { AlarmKind, AlarmPriority } from '../../shared/schema-parts.ts';
import type { AlarmView } from '../../shared/views.ts';

export interface LaneAlarm {
  readonly alarmId: string;
  readonly fromSeconds: number;
  /** To the recording's end where it never passed. */
  readonly toSeconds: number;
  readonly priority: AlarmPriority;
}

export interface AlarmLane {
  readonly kind: AlarmKind;
  /** The highest that one of its alarms had. */
  readonly priority: AlarmPriority;
  /** In order of time. */
  readonly alarms: readonly LaneAlarm[];
}

const rank: Readonly<Record<AlarmPriority, number>> = { high: 0, medium: 1, low: 2 };

/** The most urgent lane first, then the one that called first. */
export function alarmLanes(
  alarms: readonly {
    readonly alarm: Pick<AlarmView, 'alarmId' | 'kind' | 'highestPriority' | 'raisedAtMs'>;
    readonly clearedAtMs: number | null;
  }[],
  durationSeconds: number,
): AlarmLane[] {
  const lanes = new Map<AlarmKind, LaneAlarm[]>();
  for (const { alarm, clearedAtMs } of alarms) {
    const lane = lanes.get(alarm.kind) ?? [];
    lane.push({
      alarmId: alarm.alarmId,
      fromSeconds: alarm.raisedAtMs / 1_000,
      toSeconds: clearedAtMs === null ? durationSeconds : clearedAtMs / 1_000,
      priority: alarm.highestPriority,
    });
    lanes.set(alarm.kind, lane);
  }
  return [...lanes]
    .map(([kind, own]): AlarmLane => {
      const ordered = own.toSorted((a, b) => a.fromSeconds - b.fromSeconds);
      const priority = ordered.map((each) => each.priority).sort((a, b) => rank[a] - rank[b])[0]!;
      return { kind, priority, alarms: ordered };
    })
    .sort(
      (a, b) => rank[a.priority] - rank[b.priority] || a.alarms[0]!.fromSeconds - b.alarms[0]!.fromSeconds,
    );
}
