// A real hub whose disk is full, failing or stuck in the middle of a session: what it says, that it goes on, and that nothing
// it called saved is lost. The faults come from a library put before the C library (tests/support/disk-fault.c).

import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test, vi } from 'vitest';
import { initialSettings } from '../../hub/live/initial-settings.ts';
import { openSqliteStore } from '../../hub/recorder/sqlite-store.ts';
import { errorBodySchema, savedBodySchema } from '../../shared/http.ts';
import type { DownMessage } from '../../shared/messages/down.ts';
import { notSavedYetCode } from '../../shared/said.ts';
import { canFaultDisk, diskFaultEnvironment } from '../support/disk-fault.ts';
import { buildHub, type HubProcess, startHub } from '../support/hub-process.ts';
import { fetchAsOwn } from '../support/own-person.ts';
import { hello, openTestPage, type TestPage } from '../support/test-page.ts';

vi.setConfig({ testTimeout: 120_000, hookTimeout: 60_000 });
if (!canFaultDisk) process.stderr.write('SKIPPED: disk faults need Linux and gcc\n');

let folder = '';
beforeAll(() => {
  buildHub();
  folder = mkdtempSync(join(tmpdir(), 'slackwater-disk-'));
});
afterAll(() => rmSync(folder, { recursive: true, force: true, maxRetries: 5 }));

type Sensors = Extract<DownMessage, { type: 'sensors' }>;
const saysNotSaved = ({ notices }: Sensors): boolean =>
  notices.some(({ code }) => code === 'notice.notSaved');

interface Running {
  readonly hub: HubProcess;
  readonly page: TestPage;
  readonly data: string;
  /** "slow MS", "eio", "enospc", "erofs", or empty for a good disk. */
  readonly disk: (how: string) => void;
}

/** A hub with a session called "Faulty" running for a moment. */
async function running(name: string, limits: { fileBlocks?: number } = {}): Promise<Running> {
  const data = join(folder, name);
  const control = join(folder, `${name}-control`);
  writeFileSync(control, '');
  const hub = await startHub(
    ['demo', '--port', '0', '--data', data],
    limits.fileBlocks === undefined ? diskFaultEnvironment({ folder: `${data}-demo`, control }) : {},
    limits,
  );
  const page = openTestPage(hub.url.replace(/\/$/, ''));
  page.send(hello);
  page.send({ type: 'startSession', requestId: 's', athleteIds: ['simulated-1'], title: 'Faulty' });
  await page.until('done', ({ requestId }) => requestId === 's');
  return { hub, page, data: `${data}-demo`, disk: (how) => writeFileSync(control, how) };
}

const mark = (page: TestPage, requestId: string): void =>
  page.send({
    type: 'addMark',
    requestId,
    athleteId: 'simulated-1',
    kind: 'note',
    atMs: null,
    text: requestId,
  });

const lastTrace = (page: TestPage): number =>
  Math.max(0, ...page.received.map((message) => (message.type === 'trace' ? message.toMs : 0)));

/** The texts of the marks in the archive that a hub left. */
function marksIn(data: string): { readonly texts: (string | null)[]; readonly status: string } {
  const store = openSqliteStore({ directory: data, lockWaitMs: 20_000 });
  try {
    const { sessionId, status } = store.listSessions()[0]!.session;
    return { texts: store.readSession(sessionId)!.marks.map((each) => each.mark.text), status };
  } finally {
    store.close();
  }
}

