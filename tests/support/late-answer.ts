// An answer of the hub that reaches the page late: given at once, kept back until the test lets it come.

import type { Page, Route } from 'playwright-core';

export interface LateAnswer {
  /** The hub has answered, and the page has not heard of it. */
  readonly given: Promise<void>;
  /** Resolves when the page has drawn what it makes of it. */
  come(): Promise<void>;
}

/** Of the page's next request of this kind; later ones are answered as ever. */
export async function keepAnswerBack(page: Page, method: string, url: RegExp): Promise<LateAnswer> {
  const told: { given: () => void; come: () => void } = { given: () => undefined, come: () => undefined };
  const given = new Promise<void>((resolve) => (told.given = resolve));
  const coming = new Promise<void>((resolve) => (told.come = resolve));
  let heard: Promise<unknown> = Promise.resolve();
  let isKept = false;
  await page.route(url, async (route: Route): Promise<void> => {
    if (isKept || route.request().method() !== method) return route.fallback();
    isKept = true;
    const response = await route.fetch();
    // A test may keep it as long as it likes, and close the page meanwhile.
    heard = page.waitForEvent('requestfinished', {
      predicate: (request) => request === route.request(),
      timeout: 0,
    });
    heard.catch(() => undefined);
    told.given();
    await coming;
    // Late enough: `late-page.ts` adds nothing to it.
    await route.fulfill({ response, headers: { ...response.headers(), 'x-kept-back': 'yes' } });
  });
  return {
    given,
    async come() {
      told.come();
      await heard;
      await drawn(page);
    },
  };
}

/** After effects of what has just changed, too: they come after the next frame. */
export const drawn = (page: Page): Promise<void> =>
  page.evaluate(
    `new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(() => setTimeout(done))))`,
  );
