// A real Chromium for browser tests: one browser a file, a fresh context a page, pictures kept where asked for.

import { existsSync, mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { type Browser, type BrowserContext, chromium, type Locator, type Page } from 'playwright-core';
import { makePagesLate } from './late-page.ts';
import { makeOwnBrowser } from './own-person.ts';

export const widths = {
  phone: { width: 390, height: 844 },
  tablet: { width: 820, height: 1180 },
  desktop: { width: 1440, height: 900 },
} as const;
export type WidthName = keyof typeof widths;

const wholeChromium = process.env['CHROMIUM_PATH'] ?? '/usr/bin/chromium';
/** The same engine without the window, the tabs and the bars around a page, which nobody sees here and which cost most of what the
 * browser's process computes: of one file of views 28 s of processor time against 8 s. The script that Debian puts in /usr/bin
 * would be what Playwright stops, and what it started stay. */
const headlessShell = '/usr/lib/chromium/chromium-headless-shell';

/** What a test waits for comes late on a loaded machine, later than Playwright's 30 s too; as in vitest.config.ts. Our choice. */
const patienceMs = 90_000;

/** What people's browser lets every page do, and the shell only where it is told to. */
const letDo = ['screen-wake-lock', 'clipboard-write'];

/** `whole`: the browser as people have it, where a test is about more of it than its pages; the shell never asks about notices.
 * `textPx`: the size of text that its user has set, 16 if they have not. */
export async function launchChromium({
  whole = false,
  textPx,
}: {
  readonly whole?: boolean;
  readonly textPx?: number;
} = {}): Promise<Browser> {
  const hasShell = process.env['CHROMIUM_PATH'] === undefined && existsSync(headlessShell);
  const isShell = hasShell && !whole;
  const browser = await chromium.launch({
    executablePath: isShell ? headlessShell : wholeChromium,
    args: [
      '--no-sandbox',
      '--disable-gpu',
      '--disable-quic',
      '--no-first-run',
      '--disable-background-networking',
      '--disable-component-update',
      '--disable-sync',
      ...(textPx === undefined ? [] : [`--blink-settings=defaultFontSize=${textPx}`]),
    ],
  });
  const newContext = browser.newContext.bind(browser);
  browser.newContext = async (options) => {
    const context = await newContext(options);
    context.setDefaultTimeout(patienceMs);
    if (isShell) await context.grantPermissions(letDo);
    return context;
  };
  makePagesLate(browser);
  return browser;
}

export interface OpenOptions {
  readonly width?: WidthName;
  /** In place of `width`. */
  readonly viewport?: { readonly width: number; readonly height: number };
  readonly forcedColors?: 'active';
  /** As `Preferences` keeps them. */
  readonly preferences?: Readonly<Record<string, unknown>>;
  readonly theme?: 'light' | 'dark';
  /** What the browser asks for; English of Great Britain if left out. */
  readonly locale?: string;
  /** Chosen in the page beforehand, as `Preferences` keeps it. */
  readonly language?: string;
  /** The page is kept on the device, as people's browsers do. */
  readonly isKept?: boolean;
}

/** Has the browser never get to keep the page on the device, nor to fetch the views that nobody has opened. Each test is a new device
 * to it, which fetches every file of the page and stores it: 0.5 s of processor time a page and 0.2 to 0.7 s, for what few tests
 * are about. To the others the page is as it is in its first moments, on a machine that is never idle. */
export const keepNoPage = (context: BrowserContext): Promise<unknown> =>
  context.addInitScript(
    `if (self.ServiceWorkerContainer) ServiceWorkerContainer.prototype.register = () => new Promise(() => {});
    self.requestIdleCallback = () => 0;`,
  );

/** A page whose faults fail the test: uncaught errors, console errors, refused resources. */
export async function openPage(
  browser: Browser,
  url: string,
  options: OpenOptions = {},
): Promise<{ page: Page; context: BrowserContext; faults: string[] }> {
  const context = await browser.newContext({
    viewport: options.viewport ?? widths[options.width ?? 'phone'],
    ...(options.forcedColors !== undefined && { forcedColors: options.forcedColors }),
    colorScheme: options.theme ?? 'dark',
    locale: options.locale ?? 'en-GB',
    timezoneId: 'UTC',
  });
  await makeOwnBrowser(context, url);
  if (options.isKept !== true) await keepNoPage(context);
  const page = await context.newPage();
  if (options.language !== undefined || options.preferences !== undefined) {
    const { language, preferences } = options;
    const stored = JSON.stringify(
      JSON.stringify({ ...(language !== undefined && { language }), ...preferences }),
    );
    // Only what is not there yet: a choice made in the page has to outlive a reload.
    await page.addInitScript(
      `localStorage.getItem('slackwater.preferences') ?? localStorage.setItem('slackwater.preferences', ${stored});`,
    );
  }
  const faults: string[] = [];
  page.on('pageerror', (error) => faults.push(`error: ${error.message}`));
  page.on('console', (message) => {
    if (message.type() === 'error') faults.push(`console: ${message.text()} ${message.location().url}`);
  });
  await page.goto(url);
  return { page, context, faults };
}

/** Presses until the button has gone: a press in an alarm's first moments is not meant for it (athlete-model.ts). */
export async function pressUntilGone(button: Locator): Promise<void> {
  for (let tries = 0; tries < 20; tries += 1) {
    // It may go while the next press is on its way.
    await button.click(tries === 0 ? {} : { timeout: 5_000 }).catch(async (error: unknown) => {
      if (tries === 0 || !(await button.isHidden())) throw error;
    });
    const gone = await button.waitFor({ state: 'hidden', timeout: 250 }).then(
      () => true,
      () => false,
    );
    if (gone) return;
  }
  throw new Error('the button is still there');
}

/** A folder for pictures. None of some 600 is looked at by a test, and they cost a minute of processor time: none are kept without. */
const pictures = process.env['SLACKWATER_PICTURES'];

/** Keeps a picture for people to look at, where SLACKWATER_PICTURES names a folder. */
export async function keepScreenshot(
  page: Page,
  name: string,
  options: { readonly fullPage?: boolean } = {},
): Promise<void> {
  if (pictures === undefined) return;
  mkdirSync(pictures, { recursive: true });
  await page.screenshot({ path: join(pictures, `${name}.png`), animations: 'disabled', ...options });
}

/** Now, by a clock that pages of this machine have too. */
export const sharedNowMs = (): number => performance.timeOrigin + performance.now();

/** Asked before the hub falls silent: when the page's own alarm came, by `sharedNowMs`, however late a test hears of it. */
export async function momentOfPageAlarm(page: Page): Promise<() => Promise<number>> {
  await page.evaluate(`new MutationObserver((_changes, observer) => {
    const titles = [...document.querySelectorAll('.alarm-title')];
    if (!titles.some(({ textContent }) => textContent === 'HUB NOT ANSWERING')) return;
    observer.disconnect();
    performance.mark('page-alarm');
  }).observe(document, { subtree: true, childList: true, characterData: true });`);
  return async () => {
    await page.getByRole('heading', { name: 'HUB NOT ANSWERING' }).waitFor();
    return page.evaluate<number>(
      `performance.timeOrigin + performance.getEntriesByName('page-alarm')[0].startTime`,
    );
  };
}

/** From the start of the navigation, by the page's own clock, until a fresh saturation reading stands in the page. */
export async function timeToFirstReadingMs(page: Page, url: string): Promise<number> {
  // As text, because the test runner's compiler adds helpers that a page does not have.
  await page.addInitScript(`new MutationObserver((_changes, observer) => {
    if (document.querySelector('.reading--spo2.is-fresh') === null) return;
    observer.disconnect();
    performance.mark('first-reading');
  }).observe(document, { subtree: true, childList: true, attributes: true });`);
  await page.goto(url);
  // Not by a function in the page, which its content security policy lets nobody make of a text.
  await page.locator('.reading--spo2.is-fresh').first().waitFor();
  return page.evaluate<number>(`performance.getEntriesByName('first-reading')[0].startTime`);
}
