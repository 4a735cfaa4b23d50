// Who did what is written down, can be read by coaches alone, ends at a size, and forgets somebody who is erased.

import { execFileSync, spawn } from 'node:child_process';
import { appendFileSync, existsSync, mkdtempSync, readFileSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test, vi } from 'vitest';
import type { AuditLog } from '../../../hub/base/ports/audit-log.ts';
import { auditLogIn, auditLogInMemory } from '../../../hub/devices/audit/audit-file.ts';
import { initialSettings } from '../../../hub/live/initial-settings.ts';
import { type AuditEntry, auditBodySchema } from '../../../shared/audit.ts';
import type { Role } from '../../../shared/schema-parts.ts';
import { percent, wallMs } from '../../../shared/units.ts';
import { ownHeaders } from '../../support/own-person.ts';
import { type ServedTestHub, serveTestHub, testLog } from '../../support/serve-test-hub.ts';
import { createTestDevice } from '../../support/test-device.ts';
import { hello } from '../../support/test-page.ts';

let folder: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'slackwater-audit-'));
});
afterEach(() => rmSync(folder, { recursive: true, force: true, maxRetries: 5 }));

const entry = (number: number, more: Partial<AuditEntry> = {}): AuditEntry => ({
  atWallMs: wallMs(number),
  action: 'exported',
  device: null,
  deviceAthleteId: null,
  athleteId: null,
  sessionId: null,
  floorPercent: null,
  ...more,
});

describe.each<[string, () => AuditLog]>([
  ['in a file', () => auditLogIn(folder, testLog)],
  ['in memory', auditLogInMemory],
])('an audit log %s', (_name, open) => {
  test('gives back what was appended, the newest first', async () => {
    const audit = open();
    for (let i = 0; i < 5; i += 1) audit.append(entry(i));
    expect((await audit.newest(3)).map(({ atWallMs }) => atWallMs)).toEqual([4, 3, 2]);
    expect(
      (await audit.wholeText())
        .split('\n')
        .slice(0, -1)
        .map((line) => JSON.parse(line).atWallMs),
    ).toEqual([0, 1, 2, 3, 4]);
    await audit.close();
  });

  test('forgets who is erased, and nobody else', async () => {
    const audit = open();
    const device = { deviceId: 'd', name: 'Mira’s phone', role: 'athlete' } as const;
    audit.append(entry(1, { athleteId: 'mira' }));
    audit.append(entry(2, { athleteId: 'jonas', device, deviceAthleteId: 'mira' }));
    audit.append(entry(3, { athleteId: 'jonas' }));
    await audit.forgetAthlete('mira');
    audit.append(entry(4));
    expect(await audit.wholeText()).not.toMatch(/mira/i);
    expect((await audit.newest(9)).map(({ athleteId }) => athleteId)).toEqual([
      null,
      'jonas',
      'jonas',
      'erased',
    ]);
    await audit.close();
  });
});

describe('the files', () => {
  test('are their person’s alone, and the oldest entries go when two are full', async () => {
    const audit = auditLogIn(folder, testLog, { mostBytes: 1_000 });
    for (let i = 0; i < 40; i += 1) audit.append(entry(i));
    const kept = await audit.newest(100);
    expect(kept[0]?.atWallMs).toBe(39);
    expect(kept.length).toBeGreaterThan(4);
    expect(kept.length).toBeLessThan(20);
    for (const name of ['audit.jsonl', 'audit.1.jsonl']) {
      expect(statSync(join(folder, name)).size).toBeLessThanOrEqual(1_000);
      expect(statSync(join(folder, name)).mode & 0o777).toBe(0o600);
    }
  });

  test('outlast a restart and a line cut off by a crash', async () => {
    const first = auditLogIn(folder, testLog);
    first.append(entry(1));
    await first.close();
    appendFileSync(join(folder, 'audit.jsonl'), '{"atWallMs":2,"act\n');
    const second = auditLogIn(folder, testLog);
    second.append(entry(3));
    expect((await second.newest(9)).map(({ atWallMs }) => atWallMs)).toEqual([3, 1]);
  });

  test('a disk that takes nothing is logged and stops nobody', async () => {
    const errors: string[] = [];
    const audit = auditLogIn('/dev/null/x', { ...testLog, error: (message) => errors.push(message) });
    audit.append(entry(1));
    await audit.close();
    expect(errors).toEqual(['the audit log could not be written']);
  });
});

test.runIf(process.platform !== 'win32')(
  'a disk that does not answer holds up nobody; entries wait within a bound, and what goes beyond is counted',
  async () => {
    // A pipe that nobody reads: opening it to write waits, as a dead disk does.
    const path = join(folder, 'audit.jsonl');
    execFileSync('mkfifo', [path]);
    const errors: string[] = [];
    let fullCount = 0;
    const audit = auditLogIn(
      folder,
      { ...testLog, error: (message) => errors.push(message) },
      { mostWaiting: 5, full: () => (fullCount += 1) },
    );
    audit.append(entry(0));
    // Until the first is with the file system; what follows waits.
    await new Promise((resolve) => setImmediate(resolve));
    for (let i = 1; i <= 20; i += 1) audit.append(entry(i));
    expect(fullCount).toBe(1);
    expect(errors).toHaveLength(1);
    // Open for writing too, so that it does not end where one writer does.
    const read: string[] = [];
    const reader = spawn('sh', ['-c', `exec 3<>'${path}'; exec cat <&3`]);
    reader.stdout.on('data', (data) => read.push(String(data)));
    await vi.waitFor(() => expect(read.join('')).toContain('entriesLost'), { timeout: 10_000 });
    reader.kill();
    const entries = read
      .join('')
      .split('\n')
      .filter((line) => line.startsWith('{') && line.endsWith('}'))
      .map((line) => JSON.parse(line) as AuditEntry);
    const held = entries.filter(({ action }) => action === 'exported').length;
    expect(entries.find(({ action }) => action === 'entriesLost')?.count).toBe(21 - held);
  },
);

