// A plan in a calendar: the grammar of RFC 5545, with lines folded by octets and text escaped.

import { expect, test } from 'vitest';
import { said } from '../../../shared/said.ts';
import { sayInEnglish } from '../../../shared/words/say.ts';
import { calendarOfPlan } from '../../../src/formats/calendar/plan-calendar.ts';
import { describePlan } from '../../../src/plans/describe-plan.ts';
import { plansOfEveryKind } from '../../support/usual-plans.ts';

test.each(plansOfEveryKind().map((plan) => [plan.title, plan] as const))('%s', (_title, plan) => {
  const title =
    'Evening, with Zoë; slow \\ easy \u{1FAC1}\u{1FAC1}\u{1FAC1}\u{1FAC1}\u{1FAC1}\u{1FAC1}\u{1FAC1}\u{1FAC1}\u{1FAC1}\u{1FAC1}\u{1FAC1}\u{1FAC1}\u{1FAC1}';
  const text = calendarOfPlan({
    uid: 'a@b.invalid',
    plan: { ...plan, title },
    startsWallAtMs: Date.UTC(2025, 4, 3, 17, 5, 9),
    writtenWallAtMs: Date.UTC(2025, 4, 1),
    say: sayInEnglish,
  });
  expect(text.endsWith('END:VCALENDAR\r\n')).toBe(true);
  for (const line of text.split('\r\n')) {
    expect(Buffer.byteLength(line)).toBeLessThanOrEqual(75);
    expect(line).not.toMatch(/[\n\r]/);
  }
  // s3.1: unfolded by taking the line break and the space away; s3.3.11: unescaped.
  const unfolded = text.replaceAll('\r\n ', '').split('\r\n');
  const value = (name: string): string | undefined =>
    unfolded.find((line) => line.startsWith(`${name}:`))?.slice(name.length + 1);
  expect(value('SUMMARY')?.replaceAll(/\\([\\;,])/g, '$1')).toBe(title);
  expect(value('DTSTART')).toBe('20250503T170509Z');
  expect(value('DTSTAMP')).toBe('20250501T000000Z');
  expect(value('DURATION')).toMatch(/^PT\d+S$/);
  const description = value('DESCRIPTION')!.replaceAll(/\\([\\;,n])/g, '$1');
  expect(description).toContain(sayInEnglish(said('calendar.caution')));
  expect(description).toContain(sayInEnglish(describePlan(plan).shape));
  expect(description).not.toContain('[object');
});
