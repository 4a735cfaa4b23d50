// Nothing is lost by one tap: what a person ends, deletes or leaves unsaved comes back, by pointer and by keyboard, at the
// real hub.

import type { Browser, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, beforeEach, expect, test } from 'vitest';
import { openStoreInMemory } from '../../hub/recorder/sqlite-store.ts';
import { axeViolations } from '../support/axe-check.ts';
import { keepScreenshot, launchChromium, openPage } from '../support/chromium-page.ts';
import { openPageHub, type PageHub } from '../support/page-hub.ts';
import { writeSession } from '../support/written-sessions.ts';

const people = [
  { athleteId: 'athlete-1', athleteName: 'Marit Oduya' },
  { athleteId: 'athlete-2', athleteName: 'Teo Lindqvist' },
] as const;
const dayMs = 86_400_000;

let browser: Browser;
let hub: PageHub;
let page: Page;
let faults: string[];
let close: () => Promise<void>;

beforeAll(async () => {
  browser = await launchChromium();
});
afterAll(() => browser.close());
beforeEach(async () => {
  const store = openStoreInMemory();
  for (let index = 0; index < 45; index += 1)
    writeSession(store, {
      sessionId: `s-${index}`,
      ...people[index % 2]!,
      ...(index === 44 && { ...people[0], others: [people[1]] }),
      startedWallAtMs: Date.UTC(2031, 2, 1, 18) + index * dayMs,
      title: index === 44 ? 'Both in the hall' : `Evening ${index + 1}`,
      holdsS: index === 44 ? [40, 70] : [],
    });
  hub = await openPageHub({ athleteCount: 2, sessionRunning: false, store });
  const opened = await openPage(browser, `${hub.url}/about`);
  ({ page, faults } = opened);
  close = () => opened.context.close();
});
afterEach(async () => {
  await close();
  await hub.close();
});

const bar = () => page.getByRole('region', { name: 'What you can take back' });

async function savedPlan(): Promise<void> {
  await page.goto(`${hub.url}/plans/new/interval`);
  await page.getByRole('textbox', { name: 'Name' }).fill('Winter table');
  await page.getByRole('textbox', { name: 'Name' }).press('Enter');
  await page.getByRole('button', { name: 'Save', exact: true }).click();
  await page.getByText('Saved', { exact: false }).first().waitFor();
  await page.goto(`${hub.url}/plans`);
  await page.getByRole('link', { name: /Winter table/ }).click();
  await page.getByRole('heading', { name: 'Winter table' }).waitFor();
}

test('a deleted plan comes back by the bar and by the key', async () => {
  await savedPlan();
  await page.getByRole('button', { name: 'Delete' }).click();
  await bar().getByText('"Winter table" is in the bin.').waitFor();
  expect(await axeViolations(page)).toEqual([]);
  await keepScreenshot(page, 'take-back-bar-phone');
  await bar().getByRole('button', { name: /^Undo/ }).click();
  await page.getByRole('heading', { name: 'Winter table' }).waitFor();
  await page.getByRole('button', { name: 'Delete' }).click();
  await bar().getByText('"Winter table" is in the bin.').waitFor();
  await page.keyboard.press('Control+z');
  await page.getByRole('heading', { name: 'Winter table' }).waitFor();
  expect(faults).toEqual([]);
});

test('a plan that was ended by one tap goes on', async () => {
  await page.goto(`${hub.url}/plans/new/interval`);
  await page.getByRole('checkbox', { name: people[0].athleteName }).check();
  for (const box of await page.getByRole('checkbox', { name: 'Understood; start with this' }).all())
    await box.check();
  await page.getByRole('button', { name: 'Start', exact: false }).last().click();
  await page.getByRole('dialog').getByRole('checkbox').check();
  await page.getByRole('button', { name: 'Start without monitoring' }).click();
  const options = page.getByRole('button', { name: 'Plan' });
  const end = page.getByRole('dialog').getByRole('button', { name: 'End', exact: false });
  await options.click();
  await end.click();
  await bar().getByText('The plan was ended.').waitFor();
  await options.click();
  expect(await end.count()).toBe(0);
  await page.getByRole('dialog').getByRole('button', { name: 'Close' }).click();
  await bar()
    .getByRole('button', { name: /Go on with it/ })
    .click();
  await options.click();
  await end.waitFor();
  expect(faults).toEqual([]);
});

