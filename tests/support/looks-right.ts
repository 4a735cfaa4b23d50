// How a page must look in light and dark at three widths: no axe violation, nothing wider than the window; a picture of each.

import type { Page } from 'playwright-core';
import { expect } from 'vitest';
import { axeViolations } from './axe-check.ts';
import { keepScreenshot, type WidthName, widths } from './chromium-page.ts';

/** Leaves the page dark, at the width of a phone. `name` begins the pictures' names. */
export async function looksRight(page: Page, name: string): Promise<void> {
  for (const theme of ['light', 'dark'] as const) {
    await page.emulateMedia({ colorScheme: theme });
    await page.locator(`html[data-theme="${theme}"]`).waitFor();
    expect(await axeViolations(page), theme).toEqual([]);
    for (const width of Object.keys(widths) as WidthName[]) {
      await page.setViewportSize(widths[width]);
      await page.evaluate('new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))');
      const overflow = await page.evaluate(
        () => document.documentElement.scrollWidth - document.documentElement.clientWidth,
      );
      expect(overflow, `${name} ${theme} ${width}: wider than the window`).toBeLessThanOrEqual(0);
      await keepScreenshot(page, `${name}-${theme}-${width}`, { fullPage: true });
    }
    await page.setViewportSize(widths.phone);
  }
}
