// What happened in a session, for its report: alarms that were ever more than low, and notes, in time order. Pure.

import type { AthleteRecording } from '../../../shared/http.ts';
import { alarmOutcome } from '../../components/alarm-outcome.ts';
import { alarmWords } from '../../components/alarm-words.ts';
import type { Messages } from '../../i18n/en.ts';

export interface ReportEvent {
  readonly key: string;
  /** In the session. */
  readonly atMs: number;
  readonly what: string;
}

export function reportEvents(
  { alarms, marks }: Pick<AthleteRecording, 'alarms' | 'marks'>,
  text: Messages,
): ReportEvent[] {
  const ofAlarms = alarms
    .filter(({ alarm }) => alarm.highestPriority !== 'low')
    .map(({ alarm, clearedAtMs }): ReportEvent => {
      const priority = text.alarm.priority[alarm.highestPriority].toLowerCase();
      return {
        key: alarm.alarmId,
        atMs: alarm.raisedAtMs,
        what: `${text.recording.legendAlarm}, ${priority}: ${alarmWords(alarm, text).message} ${alarmOutcome(alarm, clearedAtMs, text)}`,
      };
    });
  const ofNotes = marks
    .filter(({ kind, text: note }) => kind === 'note' && note !== null)
    .map(
      (note): ReportEvent => ({
        key: note.markId,
        atMs: note.atMs,
        what: `${text.markKind.note}: ${note.text}`,
      }),
    );
  return [...ofAlarms, ...ofNotes].sort((a, b) => a.atMs - b.atMs);
}
