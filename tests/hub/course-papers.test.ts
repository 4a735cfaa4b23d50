// What a course keeps: statements, emergency card, drills that give way to everything real, incidents, and their files.

import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { told } from '../../hub/base/hub-error.ts';
import type { OutputSound } from '../../hub/outputs/alarm-output.ts';
import { createAlarmOutputs } from '../../hub/outputs/alarm-outputs.ts';
import { soundAlarms } from '../../hub/outputs/sound-alarms.ts';
import { ownCookie } from '../support/own-person.ts';
import { type ServedTestHub, serveTestHub } from '../support/serve-test-hub.ts';

let served: ServedTestHub;
beforeEach(async () => {
  served = await serveTestHub({ hubSoundCount: 1 });
});
afterEach(() => served.close());

async function ask(method: string, path: string, body?: unknown): Promise<{ status: number; text: string }> {
  const response = await fetch(`${served.url}${path}`, {
    method,
    headers: { cookie: ownCookie, ...(body !== undefined && { 'content-type': 'application/json' }) },
    ...(body !== undefined && { body: JSON.stringify(body) }),
  });
  return { status: response.status, text: await response.text() };
}
const json = async (path: string) => JSON.parse((await ask('GET', path)).text);
function second(spo2Percent: number): void {
  served.source.oximetry(spo2Percent);
  served.source.heartRate(60);
  served.clock.advance(1_000);
}

describe('statements', () => {
  test('are added to, and the last of a kind stands; who is erased takes theirs along', async () => {
    const path = '/api/participants/mira/statements';
    expect((await ask('POST', path, { kind: 'consent', isGiven: true, onDay: '2026-05-12' })).status).toBe(
      201,
    );
    expect((await ask('POST', path, { kind: 'consent', isGiven: false, onDay: '2026-05-13' })).status).toBe(
      201,
    );
    expect((await ask('POST', path, { kind: 'consent', isGiven: true, onDay: 'today' })).status).toBe(400);
    const { participants } = await json('/api/participants');
    expect(participants).toMatchObject([
      {
        athleteId: 'mira',
        statements: [
          { isGiven: true, onDay: '2026-05-12' },
          { isGiven: false, onDay: '2026-05-13' },
        ],
      },
    ]);
    const { text } = await ask('GET', '/api/course/file/participants');
    expect(text.split('\n')[1]).toContain('"Mira","consent","yes","2026-05-12"');
    await ask('DELETE', '/api/athletes/mira?recordings=all');
    expect(served.store.listDocuments('participant')).toEqual([]);
  });
});

