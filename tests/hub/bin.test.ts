// The bin over HTTP at the real hub: whatever is deleted goes there, names whom it takes, and comes back; a person's erasure
// empties it of them; thirty days empty it.

import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { openStoreInMemory } from '../../hub/recorder/sqlite-store.ts';
import { Bin } from '../../hub/recordings/bin.ts';
import { auditBodySchema } from '../../shared/audit.ts';
import { type BinnedItem, binBodySchema, binKeepsDays, deletedBodySchema } from '../../shared/bin.ts';
import { belongingsBodySchema, recordingBodySchema, sessionsBodySchema } from '../../shared/http.ts';
import { plansBodySchema, storedPlanSchema } from '../../shared/plan.ts';
import { trainingBodySchema } from '../../shared/training-log.ts';
import { makeIntervalSeries } from '../../src/plans/generate-plan.ts';
import { ownHeaders } from '../support/own-person.ts';
import { type ServedTestHub, serveTestHub, type TestAthlete, testLog } from '../support/serve-test-hub.ts';
import { writeSession } from '../support/written-sessions.ts';

const dayMs = 86_400_000;
const athleteOf = (athleteId: string, name: string): TestAthlete => ({
  athleteId,
  name,
  oximeter: { sensorId: `clip-${athleteId}`, name: 'Clip' },
  strap: { sensorId: `strap-${athleteId}`, name: 'Strap' },
});
const people = [athleteOf('mira', 'Mira'), athleteOf('jonas', 'Jonas')];

let served: ServedTestHub;
beforeEach(async () => {
  const store = openStoreInMemory();
  writeSession(store, {
    sessionId: 'both',
    athleteId: 'mira',
    athleteName: 'Mira',
    others: [{ athleteId: 'jonas', athleteName: 'Jonas' }],
    startedWallAtMs: Date.UTC(2031, 3, 2),
    title: 'Hall',
    holdsS: [40],
  });
  served = await serveTestHub({ store, athletes: people });
});
afterEach(() => served.close());

async function ask(method: 'GET' | 'POST' | 'PUT' | 'DELETE', url: string, payload?: object) {
  const answer = await served.server.app.inject({
    method,
    url,
    headers: ownHeaders,
    ...(payload && { payload }),
  });
  return { status: answer.statusCode, body: answer.body === '' ? null : answer.json() };
}
const items = async (): Promise<readonly BinnedItem[]> =>
  binBodySchema.parse((await ask('GET', '/api/bin')).body).items;
const listed = async () => sessionsBodySchema.parse((await ask('GET', '/api/sessions')).body).sessions;
const restore = (binId: string) => ask('POST', `/api/bin/${encodeURIComponent(binId)}/restore`);
async function remove(url: string): Promise<string> {
  const { status, body } = await ask('DELETE', url);
  expect(status).toBe(200);
  return deletedBodySchema.parse(body).binId;
}

describe('what is deleted goes into the bin and comes back', () => {
  test('a recording, with whom it takes', async () => {
    const binId = await remove('/api/sessions/both');
    expect(await listed()).toEqual([]);
    expect((await ask('GET', '/api/sessions/both')).status).toBe(404);
    expect((await ask('GET', '/api/sessions/both/csv?athleteId=mira')).status).toBe(404);
    expect(await items()).toEqual([
      {
        binId,
        kind: 'recording',
        title: 'Hall',
        ofWallMs: Date.UTC(2031, 3, 2),
        deletedWallAtMs: served.clock.wallNowMs(),
        keptUntilWallMs: served.clock.wallNowMs() + binKeepsDays * dayMs,
        athletes: [
          { athleteId: 'mira', name: 'Mira' },
          { athleteId: 'jonas', name: 'Jonas' },
        ],
      },
    ]);
    expect((await restore(binId)).status).toBe(204);
    expect((await listed())[0]?.athleteNames).toEqual(['Mira', 'Jonas']);
    expect(await items()).toEqual([]);
    expect((await restore(binId)).status).toBe(404);
  });

  test('one athlete’s part of a recording; the others’ stays', async () => {
    const binId = await remove('/api/sessions/both/athletes/jonas');
    const shown = recordingBodySchema.parse((await ask('GET', '/api/sessions/both')).body);
    expect(shown.athletes.map(({ athlete }) => athlete.name)).toEqual(['Mira']);
    expect(JSON.stringify(shown)).not.toMatch(/jonas/i);
    expect((await ask('GET', '/api/sessions/both/csv?athleteId=jonas')).status).toBe(404);
    expect((await ask('DELETE', '/api/sessions/both/athletes/jonas')).status).toBe(404);
    expect(await items()).toMatchObject([{ kind: 'part', athletes: [{ name: 'Jonas' }] }]);
    await restore(binId);
    expect((await listed())[0]?.athleteNames).toEqual(['Mira', 'Jonas']);
  });

  test('a plan, a run of it and an entry of the log', async () => {
    const plan = makeIntervalSeries(2, 240);
    const { planId } = storedPlanSchema.parse((await ask('POST', '/api/plans', { plan })).body);
    const run = await ask('POST', '/api/plan-runs', {
      plan,
      options: {
        athletes: people.map(({ athleteId }) => ({ athleteId, offsetMs: 0 })),
        oneAtATime: false,
        assumeFromCues: false,
        acceptedWarnings: ['previewCrossesFloor'],
      },
      longestHoldMs: null,
    });
    const { runId } = run.body as { runId: string };
    expect((await ask('DELETE', `/api/plan-runs/${runId}`)).status).toBe(409);
    await ask('POST', '/api/plan-runs/current/events', { event: { type: 'end', atMs: 0, athleteId: null } });
    const before = (await ask('GET', `/api/plan-runs/${runId}`)).body;
    const entry = {
      entryId: 'e1',
      athleteId: 'mira',
      startedWallAtMs: Date.UTC(2031, 3, 1),
      place: '',
      effort: 'easy',
      comfort: null,
      note: '',
      buddyName: null,
      kind: 'maximalDryHold',
      lengthSeconds: 120,
    };
    await ask('PUT', '/api/athletes/mira/training/e1', { entry });

    const planBin = await remove(`/api/plans/${planId}`);
    const runBin = await remove(`/api/plan-runs/${runId}`);
    const entryBin = await remove('/api/athletes/mira/training/e1');
    expect((await items()).map(({ kind, title, athletes }) => [kind, title, athletes.length])).toEqual(
      expect.arrayContaining([
        ['plan', plan.title, 0],
        ['planRun', plan.title, 2],
        ['entry', '', 1],
      ]),
    );
    expect((await ask('GET', `/api/plan-runs/${runId}`)).status).toBe(404);
    for (const binId of [planBin, runBin, entryBin]) expect((await restore(binId)).status).toBe(204);
    expect(plansBodySchema.parse((await ask('GET', '/api/plans')).body).plans[0]?.planId).toBe(planId);
    expect((await ask('GET', `/api/plan-runs/${runId}`)).body).toEqual(before);
    const log = trainingBodySchema.parse((await ask('GET', '/api/athletes/mira/training')).body);
    expect(log.entries).toEqual([entry]);
    expect(served.store.listDocuments('binned')).toEqual([]);
  });

  test('an athlete, with name, floor and sensors', async () => {
    const before = served.hub.athletes.find(({ athleteId }) => athleteId === 'jonas');
    const binId = await remove('/api/athletes/jonas');
    expect(served.hub.athletes.map(({ athleteId }) => athleteId)).toEqual(['mira']);
    expect((await listed())[0]?.athleteNames).toEqual(['Mira', 'Jonas']);
    expect(await items()).toMatchObject([{ kind: 'athlete', athletes: [{ name: 'Jonas' }] }]);
    await restore(binId);
    expect(served.hub.athletes.find(({ athleteId }) => athleteId === 'jonas')).toEqual(before);
    expect(served.store.sensorAssignments().get('clip-jonas')).toBe('jonas');
  });
});

