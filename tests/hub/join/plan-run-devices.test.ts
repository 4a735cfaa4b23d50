// A plan run seen from an athlete's own device: its own athlete's run and no more, its own taps, and its own plan when alone.

import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import * as z from 'zod/mini';
import { newJoinCodeBodySchema } from '../../../shared/http.ts';
import { currentPlanRunBodySchema, planRunBodySchema } from '../../../shared/plan-run.ts';
import { makeIntervalSeries } from '../../../src/plans/generate-plan.ts';
import { createPlanRun, replayPlanRun } from '../../../src/plans/plan-run.ts';
import { athleteRunsOf } from '../../../src/plans/stored-run.ts';
import { ownHeaders } from '../../support/own-person.ts';
import { type ServedTestHub, serveTestHub } from '../../support/serve-test-hub.ts';
import { createTestDevice, type TestDevice } from '../../support/test-device.ts';

let directory: string;
let served: ServedTestHub;
let jonas: string;
let device: TestDevice;
beforeEach(async () => {
  directory = mkdtempSync(join(tmpdir(), 'slackwater-plan-devices-'));
  served = await serveTestHub({ lanIn: directory });
  const added = served.hub.addAthlete('Jonas');
  if (!added.ok) throw new Error('refused');
  jonas = added.value.athleteId;
  device = createTestDevice(served.lanUrl);
  await device.join(await codeFor('athlete', 'mira'));
});
afterEach(async () => {
  await served.close();
  rmSync(directory, { recursive: true, force: true, maxRetries: 5 });
});

async function codeFor(role: string, athleteId: string | null): Promise<string> {
  const made = await own('POST', '/api/join-codes', { role, athleteId });
  return z.parse(newJoinCodeBodySchema, made.json()).code;
}
const own = (method: 'GET' | 'POST', url: string, payload?: object) =>
  served.server.app.inject({ method, url, headers: ownHeaders, ...(payload && { payload }) });

const request = (athleteIds: readonly string[], oneAtATime: boolean) => ({
  plan: makeIntervalSeries(),
  options: {
    athletes: athleteIds.map((athleteId, index) => ({ athleteId, offsetMs: index * 60_000 })),
    oneAtATime,
    assumeFromCues: false,
    acceptedWarnings: ['previewCrossesFloor'],
  },
  longestHoldMs: null,
});
const tapBody = (athleteId: string | null, type: string) => ({ event: { atMs: 0, type, athleteId } });

test('alone in it, the device starts, marks, ends and reviews its own run', async () => {
  const started = await device.ask('POST', '/api/plan-runs', request(['mira'], false));
  expect(started.status).toBe(201);
  expect((await device.ask('POST', '/api/plan-runs/current/events', tapBody('mira', 'pause'))).status).toBe(
    204,
  );
  expect((await device.ask('POST', '/api/plan-runs/current/events', tapBody(null, 'end'))).status).toBe(204);
  const body = currentPlanRunBodySchema.parse((await device.ask('GET', '/api/plan-runs/current')).body);
  expect(body.shownAthleteIds).toBeUndefined();
  expect(body.events.map(({ type }) => type)).toEqual(['pause', 'end']);
  expect((await device.ask('GET', '/api/plan-runs')).body.runs).toHaveLength(1);
  expect((await device.ask('GET', `/api/plan-runs/${started.body.runId}`)).status).toBe(200);
});

test('it starts no plan for anybody else, nor ends one others are in', async () => {
  expect((await device.ask('POST', '/api/plan-runs', request(['mira', jonas], false))).status).toBe(403);
  expect((await own('POST', '/api/plan-runs', request(['mira', jonas], false))).statusCode).toBe(201);
  const { runs } = (await own('GET', '/api/plan-runs')).json();
  for (const [athleteId, type] of [
    [jonas, 'abort'],
    [null, 'end'],
    [null, 'pause'],
  ] as const)
    expect((await device.ask('POST', '/api/plan-runs/current/events', tapBody(athleteId, type))).status).toBe(
      403,
    );
  expect(
    (await device.ask('POST', '/api/plan-runs/current/events', tapBody('mira', 'notReady'))).status,
  ).toBe(204);
  expect((await device.ask('DELETE', `/api/plan-runs/${runs[0].runId}`)).status).toBe(403);
});

