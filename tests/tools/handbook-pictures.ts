// Makes the handbook's pictures of the running program: the demo's simulated athletes, in both languages, for a wide window and
// a phone, in light. `npm run handbook:pictures [-- NAME ...]`; what it writes is committed.

import { mkdirSync, mkdtempSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import type { Browser, BrowserContext, Page } from 'playwright-core';
import { type HandbookLanguage, handbookLanguages } from '../../web/handbook/chapters.ts';
import {
  type PictureName,
  type PictureSize,
  pictureNames,
  picturePath,
  pictureSizes,
} from '../../web/handbook/pictures.ts';
import { de } from '../../web/i18n/de.ts';
import { en, type Messages } from '../../web/i18n/en.ts';
import { launchChromium } from '../support/chromium-page.ts';
import { type HubProcess, startHub } from '../support/hub-process.ts';
import { fetchAsOwn, makeOwnBrowser } from '../support/own-person.ts';

const root = new URL('../../', import.meta.url).pathname;
/** Small text stays readable, and the whole set light. */
const webpQuality = 0.6;
const waitMs = 240_000;

const asked = process.argv.slice(2);
const isWanted = (name: PictureName): boolean => asked.length === 0 || asked.includes(name);
for (const name of asked)
  if (!pictureNames.some((known) => known === name)) throw new Error(`there is no picture ${name}`);

interface Reader {
  readonly language: HandbookLanguage;
  readonly size: PictureSize;
  readonly words: Messages;
  readonly page: Page;
}

const browser = await launchChromium();
const encoder = await browser.newPage();

/** Chromium's own encoder, so that no package is needed for it. */
async function asWebp(png: Buffer): Promise<Buffer> {
  // As text, because the compiler of this script adds helpers that a page does not have.
  const dataUrl = await encoder.evaluate<string>(`(async () => {
    const image = new Image();
    image.src = 'data:image/png;base64,${png.toString('base64')}';
    await image.decode();
    const canvas = document.createElement('canvas');
    canvas.width = image.naturalWidth;
    canvas.height = image.naturalHeight;
    canvas.getContext('2d').drawImage(image, 0, 0);
    return canvas.toDataURL('image/webp', ${webpQuality});
  })()`);
  return Buffer.from(dataUrl.split(',')[1] ?? '', 'base64');
}

async function openReaders(from: Browser, hub: HubProcess): Promise<readonly Reader[]> {
  const readers: Reader[] = [];
  for (const language of handbookLanguages)
    for (const size of ['wide', 'phone'] as const) {
      const context: BrowserContext = await from.newContext({
        viewport: pictureSizes[size],
        deviceScaleFactor: size === 'phone' ? 1.5 : 1,
        colorScheme: 'light',
        locale: language === 'de' ? 'de-DE' : 'en-GB',
        timezoneId: 'UTC',
        serviceWorkers: 'block',
        reducedMotion: 'reduce',
        bypassCSP: true,
      });
      await makeOwnBrowser(context, hub.url);
      const page = await context.newPage();
      page.setDefaultTimeout(waitMs);
      await page.goto(hub.url);
      await page.locator('.link-state--live').waitFor({ state: 'attached' });
      readers.push({ language, size, words: language === 'de' ? de : en, page });
    }
  return readers;
}

/** Every reader's picture of what stands on the screen now. */
async function take(
  readers: readonly Reader[],
  name: PictureName,
  before: (reader: Reader) => Promise<unknown> = async () => {},
): Promise<void> {
  if (!isWanted(name)) return;
  for (const reader of readers) {
    await before(reader);
    // The band goes with the page when that is scrolled; on a picture it has to stay.
    await reader.page.addStyleTag({ content: '.simulated-band { position: sticky; top: 0; z-index: 4; }' });
    const band = await reader.page.locator('.simulated-band').boundingBox();
    if (band === null || band.y < 0 || band.y + band.height > pictureSizes[reader.size].height)
      throw new Error(`${name}: nothing on it says that it is simulated`);
    const path = `${root}web/public${picturePath(reader.language, name, reader.size)}`;
    const looked = `${root}artefacts/handbook/${reader.language}-${name}-${reader.size}.png`;
    for (const each of [path, looked]) mkdirSync(dirname(each), { recursive: true });
    const png = await reader.page.screenshot({ animations: 'disabled', path: looked });
    writeFileSync(path, await asWebp(png));
    console.log(
      `${picturePath(reader.language, name, reader.size)} ${Math.round(statSync(path).size / 1024)} kB`,
    );
  }
}

const goTo = async ({ page }: Reader, url: string): Promise<void> => {
  await page.goto(url);
  await page.locator('.link-state--live').waitFor({ state: 'attached' });
};
const button = ({ page }: Reader, name: string) => page.getByRole('button', { name, exact: true });

async function startSession({ page, words }: Reader, names: number): Promise<void> {
  for (const box of await page.locator('.people input[type="checkbox"]').all())
    if (names > 1 && !(await box.isChecked())) await box.check();
  const heard = page.getByRole('button', { name: words.setup.heardIt });
  if (!(await heard.isVisible())) await page.getByRole('button', { name: words.setup.playAlarm }).click();
  await heard.click();
  await page.getByText(words.setup.cautionsRead).click();
  await page.getByRole('button', { name: words.setup.start }).click();
}

/** One athlete: from the empty page to the recording. */
async function aloneAtHome(hub: HubProcess): Promise<void> {
  const readers = await openReaders(browser, hub);
  const first = readers[0]!;
  await take(readers, 'setup', async ({ page, words }) => {
    await page.locator('.people input[type="checkbox"]').first().waitFor();
    await page.locator('.sensors li').first().waitFor();
    await page.getByRole('heading', { name: words.setup.title }).waitFor();
  });
  await take(readers, 'sound-check', async ({ page, words }) => {
    await page.getByRole('button', { name: words.setup.playAlarm }).click();
    await page.getByRole('button', { name: words.setup.heardIt }).waitFor();
    await page.getByRole('heading', { name: words.setup.sound }).evaluate((at) => at.scrollIntoView());
    await page.evaluate('scrollBy(0, -70)');
  });
  // Heard on every page, so that none of them says that it was not.
  for (const { page, words } of readers.slice(1)) {
    const heard = page.getByRole('button', { name: words.setup.heardIt });
    if (!(await heard.isVisible())) await page.getByRole('button', { name: words.setup.playAlarm }).click();
    await heard.click();
  }
  await startSession(first, 1);
  await first.page.waitForURL('**/live/**');
  for (const { page, words } of readers.slice(1))
    await page.getByRole('link', { name: words.setup.openLive }).click();
  const isUnderWay = async ({ page, words }: Reader): Promise<boolean> => {
    const phase = await page.locator('.live-phase').innerText();
    const lasted = await page.locator('.hold-clock.is-running .hold-time').allInnerTexts();
    return phase === words.phase.holding && /^0:[234]/.test(lasted[0] ?? '');
  };
  // The second hold: the first lasts half a minute, and is told late in it.
  await first.page.locator('.live-phase', { hasText: first.words.phase.recovering }).waitFor();
  while (!(await isUnderWay(first))) await first.page.waitForTimeout(200);
  await take(readers, 'live');
  for (const _ of [1, 2, 3]) {
    await first.page.waitForTimeout(3_000);
    await button(first, first.words.live.contraction).click();
  }
  for (const { page, words } of readers)
    await page.getByRole('heading', { name: words.alarm.kind.floorBreached }).waitFor();
  await take(readers, 'floor-alarm', async ({ page }) => {
    // Pressing a button has scrolled the readings away.
    await page.evaluate(`document.querySelector('main').scrollTo(0, 0)`);
  });
  await first.page.getByRole('button', { name: first.words.alarm.acknowledge }).first().click();
  await first.page.getByText(first.words.phase.recovering, { exact: true }).first().waitFor();
  await first.page.waitForTimeout(14_000);
  await button(first, first.words.live.options).click();
  await button(first, first.words.live.endSession).click();
  await button(first, first.words.live.endSessionConfirm).click();
  await first.page.getByText(first.words.live.sessionEnded).waitFor();
  await take(readers, 'recordings', async (reader) => {
    await goTo(reader, `${hub.url}recordings`);
    await reader.page.locator('main a[href^="/recordings/"]').first().waitFor();
  });
  const { sessions } = (await (await fetchAsOwn(`${hub.url}api/sessions`)).json()) as {
    sessions: { session: { sessionId: string } }[];
  };
  const recording = `${hub.url}recordings/${sessions[0]!.session.sessionId}`;
  await take(readers, 'recording', async (reader) => {
    await goTo(reader, recording);
    await reader.page.locator('.review-detail').waitFor();
    await reader.page.getByText(reader.words.recorded.allMeasures).waitFor();
    // Both traces under the band.
    await reader.page
      .locator('.review-detail')
      .first()
      .evaluate((at) => at.scrollIntoView());
    await reader.page.evaluate('scrollBy(0, -110)');
  });
  await take(readers, 'measures', async ({ page, words }) => {
    await page
      .getByRole('heading', { name: words.recording.holdsTitle, exact: true })
      .evaluate((at) => at.scrollIntoView());
    await page.evaluate('scrollBy(0, -70)');
  });
  await take(readers, 'backups', async (reader) => {
    await goTo(reader, `${hub.url}backups`);
    await reader.page.getByRole('heading', { name: reader.words.backups.byClock }).waitFor();
  });
}

/** Eight athletes and a coach. */
async function onACourse(hub: HubProcess): Promise<void> {
  const readers = await openReaders(browser, hub);
  const first = readers[0]!;
  const post = (path: string, body: unknown, method = 'POST') =>
    fetchAsOwn(`${hub.url}api/${path}`, {
      method,
      headers: { 'content-type': 'application/json', origin: new URL(hub.url).origin },
      body: JSON.stringify(body),
    });
  const today = new Date().toISOString().slice(0, 10);
  for (const number of [1, 2, 3, 4])
    for (const kind of ['consent', 'fitness'])
      await post(`participants/simulated-${number}/statements`, {
        kind,
        isGiven: true,
        onDay: today,
        by: '',
      });
  const card = { number: '112', address: '4 Harbour Lane', oxygenPlace: '', helpers: [] };
  await post('emergency-card', card, 'PUT');
  await take(readers, 'course', async (reader) => {
    await goTo(reader, `${hub.url}course`);
    await reader.page.getByRole('heading', { name: reader.words.course.papers.roster }).waitFor();
  });
  await goTo(first, hub.url);
  await first.page.locator('.people input[type="checkbox"]').nth(7).waitFor();
  await startSession(first, 8);
  await first.page.waitForURL('**/wall');
  for (const reader of readers.slice(1)) await goTo(reader, `${hub.url}wall`);
  await first.page.locator('.tile--high').first().waitFor();
  // Once somebody has seen it, the tile alone says so, and there is room for everybody.
  const acknowledge = first.page.locator('.alarms .alarm-acknowledge').first();
  while (await acknowledge.isVisible()) {
    await acknowledge.click();
    await first.page.waitForTimeout(300);
  }
  await take(readers, 'wall');
}

const folder = mkdtempSync(join(tmpdir(), 'slackwater-pictures-'));
try {
  const runs = [
    {
      athletes: '1',
      speed: '4',
      run: aloneAtHome,
      of: pictureNames.filter((name) => name !== 'course' && name !== 'wall'),
    },
    { athletes: '8', speed: '2', run: onACourse, of: ['course', 'wall'] as const },
  ];
  for (const { athletes, speed, run, of } of runs) {
    if (!of.some(isWanted)) continue;
    const data = join(folder, athletes);
    const hub = await startHub(
      ['demo', '--port', '0', '--data', data, '--athletes', athletes, '--speed', speed],
      {},
    );
    await run(hub);
    for (const context of browser.contexts()) if (context !== encoder.context()) await context.close();
    await hub.stop();
  }
} finally {
  rmSync(folder, { recursive: true, force: true });
  await browser.close();
}
const all = handbookLanguages.flatMap((language) =>
  pictureNames.flatMap((name) =>
    (['wide', 'phone'] as const).map(
      (size) => readFileSync(`${root}web/public${picturePath(language, name, size)}`).length,
    ),
  ),
);
console.log(`all ${all.length}: ${Math.round(all.reduce((sum, bytes) => sum + bytes, 0) / 1024)} kB`);