describe('at the hub', () => {
  let served: ServedTestHub;
  beforeEach(async () => {
    served = await serveTestHub({ lanIn: folder });
  });
  afterEach(() => served.close());
  const own = (method: 'GET' | 'POST' | 'PUT' | 'DELETE', url: string, payload?: object) =>
    served.server.app.inject({ method, url, headers: ownHeaders, ...(payload && { payload }) });
  const entries = async () => auditBodySchema.parse((await own('GET', '/api/audit')).json()).entries;
  async function joinAs(role: Role, athleteId: string | null = null) {
    const made = await own('POST', '/api/join-codes', { role, athleteId });
    const device = createTestDevice(served.lanUrl);
    await device.join(made.json().code, `${role} tablet`);
    return device;
  }

  test('joins, settings, acknowledgements, exports, deletions and erasures are in it, by whom', async () => {
    const tablet = await joinAs('coach');
    const page = tablet.openPage();
    page.send(hello);
    await page.until('welcome');
    page.send({
      type: 'changeSettings',
      requestId: 's',
      athleteId: 'mira',
      settings: { ...initialSettings, floorSpo2Percent: percent(91) },
    });
    await page.until('done', (m) => m.requestId === 's');
    const started = served.hub.startSession(['mira'], '');
    if (!started.ok) throw new Error('refused');
    page.send({ type: 'acknowledgeAlarms', requestId: 'a', athleteId: 'mira', alarmIds: ['none'] });
    await page.until('done', (m) => m.requestId === 'a');
    served.hub.endSession();
    const { sessionId } = started.value;
    expect((await tablet.ask('GET', `/api/sessions/${sessionId}/csv`)).status).toBe(200);
    expect((await tablet.ask('GET', '/api/sessions/none/csv')).status).toBe(404);
    expect((await own('DELETE', `/api/sessions/${sessionId}`)).statusCode).toBe(200);
    page.close();
    const told = await entries();
    expect(told.map(({ action }) => action)).toEqual([
      'recordingDeleted',
      'exported',
      'alarmsAcknowledged',
      'settingsChanged',
      'joined',
      'codeMade',
    ]);
    expect(told[0]).toMatchObject({ device: null, sessionId });
    expect(told[1]).toMatchObject({ device: { name: 'coach tablet', role: 'coach' }, sessionId });
    expect(told[3]).toMatchObject({ athleteId: 'mira', floorPercent: { before: 88, after: 91 } });
  });

  test('somebody erased is in no file of it any more, nor is their device’s name', async () => {
    await joinAs('athlete', 'mira');
    expect((await own('PUT', '/api/athletes/mira', { name: 'Mira' })).statusCode).toBe(200);
    await entries();
    expect(readFileSync(join(folder, 'audit.jsonl'), 'utf8')).toContain('mira');
    expect((await own('DELETE', '/api/athletes/mira?recordings=all')).statusCode).toBe(204);
    const told = await entries();
    expect(told[0]).toMatchObject({ action: 'athleteErased', athleteId: 'erased' });
    const text = readFileSync(join(folder, 'audit.jsonl'), 'utf8');
    expect(text).not.toMatch(/mira|athlete tablet/);
    expect(existsSync(join(folder, 'audit.1.jsonl'))).toBe(false);
  });

  test('wrong and used codes are in it, by where from and how often; old links too', async () => {
    const made = await own('POST', '/api/join-codes', { role: 'coach', athleteId: null });
    const { code } = made.json();
    await createTestDevice(served.lanUrl).join(code, 'Tablet');
    const stranger = createTestDevice(served.lanUrl);
    for (const wrong of [code, '222222', '333333'])
      expect((await stranger.join(wrong, 'Nobody')).status).toBe(403);
    const refused = async () => (await entries()).filter(({ action }) => action === 'joinRefused');
    // The first at once, those that follow once a minute, as one.
    expect(await refused()).toMatchObject([{ address: '127.0.0.1', count: 1, device: null }]);
    served.clock.advance(60_000);
    expect((await refused()).map(({ count }) => count)).toEqual([2, 1]);
    const link = await own('POST', '/api/own-person', { code: 'x'.repeat(22) });
    expect(link.statusCode).toBe(403);
    expect((await entries())[0]).toMatchObject({ action: 'ownPersonRefused', count: 1 });
  });

  test('is for coaches alone, and taking it away is in it too', async () => {
    const athlete = await joinAs('athlete', 'mira');
    for (const path of ['/api/audit', '/api/audit/file'])
      expect((await athlete.ask('GET', path)).status).toBe(403);
    const file = await own('GET', '/api/audit/file');
    expect(file.headers['content-disposition']).toContain('slackwater-audit.jsonl');
    expect(
      file.body
        .trimEnd()
        .split('\n')
        .map((line) => JSON.parse(line).action),
    ).toEqual(['codeMade', 'joined']);
    expect((await entries())[0]).toMatchObject({ action: 'auditExported' });
  });
});
