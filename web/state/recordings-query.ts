// What the list of recordings is asked for, as the page's fields say it and as the hub is asked. Pure, but for the time zone.

import type { RecordingFilter } from '../../src/sessions/found-recordings.ts';

/** As the fields have it: days as a date field writes them, "2031-04-02"; '' for none. */
export interface RecordingFields extends Omit<RecordingFilter, 'fromMs' | 'untilMs'> {
  readonly fromDay: string;
  readonly untilDay: string;
}

export const noFields: RecordingFields = {
  search: '',
  athleteId: '',
  leader: '',
  room: '',
  kind: '',
  plan: '',
  tag: '',
  place: '',
  condition: '',
  fromDay: '',
  untilDay: '',
};

export const isFiltered = (fields: RecordingFields): boolean =>
  Object.values(fields).some((value) => value.trim() !== '');

/** Query parameters of GET /api/recordings. `untilDay` is wholly in it. */
export function recordingsQuery(fields: RecordingFields, page: number, untitled: string): string {
  const { fromDay, untilDay, ...rest } = fields;
  const query = new URLSearchParams({ page: String(page), untitled });
  for (const [name, value] of Object.entries(rest)) if (value.trim() !== '') query.set(name, value.trim());
  const fromMs = startOfDay(fromDay, 0);
  const untilMs = startOfDay(untilDay, 1);
  if (fromMs !== null) query.set('fromMs', String(fromMs));
  if (untilMs !== null) query.set('untilMs', String(untilMs));
  return query.toString();
}

/** When a day begins here, or the day so many after it; null for no day. */
function startOfDay(day: string, after: number): number | null {
  const [year, month, date] = day.split('-').map(Number);
  if (year === undefined || month === undefined || date === undefined) return null;
  const at = new Date(year, month - 1, date + after).getTime();
  return Number.isFinite(at) ? at : null;
}