test('what was not saved of a plan is a draft: over another view, and over a reload', async () => {
  await savedPlan();
  const starts = page.getByRole('slider', { name: 'Starts' });
  const before = await starts.inputValue();
  await starts.fill('5');
  await page.getByRole('link', { name: 'Slackwater' }).click();
  await bar()
    .getByText(/Plan "Winter table": what you had not saved/)
    .waitFor();
  await bar()
    .getByRole('button', { name: /Back to it/ })
    .click();
  await page.getByText('This is what you had not saved', { exact: false }).waitFor();
  expect(await starts.inputValue()).toBe('5');
  await page.reload();
  await page.getByText('This is what you had not saved', { exact: false }).waitFor();
  expect(await starts.inputValue()).toBe('5');
  await page.getByRole('button', { name: 'Without it' }).click();
  expect(await starts.inputValue()).toBe(before);
  await page.getByRole('button', { name: 'Take the last change back' }).click();
  expect(await starts.inputValue()).toBe('5');
  expect(faults).toEqual([]);
});

test('a recording of two loses one part, then all of it, and both come back from the bin', async () => {
  await page.goto(`${hub.url}/recordings/s-44`);
  await page.getByRole('button', { name: 'Delete', exact: true }).click();
  await page.getByRole('radio', { name: 'Only the part of Teo Lindqvist' }).check();
  await keepScreenshot(page, 'delete-recording-phone');
  await page.getByRole('button', { name: 'Into the bin' }).click();
  await bar().getByText('The part of Teo Lindqvist in "Both in the hall" is in the bin.').waitFor();
  await page.getByRole('heading', { name: 'Marit Oduya' }).waitFor();
  await page.getByRole('button', { name: 'Delete', exact: true }).click();
  await page.getByText('Takes: Marit Oduya').waitFor();
  await page.getByRole('button', { name: 'Into the bin' }).click();
  await page.getByText('44 recordings').waitFor();
  await page.getByRole('link', { name: 'Bin' }).click();
  await page.getByText('Takes: Teo Lindqvist').waitFor();
  expect(await axeViolations(page)).toEqual([]);
  await keepScreenshot(page, 'bin-phone');
  await page.getByRole('button', { name: /^Put back: Recording/ }).click();
  await page.getByRole('button', { name: /^Put back: Part/ }).click();
  await page.getByText('Nothing is in the bin.').waitFor();
  await page.goto(`${hub.url}/recordings/s-44`);
  await page.getByRole('option', { name: 'Teo Lindqvist' }).waitFor({ state: 'attached' });
  expect(faults).toEqual([]);
});

test('the list is searched, filtered and paged, and each row has its figures', async () => {
  await page.setViewportSize({ width: 1440, height: 900 });
  await page.goto(`${hub.url}/recordings`);
  await page.getByText('Page 1 of 2').waitFor();
  expect(await page.locator('.recording-list > li').count()).toBe(40);
  await page.getByText(/4 holds . longest 1:10/).waitFor();
  await keepScreenshot(page, 'recordings-desktop');
  await page.setViewportSize({ width: 390, height: 844 });
  await keepScreenshot(page, 'recordings-phone');
  expect(await axeViolations(page)).toEqual([]);
  await page.getByRole('button', { name: 'Older' }).click();
  await expect.poll(() => page.locator('.recording-list > li').count()).toBe(5);
  await page.getByRole('searchbox', { name: 'Search' }).fill('evening teo');
  await page.getByText('22 of 45 recordings').waitFor();
  await page.getByText('By athlete, coach, kind, plan, tag or day').click();
  await page.getByLabel('From').fill('2031-04-01');
  await page.getByText('7 of 45 recordings').waitFor();
  await page.locator('.recording-list a').first().click();
  await page.getByRole('link', { name: /All recordings/ }).click();
  await page.getByText('7 of 45 recordings').waitFor();
  await page.getByRole('button', { name: 'Show all' }).click();
  await page.getByText('45 recordings', { exact: true }).waitFor();
  expect(faults).toEqual([]);
});

