// What a coach asks after a session, and the taps until it is answered: at most three, from the list of recordings on a
// phone, against the real hub. A choice in a list counts as two.

import type { Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { openStoreInMemory } from '../../hub/recorder/sqlite-store.ts';
import { browserSuite } from '../support/browser-suite.ts';
import { openPage } from '../support/chromium-page.ts';
import type { PageHub } from '../support/page-hub.ts';
import { recordedByPlan } from '../support/recorded-by-plan.ts';
import { writeMonths } from '../support/written-sessions.ts';

const mostTaps = 3;
const suite = browserSuite();
let hub: PageHub;
beforeAll(async () => {
  const store = openStoreInMemory();
  writeMonths(store, { athleteId: 'athlete-1', name: 'Marit Oduya' }, 8, Date.now() - 2 * 86_400_000, 2);
  ({ hub } = await recordedByPlan(store));
});
afterAll(async () => {
  await (await newestOpened)?.context.close();
  await hub.close();
});

interface Question {
  readonly asked: string;
  /** Each counts as one tap, or as said. */
  readonly taps: readonly ((page: Page) => Promise<number>)[];
  readonly where: (page: Page) => ReturnType<Page['locator']>;
  readonly answer: RegExp;
}

const press = (role: 'link' | 'button' | 'radio', name: string | RegExp) => async (page: Page) => {
  await page.getByRole(role, { name }).first().click();
  return 1;
};
const unfold = (words: string | RegExp) => async (page: Page) => {
  await page.locator('summary').filter({ hasText: words }).first().click();
  return 1;
};
const choose = (label: string, option: string) => async (page: Page) => {
  await page.getByRole('combobox', { name: label, exact: true }).selectOption({ label: option });
  return 2;
};
/** The newest of the list: the session that has just ended. */
const newest = async (page: Page) => {
  await page.locator('a[href^="/recordings/"]').filter({ hasText: 'Teo Lindqvist' }).first().click();
  return 1;
};
const weeks = [
  async (page: Page) => {
    await page.getByRole('button', { name: 'Menu' }).click();
    return 1;
  },
  press('link', 'Weeks'),
];
const inShort = (page: Page) => page.getByRole('region', { name: 'In short' });
const secondCard = (page: Page) => page.locator('.hold-card').nth(1);
const plan = (page: Page) => page.locator('.plan-table--actual');
const whole = (page: Page) => page.locator('main');

const questions: readonly Question[] = [
  {
    asked: 'How many holds, and how long in all?',
    taps: [newest],
    where: inShort,
    answer: /Holds\s+2\s+3:00 held/,
  },
  { asked: 'Which was the longest?', taps: [newest], where: inShort, answer: /Longest\s+1:50.*\s+hold 2/ },
  {
    asked: 'How low did saturation go, and how late after its hold?',
    taps: [newest],
    where: inShort,
    answer: /Lowest SpO2\s+8\d\s%\s+hold 2, \d+.* after its end/,
  },
  {
    asked: 'Was anybody below the floor?',
    taps: [newest],
    where: inShort,
    answer: /below the floor of 88\s%/,
  },
  {
    asked: 'Which alarms, by priority?',
    taps: [newest],
    where: inShort,
    answer: /1\s+below the floor\s+1\s+high\s+2\s+medium/,
  },
  {
    asked: 'How fast were they back to their own rest?',
    taps: [newest],
    where: inShort,
    answer: /SpO2 back in \d+.*\s+heart rate back in \d+/,
  },
  { asked: 'How did it feel?', taps: [newest], where: inShort, answer: /Comfort\s+nobody said/ },
  {
    asked: 'How long was this hold, and how is that known?',
    taps: [newest],
    where: secondCard,
    answer: /1:50\s+marked/,
  },
  {
    asked: 'When did contractions begin?',
    taps: [newest],
    where: secondCard,
    answer: /1:1\d easy, 0:\d\d after the first contraction \(marked\)/,
  },
  { asked: 'How long was it below 90 %?', taps: [newest], where: secondCard, answer: /0:\d\d below 90\s%/ },
  {
    asked: 'How steep was the fall?',
    taps: [newest],
    where: secondCard,
    answer: /%\/min on average, [\d.]+\s%\/min in its steepest 30\ss/,
  },
  {
    asked: 'How did the heart answer?',
    taps: [newest],
    where: secondCard,
    answer: /half of its fall after [\d.]+\ss, 90\s% after/,
  },
  {
    asked: 'How high was carbon dioxide at the end?',
    taps: [newest],
    where: secondCard,
    answer: /\d+\smmHg \([\d.]+\skPa\)[\s\S]*model, not measured/,
  },
  {
    asked: 'Was it early or late by the plan?',
    taps: [newest],
    where: plan,
    answer: /0:\d\d late|as planned/,
  },
  { asked: 'Was the recovery as planned?', taps: [newest], where: plan, answer: /planned 2:00/ },
  {
    asked: 'Who acknowledged the floor alarm, and when did it pass?',
    taps: [newest],
    where: whole,
    answer: /Below the floor[\s\S]*Passed at \d:\d\d\. Acknowledged by nobody\./,
  },
  {
    asked: 'How much of it was carbon dioxide, how much oxygen?',
    taps: [newest],
    where: whole,
    answer: /Carbon dioxide: time after the first contraction\s+\d+\s% of the time held/,
  },
  {
    asked: 'What is the exact figure of a measure?',
    taps: [newest, unfold('All measures of each hold')],
    where: whole,
    answer: /Rate of SpO2 fall\s+(Hold 1\s+)?[\d.]+\s%\/min/,
  },
  {
    asked: 'How is that measure defined?',
    taps: [newest, unfold('All measures of each hold'), unfold('What each measure is')],
    where: (page) => page.locator('.definitions'),
    answer: /lowest/i,
  },
  {
    asked: 'What did the traces look like in hold 2?',
    taps: [newest, press('button', 'Show hold 2 in the trace')],
    where: whole,
    answer: /4:\d\d – 7:\d\d/,
  },
  {
    asked: 'And the other one?',
    taps: [newest, choose('Athlete', 'Teo Lindqvist')],
    where: secondCard,
    answer: /1:50/,
  },
  {
    asked: 'What do I hand the athlete on paper?',
    taps: [newest, press('link', 'Report to print')],
    where: (page) => page.locator('.report-table'),
    answer: /1:50/,
  },
  {
    asked: 'And of the whole group?',
    taps: [newest, press('link', 'Report of the whole group')],
    where: whole,
    answer: /Marit Oduya[\s\S]*Teo Lindqvist/,
  },
  {
    asked: 'Can another program have it?',
    taps: [newest, unfold('Files')],
    where: whole,
    answer: /CSV[\s\S]*EDF\+[\s\S]*FHIR/,
  },
  {
    asked: 'What was noted of that day?',
    taps: [newest, unfold('Notes on this session')],
    where: whole,
    answer: /Sleep the night before/,
  },
  {
    asked: 'Is anything changing over the weeks?',
    taps: weeks,
    where: whole,
    answer:
      /(No clear change|Higher than before|Lower than before|too few to say|without a clear change|Rose from|Fell from)/,
  },
  {
    asked: 'What should we talk over before the next session?',
    taps: weeks,
    where: whole,
    answer: /To talk over with your instructor[\s\S]*Why: /,
  },
  {
    asked: 'How was it beside another session?',
    taps: [...weeks, press('link', 'Session against session')],
    where: whole,
    answer: /difference [+\-−±]/,
  },
];

test('at least twenty-five questions, each asked once', () => {
  expect(new Set(questions.map(({ asked }) => asked)).size).toBe(questions.length);
  expect(questions.length).toBeGreaterThanOrEqual(25);
});

/** From the list of recordings. */
async function reach(taps: Question['taps']) {
  const { page, context, faults } = await openPage(suite.browser, `${hub.url}/recordings`, {
    width: 'phone',
  });
  await page.locator('a[href^="/recordings/"]').filter({ hasText: 'Teo Lindqvist' }).first().waitFor();
  let count = 0;
  for (const tap of taps) count += await tap(page);
  return { page, context, faults, count };
}

/** Where most are answered: reached once, for reading changes nothing there. */
let newestOpened: ReturnType<typeof reach> | undefined;

async function reachFor({ taps }: Question): ReturnType<typeof reach> {
  if (taps.length === 1 && taps[0] === newest) {
    newestOpened ??= reach(taps);
    return newestOpened;
  }
  const reached = await reach(taps);
  suite.closeAfterTest(reached.context);
  return reached;
}

test.each(questions)('$asked', async (question) => {
  const { where, answer } = question;
  const { page, faults, count } = await reachFor(question);
  await expect.poll(async () => (await where(page).allInnerTexts()).join('\n')).toMatch(answer);
  expect(count).toBeLessThanOrEqual(mostTaps);
  expect(faults).toEqual([]);
});
