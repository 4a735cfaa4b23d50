// Who may do what, really asked: every route the server has and every message a page can send, by every role. The table
// is kept in hub/server/ROLES.md; a route or message that is new, or answers somebody differently, changes it.

import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { initialSettings } from '../../../hub/live/initial-settings.ts';
import { openStoreInMemory } from '../../../hub/recorder/sqlite-store.ts';
import { saveAgreement } from '../../../hub/recordings/sharing.ts';
import { ruleOfRoute } from '../../../hub/server/route.ts';
import type { UpMessage } from '../../../shared/messages/up.ts';
import type { DeviceRole } from '../../../shared/schema-parts.ts';
import { percent } from '../../../shared/units.ts';
import { makeIntervalSeries } from '../../../src/plans/generate-plan.ts';
import { ownCookie } from '../../support/own-person.ts';
import { type ServedTestHub, serveTestHub } from '../../support/serve-test-hub.ts';
import { hello, openTestPage } from '../../support/test-page.ts';

let directory: string;
beforeAll(() => {
  directory = mkdtempSync(join(tmpdir(), 'slackwater-roles-'));
});
afterAll(() => rmSync(directory, { recursive: true, force: true, maxRetries: 5 }));

type Person = 'ownPerson' | DeviceRole | 'otherUser' | 'stranger';
type Subject = 'mira' | 'jonas';
/** An athlete's device is Mira's; what is of Jonas is another's. */
const columns: readonly (readonly [string, Person, Subject])[] = [
  ['own person', 'ownPerson', 'mira'],
  ['coach', 'coach', 'mira'],
  ['athlete', 'athlete', 'mira'],
  ['athlete, of another', 'athlete', 'jonas'],
  ['onlooker', 'onlooker', 'mira'],
  ['radio', 'radio', 'mira'],
  ['other user here', 'otherUser', 'mira'],
  ['stranger', 'stranger', 'mira'],
];

type ServedBoth = ServedTestHub & { readonly sessions: Record<Subject, string> };

/** Mira and Jonas, a recording of each, and a session of whom it is about where one has to run. */
async function serveBoth(running: Subject | null): Promise<ServedBoth> {
  rmSync(join(directory, 'devices.json'), { force: true });
  const store = openStoreInMemory();
  store.saveAthlete({ athleteId: 'jonas', name: 'Jonas', simulated: false, settings: initialSettings });
  // Else nobody may see two side by side, and the table would not tell who may.
  for (const athleteId of ['mira', 'jonas']) saveAgreement(store, athleteId, true);
  const served = await serveTestHub({ lanIn: directory, store });
  const start = (athleteId: Subject): string => {
    const started = served.hub.startSession([athleteId], '');
    if (!started.ok) throw new Error(started.reason.said.code);
    return started.value.sessionId;
  };
  const record = (athleteId: Subject): string => {
    const sessionId = start(athleteId);
    served.clock.advance(2_000);
    served.hub.endSession();
    return sessionId;
  };
  const sessions = { mira: record('mira'), jonas: record('jonas') };
  if (running !== null) start(running);
  return { ...served, sessions };
}

/** The cookie of this person's browser, and where it asks from. */
async function cookieOf(served: ServedTestHub, person: Person): Promise<string | undefined> {
  if (person === 'ownPerson') return ownCookie;
  if (person === 'otherUser' || person === 'stranger') return undefined;
  const made = served.devices.makeCode(person, person === 'athlete' ? 'mira' : null);
  if (!made.ok) throw new Error(made.reason.said.code);
  const joined = await served.devices.join({
    code: made.value.code,
    deviceName: person,
    address: '192.0.2.9',
    asRadio: person === 'radio',
  });
  if (!joined.ok) throw new Error(joined.reason.said.code);
  return `__Host-slackwater=${joined.value.token}`;
}
const isHere = (person: Person): boolean => person === 'ownPerson' || person === 'otherUser';

/** Bodies where who may ask depends on them. */
const bodies: Readonly<Record<string, (subject: Subject) => object>> = {
  'POST /api/athletes': () => ({ name: 'Ines' }),
  'PUT /api/athletes/:athleteId': () => ({ name: 'Mi' }),
  'POST /api/join-codes': () => ({ role: 'onlooker' }),
  'POST /api/plan-runs': (subject) => ({
    plan: makeIntervalSeries(),
    options: {
      athletes: [{ athleteId: subject, offsetMs: 0 }],
      oneAtATime: false,
      assumeFromCues: false,
      acceptedWarnings: ['previewCrossesFloor'],
    },
    longestHoldMs: null,
  }),
  'POST /api/plan-runs/current/events': (subject) => ({
    event: { atMs: 0, type: 'contraction', athleteId: subject },
  }),
};