test('a name and a title change, and show in the recording, the list and the report', async () => {
  await page.goto(hub.url);
  await page.getByRole('button', { name: 'Change or remove Marit Oduya' }).click();
  await keepScreenshot(page, 'athlete-names-phone');
  await page.getByRole('dialog').getByRole('textbox', { name: 'Name' }).fill('Marit Solvang');
  await page.getByRole('button', { name: 'Save the name' }).click();
  await page.getByRole('checkbox', { name: 'Marit Solvang' }).waitFor();
  await page.goto(`${hub.url}/recordings/s-44`);
  await page.getByRole('button', { name: 'Title, led by ...' }).click();
  await page.getByRole('textbox', { name: 'Title' }).fill('Last dry evening');
  await page.getByRole('textbox', { name: 'Led by' }).fill('Runa Sjöholm, Jorid Aalto');
  await page.getByRole('button', { name: 'Save', exact: true }).click();
  await page.getByRole('heading', { name: 'Last dry evening' }).waitFor();
  await page.getByRole('link', { name: /All recordings/ }).click();
  await page.getByText('Marit Solvang, Teo Lindqvist').waitFor();
  await page.getByText('Last dry evening').waitFor();
  await page.getByText('Led by Runa Sjöholm, Jorid Aalto').waitFor();
  await page.goto(`${hub.url}/recordings/s-44/report/athlete-1`);
  await page.getByText('Last dry evening', { exact: false }).first().waitFor();
  await page.getByText(/Led by Runa Sjöholm, Jorid Aalto/).waitFor();
  await page.getByText('Marit Solvang', { exact: false }).first().waitFor();
  expect(faults).toEqual([]);
});

test('an entry of the log is changed, deleted and put back; one half written waits', async () => {
  await page.goto(`${hub.url}/training`);
  await page.getByRole('combobox', { name: 'What' }).selectOption({ label: 'Maximal dry hold' });
  await page.getByRole('textbox', { name: 'Place' }).fill('At home');
  await page.getByRole('button', { name: 'Save the entry' }).click();
  await page.getByRole('button', { name: /^Change the entry of/ }).click();
  const place = page.getByRole('textbox', { name: 'Place' });
  expect(await place.inputValue()).toBe('At home');
  await place.fill('In the hall');
  await page.getByRole('link', { name: 'Slackwater' }).click();
  await bar()
    .getByText(/Entry of the log: what you had not saved/)
    .waitFor();
  await bar()
    .getByRole('button', { name: /Back to it/ })
    .click();
  expect(await place.inputValue()).toBe('In the hall');
  await page.getByRole('heading', { name: /Changing the entry of/ }).waitFor();
  await page.getByRole('button', { name: 'Save the entry' }).click();
  await page.getByRole('heading', { name: /Changing the entry of/ }).waitFor({ state: 'detached' });
  expect(await page.locator('.training-list li').filter({ hasText: 'Maximal dry hold' }).count()).toBe(1);
  await page.getByRole('button', { name: /^Delete the entry of/ }).click();
  await page.getByText('Nothing in the log yet.').waitFor();
  await bar().getByRole('button', { name: /^Undo/ }).click();
  await page.getByRole('button', { name: /^Delete the entry of/ }).waitFor();
  expect(faults).toEqual([]);
});

test('a hold being added to a recording survives being left', async () => {
  await page.goto(`${hub.url}/recordings/s-44`);
  await page.getByRole('button', { name: 'Correct holds' }).click();
  await page.getByRole('button', { name: 'Add a note' }).click();
  await page.getByRole('textbox', { name: /note/i }).fill('chin up');
  await page.getByRole('link', { name: /All recordings/ }).click();
  await bar()
    .getByRole('button', { name: /Back to it/ })
    .click();
  const note = page.getByRole('textbox', { name: /note/i });
  await note.waitFor();
  expect(await note.inputValue()).toBe('chin up');
  await page.getByRole('button', { name: 'Cancel' }).click();
  await bar().getByText('The new mark was not saved.').waitFor();
  await bar()
    .getByRole('button', { name: /Bring it back/ })
    .click();
  expect(await note.inputValue()).toBe('chin up');
  expect(faults).toEqual([]);
});

