// What of a page can be seen: whole inside the window and covered by nothing, how large its letters are, what stands over what.

import type { Locator, Page } from 'playwright-core';

/** Whether the element is whole in the window and on top, by its corners and its middle. */
export function isWholeInWindow(locator: Locator): Promise<boolean> {
  return locator.first().evaluate((element) => {
    const { left, right, top, bottom } = element.getBoundingClientRect();
    if (
      right - left < 1 ||
      left < -0.5 ||
      top < -0.5 ||
      right > innerWidth + 0.5 ||
      bottom > innerHeight + 0.5
    )
      return false;
    const inset = 2;
    const points = [
      [left + inset, top + inset],
      [right - inset, top + inset],
      [left + inset, bottom - inset],
      [right - inset, bottom - inset],
      [(left + right) / 2, (top + bottom) / 2],
    ] as const;
    return points.every(([x, y]) => {
      const hit = document.elementFromPoint(x, y);
      return hit !== null && (element.contains(hit) || hit.contains(element));
    });
  });
}

/** How high a capital or a digit of the element's font is, in CSS pixels, as this browser draws it. */
export function letterHeightPx(locator: Locator, letter: 'H' | '8'): Promise<number> {
  return locator.first().evaluate((element, sample) => {
    const { fontStyle, fontWeight, fontSize, fontFamily } = getComputedStyle(element);
    const context = document.createElement('canvas').getContext('2d')!;
    context.font = `${fontStyle} ${fontWeight} ${fontSize} ${fontFamily}`;
    const measured = context.measureText(sample);
    return measured.actualBoundingBoxAscent + measured.actualBoundingBoxDescent;
  }, letter);
}

/** Controls that are smaller than 44 by 44 CSS pixels (links within a sentence are exempt, as in WCAG 2.2, 2.5.8). */
export function smallTargets(page: Page): Promise<string[]> {
  return page.evaluate(() =>
    [...document.querySelectorAll('button, a, select, input, summary')]
      .filter((element) => {
        const target = element.closest('label') ?? element;
        const { width, height } = target.getBoundingClientRect();
        const style = getComputedStyle(element);
        if (width === 0 || style.visibility === 'hidden' || element.matches('.skip')) return false;
        // A link that fills its box by a layer over it is as large as that box.
        const cover = getComputedStyle(element, '::after');
        if (cover.position === 'absolute' && cover.content !== 'none') {
          const box = (element as HTMLElement).offsetParent?.getBoundingClientRect();
          if (box !== undefined && box.width >= 43.5 && box.height >= 43.5) return false;
        }
        return width < 43.5 || height < 43.5;
      })
      .map(
        (element) => `${element.outerHTML.slice(0, 100)} ${JSON.stringify(element.getBoundingClientRect())}`,
      ),
  );
}
