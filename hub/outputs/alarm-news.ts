// What outputs that can say more than a sound are told of an athlete's alarms: who, what, how much, since when.

import type { WallMs } from '../../shared/units.ts';
import type { SupervisionAlarm } from '../../shared/views.ts';
import type { ActiveAlarm } from '../../src/alarms/alarm.ts';
import type { AlarmNews } from './alarm-output.ts';

/** Those that nobody has acknowledged. `zeroWallMs` is the wall time of the session's time 0. */
export function newsOfAthlete(
  alarms: readonly ActiveAlarm[],
  who: string,
  zeroWallMs: WallMs,
): readonly AlarmNews[] {
  return alarms
    .filter(({ acknowledged }) => !acknowledged)
    .map(({ kind, priority, value, raisedAtMs }) => ({
      who,
      kind,
      priority,
      value: value ?? null,
      sinceWallMs: (zeroWallMs + raisedAtMs) as WallMs,
    }));
}

export function newsOfWatching(alarms: readonly SupervisionAlarm[]): readonly AlarmNews[] {
  return alarms
    .filter(({ acknowledged }) => !acknowledged)
    .map(({ kind, priority, atWallMs }) => ({ who: '', kind, priority, value: null, sinceWallMs: atWallMs }));
}

/** As webhook and broker send it. */
export const newsInJson = (news: readonly AlarmNews[]): readonly Readonly<Record<string, unknown>>[] =>
  news.map(({ who, kind, priority, value, sinceWallMs }) => ({
    who,
    kind,
    priority,
    value,
    since: new Date(sinceWallMs).toISOString(),
  }));

const keyOf = (news: readonly AlarmNews[]): string =>
  news.map(({ who, kind, priority }) => `${who} ${kind} ${priority}`).join('\n');

/** A value that changes is no news. */
export const isSameNews = (one: readonly AlarmNews[], other: readonly AlarmNews[]): boolean =>
  keyOf(one) === keyOf(other);