test('a table is changed to the second, all rows at once, and step by step back', async () => {
  await page.goto(`${hub.url}/plans/new/rows`);
  await page.getByText(/Row by row \(4\)/).click();
  const recoveries = async () => {
    const sliders = await page.getByRole('slider', { name: /^Recovery after/ }).all();
    return Promise.all(sliders.map((slider) => slider.inputValue()));
  };
  const names = await page
    .getByRole('slider')
    .evaluateAll((all) => all.map((each) => each.getAttribute('id')));
  expect(names.length).toBeGreaterThan(8);
  await page.getByRole('button', { name: 'Every recovery: 5\u202fs less' }).click();
  await page.getByRole('button', { name: 'Every hold: 1\u202fs more' }).click();
  const hold = page.getByRole('slider', { name: 'Hold 1, longest' });
  expect(await hold.inputValue()).toBe('61');
  expect(new Set(await recoveries())).toEqual(new Set(['115']));
  await keepScreenshot(page, 'plan-rows-phone', { fullPage: true });
  expect(await axeViolations(page)).toEqual([]);
  // By key, by button and typed.
  await hold.focus();
  await page.keyboard.press('ArrowRight');
  expect(await hold.inputValue()).toBe('62');
  await page.getByRole('button', { name: 'Hold 1, longest: 1\u202fs less' }).click();
  expect(await hold.inputValue()).toBe('61');
  const typed = page.getByRole('textbox', { name: 'Hold 1, longest, to be typed' });
  await typed.fill('1:23');
  await typed.press('Enter');
  expect(await hold.inputValue()).toBe('83');
  await typed.fill('soon');
  await typed.press('Enter');
  expect(await hold.inputValue()).toBe('83');
  await page.getByRole('textbox', { name: /Every hold: set all to/ }).fill('1:15');
  await page.getByRole('button', { name: 'Every hold: Set all' }).click();
  expect(await hold.inputValue()).toBe('75');
  await page.getByRole('button', { name: 'Take the last change back' }).click();
  expect(await hold.inputValue()).toBe('83');
  expect(faults).toEqual([]);
});

test('pools of 16 2/3 m, 33 1/3 m and yards have their own distances', async () => {
  await page.goto(`${hub.url}/plans/new/pool`);
  const pool = page.getByRole('combobox', { name: 'Pool length' });
  const distance = page.getByRole('combobox', { name: 'Distance' });
  await pool.selectOption({ label: '16⅔ m' });
  await distance.selectOption({ label: '50 m (3 lengths)' });
  await page.getByRole('heading', { name: /8 times 50 m/ }).waitFor();
  await pool.selectOption({ label: '25 yd' });
  await page.getByRole('heading', { name: /8 times 75 yd/ }).waitFor();
  await pool.selectOption({ label: 'Other …' });
  await page.getByRole('textbox', { name: 'Length, as in 16 2/3' }).fill('33 1/3');
  await page.getByRole('combobox', { name: 'In', exact: true }).selectOption({ label: 'Metres' });
  await page.getByRole('heading', { name: /8 times 100 m/ }).waitFor();
  await page.getByRole('textbox', { name: 'Length, as in 16 2/3' }).fill('2');
  await page.getByText('From 5 m to 100 m.').waitFor();
  await keepScreenshot(page, 'pool-length-phone');
  expect(await axeViolations(page)).toEqual([]);
  expect(faults).toEqual([]);
});

test('the page of backups says what it lacks, and the pages of what is kept are readable by all', async () => {
  await page.goto(`${hub.url}/backups`);
  await page.getByRole('heading', { name: 'By the clock' }).waitFor();
  await page.getByText('None yet. Name a folder').waitFor();
  // A hub of a test cannot be started anew: the page says so instead of offering it.
  await page.getByText('This hub cannot restore by itself.', { exact: false }).waitFor();
  await keepScreenshot(page, 'backups-phone', { fullPage: true });
  expect(await axeViolations(page)).toEqual([]);
  expect(faults).toEqual([]);
});
