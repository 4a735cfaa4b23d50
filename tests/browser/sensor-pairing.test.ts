// A sensor that pairs, on the Devices page of the real hub: its code typed by keyboard, compared, shown, refused; a kept key
// forgotten after a question; nothing of it for anybody but coaches.

import type { Page } from 'playwright-core';
import { expect, test } from 'vitest';
import type { PairingView } from '../../shared/views.ts';
import { browserSuite } from '../support/browser-suite.ts';
import { openPage } from '../support/chromium-page.ts';
import { looksRight } from '../support/looks-right.ts';
import { makeOwnBrowser } from '../support/own-person.ts';
import { type ServedTestHub, serveTestHub } from '../support/serve-test-hub.ts';

const suite = browserSuite();
const webDirectory = new URL('../../dist/web', import.meta.url).pathname;
let hub: ServedTestHub;

async function open(pairing?: PairingView): Promise<Page> {
  hub = suite.closeAfterTest(
    await serveTestHub({
      webDirectory,
      athletes: [
        {
          athleteId: 'mira',
          name: 'Mira',
          oximeter: { sensorId: 'bt:c4b1a2330412', name: 'Finger clip with a bond' },
          strap: { sensorId: 'bt:c4b1a2330413', name: 'Strap' },
        },
      ],
    }),
  );
  const { page, context } = await openPage(suite.browser, 'about:blank');
  suite.closeAfterTest(context);
  await makeOwnBrowser(context, hub.url);
  if (pairing !== undefined) hub.source.tell('bt:c4b1a2330412', { link: 'connecting', pairing });
  await page.goto(`${hub.url}/devices`);
  return page;
}

const asked = (kind: PairingView['kind'], code: number | null): PairingView => ({
  requestId: 'pairing-1-1',
  kind,
  code,
  secondsLeft: 28,
});

test('a code is typed and sent by keyboard alone, and only six digits go out', async () => {
  const page = await open(asked('typeCode', null));
  const code = page.getByRole('textbox', { name: 'Code' });
  await code.focus();
  await page.keyboard.type('12345');
  expect(await page.getByRole('button', { name: 'Pair' }).isDisabled()).toBe(true);
  await page.keyboard.press('Enter');
  expect(hub.source.pairingAnswers).toEqual([]);
  await page.keyboard.press('Home');
  await page.keyboard.type('0');
  await page.keyboard.press('Enter');
  await expect
    .poll(() => hub.source.pairingAnswers)
    .toEqual([
      { sensorId: 'bt:c4b1a2330412', requestId: 'pairing-1-1', answer: { kind: 'code', code: 12_345 } },
    ]);
  await looksRight(page, 'pairing-type');
  // Its source says when it is over.
  hub.source.tell('bt:c4b1a2330412', {});
  hub.clock.advance(1_000);
  await code.waitFor({ state: 'detached' });
});

test('codes are compared, shown with six digits, and refused', async () => {
  const page = await open(asked('compareCode', 4_711));
  await page.getByText('004\u202f711').waitFor();
  await page.getByRole('button', { name: 'Yes, the same' }).click();
  await expect.poll(() => hub.source.pairingAnswers.at(-1)?.answer).toEqual({ kind: 'same' });
  hub.source.tell('bt:c4b1a2330412', { pairing: { ...asked('showCode', 815), requestId: 'pairing-1-2' } });
  hub.clock.advance(1_000);
  await page.getByText('000\u202f815').waitFor();
  expect(await page.getByRole('button', { name: 'Pair' }).count()).toBe(0);
  await page.getByRole('button', { name: 'Cancel' }).click();
  await expect
    .poll(() => hub.source.pairingAnswers.at(-1))
    .toEqual({ sensorId: 'bt:c4b1a2330412', requestId: 'pairing-1-2', answer: { kind: 'cancel' } });
});

test('a key is forgotten after a question, and not by a press that was taken back', async () => {
  const page = await open();
  hub.source.tell('bt:c4b1a2330412', { isBonded: true });
  hub.clock.advance(1_000);
  const forget = page.getByRole('button', { name: /Forget the key of .*Finger clip/ });
  await forget.click();
  await page.getByRole('button', { name: 'Cancel' }).click();
  expect(hub.source.forgottenBonds).toEqual([]);
  await looksRight(page, 'pairing-kept');
  await forget.click();
  await page.getByRole('button', { name: 'Forget the key', exact: true }).click();
  await expect.poll(() => hub.source.forgottenBonds).toEqual(['bt:c4b1a2330412']);
  hub.source.tell('bt:c4b1a2330412', {});
  hub.clock.advance(1_000);
  await forget.waitFor({ state: 'detached' });
});

test('without a sensor that pairs or a key there is nothing of it on the page', async () => {
  const page = await open();
  await page.getByRole('heading', { name: 'Joined devices' }).waitFor();
  expect(await page.getByText('Sensors that pair').count()).toBe(0);
});
