// Correcting holds over HTTP: measures follow, the estimate stays beside, undo gives it back, nonsense changes nothing.

import { afterEach, beforeEach, expect, test, vi } from 'vitest';
import { athleteRecordingSchema, errorBodySchema } from '../../shared/http.ts';
import { ownHeaders } from '../support/own-person.ts';
import { type ServedTestHub, serveTestHub } from '../support/serve-test-hub.ts';

// Two minutes through the whole live pipeline take seconds on a busy machine.
vi.setConfig({ testTimeout: 60_000 });

let served: ServedTestHub;
beforeEach(async () => {
  served = await serveTestHub();
});
afterEach(() => served.close());

function recordMinutes(): string {
  const started = served.hub.startSession(['mira'], 'evening');
  if (!started.ok) throw new Error(started.reason.said.code);
  for (let second = 0; second < 120; second += 1) {
    served.source.oximetry(second < 60 ? 97 : 91);
    served.source.heartRate(60);
    if (second === 20) served.hub.addMark({ athleteId: 'mira', kind: 'holdStart', atMs: null, text: null });
    if (second === 70) served.hub.addMark({ athleteId: 'mira', kind: 'holdEnd', atMs: null, text: null });
    served.clock.advance(1_000);
  }
  served.hub.endSession();
  return started.value.sessionId;
}

async function ask(method: 'GET' | 'PUT' | 'DELETE' | 'POST', path: string, body?: object) {
  const answer = await served.server.app.inject({
    method,
    url: `/api/sessions/${path}`,
    headers: ownHeaders,
    ...(body !== undefined && { payload: body }),
  });
  return { status: answer.statusCode, body: answer.json() as unknown };
}
const recordingOf = (body: unknown) => athleteRecordingSchema.parse(body);
const durationOf = (body: unknown) =>
  recordingOf(body).holds[0]?.measures.find(({ key }) => key === 'durationS')?.value;

test('a boundary is moved and moved back; measures follow; the first estimate is always there', async () => {
  const sessionId = recordMinutes();
  const path = `${sessionId}/athletes/mira/corrections`;
  const before = await ask('GET', sessionId);
  const original = (before.body as { athletes: unknown[] }).athletes[0];
  const { holds } = recordingOf(original);
  const [first] = holds;
  expect(first?.hold.end?.source).toBe('mark');
  const holdId = first!.hold.holdId;
  const moved = await ask('PUT', path, { type: 'moveBoundary', holdId, boundary: 'end', atMs: 80_000 });
  expect(moved.status).toBe(200);
  const corrected = recordingOf(moved.body);
  expect(corrected.holds[0]?.hold.end).toMatchObject({ atMs: 80_000, source: 'corrected', uncertaintyMs: 0 });
  expect(corrected.estimatedHolds).toEqual(holds.map(({ hold }) => hold));
  expect(corrected.corrections).toMatchObject([{ state: 'inForce', correction: { type: 'moveBoundary' } }]);
  expect(durationOf(moved.body)).toBeCloseTo(
    durationOf(original)! + (80_000 - first!.hold.end!.atMs) / 1000,
    6,
  );
  // The list and the files say the same.
  expect((await ask('GET', sessionId)).body).toMatchObject({
    athletes: [{ holds: [{ hold: { end: { atMs: 80_000 } } }] }],
  });

  const undone = recordingOf((await ask('DELETE', path)).body);
  expect(undone.holds).toEqual(holds);
  expect(undone.corrections).toMatchObject([{ state: 'undone' }]);
  expect(await ask('DELETE', path)).toMatchObject({ status: 404, body: { code: 'notFound' } });
});

test('holds are added and removed', async () => {
  const sessionId = recordMinutes();
  const path = `${sessionId}/athletes/mira/corrections`;
  const added = recordingOf(
    (await ask('PUT', path, { type: 'addHold', startMs: 90_000, endMs: 110_000 })).body,
  );
  expect(added.holds.map(({ hold }) => hold.start.atMs)).toContain(90_000);
  const addedHold = added.holds.find(({ hold }) => hold.start.atMs === 90_000)!.hold;
  expect(addedHold.lowestSpo2?.value).toBe(91);
  const removed = recordingOf(
    (await ask('PUT', path, { type: 'removeHold', holdId: addedHold.holdId })).body,
  );
  expect(removed.holds).toHaveLength(added.holds.length - 1);
  expect(removed.corrections).toHaveLength(2);
});