describe.runIf(canFaultDisk)('a disk that', () => {
  test.each([
    ['enospc', 'data.full'],
    ['eio', 'data.failed'],
    // As after a remount in the middle of a session.
    ['erofs', 'data.readOnly'],
  ])(
    'fails with %s: the page is told what is not saved, and all of it is once it works',
    async (how, reason) => {
      const { hub, page, data, disk } = await running(how);
      mark(page, 'before');
      await page.until('done', ({ requestId }) => requestId === 'before');
      disk(how);
      const told = await page.until('sensors', saysNotSaved);
      const notice = told.notices.find(({ code }) => code === 'notice.notSaved')!;
      expect(notice.params).toMatchObject({ session: 'Faulty', lost: 0 });
      expect(notice.params['since']).toMatch(/^\d\d:\d\d:\d\d$/);
      expect(notice.params['reason']).toMatchObject({ code: reason });
      // A mark is in force and on the page, but it is not called saved.
      mark(page, 'during');
      const refused = await page.until('refused', ({ requestId }) => requestId === 'during');
      expect(refused).toMatchObject({ code: 'recorderFailed', said: { code: 'refusal.notSavedYet' } });
      await page.until('marked', (each) => each.mark.text === 'during');
      // Alarms and traces do not wait.
      const before = lastTrace(page);
      await page.until('trace', ({ toMs }) => toMs > before + 1_000);
      disk('');
      await page.until('sensors', ({ notices }) =>
        notices.some(({ code }) => code === 'notice.recordingAgain'),
      );
      mark(page, 'after');
      await page.until('done', ({ requestId }) => requestId === 'after');
      page.close();
      await hub.kill();
      expect(marksIn(data)).toEqual({ texts: ['before', 'during', 'after'], status: 'interrupted' });
    },
  );

  test.each(['enospc', 'eio', 'erofs'])(
    'fails with %s keeps no alarm back, and what is changed meanwhile is in force',
    async (how) => {
      const { hub, page, data, disk } = await running(`alarms-${how}`);
      disk(how);
      await page.until('sensors', saysNotSaved);
      // Below a resting heart rate: an alarm of the session, soon.
      const settings = { ...initialSettings, heartRateHighBpm: 60 };
      page.send({ type: 'changeSettings', requestId: 'limit', athleteId: 'simulated-1', settings });
      const told = await page.until('alarms', ({ alarms }) =>
        alarms.some(({ kind }) => kind === 'heartRateHigh'),
      );
      expect(told.sound.priority).not.toBeNull();
      expect((await page.until('refused', ({ requestId }) => requestId === 'limit')).said.code).toBe(
        'refusal.notSavedYet',
      );
      // To put it aside waits for no disk.
      const alarmIds = told.alarms.map(({ alarmId }) => alarmId);
      page.send({ type: 'acknowledgeAlarms', requestId: 'seen', athleteId: 'simulated-1', alarmIds });
      await page.until('done', ({ requestId }) => requestId === 'seen');
      const watching = page.received.findLast((message) => message.type === 'supervision');
      if (watching?.type !== 'supervision') throw new Error('not told that recording fails');
      page.send({
        type: 'acknowledgeSupervision',
        requestId: 'watching',
        alarmIds: watching.alarms.map(({ alarmId }) => alarmId),
      });
      await page.until('done', ({ requestId }) => requestId === 'watching');
      disk('');
      mark(page, 'after');
      await page.until('done', ({ requestId }) => requestId === 'after');
      page.close();
      await hub.kill();
      const store = openSqliteStore({ directory: data, lockWaitMs: 20_000 });
      const { sessionId } = store.listSessions()[0]!.session;
      const { alarms } = store.readSession(sessionId)!;
      store.close();
      expect(alarms.map(({ alarm }) => alarm.kind)).toContain('heartRateHigh');
    },
  );

  test('fails: what HTTP changes stands, is answered with what it would have been, and is told when it is saved', async () => {
    const { hub, page, disk } = await running('http');
    const url = hub.url.replace(/\/$/, '');
    const ask = (method: string, path: string, body?: object) =>
      fetchAsOwn(`${url}${path}`, {
        method,
        headers: { origin: url, ...(body && { 'content-type': 'application/json' }) },
        ...(body && { body: JSON.stringify(body) }),
      });
    const saved = async () => savedBodySchema.parse(await (await ask('GET', '/api/saved')).json());
    const before = await saved();
    expect(before.saved).toBe(true);
    disk('enospc');
    await page.until('sensors', saysNotSaved);
    const added = await ask('POST', '/api/athletes', { name: 'Ines' });
    expect(added.status).toBe(507);
    const body = errorBodySchema.parse(await added.json());
    expect(body.said.code).toBe(notSavedYetCode);
    expect(body.answer).toMatchObject({ name: 'Ines' });
    // What the recorder has no part in does not wait for it.
    expect((await ask('POST', '/api/notices/read')).status).toBe(204);
    expect(await saved()).toEqual({ ...before, saved: false });
    disk('');
    await vi.waitFor(async () => expect(await saved()).toEqual(before), { timeout: 30_000, interval: 100 });
    page.close();
    await hub.kill();
  });

  test('fails when the session ends: its end is not called saved, and is written when the disk works', async () => {
    const { hub, page, data, disk } = await running('ending');
    disk('enospc');
    await page.until('sensors', saysNotSaved);
    page.send({ type: 'endSession', requestId: 'end' });
    const refused = await page.until('refused', ({ requestId }) => requestId === 'end');
    expect(refused.said.code).toBe('refusal.notSavedYet');
    // Nothing new begins that could not be read later.
    page.send({ type: 'startSession', requestId: 'next', athleteIds: ['simulated-1'], title: 'Next' });
    expect((await page.until('refused', ({ requestId }) => requestId === 'next')).code).toBe(
      'recorderFailed',
    );
    disk('');
    await page.until('sensors', ({ notices }) =>
      notices.some(({ code }) => code === 'notice.recordingAgain'),
    );
    page.close();
    expect(await hub.stop('SIGTERM')).toBe(0);
    expect(marksIn(data)).toEqual({ texts: [], status: 'ended' });
  });

  test('stays full while the hub ends: it says what is lost', async () => {
    const { hub, page, disk } = await running('lost');
    disk('enospc');
    await page.until('sensors', saysNotSaved);
    page.close();
    expect(await hub.stop('SIGTERM')).toBe(2);
    expect(hub.output()).toMatch(/could not be closed in order; [1-9]\d* packets held in memory are lost/);
  });

  test('takes four seconds for each sync: the page is told, traces go on, marks are confirmed late but truly', async () => {
    const { hub, page, data, disk } = await running('slow');
    disk('slow 4000');
    mark(page, 'slowly');
    const before = lastTrace(page);
    await page.until('trace', ({ toMs }) => toMs > before + 1_500);
    expect(page.received.some((message) => message.type === 'done' && message.requestId === 'slowly')).toBe(
      false,
    );
    const told = await page.until('sensors', saysNotSaved);
    expect(JSON.stringify(told.notices)).toContain('notice.diskSilent');
    await page.until('done', ({ requestId }) => requestId === 'slowly');
    page.close();
    await hub.kill();
    expect(marksIn(data).texts).toEqual(['slowly']);
  });
});

test.runIf(process.platform === 'linux')(
  'a file that may not grow is told like a disk that fails',
  async () => {
    const { hub, page, data } = await running('limited', { fileBlocks: 600 });
    const told = await page.until('sensors', saysNotSaved);
    expect(told.notices.find(({ code }) => code === 'notice.notSaved')!.params).toMatchObject({
      session: 'Faulty',
    });
    page.close();
    await hub.kill();
    expect(marksIn(data).status).toBe('interrupted');
  },
);
