// What a file of browser tests opens once, and what each of its tests leaves open: called at the top of the file.

import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser } from 'playwright-core';
import { afterAll, afterEach, beforeAll } from 'vitest';
import { launchChromium } from './chromium-page.ts';

interface Closable {
  close(): Promise<unknown>;
}

export interface BrowserSuite {
  readonly browser: Browser;
  /** A folder of the file's own, taken away at its end. */
  readonly folder: string;
  /** Closed after the test, the last opened first. */
  closeAfterTest<Opened extends Closable>(opened: Opened): Opened;
}

export function browserSuite(): BrowserSuite {
  let browser: Browser;
  let folder = '';
  const open: Closable[] = [];
  beforeAll(async () => {
    browser = await launchChromium();
    folder = mkdtempSync(join(tmpdir(), 'slackwater-browser-'));
  });
  afterAll(async () => {
    await browser.close();
    rmSync(folder, { recursive: true, force: true });
  });
  afterEach(async () => {
    for (const opened of open.splice(0).reverse()) await opened.close();
  });
  return {
    get browser() {
      return browser;
    },
    get folder() {
      return folder;
    },
    closeAfterTest(opened) {
      open.push(opened);
      return opened;
    },
  };
}
