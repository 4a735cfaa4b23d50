// Every request of a page is answered by its own id, and what happens in the hub comes down the socket it already has.

import { afterEach, beforeEach, expect, test } from 'vitest';
import { makeIntervalSeries } from '../../src/plans/generate-plan.ts';
import { fetchAsOwn } from '../support/own-person.ts';
import { type ServedTestHub, serveTestHub } from '../support/serve-test-hub.ts';
import { hello, openTestPage, type TestPage } from '../support/test-page.ts';

let served: ServedTestHub;
let page: TestPage;
beforeEach(async () => {
  served = await serveTestHub();
  page = openTestPage(served.url);
  page.send(hello);
  await page.until('welcome');
});
afterEach(async () => {
  page.close();
  await served.close();
});

const addMark = (requestId: string, athleteId = 'mira') =>
  ({ type: 'addMark', requestId, athleteId, kind: 'contraction', atMs: null, text: null }) as const;

test('two marks of the same kind and time each carry the request that asked for them', async () => {
  served.hub.startSession(['mira'], '');
  page.send(addMark('first'));
  page.send(addMark('second'));
  const first = await page.until('marked', ({ requestId }) => requestId === 'first');
  const second = await page.until('marked', ({ requestId }) => requestId === 'second');
  expect(first.mark.markId).not.toBe(second.mark.markId);
  await page.until('done', ({ requestId }) => requestId === 'first');
  await page.until('done', ({ requestId }) => requestId === 'second');
});

test('a request that is refused is answered with refused and never with done', async () => {
  served.hub.startSession(['mira'], '');
  page.send(addMark('stranger', 'nobody'));
  page.send(addMark('fine'));
  expect((await page.until('refused')).requestId).toBe('stranger');
  // Answered in order.
  expect((await page.until('done')).requestId).toBe('fine');
});

test('the floor is set over the socket, before a session and in one, by one rule', async () => {
  const settings = served.hub.athletes[0]!.settings;
  const change = (requestId: string, floorSpo2Percent: number) =>
    page.send({
      type: 'changeSettings',
      requestId,
      athleteId: 'mira',
      settings: { ...settings, floorSpo2Percent: floorSpo2Percent as typeof settings.floorSpo2Percent },
    });
  change('before', 85);
  await page.until('done', ({ requestId }) => requestId === 'before');
  served.hub.startSession(['mira'], '');
  served.hub.addMark({ athleteId: 'mira', kind: 'holdStart', atMs: null, text: null });
  change('lower', 80);
  expect(await page.until('refused')).toMatchObject({ requestId: 'lower', code: 'floorLoweredDuringHold' });
  change('higher', 90);
  await page.until('done', ({ requestId }) => requestId === 'higher');
  expect(served.hub.athletes[0]!.settings.floorSpo2Percent).toBe(90);
  const byHttp = await fetchAsOwn(`${served.url}/api/athletes/mira`, {
    method: 'PUT',
    headers: { 'content-type': 'application/json' },
    body: JSON.stringify({ name: 'Mira', settings: { ...settings, floorSpo2Percent: 70 } }),
  });
  expect(byHttp.status).toBe(200);
  expect(served.hub.athletes[0]!.settings.floorSpo2Percent).toBe(90);
});

test('a plan that starts, and each of its steps, comes down the socket; only what is new', async () => {
  const options = {
    athletes: [{ athleteId: 'mira', offsetMs: 0 }],
    oneAtATime: false,
    assumeFromCues: true,
    acceptedWarnings: ['previewCrossesFloor'],
  };
  expect((await page.until('planRun')).current.run).toBeNull();
  const started = await fetchAsOwn(`${served.url}/api/plan-runs`, {
    method: 'POST',
    headers: { 'content-type': 'application/json' },
    body: JSON.stringify({ plan: makeIntervalSeries(), options, longestHoldMs: null }),
  });
  expect(started.status).toBe(201);
  const begun = await page.until('planRun', ({ current }) => current.run !== null);
  expect(begun.current).toMatchObject({ since: 0, events: [] });
  const tap = (event: object) =>
    fetchAsOwn(`${served.url}/api/plan-runs/current/events`, {
      method: 'POST',
      headers: { 'content-type': 'application/json' },
      body: JSON.stringify({ event: { atMs: 0, ...event } }),
    });
  await tap({ type: 'notReady', athleteId: 'mira' });
  const first = await page.until('planRun', ({ current }) => current.events.length > 0);
  expect(first.current.events.map(({ type }) => type)).toEqual(['notReady']);
  await tap({ type: 'end', athleteId: null });
  const last = await page.until('planRun', ({ current }) => current.run?.endedAtMs != null);
  const second = openTestPage(served.url);
  second.send(hello);
  const whole = await second.until('planRun');
  expect(whole.current.since).toBe(0);
  expect(whole.current.events.map(({ type }) => type)).toEqual(['notReady', 'end']);
  expect(last.current.since).toBeGreaterThan(0);
  second.close();
});
