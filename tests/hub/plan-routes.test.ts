// Plans, runs and training over HTTP on a real port, with a fake clock and a scripted source.

import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { type Plan, plansBodySchema, storedPlanSchema } from '../../shared/plan.ts';
import {
  type CurrentPlanRunBody,
  currentPlanRunBodySchema,
  type PlanRunEvent,
  planWarningsBodySchema,
  storedPlanRunSchema,
} from '../../shared/plan-run.ts';
import { monotonicMs } from '../../shared/units.ts';
import { populationPrior, readAthletePrior } from '../../src/oxygen/athlete-prior.ts';
import { makeIntervalSeries, makeTwelveMinuteSwim } from '../../src/plans/generate-plan.ts';
import { parsePlanFile } from '../../src/plans/plan-file.ts';
import { createPlanRun, replayPlanRun, stepPlanRun } from '../../src/plans/plan-run.ts';
import { fetchAsOwn } from '../support/own-person.ts';
import { type ServedTestHub, serveTestHub } from '../support/serve-test-hub.ts';
import { hello, openTestPage } from '../support/test-page.ts';
import { carbonDioxideTableOf } from '../support/usual-plans.ts';

let served: ServedTestHub;
beforeEach(async () => {
  served = await serveTestHub();
});
afterEach(() => served.close());

async function ask(
  method: string,
  path: string,
  body?: unknown,
): Promise<{ status: number; body: unknown; text: string }> {
  const response = await fetchAsOwn(`${served.url}${path}`, {
    method,
    ...(body === undefined
      ? {}
      : { headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) }),
  });
  const text = await response.text();
  let parsed: unknown = null;
  try {
    parsed = JSON.parse(text);
  } catch {}
  return { status: response.status, body: parsed, text };
}

const options = (acceptedWarnings: readonly string[] = ['previewCrossesFloor'], assumeFromCues = false) => ({
  athletes: [{ athleteId: 'mira', offsetMs: 0 }],
  oneAtATime: false,
  assumeFromCues,
  acceptedWarnings,
});
const startRun = (plan: Plan, chosen = options()) =>
  ask('POST', '/api/plan-runs', { plan, options: chosen, longestHoldMs: null });
const current = async (since = 0): Promise<CurrentPlanRunBody> =>
  currentPlanRunBodySchema.parse((await ask('GET', `/api/plan-runs/current?since=${since}`)).body);
const tap = (event: Partial<PlanRunEvent> & { type: PlanRunEvent['type'] }) =>
  ask('POST', '/api/plan-runs/current/events', { event: { atMs: 0, athleteId: 'mira', ...event } });

/** The run as a page rebuilds it. */
function stateOf(body: CurrentPlanRunBody) {
  if (body.run === null) throw new Error('no run');
  const created = createPlanRun(body.run.plan, 0, body.run.options);
  if (!created.ok) throw new Error('needs a choice');
  return stepPlanRun(replayPlanRun(created.value, body.events), {
    type: 'time',
    atMs: monotonicMs(body.nowMs),
  }).state;
}

describe('the library', () => {
  test('saves, lists by title, changes, gives as a file, deletes', async () => {
    const table = storedPlanSchema.parse(
      (await ask('POST', '/api/plans', { plan: carbonDioxideTableOf(180) })).body,
    );
    const series = storedPlanSchema.parse(
      (await ask('POST', '/api/plans', { plan: makeIntervalSeries() })).body,
    );
    const renamed = { ...table.plan, title: 'A table' };
    expect((await ask('PUT', `/api/plans/${table.planId}`, { plan: renamed })).status).toBe(200);
    const { plans } = plansBodySchema.parse((await ask('GET', '/api/plans')).body);
    expect(plans.map((each) => each.plan.title)).toEqual(['8 starts, one every 4:00', 'A table']);
    expect(parsePlanFile((await ask('GET', `/api/plans/${series.planId}/file`)).text)).toEqual({
      ok: true,
      value: series.plan,
    });
    expect((await ask('DELETE', `/api/plans/${table.planId}`)).status).toBe(200);
    expect((await ask('DELETE', `/api/plans/${table.planId}`)).status).toBe(404);
    expect((await ask('PUT', `/api/plans/${table.planId}`, { plan: renamed })).status).toBe(404);
  });

  test('refuses what is no plan', async () => {
    const answer = await ask('POST', '/api/plans', { plan: { ...makeIntervalSeries(), starts: 0 } });
    expect(answer).toMatchObject({ status: 400, body: { code: 'badRequest' } });
    expect(answer.text).toContain('plan.starts');
  });
});

