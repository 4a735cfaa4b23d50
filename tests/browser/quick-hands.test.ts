// What somebody does while the page waits for the hub, or before it has drawn, stands: text typed, focus moved, menus opened.
// An answer that comes late is not taken for what was asked since.

import type { Page } from 'playwright-core';
import { expect, test } from 'vitest';
import { HubError } from '../../hub/base/hub-error.ts';
import type { Store } from '../../hub/base/ports/store.ts';
import { openStoreInMemory } from '../../hub/recorder/sqlite-store.ts';
import { said } from '../../shared/said.ts';
import { percent } from '../../shared/units.ts';
import { browserSuite } from '../support/browser-suite.ts';
import { openPage, type WidthName } from '../support/chromium-page.ts';
import { drawn, keepAnswerBack } from '../support/late-answer.ts';
import { fetchAsOwn } from '../support/own-person.ts';
import { openPageHub, type PageHub, type PageHubOptions, silentBody } from '../support/page-hub.ts';
import { writeEvening } from '../support/written-sessions.ts';

const suite = browserSuite();
let hub: PageHub;

async function open(
  path: string,
  options: Partial<PageHubOptions> = {},
  width: WidthName = 'desktop',
): Promise<Page> {
  hub = suite.closeAfterTest(await openPageHub({ athleteCount: 2, sessionRunning: false, ...options }));
  const opened = await openPage(suite.browser, hub.url + path, { width });
  suite.closeAfterTest(opened.context);
  return opened.page;
}

/** What the hub says. */
const told = async (path: string): Promise<Record<string, unknown>> =>
  (await (await fetchAsOwn(hub.url + path)).json()) as Record<string, unknown>;

/** In the moment in which it comes, before it is painted; `does` is of the page's own language. */
const asSoonAsThereIs = (page: Page, selector: string, does: string): Promise<void> =>
  page.evaluate(`new MutationObserver((_changes, observer) => {
    const found = document.querySelector(${JSON.stringify(selector)});
    if (found === null) return;
    observer.disconnect();
    ${does}
  }).observe(document, { subtree: true, childList: true });`);

test('setting up: the next name is typed on, and the floor is the one that was set, whatever lists come late', async () => {
  const page = await open('/');
  await page.getByRole('checkbox', { name: 'Marit Oduya' }).waitFor();
  const name = page.getByLabel('Name of a new athlete');
  const taken = await keepAnswerBack(page, 'POST', /\/api\/athletes$/);
  await name.fill('Ines');
  await page.getByRole('button', { name: 'Add athlete' }).click();
  await taken.given;
  await name.fill('Jonas');
  const list = await keepAnswerBack(page, 'GET', /\/api\/athletes$/);
  await taken.come();
  expect(await name.inputValue()).toBe('Jonas');
  await list.given;
  const floor = page.getByRole('group', { name: /Marit Oduya/ });
  const before = hub.store.listAthletes()[0]!.settings.floorSpo2Percent;
  await floor.getByRole('button').last().click();
  await expect.poll(() => hub.store.listAthletes()[0]!.settings.floorSpo2Percent).toBe(before + 1);
  await list.come();
  await page.getByRole('checkbox', { name: 'Ines' }).waitFor();
  expect(await floor.getByRole('status').textContent()).toContain(String(before + 1));
});

test('setting up: a floor that is changed leaves what others changed meanwhile', async () => {
  const page = await open('/');
  const floor = page.getByRole('group', { name: /Marit Oduya/ });
  const higher = floor.getByRole('button').last();
  await higher.waitFor();
  const settings = () => hub.store.listAthletes()[0]!.settings;
  const before = settings();
  hub.hub.changeSettings('athlete-1', { ...before, maxHoldDurationMs: 240_000, forecastAlarm: 'high' });
  await higher.dblclick();
  await expect.poll(settings).toEqual({
    ...before,
    maxHoldDurationMs: 240_000,
    forecastAlarm: 'high',
    floorSpo2Percent: before.floorSpo2Percent + 2,
  });
  // A floor that stands higher than the one seen here is not brought down by a press that was to raise it.
  const raised = percent(before.floorSpo2Percent + 5);
  hub.hub.changeSettings('athlete-1', { ...settings(), floorSpo2Percent: raised });
  await higher.click();
  await expect.poll(() => floor.getByRole('status').textContent()).toContain(String(raised));
  await drawn(page);
  expect(settings().floorSpo2Percent).toBe(raised);
  await higher.click();
  await expect.poll(() => settings().floorSpo2Percent).toBe(raised + 1);
});

