// What a page shows of its own changes while the real hub's disk fails: each by name until it is saved, and what is gone.

import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser, BrowserContext, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, test, vi } from 'vitest';
import { keepScreenshot, launchChromium, openPage, widths } from '../support/chromium-page.ts';
import { canFaultDisk, diskFaultEnvironment } from '../support/disk-fault.ts';
import { type FaultProxy, openFaultProxy } from '../support/fault-proxy.ts';
import { buildHub, type HubProcess, startHub } from '../support/hub-process.ts';
import { makeOwnBrowser } from '../support/own-person.ts';
import { openPageHub, type PageHub } from '../support/page-hub.ts';
import { hello, openTestPage } from '../support/test-page.ts';

vi.setConfig({ testTimeout: 120_000, hookTimeout: 60_000 });
if (!canFaultDisk) process.stderr.write('SKIPPED: disk faults need Linux and gcc\n');

let browser: Browser;
let folder = '';
beforeAll(async () => {
  buildHub();
  browser = await launchChromium();
  folder = mkdtempSync(join(tmpdir(), 'slackwater-unsaved-'));
});
afterAll(async () => {
  await browser.close();
  rmSync(folder, { recursive: true, force: true, maxRetries: 5 });
});

const opened: { context?: BrowserContext; path?: FaultProxy; hubs: HubProcess[] } = { hubs: [] };
afterEach(async () => {
  await opened.context?.close();
  await opened.path?.close();
  for (const hub of opened.hubs.splice(0)) await hub.kill();
});

const unsaved = (page: Page) => page.locator('.unsaved-notice');

async function startDemo(name: string, control: string): Promise<HubProcess> {
  const data = join(folder, name);
  writeFileSync(control, '');
  const hub = await startHub(
    ['demo', '--port', '0', '--data', data],
    diskFaultEnvironment({ folder: `${data}-demo`, control }),
  );
  opened.hubs.push(hub);
  return hub;
}

/** A page on the live view of a session that has just begun; `disk` makes the hub's disk fail. */
async function running(name: string) {
  const control = join(folder, `${name}-control`);
  const hub = await startDemo(name, control);
  opened.path = await openFaultProxy(hub.url.replace(/\/$/, ''));
  const starter = openTestPage(hub.url.replace(/\/$/, ''));
  starter.send(hello);
  starter.send({ type: 'startSession', requestId: 's', athleteIds: ['simulated-1'], title: 'Faulty' });
  await starter.until('done', ({ requestId }) => requestId === 's');
  starter.close();
  const { context, page } = await openPage(browser, 'about:blank', { width: 'tablet' });
  opened.context = context;
  await makeOwnBrowser(context, opened.path.url);
  await page.goto(`${opened.path.url}/live/simulated-1`);
  await page.getByRole('button', { name: 'Contraction', exact: true }).waitFor();
  return { hub, page, path: opened.path, disk: (how: string) => writeFileSync(control, how) };
}

describe.runIf(canFaultDisk)('while the disk fails', () => {
  test('a mark and the end of the session are said to be unsaved by name, and no more once they are saved', async () => {
    const { page, disk } = await running('named');
    disk('erofs');
    await page.getByText(/has been saved since/).waitFor();
    await page.getByRole('button', { name: 'Contraction', exact: true }).click();
    await unsaved(page)
      .filter({ hasText: /Not saved yet.*: contraction at \d:\d\d\. / })
      .waitFor();
    // It is a mark all the same, and can be taken back; that is unsaved too.
    await page.getByRole('button', { name: /Undo contraction/ }).click();
    await unsaved(page)
      .filter({ hasText: /contraction at \d:\d\d; .*contraction at \d:\d\d taken back/ })
      .waitFor();
    for (const [name, size] of Object.entries(widths)) {
      await page.setViewportSize(size);
      await keepScreenshot(page, `unsaved-${name}`);
      // However much there is to say, the saturation stays in sight.
      const digits = (await page.locator('.reading--spo2 .reading-digits').boundingBox())!;
      const foot = (await page.locator('.live-foot').boundingBox())!;
      expect(digits.y + digits.height).toBeLessThan(foot.y + 1);
      expect(digits.height).toBeGreaterThan(20);
    }
    await page.getByRole('button', { name: 'Options' }).click();
    await page.getByRole('button', { name: 'End session' }).click();
    await page.getByRole('dialog').getByRole('button', { name: 'End it' }).click();
    await unsaved(page).filter({ hasText: 'end of the session' }).waitFor();
    disk('');
    await unsaved(page).waitFor({ state: 'detached' });
  });

  test('what the hub took along when it stopped is said to be gone, until it is read', async () => {
    const { hub, page, path, disk } = await running('gone');
    disk('eio');
    await page.getByText(/has been saved since/).waitFor();
    await page.getByRole('button', { name: 'Contraction', exact: true }).click();
    await unsaved(page).filter({ hasText: 'contraction at' }).waitFor();
    await hub.kill();
    const another = await startDemo('another', join(folder, 'another-control'));
    path.leadTo(another.url);
    await makeOwnBrowser(opened.context!, another.url);
    await page
      .getByText(/Gone, since the hub stopped before it was saved: .*contraction at \d:\d\d/)
      .waitFor();
    await unsaved(page).getByRole('button').click();
    await unsaved(page).waitFor({ state: 'detached' });
  });

  test('an athlete who stands unsaved is on the list at once, and named', async () => {
    const control = join(folder, 'athlete-control');
    const hub = await startDemo('athlete', control);
    const { context, page } = await openPage(browser, hub.url, { width: 'desktop' });
    opened.context = context;
    await page.getByRole('textbox').first().waitFor();
    writeFileSync(control, 'enospc');
    await page.getByRole('textbox').first().fill('Ines');
    await page.getByRole('button', { name: 'Add athlete' }).click();
    await unsaved(page).filter({ hasText: 'a change of an athlete' }).waitFor();
    await page.getByText('Ines').first().waitFor();
    writeFileSync(control, '');
    await unsaved(page).waitFor({ state: 'detached' });
  });
});

describe('a confirmation', () => {
  let hub: PageHub;
  afterEach(() => hub.close());

  test('whose mark the hub no longer has is taken back on the page, and said', async () => {
    hub = await openPageHub({ athleteCount: 1, behindSeconds: 30 });
    const path = await openFaultProxy(hub.url);
    opened.path = path;
    const { context, page } = await openPage(browser, 'about:blank');
    opened.context = context;
    await makeOwnBrowser(context, path.url);
    await page.goto(`${path.url}/live/athlete-1`);
    await page.getByRole('button', { name: 'Contraction', exact: true }).click();
    await page.getByRole('button', { name: /Undo contraction/ }).waitFor();
    path.refusing = true;
    path.drop();
    const { markId } = hub.hub.snapshotOf('athlete-1')!.marks.find(({ kind }) => kind === 'contraction')!;
    hub.hub.removeMark(markId);
    path.refusing = false;
    await page
      .getByText(/No longer at the hub, which had confirmed it: Marit Oduya: contraction at/)
      .waitFor();
    expect(await page.getByRole('button', { name: /Undo contraction/ }).count()).toBe(0);
  });
});
