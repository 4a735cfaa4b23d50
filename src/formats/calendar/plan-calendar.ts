// A training plan at a time of the calendar as an iCalendar event (RFC 5545), for a reminder in any calendar program.

import type { Plan } from '../../../shared/plan.ts';
import { type Said, said } from '../../../shared/said.ts';
import { describePlan } from '../../plans/describe-plan.ts';
import { isoTextOf } from '../civil-date.ts';
import { encodeUtf8 } from '../edf/utf8.ts';

export interface PlannedTraining {
  /** Unique in the world (s3.8.4.7), the same for the same plan at the same time. */
  readonly uid: string;
  readonly plan: Plan;
  readonly startsWallAtMs: number;
  readonly writtenWallAtMs: number;
  /** Words what is said in the language of whoever keeps the calendar. */
  readonly say: (said: Said) => string;
}

/** Where a plan has no length of its own. Our choice: long enough to be seen in a calendar. */
const lengthUnknownMs = 3_600_000;

/** "20250503T170509Z" (s3.3.5, form 2). */
const utcText = (unixMs: number): string => isoTextOf(unixMs).replaceAll(/[-:]|\.\d+/g, '');

/** s3.3.11. */
const escaped = (text: string): string =>
  text.replaceAll(/[\\;,]/g, (sign) => `\\${sign}`).replaceAll(/\r\n|\r|\n/g, '\\n');

/** Lines of at most 75 octets (s3.1); further ones begin with a space. Characters are never cut. */
function folded(line: string): string {
  const lines: string[] = [];
  let current = '';
  let octets = 0;
  for (const character of line) {
    const size = encodeUtf8(character).length;
    if (octets + size > 75) {
      lines.push(current);
      current = ' ';
      octets = 1;
    }
    current += character;
    octets += size;
  }
  return [...lines, current].join('\r\n');
}

/** The text of an .ics file. */
export function calendarOfPlan(training: PlannedTraining): string {
  const { uid, plan, startsWallAtMs, writtenWallAtMs, say } = training;
  const { shape, lengthMs, minimumRecovery } = describePlan(plan);
  const seconds = Math.max(60, Math.round((lengthMs ?? lengthUnknownMs) / 1_000));
  return [
    'BEGIN:VCALENDAR',
    'VERSION:2.0',
    'PRODID:-//Slackwater//Training plan//EN',
    'CALSCALE:GREGORIAN',
    'BEGIN:VEVENT',
    `UID:${escaped(uid)}`,
    `DTSTAMP:${utcText(writtenWallAtMs)}`,
    `DTSTART:${utcText(startsWallAtMs)}`,
    `DURATION:PT${seconds}S`,
    `SUMMARY:${escaped(plan.title)}`,
    `DESCRIPTION:${escaped([shape, minimumRecovery, said('calendar.caution')].map(say).join('\n'))}`,
    'END:VEVENT',
    'END:VCALENDAR',
    '',
  ]
    .map(folded)
    .join('\r\n');
}