describe('a run', () => {
  test('needs the choices it names, and one run at a time', async () => {
    const refused = await startRun(makeTwelveMinuteSwim(25), options([]));
    expect(refused.status).toBe(409);
    expect(planWarningsBodySchema.parse(refused.body).warnings.map((warning) => warning.code)).toEqual([
      'inWater',
    ]);
    expect((await startRun(makeTwelveMinuteSwim(25), options(['inWater']))).status).toBe(201);
    expect(await startRun(makeIntervalSeries())).toMatchObject({
      status: 409,
      body: { code: 'planRunning' },
    });
    expect(
      (
        await startRun(makeIntervalSeries(), {
          ...options(),
          athletes: [{ athleteId: 'nobody', offsetMs: 0 }],
        })
      ).status,
    ).toBe(409);
  });

  test('an unknown athlete or one named twice is refused', async () => {
    const nobody = { ...options(), athletes: [{ athleteId: 'nobody', offsetMs: 0 }] };
    expect((await startRun(makeIntervalSeries(), nobody)).status).toBe(404);
    const twice = {
      ...options(),
      athletes: [
        { athleteId: 'mira', offsetMs: 0 },
        { athleteId: 'mira', offsetMs: 60_000 },
      ],
    };
    expect((await startRun(makeIntervalSeries(), twice)).status).toBe(400);
  });

  test('as many as there are run it, in waves; a session begun later is the run\u2019s recording', async () => {
    const athletes = [{ athleteId: 'mira', offsetMs: 0 }];
    for (let index = 1; index < 12; index += 1) {
      const added = served.hub.addAthlete(`Athlete ${index}`);
      if (!added.ok) throw new Error('refused');
      athletes.push({ athleteId: added.value.athleteId, offsetMs: Math.floor(index / 4) * 90_000 });
    }
    const started = await startRun(
      { ...makeIntervalSeries(2, 240), leadInSeconds: 10 },
      { ...options(), athletes },
    );
    expect(started.status).toBe(201);
    const starts = stateOf(await current()).athleteRuns.map(({ plannedStartAtMs }) => plannedStartAtMs);
    expect(starts).toEqual(
      [...[10, 10, 10, 10], ...[100, 100, 100, 100], ...[190, 190, 190, 190]].map((s) => s * 1_000),
    );
    expect((await current()).run?.sessionId).toBeNull();
    const session = served.hub.startSession([athletes[11]!.athleteId], 'later');
    expect((await current()).run?.sessionId).toBe(session.ok && session.value.sessionId);
    served.hub.endSession();
    served.hub.startSession([athletes[11]!.athleteId], 'another');
    expect((await current()).run?.sessionId).toBe(session.ok && session.value.sessionId);
  });

  test('taps without a session are kept and rebuild the same run at a page', async () => {
    await startRun(makeIntervalSeries(2, 240));
    served.clock.advance(120_500);
    expect(stateOf(await current()).athleteRuns[0]?.phase).toBe('open');
    expect(
      (await tap({ type: 'holdStarted', holdId: 'x', startedAtMs: monotonicMs(0), source: 'mark' } as never))
        .status,
    ).toBe(204);
    served.clock.advance(60_000);
    await tap({
      type: 'holdEnded',
      holdId: null,
      endedAtMs: monotonicMs(0),
      source: 'mark',
      lowestSpo2Percent: null,
      floorSpo2Percent: null,
    } as never);
    const athleteRun = stateOf(await current()).athleteRuns[0];
    expect(athleteRun?.records[0]).toMatchObject({ outcome: 'done', endSource: 'mark' });
    expect((athleteRun?.records[0]?.endedAtMs ?? 0) - (athleteRun?.records[0]?.startedAtMs ?? 0)).toBeCloseTo(
      60_000,
      -2,
    );
    expect((await current(1)).events.map((event) => event.type)).toEqual(['holdEnded']);
  });

  test('a page cannot say what only the hub observes', async () => {
    await startRun(makeIntervalSeries(2, 240));
    expect((await tap({ type: 'alarms', present: ['floorBreached'] } as never)).status).toBe(400);
    expect((await tap({ type: 'time' } as never)).status).toBe(400);
    expect((await current()).events).toEqual([]);
  });

  test('holds marked in a session, and the floor alarm after one, reach the run', {
    timeout: 30_000,
  }, async () => {
    served.hub.startSession(['mira'], 'evening');
    await startRun({ ...makeIntervalSeries(3, 240), leadInSeconds: 10 });
    const second = (spo2Percent: number) => {
      served.source.oximetry(spo2Percent);
      served.source.heartRate(60);
      served.hub.pageState('page', {
        visible: true,
        soundReady: true,
        athleteIds: 'all',
        presented: [],
        sounding: null,
      });
      served.clock.advance(1_000);
    };
    for (let passed = 0; passed < 12; passed += 1) second(98);
    await tap({ type: 'holdStarted', holdId: 'x', startedAtMs: monotonicMs(0), source: 'mark' } as never);
    for (let passed = 0; passed < 20; passed += 1) second(97);
    const holding = stateOf(await current()).athleteRuns[0];
    expect(holding?.phase).toBe('holding');
    expect(holding?.current?.startedAtMs).toBeCloseTo(12_000, -3);
    for (let passed = 0; passed < 15; passed += 1) second(84);
    const body = await current();
    expect(
      body.events.some((event) => event.type === 'alarms' && event.present.includes('floorBreached')),
    ).toBe(true);
    await tap({
      type: 'holdEnded',
      holdId: null,
      endedAtMs: monotonicMs(0),
      source: 'mark',
      lowestSpo2Percent: null,
      floorSpo2Percent: null,
    } as never);
    for (let passed = 0; passed < 5; passed += 1) second(84);
    const stopped = stateOf(await current()).athleteRuns[0];
    expect(stopped?.phase).toBe('stopped');
    expect(stopped?.records[0]).toMatchObject({ stepIndex: 0, outcome: 'aborted', startSource: 'mark' });
    expect(stopped?.floorSpo2Percent).toBe(88);
  });

  test('a restart of the hub takes the run up where the clock says', async () => {
    const { clock, store } = served;
    await startRun(carbonDioxideTableOf(180), options([], true));
    clock.advance(300_000);
    const before = stateOf(await current());
    await served.close();
    clock.advance(150_000);
    served = await serveTestHub({ clock, store });
    const body = await current();
    expect(body.nowMs).toBeCloseTo(450_000, -3);
    expect(body.events.map((event) => event.type)).toContain('away');
    const after = stateOf(body);
    expect(after.athleteRuns[0]?.records[0]).toEqual(before.athleteRuns[0]?.records[0]);
    expect(after.athleteRuns[0]?.phase).toBe('waiting');
    // The start that fell into the absence is given anew, with notice.
    expect(after.athleteRuns[0]?.plannedStartAtMs).toBeCloseTo(470_000, -3);
  });

  test('a run interrupted hours ago is ended, not taken up', async () => {
    const { clock, store } = served;
    await startRun(carbonDioxideTableOf(180), options([], true));
    clock.advance(300_000);
    await served.close();
    clock.jump(8 * 3_600_000);
    served = await serveTestHub({ clock, store });
    expect((await current()).run).toBeNull();
    const { runs } = (await ask('GET', '/api/plan-runs')).body as { runs: { endedAtMs: number | null }[] };
    expect(runs).toHaveLength(1);
    expect(runs[0]?.endedAtMs).not.toBeNull();
  });

  test('ended runs are listed, read whole, and deleted with everything of theirs', async () => {
    await startRun(makeIntervalSeries(2, 240));
    served.clock.advance(60_000);
    await tap({ type: 'end', athleteId: null } as never);
    const run = (await current()).run;
    expect(run?.endedAtMs).not.toBeNull();
    const whole = storedPlanRunSchema.parse((await ask('GET', `/api/plan-runs/${run?.runId}`)).body);
    expect(whole.events.map((event) => event.type)).toEqual(['end']);
    expect((await ask('DELETE', `/api/plan-runs/${run?.runId}`)).status).toBe(200);
    expect(served.store.listDocuments('planRunEvent')).toEqual([]);
    expect((await current()).run).toBeNull();
  });
});