describe('a drill', () => {
  function withOutput(): (OutputSound | null)[] {
    const sounded: (OutputSound | null)[] = [];
    const outputs = createAlarmOutputs({
      clock: served.clock,
      loudspeaker: () => ({
        name: told('test'),
        test: async () => ({ ok: true }),
        probe: async () => ({ ok: true }),
        sound: (what) => sounded.push(what),
        close: () => undefined,
      }),
      others: [],
    });
    soundAlarms(served.hub, outputs);
    return sounded;
  }

  test('sounds on the outputs as a drill until somebody acknowledges, and keeps who did after how long', async () => {
    const sounded = withOutput();
    expect((await ask('POST', '/api/drills')).status).toBe(201);
    served.clock.advance(7_000);
    expect((await ask('POST', '/api/drills/current/acknowledgements', { name: 'Ines' })).status).toBe(204);
    expect((await ask('POST', '/api/drills/current/acknowledgements', { name: '  ' })).status).toBe(400);
    expect(sounded).toEqual(['drill', null]);
    served.clock.advance(5_000);
    await ask('POST', '/api/drills/current/acknowledgements', { name: 'Ruben' });
    await ask('POST', '/api/drills/current/acknowledgements', { name: 'Ines' });
    expect((await ask('DELETE', '/api/drills/current')).status).toBe(204);
    const { drills } = await json('/api/drills');
    expect(drills).toMatchObject([
      {
        ending: 'ended',
        acknowledgements: [
          { name: 'Ines', afterMs: 7_000 },
          { name: 'Ruben', afterMs: 12_000 },
        ],
      },
    ]);
    const { text } = await ask('GET', '/api/course/file/drills');
    expect(text.split('\n')[2]).toMatch(/,"ended","Ruben","",12$/);
  });

  test('hides no real alarm: one ends it at once, and the outputs sound that', async () => {
    const sounded = withOutput();
    served.hub.startSession(['mira'], '');
    for (let i = 0; i < 5; i += 1) second(98);
    await ask('POST', '/api/drills');
    for (let i = 0; i < 5; i += 1) second(80);
    expect(served.hub.drill.current).toBeNull();
    expect(sounded).toEqual(['drill', null, 'high']);
    expect((await json('/api/drills')).drills[0].ending).toBe('realAlarm');
    // And none begins while it stands.
    expect((await ask('POST', '/api/drills')).status).toBe(400);
    served.hub.acknowledge('mira');
    expect(sounded.at(-1)).toBeNull();
  });

  test('ends where a hold begins, and does not begin in one', async () => {
    served.hub.startSession(['mira'], '');
    for (let i = 0; i < 5; i += 1) second(98);
    await ask('POST', '/api/drills');
    served.hub.addMark({ athleteId: 'mira', kind: 'holdStart', atMs: null, text: null });
    expect(served.hub.drill.current).toBeNull();
    expect((await json('/api/drills')).drills[0].ending).toBe('holdBegan');
    expect((await ask('POST', '/api/drills')).status).toBe(400);
  });

  test('ends by itself, and a second one at a time is refused', async () => {
    await ask('POST', '/api/drills');
    expect((await ask('POST', '/api/drills')).status).toBe(400);
    served.clock.advance(181_000);
    expect((await json('/api/drills')).drills[0].ending).toBe('timeOut');
    expect((await ask('DELETE', '/api/drills/current')).status).toBe(404);
  });
});

describe('the emergency card and the incident log', () => {
  test('a card is kept, and pages hear of it', async () => {
    const card = {
      number: '112',
      address: '4 Harbour Lane',
      oxygenPlace: 'By the door',
      helpers: [{ name: 'Ines', phone: '0100 200' }],
    };
    let changes = 0;
    served.hub.subscribe(({ type }) => {
      if (type === 'courseChanged') changes += 1;
    });
    expect((await ask('PUT', '/api/emergency-card', card)).status).toBe(204);
    expect(changes).toBe(1);
    expect(served.server.feed.course().emergencyCard).toMatchObject(card);
    expect((await json('/api/emergency-card')).card).toMatchObject(card);
  });

  test('an incident is never changed; whoever read it says so once', async () => {
    const written = await ask('POST', '/api/incidents', {
      atWallMs: Date.UTC(2026, 4, 12, 9),
      athleteId: 'mira',
      what: '=SUM(1) dizzy after the third hold',
      done: 'Lay down, oxygen',
      by: 'Ines',
    });
    expect(written.status).toBe(201);
    const { incidentId } = JSON.parse(written.text);
    for (const name of ['Ruben', 'Ruben', 'Ines'])
      expect((await ask('POST', `/api/incidents/${incidentId}/acknowledgements`, { name })).status).toBe(204);
    expect(
      (await json('/api/incidents')).incidents[0].acknowledgements.map((one: { name: string }) => one.name),
    ).toEqual(['Ruben', 'Ines']);
    expect((await ask('POST', '/api/incidents/none/acknowledgements', { name: 'Ines' })).status).toBe(404);
    const { text } = await ask('GET', '/api/course/file/incidents');
    // No spreadsheet takes it for a formula.
    expect(text).toContain('" =SUM(1) dizzy');
    const all = JSON.parse((await ask('GET', '/api/course/file')).text);
    expect(all).toMatchObject({
      simulated: false,
      incidents: [{ what: '=SUM(1) dizzy after the third hold' }],
    });
    expect((await ask('GET', '/api/course/file/secrets')).status).toBe(404);
  });
});