describe('what does not come back', () => {
  test('erasing an athlete empties the bin of them, and of them alone', async () => {
    await remove('/api/sessions/both');
    await remove('/api/athletes/jonas');
    const belongings = belongingsBodySchema.parse((await ask('GET', '/api/athletes/jonas/belongings')).body);
    expect(belongings.binned).toBe(2);
    expect((await ask('DELETE', '/api/athletes/jonas?recordings=all')).status).toBe(204);
    const left = await items();
    expect(left).toMatchObject([{ kind: 'recording', athletes: [{ name: 'Mira' }] }]);
    expect(JSON.stringify(left)).not.toMatch(/jonas/i);
    await restore(left[0]!.binId);
    expect((await listed())[0]?.athleteNames).toEqual(['Mira']);
  });

  test('is gone after thirty days, not before, and never while a session runs', async () => {
    await remove('/api/sessions/both/athletes/jonas');
    await remove('/api/athletes/jonas');
    const { hub, store } = served;
    const empty = (): void => {
      const bin = new Bin({ hub, store, makeId: () => 'x', log: testLog, forget: () => undefined });
      bin.open();
      bin.close();
    };
    served.clock.jump((binKeepsDays - 1) * dayMs);
    empty();
    expect(await items()).toHaveLength(2);
    served.clock.jump(2 * dayMs);
    hub.startSession(['mira'], '');
    empty();
    // What costs the disk nothing may go; a recording waits.
    expect((await items()).map(({ kind }) => kind)).toEqual(['part']);
    hub.endSession();
    empty();
    expect(await items()).toEqual([]);
    const { athletes } = served.store.readSession('both')!;
    expect(athletes.map(({ name }) => name)).toEqual(['Mira']);
  });

  test('one can be deleted for good at once', async () => {
    const binId = await remove('/api/sessions/both');
    expect((await ask('DELETE', `/api/bin/${encodeURIComponent(binId)}`)).status).toBe(204);
    expect(await items()).toEqual([]);
    expect((await restore(binId)).status).toBe(404);
  });
});

test('titles and names: the list, the recording, the report and files go by what they are now', async () => {
  expect((await ask('PUT', '/api/sessions/both', { title: '  Evening  ' })).body).toMatchObject({
    title: 'Evening',
  });
  expect((await ask('PUT', '/api/sessions/none', { title: 'x' })).status).toBe(404);
  expect((await ask('PUT', '/api/sessions/both', { title: '\u202e' })).status).toBe(400);
  expect((await ask('PUT', '/api/athletes/mira', { name: 'Mirabel' })).status).toBe(200);
  expect((await listed())[0]).toMatchObject({
    athleteNames: ['Mirabel', 'Jonas'],
    session: { title: 'Evening' },
  });
  const shown = recordingBodySchema.parse((await ask('GET', '/api/sessions/both')).body);
  expect(shown.session.title).toBe('Evening');
  expect(shown.athletes[0]?.athlete.name).toBe('Mirabel');
  const { entries } = auditBodySchema.parse((await ask('GET', '/api/audit')).body);
  expect(entries.map(({ action }) => action)).toEqual(['athleteRenamed', 'recordingTitled']);
});
