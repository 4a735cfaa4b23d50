// What a hub says of its school, to people and to a program that watches over its computer.

import { afterEach, expect, test } from 'vitest';
import { said } from '../../../shared/said.ts';
import { type SchoolLinkBody, schoolLinkBodySchema } from '../../../shared/school/pages.ts';
import { wallMs } from '../../../shared/units.ts';
import { fetchAsOwn } from '../../support/own-person.ts';
import { serveTestHub } from '../../support/serve-test-hub.ts';

const open: { close(): Promise<void> }[] = [];
afterEach(async () => {
  for (const each of open.splice(0)) await each.close();
});

const well: NonNullable<SchoolLinkBody['school']> = {
  schoolName: 'harbour',
  hub: 'quay',
  link: 'connected',
  fault: null,
  setAside: [],
  notices: [],
  waitingCount: 0,
  keptAtWallMs: null,
  sentSegmentCount: 3,
  isCaughtUp: true,
};

async function serve(link?: () => SchoolLinkBody['school']) {
  const hub = await serveTestHub(link === undefined ? {} : { schoolLink: link });
  open.push(hub);
  const metrics = async (): Promise<string[]> =>
    (await (await fetch(`${hub.url}/metrics`)).text())
      .split('\n')
      .filter((line) => line.startsWith('slackwater_school'));
  const told = async () =>
    schoolLinkBodySchema.parse(await (await fetchAsOwn(`${hub.url}/api/school-link`)).json());
  return { hub, metrics, told };
}

test('a hub without a school says so, and its figures stay at nothing', async () => {
  const { metrics, told } = await serve();
  expect(await told()).toEqual({ school: null });
  expect(await metrics()).toEqual([
    'slackwater_school_not_sending_seconds 0',
    'slackwater_school_set_aside 0',
    'slackwater_school_waiting_recordings 0',
  ]);
});

test('what does not reach the school: which, since when and why', async () => {
  let school = well;
  const { hub, metrics, told } = await serve(() => school);
  expect(await metrics()).toEqual([
    'slackwater_school_link{link="connected"} 1',
    'slackwater_school_not_sending_seconds 0',
    'slackwater_school_set_aside 0',
    'slackwater_school_waiting_recordings 0',
  ]);
  school = {
    ...well,
    link: 'connecting',
    isCaughtUp: false,
    waitingCount: 2,
    fault: { why: said('school.noServer'), sinceWallMs: wallMs(hub.clock.wallNowMs() - 90_000) },
    setAside: [
      {
        why: said('school.toldTooLarge', { kilobytes: 9_000, most: 8_192 }),
        sinceWallMs: hub.clock.wallNowMs(),
      },
    ],
  };
  expect(await told()).toEqual({ school });
  expect(await metrics()).toEqual([
    'slackwater_school_link{link="connecting"} 1',
    'slackwater_school_not_sending_seconds 90',
    'slackwater_school_set_aside 1',
    'slackwater_school_waiting_recordings 2',
  ]);
});

test('only a coach reads it', async () => {
  const { hub } = await serve(() => well);
  expect((await fetch(`${hub.url}/api/school-link`)).status).toBe(401);
});
