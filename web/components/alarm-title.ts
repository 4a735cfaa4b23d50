// The few words that name an alarm: another name once its condition has passed and it waits for someone.

import type { AlarmView } from '../../shared/views.ts';
import type { Messages } from '../i18n/en.ts';

export function alarmTitle(
  { kind, conditionPresent }: Pick<AlarmView, 'kind' | 'conditionPresent'>,
  text: Messages,
): string {
  return (conditionPresent ? undefined : text.alarm.passedKind[kind]) ?? text.alarm.kind[kind];
}