async function statusOf(
  served: ServedBoth,
  [method, path]: readonly [string, string],
  person: Person,
  subject: Subject,
): Promise<number> {
  const cookie = await cookieOf(served, person);
  const url = path
    .replace(':otherAthleteId', subject === 'mira' ? 'jonas' : 'mira')
    .replace(':athleteId', subject)
    .replace(':sessionId', served.sessions[subject])
    .replaceAll(/:[a-zA-Z]+/g, 'none');
  const body = bodies[`${method} ${path}`]?.(subject);
  const answer = await served.server.app.inject({
    method: method as 'GET',
    url:
      path.includes('/sessions/:sessionId/') && !path.includes(':athleteId')
        ? `${url}?athleteId=${subject}`
        : url,
    ...(!isHere(person) && { remoteAddress: '192.0.2.9' }),
    headers: { host: isHere(person) ? 'localhost' : '192.0.2.1', ...(cookie !== undefined && { cookie }) },
    ...(body !== undefined && { payload: body }),
  });
  return answer.statusCode;
}

/** So many devices join one hub before the next is begun: an address may join and ask only so often. */
const asksOfOneHub = 8;

/** Hubs to ask: what was only read or refused leaves a hub as it was, and the next asks the same one; after a change a new one. */
function hubsForAsking() {
  let served: ServedBoth | undefined;
  let asked = 0;
  const close = async (): Promise<void> => {
    await served?.close();
    served = undefined;
    asked = 0;
  };
  return {
    close,
    async ask(question: (served: ServedBoth) => Promise<number>, method: string): Promise<number> {
      served ??= await serveBoth(null);
      const status = await question(served);
      asked += 1;
      const mayHaveChanged = method !== 'GET' && status < 400;
      if (mayHaveChanged || asked === asksOfOneHub) await close();
      return status;
    },
  };
}

/** Of every kind of message one that could be carried out, and whether a session has to run for it. */
const messages: Readonly<
  Record<UpMessage['type'], (subject: Subject) => { message: UpMessage; runs: boolean }>
> = {
  hello: () => ({ message: hello, runs: false }),
  pageState: () => ({
    message: { type: 'pageState', visible: true, soundReady: true, presented: [], sounding: null },
    runs: false,
  }),
  startSession: (subject) => ({
    message: { type: 'startSession', requestId: 'r', athleteIds: [subject], title: '' },
    runs: false,
  }),
  endSession: () => ({ message: { type: 'endSession', requestId: 'r' }, runs: true }),
  addMark: (athleteId) => ({
    message: { type: 'addMark', requestId: 'r', athleteId, kind: 'contraction', atMs: null, text: null },
    runs: true,
  }),
  removeMark: () => ({ message: { type: 'removeMark', requestId: 'r', markId: 'none' }, runs: true }),
  rateHold: (athleteId) => ({
    message: {
      type: 'rateHold',
      requestId: 'r',
      athleteId,
      holdId: 'none',
      feeling: { comfort: 3, note: null },
    },
    runs: true,
  }),
  acknowledgeAlarms: (athleteId) => ({
    message: { type: 'acknowledgeAlarms', requestId: 'r', athleteId, alarmIds: ['none'] },
    runs: true,
  }),
  acknowledgeSupervision: () => ({
    message: { type: 'acknowledgeSupervision', requestId: 'r', alarmIds: ['none'] },
    runs: false,
  }),
  takeCues: () => ({
    message: { type: 'takeCues', requestId: 'r', speakerId: 'tab-1', takes: true },
    runs: false,
  }),
  pauseAudio: (athleteId) => ({
    message: { type: 'pauseAudio', requestId: 'r', athleteId, paused: true },
    runs: true,
  }),
  changeSettings: (athleteId) => ({
    message: {
      type: 'changeSettings',
      requestId: 'r',
      athleteId,
      settings: { ...initialSettings, floorSpo2Percent: percent(90) },
    },
    runs: false,
  }),
};