describe('the end of a run', () => {
  const holdTap = { type: 'holdStarted', holdId: 'x', startedAtMs: monotonicMs(0), source: 'mark' } as never;
  const takeBack = async () => (await ask('POST', '/api/plan-runs/current/take-back-end')).status;
  const end = () => tap({ type: 'end', athleteId: null } as never);

  test('taken back, the run stands where the clock says, as if nobody had ended it', async () => {
    await startRun(makeIntervalSeries(2, 240));
    served.clock.advance(100_000);
    expect((await end()).status).toBe(204);
    expect((await current()).run?.endedAtMs).not.toBeNull();
    served.clock.advance(25_000);
    expect(await takeBack()).toBe(204);
    const body = await current();
    expect(body.run?.endedAtMs).toBeNull();
    expect(body.nowMs).toBeCloseTo(125_000, -3);
    // The start at 120 s has come meanwhile and is open.
    expect(stateOf(body).athleteRuns[0]).toMatchObject({ phase: 'open', records: [{ outcome: 'pending' }] });
    const kept = storedPlanRunSchema.parse((await ask('GET', `/api/plan-runs/${body.run?.runId}`)).body);
    expect(kept.endedAtMs).toBeNull();
    expect(kept.events).toEqual([]);
    expect((await tap(holdTap)).status).toBe(204);
    expect(stateOf(await current()).athleteRuns[0]?.phase).toBe('holding');
    expect(await takeBack()).toBe(404);
  });

  test('a hold that ended meanwhile has ended, though the run did not hear it then', async () => {
    served.hub.startSession(['mira'], '');
    await startRun(makeIntervalSeries(2, 240));
    served.clock.advance(121_000);
    served.hub.addMark({ athleteId: 'mira', kind: 'holdStart', atMs: null, text: null });
    served.clock.advance(10_000);
    await end();
    served.clock.advance(5_000);
    served.hub.addMark({ athleteId: 'mira', kind: 'holdEnd', atMs: null, text: null });
    served.clock.advance(5_000);
    expect(await takeBack()).toBe(204);
    const { athleteRuns } = stateOf(await current());
    expect(athleteRuns[0]?.phase).not.toBe('holding');
    const record = athleteRuns[0]?.records[0];
    expect(record?.outcome).toBe('done');
    expect((record?.endedAtMs ?? 0) - (record?.startedAtMs ?? 0)).toBeCloseTo(15_000, -3);
  });

  test('stands after half a minute, and once another run was started', async () => {
    await startRun(makeIntervalSeries(2, 240));
    await end();
    served.clock.advance(30_500);
    expect(await takeBack()).toBe(404);
    await startRun(makeIntervalSeries(2, 240));
    await end();
    await startRun(makeIntervalSeries(3, 240));
    expect(await takeBack()).toBe(404);
    expect((await current()).run?.endedAtMs).toBeNull();
  });

  test('a page that follows hears the whole run anew', async () => {
    const page = await openTestPage(served.url);
    page.send(hello);
    await page.until('welcome');
    await startRun(makeIntervalSeries(2, 240));
    await tap({ type: 'notReady' } as never);
    await end();
    await page.until('planRun', ({ current: told }) => told.run?.endedAtMs != null);
    await takeBack();
    const { current: told } = await page.until(
      'planRun',
      (message) => message.current.since === 0 && message.current.events.length === 1,
    );
    expect(told.run?.endedAtMs).toBeNull();
    expect(told.events.map(({ type }) => type)).toEqual(['notReady']);
    page.close();
  });
});

