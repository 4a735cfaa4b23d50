// The whole program in a real browser: real oximetry replayed to the alarm and its review; the simulated demo.

import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { RecordingBody, SessionsBody } from '../../shared/http.ts';
import { keepScreenshot, launchChromium, openPage } from '../support/chromium-page.ts';
import { startHub } from '../support/hub-process.ts';
import { fetchAsOwn } from '../support/own-person.ts';

const fixture = new URL('../../fixtures/controlled-desaturation/subject-1-oximeter-a.csv', import.meta.url)
  .pathname;
const floorPercent = 88;

let browser: Browser;
let data = '';
beforeAll(async () => {
  browser = await launchChromium({ whole: true });
  data = mkdtempSync(join(tmpdir(), 'slackwater-browser-'));
});
afterAll(async () => {
  await browser.close();
  rmSync(data, { recursive: true, force: true, maxRetries: 5 });
});

/** As a person does: hears the alarm, reads the cautions, starts. */
async function startFromPage(page: Page): Promise<void> {
  await page.getByRole('button', { name: 'Play the alarm' }).click();
  await page.getByRole('button', { name: 'I heard it' }).click();
  await page.getByText('I have read these').click();
  await page.getByRole('button', { name: 'Start session' }).click();
  await page.waitForURL('**/live/**');
}

async function endFromPage(page: Page): Promise<void> {
  await page.getByRole('button', { name: 'Options' }).click();
  await page.getByRole('button', { name: 'End session' }).click();
  await page.getByRole('button', { name: 'End it' }).click();
}

async function onlySession(url: string): Promise<RecordingBody> {
  const { sessions } = (await (await fetchAsOwn(`${url}api/sessions`)).json()) as SessionsBody;
  expect(sessions).toHaveLength(1);
  return (await (
    await fetchAsOwn(`${url}api/sessions/${sessions[0]!.session.sessionId}`)
  ).json()) as RecordingBody;
}

/** Readings of the fixture as `[second, percent]`, read here without the project's own parser. */
const readings = readFileSync(fixture, 'utf8')
  .split('\n')
  .map((line) => line.split(','))
  .filter(([, channel]) => channel === 'spo2_percent')
  .map(([second, , percent]) => [Number(second), Number(percent)] as const);

describe('real oximetry, replayed', () => {
  test('the floor alarm comes at the right reading, on the page and in the recording; nothing says SIMULATED', async () => {
    // The first reading below the floor that the next three seconds bear out.
    const breachS = readings.find(
      ([second, percent]) =>
        percent < floorPercent &&
        readings.every(([s, p]) => s < second || s > second + 3 || p < floorPercent),
    )![0];
    const hub = await startHub([
      'replay',
      fixture,
      '--port',
      '0',
      '--speed',
      '25',
      '--data',
      join(data, 'real'),
    ]);
    const { page, context, faults } = await openPage(browser, hub.url, {
      width: 'desktop',
      theme: 'light',
      isKept: true,
    });
    // At this speed the fall is over within a second: the page notes what its alarms said.
    await page.evaluate(`window.alarmsSaid = [];
      new MutationObserver(() => {
        for (const alarm of document.querySelectorAll('[role=alert]')) window.alarmsSaid.push(alarm.innerText);
      }).observe(document.body, { subtree: true, childList: true, characterData: true });`);
    await startFromPage(page);
    await expect
      .poll(() => page.evaluate<string[]>('window.alarmsSaid'))
      .toContainEqual(expect.stringMatching(/Below the floor[\s\S]*Stop and breathe now/));
    await keepScreenshot(page, 'real-oximetry-floor-alarm');
    expect(await page.getByText('SIMULATED').count()).toBe(0);
    // The replay ends the session by itself when its data end: on a loaded machine before the press.
    const ended = page.getByText('The session has ended.');
    await Promise.any([page.getByRole('button', { name: 'Acknowledge' }).first().click(), ended.waitFor()]);
    await ended.waitFor();

    const recording = await onlySession(hub.url);
    expect(recording.session).toMatchObject({ simulated: false, source: 'replay', status: 'ended' });
    const alarms = recording.athletes[0]!.alarms.filter(({ alarm }) => alarm.kind === 'floorBreached');
    const first = alarms[0]!.alarm;
    expect(first.raisedAtMs).toBeGreaterThanOrEqual(breachS * 1000);
    expect(first.raisedAtMs).toBeLessThanOrEqual(breachS * 1000 + 3_000);
    const lowest = Math.min(...readings.map(([, percent]) => percent));
    const csv = await (await fetchAsOwn(`${hub.url}api/sessions/${recording.session.sessionId}/csv`)).text();
    const exported = csv.split('\n').filter((line) => line.includes(',spo2_percent,'));
    expect(exported.map((line) => Number(line.split(',')[2]))).toEqual(
      readings.map(([, percent]) => percent),
    );
    expect(Math.min(...exported.map((line) => Number(line.split(',')[2])))).toBe(lowest);

    await page.goto(`${hub.url}recordings`);
    await page
      .getByRole('link', { name: /Replay of subject-1/ })
      .first()
      .click();
    await page.locator('canvas').first().waitFor();
    await keepScreenshot(page, 'real-oximetry-review');
    expect(faults).toEqual([]);
    await context.close();
    expect(await hub.stop()).toBe(0);
  });
});

describe('the demo', () => {
  test('holds come and go, the alarm sounds, the session is ended and reviewed; all of it says SIMULATED', async () => {
    const hub = await startHub(['demo', '--port', '0', '--speed', '20', '--data', join(data, 'demo')]);
    const { page, context, faults } = await openPage(browser, hub.url, { width: 'tablet', isKept: true });
    await page.getByText('SIMULATED').first().waitFor();
    await startFromPage(page);
    await page.getByText('Holding').first().waitFor();
    await page.getByRole('alert').filter({ hasText: 'Below the floor' }).first().waitFor();
    await keepScreenshot(page, 'demo-floor-alarm-tablet');
    await page.getByRole('button', { name: 'Acknowledge' }).first().click();
    await endFromPage(page);
    await page.getByText('The session has ended.').waitFor();
    const recording = await onlySession(hub.url);
    expect(recording.session.simulated).toBe(true);
    expect(recording.athletes[0]!.holds.length).toBeGreaterThanOrEqual(2);
    await page.getByRole('link', { name: 'Open the recording' }).click();
    await page.locator('canvas').first().waitFor();
    expect(await page.getByText('SIMULATED').count()).toBeGreaterThan(0);
    await keepScreenshot(page, 'demo-review-tablet');
    expect(faults).toEqual([]);
    await context.close();
    await hub.stop();
  });
});
