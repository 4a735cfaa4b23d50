// Which alarm comes first, and what sound the whole page should make. Pure.

import type { AlarmKind, AlarmPriority } from '../../shared/schema-parts.ts';
import type { AlarmView, SoundView } from '../../shared/views.ts';

const rank: Readonly<Record<AlarmPriority, number>> = { high: 3, medium: 2, low: 1 };

/** 0 for none, up to 3 for high. */
export function priorityRank(priority: AlarmPriority | null): number {
  return priority === null ? 0 : rank[priority];
}

/** The higher of two priorities. */
export function higherPriority(
  first: AlarmPriority | null,
  second: AlarmPriority | null,
): AlarmPriority | null {
  return priorityRank(first) >= priorityRank(second) ? first : second;
}

/**
 * How much an alarm needs a look, 0 to 3. One whose condition has passed comes after whatever asks for action now, and
 * before what is only good to know.
 */
export function lookRank({
  priority,
  conditionPresent,
}: Pick<AlarmView, 'priority' | 'conditionPresent'>): number {
  return conditionPresent ? rank[priority] : Math.min(1.5, rank[priority]);
}

/** Of the same priority what a body does comes before what a sensor does, and no breathing before all. Our choice. */
const bodyRank: Readonly<Partial<Record<AlarmKind, number>>> = {
  noBreathingSign: 4,
  heartRateSuddenFall: 3,
  floorBreached: 2,
  saturationNotRecovering: 1,
};

/** What needs a look most comes first; then unacknowledged before acknowledged, then the newest. */
export function orderAlarms(alarms: readonly AlarmView[]): AlarmView[] {
  return [...alarms].sort(
    (a, b) =>
      lookRank(b) - lookRank(a) ||
      Number(a.acknowledged) - Number(b.acknowledged) ||
      (bodyRank[b.kind] ?? 0) - (bodyRank[a.kind] ?? 0) ||
      b.raisedAtMs - a.raisedAtMs,
  );
}

/** The sound one athlete calls for now: null while paused. The pause ends by itself even if the hub says no more. */
export function soundingPriority(sound: SoundView, nowMs: number | null): AlarmPriority | null {
  if (sound.priority === null) return null;
  const pausedUntilMs = sound.audioPausedUntilMs;
  if (pausedUntilMs !== null && nowMs !== null && nowMs < pausedUntilMs) return null;
  return sound.priority;
}