/** What a page of this person hears in answer. */
async function answerTo(type: UpMessage['type'], person: Person, subject: Subject): Promise<string> {
  const { message, runs } = messages[type](subject);
  const served = await serveBoth(runs ? subject : null);
  if (message.type === 'removeMark') {
    const added = served.hub.addMark({ athleteId: subject, kind: 'contraction', atMs: null, text: null });
    if (added.ok) message.markId = added.value.markId;
  }
  try {
    const cookie = (await cookieOf(served, person)) ?? 'none=1';
    const page = openTestPage(isHere(person) ? served.url : served.lanUrl, { cookie });
    page.send(hello);
    try {
      await page.until('welcome');
    } catch {
      return `closed ${await page.closed}`;
    }
    if (type === 'hello') return 'welcome';
    page.send(message);
    // Answered in order: when this one is refused, the message before it has been taken.
    page.send({ type: 'removeMark', requestId: 'after', markId: 'nothing' });
    await page.until('refused', (m) => m.requestId === 'after');
    const refused = page.received.find((m) => m.type === 'refused' && m.requestId !== 'after');
    page.close();
    if (refused?.type === 'refused') return refused.code;
    return page.received.some((m) => m.type === 'done' && m.requestId === 'r') ? 'done' : 'noted';
  } finally {
    await served.close();
  }
}

/** Rows as the formatter sets them: every column as wide as its widest cell. */
function table(rows: readonly (readonly (string | number)[])[]): string[] {
  const widths = rows[0]!.map((_cell, column) => Math.max(...rows.map((row) => String(row[column]).length)));
  const line = (cells: readonly (string | number)[]): string =>
    `| ${cells.map((cell, column) => String(cell).padEnd(widths[column]!)).join(' | ')} |`;
  const [head, ...rest] = rows;
  return [line(head!), `| ${widths.map((width) => '-'.repeat(width)).join(' | ')} |`, ...rest.map(line)];
}
const head = (first: string): string[] => [first, 'rule', ...columns.map(([name]) => name)];

test('a route that says not who may use it keeps the hub from starting', () => {
  expect(() => ruleOfRoute('GET', '/api/secrets', undefined)).toThrow('config.access');
  expect(ruleOfRoute('GET', '/assets/*', undefined).access).toBe('anyone');
});

test('every route and every message answers every role as the table says', { timeout: 480_000 }, async () => {
  const first = await serveBoth(null);
  const rules = first.server.routes.filter(
    ({ method, path }) => method !== 'HEAD' && path.startsWith('/api'),
  );
  await first.close();
  expect(rules.length).toBeGreaterThan(40);
  const lines = [
    '# Who may do what',
    '',
    'Written by tests/hub/join/role-matrix.test.ts, which really asks each of them. 401 and 403 are refusals of who asks;',
    'every other status means that they were let in (400, 404, 409 for want of a body or of the thing named). "athlete" asks',
    'of their own, "athlete, of another" of what is another athlete’s. "other user here" has an account on the hub’s machine',
    'but not the link. A session is recorded only for the messages that need one. Both athletes have agreed to be shown beside',
    'others; where one has not, `beside` is 403 for everybody (tests/hub/history-routes.test.ts).',
    '"radio" shows the key of a joined radio, which opens its own socket (/radio) and nothing else.',
    '',
  ];
  const routeRows: (string | number)[][] = [head('route')];
  const hubs = hubsForAsking();
  for (const { method, path, access } of rules.toSorted((one, other) =>
    `${one.path} ${one.method}` < `${other.path} ${other.method}` ? -1 : 1,
  )) {
    const statuses: number[] = [];
    for (const [, person, subject] of columns)
      statuses.push(await hubs.ask((served) => statusOf(served, [method, path], person, subject), method));
    routeRows.push([`${method} ${path}`, access, ...statuses]);
  }
  await hubs.close();
  const messageRows = [head('message').toSpliced(1, 1)];
  // The compiler has one of every type in `messages`.
  const types = Object.keys(messages) as UpMessage['type'][];
  for (const type of types.toSorted()) {
    const answers: string[] = [];
    for (const [, person, subject] of columns) answers.push(await answerTo(type, person, subject));
    messageRows.push([type, ...answers]);
  }
  lines.push(...table(routeRows), '', ...table(messageRows));
  await expect(`${lines.join('\n')}\n`).toMatchFileSnapshot('../../../hub/server/ROLES.md');
});
