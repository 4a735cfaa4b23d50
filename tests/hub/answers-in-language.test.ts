// What the hub words itself over HTTP is in its reader's language: refusals, notices, the page before its program runs,
// a plan in the calendar. Programs that ask for no language read English.

import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { errorBodySchema } from '../../shared/http.ts';
import { said } from '../../shared/said.ts';
import { sayInEnglish } from '../../shared/words/say.ts';
import { ownHeaders } from '../support/own-person.ts';
import { sayInGerman } from '../support/say-in-german.ts';
import { type ServedTestHub, serveTestHub } from '../support/serve-test-hub.ts';
import { plansOfEveryKind } from '../support/usual-plans.ts';

let served: ServedTestHub;
let folder: string;
beforeEach(async () => {
  folder = mkdtempSync(join(tmpdir(), 'language-'));
  writeFileSync(
    join(folder, 'index.html'),
    '<!doctype html><html lang="en" data-theme="dark"><noscript>x</noscript></html>',
  );
  served = await serveTestHub({ webDirectory: folder });
});
afterEach(async () => {
  await served.close();
  rmSync(folder, { recursive: true });
});

const ask = (path: string, language?: string) =>
  served.server.app.inject({
    method: 'GET',
    url: path,
    headers: {
      ...ownHeaders,
      host: `127.0.0.1:${served.server.port}`,
      ...(language !== undefined && { 'accept-language': language }),
    },
  });

test('a refusal: its message in the language asked for, its code in none', async () => {
  const nothing = said('refusal.nothingHere');
  const english = await ask('/api/none');
  expect(errorBodySchema.parse(english.json())).toMatchObject({
    message: sayInEnglish(nothing),
    said: nothing,
  });
  const german = await ask('/api/none', 'en;q=0.4,de-AT;q=0.9');
  expect(errorBodySchema.parse(german.json())).toMatchObject({
    message: sayInGerman(nothing),
    said: nothing,
  });
  expect(german.headers).toMatchObject({
    'content-language': 'de',
    vary: expect.stringMatching(/accept-language/i),
  });
});

test('notices of the health answer', async () => {
  served.hub.notices.add(said('notice.recordingAgain'));
  expect((await ask('/api/health')).json().notices).toEqual([sayInEnglish(said('notice.recordingAgain'))]);
  expect((await ask('/api/health', 'de')).json().notices).toEqual([
    sayInGerman(said('notice.recordingAgain')),
  ]);
});

test.each(['/', '/recordings/x'])('the page at %s, before its program has chosen', async (path) => {
  const german = await ask(path, 'de');
  expect(german.headers['content-type']).toBe('text/html; charset=utf-8');
  expect(german.headers['cache-control']).toBe('no-cache');
  expect(german.body).toContain('<html lang="de" data-theme="dark">');
  expect(german.body).toContain(`<noscript>${sayInGerman(said('page.needsScript'))}</noscript>`);
  expect((await ask(path)).body).toContain(`<noscript>${sayInEnglish(said('page.needsScript'))}</noscript>`);
});

test('a plan in the calendar, where an address that names a language comes first', async () => {
  const [plan] = plansOfEveryKind();
  served.store.saveDocument({
    kind: 'plan',
    documentId: 'p1',
    groupId: null,
    athleteId: null,
    body: { plan },
  });
  const plain = (text: string) => text.replaceAll('\r\n ', '').replaceAll(/\\([\\;,])/g, '$1');
  const path = '/api/plans/p1/calendar?startsWallAtMs=1800000000000';
  const caution = said('calendar.caution');
  expect(plain((await ask(path)).body)).toContain(sayInEnglish(caution));
  expect(plain((await ask(path, 'de')).body)).toContain(sayInGerman(caution));
  expect(plain((await ask(`${path}&language=en`, 'de')).body)).toContain(sayInEnglish(caution));
});