test('contractions and notes: the onset follows, what was marked stays beside, undo and redo, files have them', async () => {
  const started = served.hub.startSession(['mira'], 'evening');
  if (!started.ok) throw new Error(started.reason.said.code);
  const { sessionId } = started.value;
  for (let second = 0; second < 120; second += 1) {
    served.source.oximetry(second < 60 ? 97 : 91);
    served.source.heartRate(60);
    const kind = ({ 20: 'holdStart', 50: 'contraction', 70: 'holdEnd' } as const)[second as 20 | 50 | 70];
    if (kind !== undefined) served.hub.addMark({ athleteId: 'mira', kind, atMs: null, text: null });
    served.clock.advance(1_000);
  }
  served.hub.endSession();
  const path = `${sessionId}/athletes/mira/corrections`;
  const onsetOf = (body: unknown) =>
    recordingOf(body).holds[0]?.measures.find(({ key }) => key === 'timeToFirstContractionS')?.value;
  const original = recordingOf(((await ask('GET', sessionId)).body as { athletes: unknown[] }).athletes[0]);
  const [marked] = original.marks.filter(({ kind }) => kind === 'contraction');
  expect(onsetOf(original)).toBe(30);
  const { markId } = marked!;

  const moved = await ask('PUT', path, { type: 'moveMark', markId, atMs: 45_000 });
  expect(onsetOf(moved.body)).toBe(25);
  expect(recordingOf(moved.body).marks).toContainEqual({
    ...marked,
    atMs: 45_000,
    how: 'moved',
    originallyAtMs: 50_000,
  });
  const added = await ask('PUT', path, { type: 'addMark', kind: 'contraction', atMs: 40_000, text: null });
  expect(onsetOf(added.body)).toBe(20);
  await ask('PUT', path, { type: 'addMark', kind: 'note', atMs: 90_000, text: 'calm' });
  const edf = await served.server.app.inject({
    method: 'GET',
    url: `/api/sessions/${sessionId}/edf`,
    headers: ownHeaders,
  });
  expect(edf.body).toContain('Note: calm');
  const removed = recordingOf((await ask('PUT', path, { type: 'removeMark', markId })).body);
  expect(removed.removedMarks).toMatchObject([{ markId, atMs: 45_000 }]);
  expect(onsetOf(removed)).toBe(20);

  for (let left = 4; left > 0; left -= 1)
    expect(recordingOf((await ask('DELETE', path)).body).canRedo).toBe(true);
  const back = recordingOf(((await ask('GET', sessionId)).body as { athletes: unknown[] }).athletes[0]);
  expect({ ...back, corrections: [], canRedo: false }).toEqual(original);
  for (const onset of [25, 20, 20, 20]) expect(onsetOf((await ask('POST', path)).body)).toBe(onset);
  expect(await ask('POST', path)).toMatchObject({ status: 404, body: { code: 'notFound' } });
  // A new correction leaves nothing to bring back.
  await ask('DELETE', path);
  await ask('PUT', path, { type: 'moveMark', markId, atMs: 46_000 });
  expect(await ask('POST', path)).toMatchObject({ status: 404 });
  // What was stored at the time has not changed.
  expect(served.store.readSession(sessionId)!.marks.map(({ mark }) => [mark.kind, mark.atMs])).toEqual([
    ['holdStart', 20_000],
    ['contraction', 50_000],
    ['holdEnd', 70_000],
  ]);
  const [holdStart] = original.marks;
  for (const wrong of [
    { type: 'moveMark', markId: 'nobody', atMs: 1_000 },
    { type: 'moveMark', markId, atMs: 900_000 },
    { type: 'removeMark', markId: holdStart!.markId },
    { type: 'addMark', kind: 'note', atMs: 1_000, text: ' ' },
    { type: 'addMark', kind: 'holdStart', atMs: 1_000, text: null },
  ])
    expect((await ask('PUT', path, wrong)).status).toBe(400);
});

test('what makes no sense is refused in one sentence and changes nothing', async () => {
  const sessionId = recordMinutes();
  const path = `${sessionId}/athletes/mira/corrections`;
  const before = await ask('GET', sessionId);
  for (const [where, body, status] of [
    [path, { type: 'addHold', startMs: 30_000, endMs: 40_000 }, 400],
    [path, { type: 'addHold', startMs: 90_000, endMs: 900_000 }, 400],
    [path, { type: 'addHold', startMs: -1, endMs: 5 }, 400],
    [path, { type: 'removeHold', holdId: 'nobody' }, 400],
    [path, { type: 'undo', correctionId: 'x' }, 400],
    [path, {}, 400],
    [`${sessionId}/athletes/nobody/corrections`, { type: 'removeHold', holdId: 'x' }, 404],
    ['nothing/athletes/mira/corrections', { type: 'removeHold', holdId: 'x' }, 404],
  ] as const) {
    const answer = await ask('PUT', where, body);
    expect([where, answer.status]).toEqual([where, status]);
    expect(errorBodySchema.parse(answer.body).message).toMatch(/\.$/);
  }
  expect((await ask('GET', sessionId)).body).toEqual(before.body);
});

test('not while it is being recorded', async () => {
  const started = served.hub.startSession(['mira'], '');
  if (!started.ok) throw new Error(started.reason.said.code);
  const path = `${started.value.sessionId}/athletes/mira/corrections`;
  expect(await ask('PUT', path, { type: 'removeHold', holdId: 'x' })).toMatchObject({
    status: 409,
    body: { code: 'sessionRunning' },
  });
});
