// What happened in a session, for its report: alarms below the floor first and all of them, then other alarms that were ever
// more than low and notes, in time order. Pure.

import type { AthleteRecording } from '../../../shared/http.ts';
import { alarmsByGroup, holdAt } from '../../../src/sessions/session-headline.ts';
import { alarmOutcome } from '../../components/alarm-outcome.ts';
import { alarmWords } from '../../components/alarm-words.ts';
import type { Messages } from '../../i18n/en.ts';

export interface ReportEvent {
  readonly key: string;
  /** In the session. */
  readonly atMs: number;
  readonly what: string;
}

export interface ReportEvents {
  readonly belowFloor: readonly ReportEvent[];
  readonly others: readonly ReportEvent[];
  /** Of low priority, which are left to the recording. */
  readonly lowCount: number;
}

export function reportEvents(
  { holds, alarms, marks }: Pick<AthleteRecording, 'holds' | 'alarms' | 'marks'>,
  text: Messages,
): ReportEvents {
  const times = holds.map(({ hold }) => hold);
  const groups = alarmsByGroup(alarms);
  const eventOf = ({ alarm, clearedAtMs }: AthleteRecording['alarms'][number], name: string): ReportEvent => {
    const index = holdAt(times, alarm.raisedAtMs);
    const where = index === null ? '' : `${text.recorded.ofHold(index + 1)}: `;
    return {
      key: alarm.alarmId,
      atMs: alarm.raisedAtMs,
      what: `${where}${name}${alarmWords(alarm, text).message} ${alarmOutcome(alarm, clearedAtMs, text)}`,
    };
  };
  const others = (['high', 'medium'] as const).flatMap((group) =>
    groups[group].map((each) =>
      eventOf(
        each,
        `${text.recording.legendAlarm}, ${text.alarm.priority[each.alarm.highestPriority].toLowerCase()}: `,
      ),
    ),
  );
  const notes = marks
    .filter(({ kind, text: note }) => kind === 'note' && note !== null)
    .map(
      (note): ReportEvent => ({
        key: note.markId,
        atMs: note.atMs,
        what: `${text.markKind.note}: ${note.text}`,
      }),
    );
  return {
    belowFloor: groups.floor.map((each) => eventOf(each, '')),
    others: [...others, ...notes].sort((a, b) => a.atMs - b.atMs),
    lowCount: groups.low.length,
  };
}
