// Makes the page's icons from its mark, and the pictures of the running demo that an installing device shows.
// `npx tsx tests/tools/app-pictures.ts` after a build; what it writes is committed.

import { readFileSync } from 'node:fs';
import { launchChromium } from '../support/chromium-page.ts';
import { makeOwnBrowser } from '../support/own-person.ts';
import { holdsAgainAndAgain, openPageHub } from '../support/page-hub.ts';

const publicFolder = new URL('../../web/public/', import.meta.url).pathname;
const mark = readFileSync(`${publicFolder}mark.svg`, 'utf8');
const browser = await launchChromium();

/** `share` of the icon's width is the mark: a platform may cut a maskable icon down to its inner 80 %. */
async function icon(name: string, sizePx: number, share: number): Promise<void> {
  const page = await browser.newPage({ viewport: { width: sizePx, height: sizePx } });
  const wide = Math.round(sizePx * share);
  await page.setContent(
    `<style>html,body{margin:0;height:100%;${share < 1 ? 'background:#0b1720' : ''}}body{display:grid;place-items:center}svg{width:${wide}px;height:${wide}px}</style>${mark}`,
  );
  await page.screenshot({ path: `${publicFolder}${name}.png`, omitBackground: true });
  await page.close();
}
await icon('app-192', 192, 1);
await icon('app-512', 512, 1);
await icon('app-maskable-512', 512, 0.72);

const hub = await openPageHub({
  athleteCount: 3,
  simulated: true,
  behindSeconds: 200,
  bodyOf: holdsAgainAndAgain,
});
for (const [name, path, width, height] of [
  ['app-picture-wide', '/wall', 1280, 800],
  ['app-picture-narrow', '/live/athlete-1', 390, 844],
] as const) {
  const context = await browser.newContext({
    viewport: { width, height },
    colorScheme: 'dark',
    locale: 'en-GB',
    serviceWorkers: 'block',
  });
  await makeOwnBrowser(context, hub.url);
  const page = await context.newPage();
  await page.goto(hub.url + path);
  await page.getByText('SIMULATED').first().waitFor();
  hub.pass(5);
  await page.waitForTimeout(3_000);
  await page.screenshot({ path: `${publicFolder}${name}.png` });
  await context.close();
}
await hub.close();
await browser.close();
