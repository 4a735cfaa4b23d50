// Marks, marks taken back and alarms of a recording as lines of text in time order. Pure.

import type { AthleteRecording } from '../../../shared/http.ts';
import type { AlarmKind, AlarmPriority } from '../../../shared/schema-parts.ts';
import { alarmOutcome } from '../../components/alarm-outcome.ts';
import { alarmWords } from '../../components/alarm-words.ts';
import type { Messages } from '../../i18n/en.ts';
import { formatExactTime } from '../../state/format.ts';

export interface EventLine {
  readonly key: string;
  /** In the session. */
  readonly atMs: number;
  readonly what: string;
  readonly detail: string;
  /** How a mark came to stand where it does; '' for one as marked at the time. */
  readonly source: string;
  /** Of an alarm; null for a mark. */
  readonly priority: AlarmPriority | null;
  readonly mark: MarkInRecording | null;
  /** Of an alarm. */
  readonly alarmKind: AlarmKind | null;
}

export type MarkInRecording = AthleteRecording['marks'][number];

export function eventLines(
  {
    marks,
    removedMarks,
    alarms,
    changes,
  }: Pick<AthleteRecording, 'marks' | 'removedMarks' | 'alarms' | 'changes'>,
  text: Messages,
): EventLine[] {
  const words = text.recording;
  const plain = { source: '', priority: null, mark: null, alarmKind: null };
  const lines: EventLine[] = [
    ...marks.map((mark) => ({
      ...plain,
      key: mark.markId,
      atMs: mark.atMs,
      what: text.markKind[mark.kind],
      detail: mark.text ?? '',
      source: sourceOf(mark, text),
      mark,
    })),
    ...removedMarks.map((mark) => ({
      ...plain,
      key: `${mark.markId}-removed`,
      atMs: mark.atMs,
      what: `${text.markKind[mark.kind]} (${words.removed})`,
      detail: mark.text ?? '',
    })),
    ...alarms.map(({ alarm, clearedAtMs }) => ({
      ...plain,
      key: alarm.alarmId,
      atMs: alarm.raisedAtMs,
      what: `${words.legendAlarm}, ${text.alarm.priority[alarm.highestPriority].toLowerCase()}: ${text.alarm.kind[alarm.kind]}`,
      detail: `${alarmWords(alarm, text).message} ${alarmOutcome(alarm, clearedAtMs, text)}`,
      priority: alarm.highestPriority,
      alarmKind: alarm.kind,
    })),
    ...changes.map(({ atMs, change, sensorName, by }, index) => ({
      ...plain,
      key: `change-${index}`,
      atMs,
      what: text.course.change[change](sensorName ?? ''),
      detail: by === '' ? text.course.changeByHub : text.course.changeBy(by),
    })),
  ];
  return lines.sort((a, b) => a.atMs - b.atMs);
}

function sourceOf({ originallyAtMs, how }: MarkInRecording, text: Messages): string {
  const words = text.history.correction.markHow;
  if (originallyAtMs !== null) return words.moved(formatExactTime(originallyAtMs));
  return how === 'added' ? words.added : '';
}