test('a start that is refused can be tried again, however many refusals stand already', async () => {
  const store: Store = openStoreInMemory();
  store.startSession = () => {
    throw new HubError('data.full', said('data.full', { path: '/disk' }));
  };
  const page = await open('/', { store });
  await page.getByRole('checkbox', { name: 'Start without sound on this device' }).check();
  await page.getByRole('checkbox', { name: /I have read these/ }).check();
  const start = page.getByRole('button', { name: 'Start session' });
  for (const refused of [1, 2, 3, 3, 3]) {
    await start.click();
    await expect.poll(() => page.getByRole('button', { name: 'Dismiss' }).count()).toBe(refused);
    await start.waitFor();
  }
});

test('a code that was just made stays, when an older list of devices comes after it', async () => {
  const page = await open('/devices', { lanIn: suite.folder });
  await page.getByRole('button', { name: 'Make a code' }).waitFor();
  const list = await keepAnswerBack(page, 'GET', /\/api\/devices$/);
  await hub.joined('onlooker', null, 'A screen');
  await list.given;
  await page.getByRole('button', { name: 'Make a code' }).click();
  const code = page.locator('.new-code-letters');
  await code.waitFor();
  await list.come();
  expect(await code.count()).toBe(1);
});

test('what answers the question before is not given to who is asked now', async () => {
  const page = await open('/people', { sessionRunning: true, behindSeconds: 20 });
  await page.getByRole('combobox', { name: 'Whom you ask' }).selectOption('Marit Oduya');
  await page.getByRole('button', { name: 'Ask now' }).click();
  await page.getByText('Nothing has answered yet.').waitFor();
  hub.pass(2);
  hub.live(0, silentBody);
  hub.pass(8);
  await page.getByText('Finger clip 1: has stopped').waitFor();
  hub.live(0, { spo2Percent: 97, heartRateBpm: 60 });
  await page.getByText('Finger clip 1: answered').waitFor();
  const answers = await keepAnswerBack(page, 'GET', /\/api\/.*answering/);
  await answers.given;
  await page.getByRole('combobox', { name: 'Whom you ask' }).selectOption('Teo Lindqvist');
  await page.getByRole('button', { name: /^Ask/ }).click();
  await page.getByText(/Say to Teo Lindqvist/).waitFor();
  await page.evaluate(`new MutationObserver(() => {
    if (document.querySelector('.whose-answers button') !== null) document.documentElement.dataset.offered = 'yes';
  }).observe(document, { subtree: true, childList: true });`);
  await answers.come();
  expect(await page.locator('html').getAttribute('data-offered')).toBeNull();
});

test('words to an athlete, and limits while another changes them', async () => {
  const page = await open('/people', { sessionRunning: true, behindSeconds: 5 });
  const words = page.locator('.send-words input[type=text]').first();
  const sent = await keepAnswerBack(page, 'POST', /\/words$/);
  await words.fill('Easy now');
  await page.locator('.send-words button').first().click();
  await sent.given;
  await words.fill('Two more minutes');
  await sent.come();
  expect(await words.inputValue()).toBe('Two more minutes');

  await page.goto(`${hub.url}/live/athlete-1`);
  await page.getByRole('button', { name: 'Options' }).click();
  await page.getByRole('button', { name: 'Floor and limits' }).click();
  const { settings } = hub.store.listAthletes()[0]!;
  const raised = percent(settings.floorSpo2Percent + 2);
  hub.hub.changeSettings('athlete-1', { ...settings, floorSpo2Percent: raised });
  await page.getByLabel(/^Alarm when a hold is longer/).fill('240');
  await page.getByRole('dialog').getByRole('button', { name: 'Save' }).click();
  await expect.poll(() => hub.store.listAthletes()[0]!.settings.maxHoldDurationMs).toBe(240_000);
  expect(hub.store.listAthletes()[0]!.settings.floorSpo2Percent).toBe(raised);
});

