// An alarm's two sentences in the language of the page, made from its codes and numbers.

import type { AlarmView } from '../../shared/views.ts';
import type { AlarmText } from '../../shared/words/en-alarms.ts';
import type { Messages } from '../i18n/en.ts';

/** An alarm that was recorded before its codes and numbers were kept has the sentences of then only. */
export function alarmWords(alarm: AlarmView, text: Messages): AlarmText {
  const { value, limit, subject, detail } = alarm;
  const hasFacts = [value, limit, subject, detail].some((fact) => fact !== null);
  return hasFacts ? text.alarmText(alarm) : { message: alarm.message, instruction: alarm.instruction };
}
