// What became of an alarm, in a sentence for a report: how bad it got, when it passed, who saw it, when it was over.

import type { AlarmView } from '../../shared/views.ts';
import type { Messages } from '../i18n/en.ts';
import { formatDuration } from '../state/format.ts';

export function alarmOutcome(alarm: AlarmView, clearedAtMs: number | null, text: Messages): string {
  const words = text.recording.alarm;
  const at = (ms: number): string => formatDuration(ms);
  return [
    alarm.passedAtMs === null ? words.notPassed : words.passed(at(alarm.passedAtMs)),
    alarm.acknowledgedAtMs === null
      ? words.notAcknowledged
      : words.acknowledged(at(alarm.acknowledgedAtMs), alarm.acknowledgedBy),
    ...(clearedAtMs === null ? [] : [words.over(at(clearedAtMs))]),
  ].join(' ');
}