test('a course: the card of another, the next incident, and who has agreed', async () => {
  const page = await open('/course');
  await page.getByLabel('This address').fill('4 Harbour Lane');
  hub.hub.writeEmergencyCard({ number: '112', address: '', oxygenPlace: '', helpers: [] }, '');
  await expect.poll(() => page.getByLabel('Emergency number here').inputValue()).toBe('112');
  expect(await page.getByLabel('This address').inputValue()).toBe('4 Harbour Lane');

  const what = page.getByLabel('What happened');
  const written = await keepAnswerBack(page, 'POST', /\/api\/incidents$/);
  await what.fill('Dizzy after the third hold');
  await page.getByRole('button', { name: 'Write it down' }).click();
  await written.given;
  // Pressed again, since nothing has happened yet: no second incident.
  await page.getByRole('button', { name: 'Write it down' }).click();
  await what.fill('A second one');
  await written.come();
  await page.getByText('Not yet read by anybody.').waitFor();
  expect(await what.inputValue()).toBe('A second one');
  expect(hub.hub.papers.incidents().map((each) => each.what)).toEqual(['Dizzy after the third hold']);
  await page.getByRole('button', { name: 'Write it down' }).click();
  await expect.poll(() => hub.hub.papers.incidents().length).toBe(2);

  const older = await keepAnswerBack(page, 'GET', /\/api\/participants$/);
  await page.getByRole('button', { name: 'Agrees: Marit Oduya' }).click();
  await older.given;
  await page.getByRole('button', { name: 'Fit: Marit Oduya' }).click();
  await page.getByText(/^on \d{4}-/).waitFor();
  await older.come();
  await page.getByText(/since \d{4}-/).waitFor();
  expect(await page.getByText(/^on \d{4}-/).count()).toBe(1);
});

test('the training log: a note written on while it is saved, another’s log, and a draft of nobody', async () => {
  const page = await open('/training');
  const note = page.getByLabel('Note', { exact: true });
  await page.getByRole('combobox', { name: 'What', exact: true }).selectOption({ label: 'Apnea walk' });
  const saved = await keepAnswerBack(page, 'PUT', /\/training/);
  await page.getByRole('button', { name: 'Save the entry' }).click();
  await saved.given;
  await note.fill('Legs heavy');
  await saved.come();
  expect(await note.inputValue()).toBe('Legs heavy');
  await page.getByRole('button', { name: /^Save/ }).click();
  await expect.poll(() => note.inputValue()).toBe('');
  expect((await told('/api/athletes/athlete-1/training')).entries).toMatchObject([{ note: 'Legs heavy' }]);
  await page.locator('.training-list li').waitFor();

  const theirs = await keepAnswerBack(page, 'GET', /athlete-2\/training$/);
  await page.getByLabel('Athlete').selectOption('Teo Lindqvist');
  await theirs.given;
  expect(await page.locator('.training-list li').count()).toBe(0);
  expect(await page.getByText('Nothing in the log yet.').count()).toBe(0);
  await theirs.come();
  await page.getByText('Nothing in the log yet.').waitFor();

  // Chosen and written into before either is painted.
  await page.evaluate(`(async () => {
    const choice = document.querySelector('main select');
    choice.value = 'athlete-1';
    choice.dispatchEvent(new Event('change', { bubbles: true }));
    for (let turn = 0; turn < 20; turn += 1) await null;
    const note = document.querySelector('.training-form textarea');
    note.value = 'At once';
    note.dispatchEvent(new Event('input', { bubbles: true }));
  })()`);
  await drawn(page);
  expect(await page.locator('.take-backs').getByRole('button').count()).toBe(0);
  expect(await note.inputValue()).toBe('At once');
});

test('a recording: its title and who led it, notes on it, and a hold being corrected', async () => {
  const store = openStoreInMemory();
  writeEvening(store);
  const page = await open('/recordings/evening', { store });
  await page.getByRole('button', { name: 'Title, led by ...' }).click();
  await page.getByLabel('Led by').click();
  await page.keyboard.type('Ines Varga');
  expect(await page.getByLabel('Led by').inputValue()).toBe('Ines Varga');
  await page.keyboard.press('Escape');

  await page.getByText(/^Notes on this session/).click();
  const place = page.getByLabel('Place', { exact: true });
  const saved = await keepAnswerBack(page, 'PUT', /\/details/);
  await place.fill('Lake');
  await page.locator('.session-details-form').getByRole('button', { name: 'Save' }).click();
  await saved.given;
  await place.fill('Lake, north side');
  await saved.come();
  expect(await place.inputValue()).toBe('Lake, north side');

  await asSoonAsThereIs(page, 'form.hold-correction', `found.querySelectorAll('input')[3].focus();`);
  await page.getByRole('button', { name: 'Correct hold 1' }).click();
  await page.getByRole('form', { name: 'Correct hold 1' }).waitFor();
  await drawn(page);
  expect(
    await page.evaluate(
      `document.activeElement === document.querySelectorAll('form.hold-correction input')[3]`,
    ),
  ).toBe(true);
});

