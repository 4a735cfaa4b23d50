// How often alarms call for a person: counts each call by kind and priority, whoever raised it. A call is what sounds:
// an alarm that is new, that has come back after it was put aside, or that has got worse.

import type { AlarmKind, AlarmPriority } from '../../../shared/schema-parts.ts';
import type { ActiveAlarm } from '../../../src/alarms/alarm.ts';

export interface Call {
  readonly atMs: number;
  readonly kind: AlarmKind;
  readonly priority: AlarmPriority;
  /** New, there again after it had gone, or worse. */
  readonly why: 'new' | 'again' | 'worse';
  readonly detail: string | undefined;
  /** It asked after somebody who, by the simulator's truth, did not breathe just then: nothing needless. */
  readonly isOfTrueHold?: boolean;
}

type Seen = Pick<ActiveAlarm, 'priority' | 'timesPresent' | 'acknowledged'>;
const rank = { high: 3, medium: 2, low: 1 } as const;

/** The calls of one athlete's alarms, told each time they change. */
export class CallCounter {
  readonly calls: Call[] = [];
  #seen = new Map<string, Seen>();

  take(atMs: number, alarms: readonly ActiveAlarm[]): void {
    const now = new Map<string, Seen>();
    for (const alarm of alarms) {
      const { alarmId, kind, priority, timesPresent, acknowledged, detail } = alarm;
      now.set(alarmId, { priority, timesPresent, acknowledged });
      const before = this.#seen.get(alarmId);
      const why =
        before === undefined
          ? 'new'
          : rank[priority] > rank[before.priority]
            ? 'worse'
            : // One that nobody has put aside sounds on, whether it comes and goes or not.
              before.acknowledged && !acknowledged
              ? timesPresent > before.timesPresent
                ? 'again'
                : 'worse'
              : undefined;
      if (why !== undefined) this.calls.push({ atMs, kind, priority, why, detail });
    }
    this.#seen = now;
  }
}

/** Calls an hour by priority and kind. */
export interface Burden {
  readonly hours: number;
  /** Each step of an alarm by itself; and of these the floor alarm, for which no doubt is a reason not to come. */
  readonly mediumOrHighPerHour: number;
  readonly ofTheseFloorPerHour: number;
  /** And neither the floor's nor the forecast's, nor after somebody who was asked to stop and truly went on holding. */
  readonly ofTheseOthersPerHour: number;
  readonly lowPerHour: number;
  /** `priority kind` (and detail) -> calls an hour, the most frequent first. */
  readonly byKind: Readonly<Record<string, number>>;
}

const perHour = (count: number, hours: number): number => Math.round((1_000 * count) / hours) / 1_000;

export function burdenOf(calls: readonly Call[], hours: number): Burden {
  const counts = new Map<string, number>();
  for (const { priority, kind, detail } of calls) {
    const key = `${priority} ${kind}${detail === undefined ? '' : ` (${detail})`}`;
    counts.set(key, (counts.get(key) ?? 0) + 1);
  }
  const low = calls.filter(({ priority }) => priority === 'low').length;
  return {
    hours: Math.round(hours * 100) / 100,
    mediumOrHighPerHour: perHour(calls.length - low, hours),
    ofTheseOthersPerHour: perHour(
      calls.filter(
        ({ kind, priority, isOfTrueHold }) =>
          priority !== 'low' && kind !== 'floorBreached' && kind !== 'floorForecast' && isOfTrueHold !== true,
      ).length,
      hours,
    ),
    ofTheseFloorPerHour: perHour(calls.filter(({ kind }) => kind === 'floorBreached').length, hours),
    lowPerHour: perHour(low, hours),
    byKind: Object.fromEntries(
      [...counts]
        .sort(([, one], [, other]) => other - one)
        .map(([key, count]) => [key, perHour(count, hours)]),
    ),
  };
}
