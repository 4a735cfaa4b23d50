// The words of an entry in the frame: who and what, what happened, what to do.

import type { Said } from '../../shared/said.ts';
import type { SupervisionAlarm } from '../../shared/views.ts';
import type { Messages } from '../i18n/en.ts';
import { formatAge, formatClockTime, formatList, shortened } from '../state/format.ts';
import type { AlarmEntry } from '../state/standing-alarms.ts';
import { alarmTitle } from './alarm-title.ts';
import { alarmWords } from './alarm-words.ts';

type Say = (said: Said) => string;

export interface EntryWords {
  readonly title: string;
  readonly message: string;
  readonly instruction: string;
}

/** `isNamed`: say whose alarm it is. */
export function entryWords(entry: AlarmEntry, text: Messages, say: Say, isNamed: boolean): EntryWords {
  const words = text.frame;
  if (entry.type === 'watch') {
    const { alarm } = entry;
    const time = formatClockTime(alarm.atWallMs, Date.now());
    return {
      title: words.title[alarm.kind](time, formatAge(alarm.durationMs ?? 0)),
      message: whatHappened(alarm, text, say),
      instruction: words.todo[alarm.kind],
    };
  }
  const { first, more, common, athletes } = entry;
  const what =
    first.detail === 'answerAsked' && first.conditionPresent
      ? words.answerTitle
      : first.detail === 'breathingUnsure' && first.conditionPresent
        ? words.unsureTitle
        : alarmTitle(first, text);
  const whom =
    common === 'all'
      ? athletes.length > 1 && first.kind !== 'pageUnresponsive'
        ? words.everyone
        : ''
      : common === 'some' || isNamed
        ? formatList(athletes.map(({ name }) => shortened(name)))
        : '';
  const { message, instruction } = alarmWords(first, text);
  const others =
    more.length === 0
      ? ''
      : ` \u2014 ${text.alarm.more(more.length)}: ${more.map((alarm) => alarmTitle(alarm, text)).join(', ')}`;
  return { title: whom === '' ? what : words.of(whom, what), message: `${message}${others}`, instruction };
}

function whatHappened(alarm: SupervisionAlarm, text: Messages, say: Say): string {
  const words = text.frame;
  const { kind, session, subject, reason } = alarm;
  const names = session?.athletes.map(({ name }) => shortened(name)) ?? [];
  const whom = names.length === 0 ? words.everybody : formatList(names);
  const duration = formatAge(alarm.durationMs ?? 0);
  const cause = words.cause[alarm.cause ?? 'unknown'];
  switch (kind) {
    case 'monitoringStopped':
      return `${words.stopped(whom, cause)}${reason === null ? '' : ` ${say(reason)}`}`;
    case 'monitoringGap':
      return words.gap(whom, duration, words.gapCause[alarm.cause ?? 'unknown']);
    case 'clockChanged':
      return words.clock(duration);
    case 'deviceDropped':
      return words.dropped((subject === null ? '' : say(subject)) || words.aDevice);
    case 'outputFailed':
      return words.output(
        subject === null ? '' : say(subject),
        (reason === null ? '' : say(reason)).replace(/\.$/, ''),
      );
    case 'signalsExchanged':
      return words.exchanged(whom);
    case 'roomSilent':
      return words.silentRoom(subject === null ? '' : say(subject));
    case 'recordingFails':
      return words.recordingGoesOn(reason === null ? '' : say(reason));
  }
}