test.each([false, true])(
  'in a run with others it follows its own athlete only (one at a time: %s)',
  async (oneAtATime) => {
    await own('POST', '/api/plan-runs', request(['mira', jonas], oneAtATime));
    served.clock.advance(2_000);
    const tapped = async (athleteId: string, type: string, more: object = {}) =>
      expect(
        (
          await own('POST', '/api/plan-runs/current/events', {
            event: { atMs: 0, type, athleteId, ...more },
          })
        ).statusCode,
      ).toBe(204);
    const begin = { holdId: 'tap', startedAtMs: 0, source: 'mark' };
    const end = { holdId: null, endedAtMs: 0, source: 'mark', lowestSpo2Percent: 83, floorSpo2Percent: 88 };
    await tapped(jonas, 'holdStarted', begin);
    served.clock.advance(30_000);
    await tapped(jonas, 'holdEnded', end);
    await tapped(jonas, 'comfort', { comfort: 1 });
    await tapped('mira', 'holdStarted', begin);

    const answer = await device.ask('GET', '/api/plan-runs/current');
    expect(answer.text).not.toContain(jonas);
    expect(answer.text).not.toContain('83');
    expect(answer.text).not.toContain('comfort');
    const body = currentPlanRunBodySchema.parse(answer.body);
    expect(body.shownAthleteIds).toEqual(['mira']);
    expect(body.run!.options.athletes).toHaveLength(oneAtATime ? 2 : 1);
    // The page rebuilds its own athlete's run from this as the hub has it.
    const whole = currentPlanRunBodySchema.parse((await own('GET', '/api/plan-runs/current')).json());
    const athleteRunFrom = ({ run, events }: typeof body) => {
      const created = createPlanRun(run!.plan, 0, run!.options);
      if (!created.ok) throw new Error('needs a choice');
      return replayPlanRun(created.value, events).athleteRuns.find(({ athleteId }) => athleteId === 'mira');
    };
    expect(athleteRunFrom(body)).toEqual(athleteRunFrom(whole));
    // What it has already is not sent again, counted as this page counts.
    const later = currentPlanRunBodySchema.parse(
      (await device.ask('GET', `/api/plan-runs/current?since=${body.events.length}`)).body,
    );
    expect([later.since, later.events]).toEqual([body.events.length, []]);

    // Afterwards too, planned beside actual: its own part, and nothing of the others'.
    expect((await own('POST', '/api/plan-runs/current/events', tapBody(null, 'end'))).statusCode).toBe(204);
    const { runs } = (await own('GET', '/api/plan-runs')).json();
    const { runId } = runs[0];
    const listed = await device.ask('GET', '/api/plan-runs');
    expect(listed.text).not.toContain(jonas);
    expect(listed.body.runs).toMatchObject([
      { runId, options: { athletes: [{ athleteId: 'mira', offsetMs: 0 }] } },
    ]);
    const read = await device.ask('GET', `/api/plan-runs/${runId}`);
    expect(read.text).not.toContain(jonas);
    expect(read.text).not.toContain('83');
    expect(read.text).not.toContain('comfort');
    const kept = planRunBodySchema.parse(read.body);
    expect(kept.shownAthleteIds).toEqual(['mira']);
    const partOf = (run: typeof kept) => athleteRunsOf(run).find(({ athleteId }) => athleteId === 'mira');
    const keptWhole = planRunBodySchema.parse((await own('GET', `/api/plan-runs/${runId}`)).json());
    expect(keptWhole.shownAthleteIds).toBeUndefined();
    expect(partOf(kept)!.records.length).toBeGreaterThan(0);
    expect(partOf(kept)).toEqual(partOf(keptWhole));
  },
);

test('a device whose athlete is not in the run hears nothing of it; an onlooker watches', async () => {
  await own('POST', '/api/plan-runs', request([jonas], false));
  expect((await device.ask('GET', '/api/plan-runs/current')).body.run).toBeNull();
  const { runs } = (await own('GET', '/api/plan-runs')).json();
  expect((await device.ask('GET', '/api/plan-runs')).body.runs).toEqual([]);
  expect((await device.ask('GET', `/api/plan-runs/${runs[0].runId}`)).status).toBe(403);
  const onlooker = createTestDevice(served.lanUrl);
  await onlooker.join(await codeFor('onlooker', null));
  expect((await onlooker.ask('GET', '/api/plan-runs/current')).body.run).not.toBeNull();
  expect((await onlooker.ask('POST', '/api/plan-runs/current/events', tapBody(jonas, 'abort'))).status).toBe(
    403,
  );
});
