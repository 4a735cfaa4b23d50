// One bad record in a list is set aside and said; the rest is shown.

import { expect, test } from 'vitest';
import * as z from 'zod/mini';
import { initialSettings } from '../../hub/live/initial-settings.ts';
import { athletesBodySchema } from '../../shared/http.ts';
import { HubConnection } from '../../web/connection/hub-connection.ts';
import { HubHttp } from '../../web/connection/hub-http.ts';
import { readSettingAside } from '../../web/connection/set-aside.ts';

const athlete = (athleteId: string, name: unknown = athleteId) => ({
  athleteId,
  name,
  simulated: false,
  settings: initialSettings,
});

test('an athlete whose record is damaged is not listed, the others are, and it is said', async () => {
  const aside: string[] = [];
  const body = { athletes: [athlete('mira'), athlete('jonas', 7), athlete('ines')] };
  const http = new HubHttp(
    async () => new Response(JSON.stringify(body)),
    ({ code }) => code,
    { setAside: (records) => aside.push(...records) },
  );
  const answer = await http.athletes();
  expect(answer.ok && answer.value.athletes.map(({ athleteId }) => athleteId)).toEqual(['mira', 'ines']);
  expect(aside).toEqual(['athletes.1.name']);
});

test.each(['', ' ', '\u202e', '\ud800', 'x'.repeat(10_000)])(
  'whatever a name is, it disables no list: %j',
  (name) => {
    expect(athletesBodySchema.safeParse({ athletes: [athlete('mira', name)] }).success).toBe(true);
  },
);

test('more than bad records is refused whole', () => {
  const schema = z.object({ list: z.array(z.object({ a: z.number() })), count: z.number() });
  expect(readSettingAside(schema, { list: [{ a: 1 }, { a: 'x' }, null], count: 1 })).toEqual({
    value: { list: [{ a: 1 }], count: 1 },
    setAside: ['list.1.a', 'list.2'],
  });
  expect(readSettingAside(schema, { list: [], count: 'x' })).toBeUndefined();
  expect(readSettingAside(schema, { list: 'x', count: 1 })).toBeUndefined();
  expect(readSettingAside(schema, null)).toBeUndefined();
  expect(readSettingAside(schema, { list: [{ a: 'x' }], count: 1 }, () => false)).toBeUndefined();
});

test('of a message the sensors may miss one, an alarm may not', () => {
  const malformed: string[] = [];
  const heard: string[] = [];
  let receive: (text: string) => void = () => undefined;
  const connection = new HubConnection({
    openSocket: (listener) => {
      receive = (text) => listener.received(text);
      return { send: () => undefined, close: () => undefined };
    },
    timers: { nowMs: () => 0, every: () => () => undefined, after: () => () => undefined } as never,
    random: () => 0,
    resume: () => null,
    pageState: () => ({ visible: true, soundReady: true, presented: [], sounding: null }),
    onMessage: ({ type }) => heard.push(type),
    onMalformed: (reason) => malformed.push(reason),
    onLink: () => undefined,
  });
  connection.start();
  receive(
    JSON.stringify({ type: 'sensors', whole: true, sensors: [{ sensorId: 5 }], gone: [], notices: [] }),
  );
  receive(JSON.stringify({ type: 'alarms', athleteId: 'mira', atMs: 1, alarms: [{}], sound: {} }));
  expect(malformed[0]).toMatch(/^sensors\.0/);
  expect(malformed[1]).toMatch(/^alarms: /);
  expect(heard).toEqual([]);
  connection.stop();
});
