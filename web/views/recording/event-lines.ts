// What happened in a recording in groups, those that a coach asks about first: alarms below the floor, other alarms by priority,
// notes, marks, people and sensors; within a group in time order. Pure.

import type { AthleteRecording } from '../../../shared/http.ts';
import type { AlarmKind, AlarmPriority } from '../../../shared/schema-parts.ts';
import { alarmGroups, alarmsByGroup, holdAt } from '../../../src/sessions/session-headline.ts';
import { alarmOutcome } from '../../components/alarm-outcome.ts';
import { alarmWords } from '../../components/alarm-words.ts';
import { sensorName as nameOf } from '../../components/sensor-name.ts';
import type { Messages } from '../../i18n/en.ts';
import { formatExactTime } from '../../state/format.ts';

export interface EventLine {
  readonly key: string;
  /** In the session. */
  readonly atMs: number;
  /** The hold it belongs to, from 1; null for none. */
  readonly holdNumber: number | null;
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
type EventGroupKey = keyof Omit<Messages['recorded']['events'], 'group' | 'inHold'>;

export interface EventGroup {
  readonly key: EventGroupKey;
  readonly title: string;
  readonly lines: readonly EventLine[];
}

type Happened = Pick<AthleteRecording, 'holds' | 'marks' | 'removedMarks' | 'alarms' | 'changes'>;

/** Groups without anything in them are left out. */
export function eventGroups(
  { holds, marks, removedMarks, alarms, changes }: Happened,
  text: Messages,
): EventGroup[] {
  const words = text.recording;
  const times = holds.map(({ hold }) => hold);
  const placed = (atMs: number) => {
    const index = holdAt(times, atMs);
    return { atMs, holdNumber: index === null ? null : index + 1 };
  };
  const plain = { source: '', priority: null, mark: null, alarmKind: null };
  const groups = alarmsByGroup(alarms);
  const lineOfMark = (mark: MarkInRecording): EventLine => ({
    ...plain,
    ...placed(mark.atMs),
    key: mark.markId,
    what: text.markKind[mark.kind],
    detail: mark.text ?? '',
    source: sourceOf(mark, text),
    mark,
  });
  const linesOf: Readonly<Record<EventGroupKey, EventLine[]>> = {
    ...(Object.fromEntries(
      alarmGroups.map((group) => [
        group,
        groups[group].map(
          ({ alarm, clearedAtMs }): EventLine => ({
            ...plain,
            ...placed(alarm.raisedAtMs),
            key: alarm.alarmId,
            what: text.alarm.kind[alarm.kind],
            detail: `${alarmWords(alarm, text).message} ${alarmOutcome(alarm, clearedAtMs, text)}`,
            priority: alarm.highestPriority,
            alarmKind: alarm.kind,
          }),
        ),
      ]),
    ) as Record<(typeof alarmGroups)[number], EventLine[]>),
    notes: marks.filter(({ kind }) => kind === 'note').map(lineOfMark),
    marks: marks.filter(({ kind }) => kind !== 'note').map(lineOfMark),
    changes: changes.map(({ atMs, change, sensorName, by }, index) => ({
      ...plain,
      ...placed(atMs),
      key: `change-${index}`,
      what: text.course.change[change](
        sensorName === null ? '' : nameOf({ name: sensorName, sensorId: sensorName }, text),
      ),
      detail: by === '' ? text.course.changeByHub : text.course.changeBy(by),
    })),
    removed: removedMarks.map((mark) => ({
      ...plain,
      ...placed(mark.atMs),
      key: `${mark.markId}-removed`,
      what: `${text.markKind[mark.kind]} (${words.removed})`,
      detail: mark.text ?? '',
    })),
  };
  return (['floor', 'high', 'medium', 'low', 'notes', 'marks', 'changes', 'removed'] as const)
    .filter((key) => linesOf[key].length > 0)
    .map((key) => ({
      key,
      title: text.recorded.events[key],
      lines: linesOf[key].toSorted((a, b) => a.atMs - b.atMs),
    }));
}

function sourceOf({ originallyAtMs, how }: MarkInRecording, text: Messages): string {
  const words = text.history.correction.markHow;
  if (originallyAtMs !== null) return words.moved(formatExactTime(originallyAtMs));
  return how === 'added' ? words.added : '';
}