describe('training', () => {
  const swim = {
    entryId: 'e1',
    athleteId: 'mira',
    startedWallAtMs: Date.UTC(2031, 4, 16),
    place: 'Indoor pool',
    effort: 'hard',
    comfort: 2,
    note: '',
    buddyName: 'Ivo',
    kind: 'timedSwim',
    lengthSeconds: 720,
    poolLengthMeters: 25,
    laps: 23,
    furtherMeters: 10,
    lapsAtSeconds: [],
  };
  const put = (entry: Record<string, unknown>, id = 'e1') =>
    ask('PUT', `/api/athletes/mira/training/${id}`, { entry });

  test('an entry is kept, read and deleted; in water never without a buddy', async () => {
    expect((await put(swim)).status).toBe(200);
    expect(await put({ ...swim, buddyName: ' ' })).toMatchObject({
      status: 400,
      body: { message: 'Name your buddy: nobody trains in water alone.' },
    });
    expect((await put(swim, 'e2')).status).toBe(400);
    expect((await ask('GET', '/api/athletes/mira/training')).body).toEqual({ entries: [swim] });
    expect((await ask('DELETE', '/api/athletes/mira/training/e1')).status).toBe(200);
    expect((await ask('GET', '/api/athletes/mira/training')).body).toEqual({ entries: [] });
  });

  test('advice rests on the log, and says its reason and source', async () => {
    await put(swim);
    const { advice } = (await ask('GET', '/api/athletes/mira/advice')).body as {
      advice: Record<string, string>[];
    };
    expect(advice.map((each) => each['key'])).toEqual(['uncomfortable']);
    expect(advice[0]?.['source']).toEqual({ code: 'source.commonPractice', params: {} });
  });
});

describe('what the holds of an athlete taught', () => {
  test('is nothing before the first, and then theirs alone', async () => {
    expect(await ask('GET', '/api/athletes/mira/oxygen')).toMatchObject({
      status: 200,
      body: { prior: null },
    });
    const prior = { ...populationPrior, holdCount: 4 };
    served.store.saveDocument({
      kind: 'oxygenPrior',
      documentId: 'mira',
      groupId: null,
      athleteId: 'mira',
      body: prior,
    });
    const told = (await ask('GET', '/api/athletes/mira/oxygen')).body as { prior: unknown };
    expect(readAthletePrior(told.prior)).toEqual(prior);
    expect((await ask('GET', '/api/athletes/nobody/oxygen')).status).toBe(404);
  });
});