test('a new view takes neither the focus from a field of it nor the menu from who has opened it', async () => {
  const page = await open('/course', {}, 'phone');
  await page.getByLabel('This address').waitFor();
  const go = (path: string) => page.evaluate(`document.querySelector('nav a[href="${path}"]').click()`);
  await go('/plans');
  await page.getByRole('heading', { name: 'Plans', exact: true }).waitFor();
  await drawn(page);
  await asSoonAsThereIs(
    page,
    '.card-form input',
    `found.focus(); document.querySelector('.menu-button').click();`,
  );
  await go('/course');
  await page.getByLabel('This address').waitFor();
  await drawn(page);
  expect(await page.evaluate(`document.activeElement === document.querySelector('.card-form input')`)).toBe(
    true,
  );
  expect(await page.locator('.menu-button').getAttribute('aria-expanded')).toBe('true');
});

test('a plan changed while it is saved keeps the change as a draft of the saved plan', async () => {
  const page = await open('/plans/new/carbonDioxide');
  const title = page.getByLabel('Name', { exact: true });
  await title.fill('Tuesday');
  const saved = await keepAnswerBack(page, 'POST', /\/api\/plans$/);
  await page.getByRole('button', { name: 'Save', exact: true }).click();
  await saved.given;
  await title.fill('Tuesday, longer');
  await title.press('Tab');
  await saved.come();
  const [stored] = (await told('/api/plans')).plans as { planId: string; plan: { title: string } }[];
  expect(stored?.plan.title).toBe('Tuesday');
  await page.goto(`${hub.url}/plans/${stored!.planId}`);
  await expect.poll(() => title.inputValue()).toBe('Tuesday, longer');
  // Being typed while the page is drawn anew.
  const again = await keepAnswerBack(page, 'PUT', /\/api\/plans\//);
  await page.getByRole('button', { name: 'Save', exact: true }).click();
  await again.given;
  await title.pressSequentially(' still');
  await again.come();
  expect(await title.inputValue()).toContain(' still');
});

test('who agrees to be shown beside others is what was said last', async () => {
  const page = await open('/weeks/athlete-1/beside');
  const right = page.getByRole('group').last();
  const older = await keepAnswerBack(page, 'GET', /athlete-2\/sharing$/);
  await right.getByLabel('Athlete').selectOption('Teo Lindqvist');
  await older.given;
  const agrees = right.getByRole('checkbox', { name: /Teo Lindqvist agrees/ });
  await agrees.click();
  await expect.poll(() => agrees.isChecked()).toBe(true);
  await older.come();
  expect(await agrees.isChecked()).toBe(true);
});

test('Escape pressed in the moment in which the wall comes as it is seen from afar leads back', async () => {
  const page = await open('/wall', { sessionRunning: true });
  const far = page.getByRole('button', { name: 'Seen from afar' });
  await far.waitFor();
  await drawn(page);
  await asSoonAsThereIs(page, '.far-wall', `dispatchEvent(new KeyboardEvent('keydown', { key: 'Escape' }));`);
  await far.click();
  await page.locator('.tile').nth(1).waitFor();
  expect(await page.locator('.far-tile').count()).toBe(0);
});

test('the tab is named by a view in the moment in which the view comes', async () => {
  const page = await open('/course');
  await page.getByLabel('This address').waitFor();
  await asSoonAsThereIs(page, 'article.plans', `document.documentElement.dataset.titled = document.title;`);
  await page.evaluate(`document.querySelector('nav a[href="/plans"]').click()`);
  await page.getByRole('heading', { name: 'Plans', exact: true }).waitFor();
  await expect.poll(() => page.locator('html').getAttribute('data-titled')).toMatch(/^Plans/);
});
