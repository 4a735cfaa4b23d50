// A real hub under a supervisor, killed in the middle of a hold: the page alarms while nobody watches, then tells that the session
// goes on, with the hold going on and the gap told; a recording of it says the same. SIMULATED.

import { mkdtempSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser } from 'playwright-core';
import { afterAll, afterEach, beforeAll, beforeEach, expect, test, vi } from 'vitest';
import type { SessionView } from '../../shared/views.ts';
import { Supervisor } from '../bench/resume-supervisor.ts';
import { World, worldAthlete } from '../bench/resume-world.ts';
import { launchChromium, openPage } from '../support/chromium-page.ts';
import { hello, openTestPage } from '../support/test-page.ts';

vi.setConfig({ testTimeout: 120_000, hookTimeout: 60_000 });

const { athleteId } = worldAthlete;
let browser: Browser;
let world: World;
let supervisor: Supervisor;
let port = 24_000 + (process.pid % 900);

beforeAll(async () => {
  browser = await launchChromium();
});
afterAll(() => browser.close());
beforeEach(async () => {
  const socket = join(mkdtempSync(join(tmpdir(), 'slackwater-world-')), 'world');
  world = new World(socket);
  // Later than a service would, so that the page stands without a hub for a while.
  supervisor = new Supervisor({ port: port++, worldSocket: socket, watchdog: false, restartMs: 3_000 });
  await supervisor.start();
});
afterEach(() => {
  supervisor.stop();
  world.close();
});

async function ask(
  message: Parameters<ReturnType<typeof openTestPage>['send']>[0],
  answer: 'done' | 'marked',
) {
  const page = openTestPage(supervisor.url);
  page.send(hello);
  page.send(message);
  await page.until(answer);
  page.close();
}

async function holdBegins(): Promise<void> {
  await ask({ type: 'startSession', requestId: 's', athleteIds: [athleteId], title: 'evening' }, 'done');
  world.holdingSinceMs = performance.now();
  await ask(
    { type: 'addMark', requestId: 'm', athleteId, kind: 'holdStart', atMs: null, text: null },
    'marked',
  );
}

/** The session that the hub runs, as it tells a page that comes. */
async function sessionNow(): Promise<SessionView | null | 'no hub'> {
  const looking = openTestPage(supervisor.url);
  try {
    looking.send(hello);
    return (await looking.until('welcome')).session;
  } catch {
    // It is being started again.
    return 'no hub';
  } finally {
    looking.close();
  }
}

test('alarms, tells that it goes on, and the hold goes on as one', async () => {
  const { page, context } = await openPage(browser, `${supervisor.url}/live/${athleteId}`, {
    width: 'desktop',
    isKept: true,
  });
  await holdBegins();
  await page.locator('.hold-clock.is-running').waitFor();
  const session = await sessionNow();
  if (session === null || session === 'no hub') throw new Error('no session');

  supervisor.signal('SIGKILL');
  const high = page.locator('.alarms .alarm--high');
  await high.first().waitFor();

  // Told, less urgently, once somebody watches again; and it can be turned off there.
  const gap = page.locator('.alarms .alarm--medium', { hasText: 'after a gap of' });
  await gap.waitFor();
  expect(await gap.getByRole('button', { name: 'End the session' }).isVisible()).toBe(true);
  await expect.poll(() => high.count()).toBe(0);
  await page.locator('.hold-clock.is-running', { hasText: 'not watched for' }).waitFor();

  // What the sensors send is shown again.
  await expect.poll(() => page.locator('body').innerText()).not.toMatch(/NO READING|STALE/);

  await gap.getByRole('button', { name: 'Acknowledge' }).click();
  await expect.poll(() => gap.count()).toBe(0);

  world.holdingSinceMs = null;
  await ask(
    { type: 'addMark', requestId: 'e', athleteId, kind: 'holdEnd', atMs: null, text: null },
    'marked',
  );
  await ask({ type: 'endSession', requestId: 'x' }, 'done');
  await page.goto(`${supervisor.url}/recordings/${session.sessionId}`);
  const holds = page.locator('.hold-cards li.hold-card');
  await holds.first().waitFor();
  await expect.poll(() => holds.count()).toBe(1);
  expect(await holds.first().innerText()).toContain('not watched for');
  expect(await page.getByText('nobody watched: the hub had ended without warning').count()).toBeGreaterThan(
    0,
  );
  await context.close();
});

test('a session that was ended is not taken up, and one that goes on ends with one tap', async () => {
  const { page, context } = await openPage(browser, `${supervisor.url}/live/${athleteId}`, {
    width: 'phone',
    isKept: true,
  });
  await holdBegins();
  await page.locator('.hold-clock.is-running').waitFor();
  supervisor.signal('SIGKILL');
  const gap = page.locator('.alarms .alarm--medium', { hasText: 'after a gap of' });
  await gap.waitFor();
  await gap.getByRole('button', { name: 'End the session' }).click();
  await expect.poll(sessionNow, { interval: 200 }).toBeNull();

  supervisor.signal('SIGKILL');
  await expect.poll(() => supervisor.startCount).toBe(3);
  await expect.poll(sessionNow, { interval: 500 }).toBeNull();
  await context.close();
});
