// What hubs and a school say to each other cannot change unseen: the schemas' hash is pinned beside the version.
// When this fails on purpose: bump shared/school/school-version.ts, add a line to its history, and pin the new pair here.

import { createHash } from 'node:crypto';
import { expect, test } from 'vitest';
import { toJSONSchema } from 'zod/v4/core';
import * as kept from '../../shared/school/kept-messages.ts';
import * as questions from '../../shared/school/questions.ts';
import { roomDoneSchema, roomRequestSchema } from '../../shared/school/room-questions.ts';
import { schoolVersion } from '../../shared/school/school-version.ts';
import { readSubject, subjects } from '../../shared/school/subjects.ts';

const pinned = { version: 3, hash: 'a89894001f3f9580' };

/** The live messages are the wire's, pinned by tests/contract/wire-contract.test.ts. */
const schemas = { ...kept, ...questions, roomDoneSchema, roomRequestSchema };

test('what hubs and schools say is the pinned', () => {
  const text = JSON.stringify(
    Object.entries(schemas)
      .filter(([name]) => name.endsWith('Schema'))
      .toSorted(([one], [other]) => (one < other ? -1 : 1))
      .map(([name, schema]) => [
        name,
        toJSONSchema(schema as never, { io: 'input', unrepresentable: 'any' }),
      ]),
  );
  for (const word of ['unreadableBefore', 'generation', 'listRevision', 'acknowledgeAlarms', 'askedHere'])
    expect(text).toContain(word);
  const hash = createHash('sha256').update(text).digest('hex').slice(0, 16);
  expect({ version: schoolVersion, hash }).toEqual(pinned);
});

const quay = { hub: 'quay', hubId: '0123456789abcdef01234567' };

test('who wrote is in the subject, where the server checks it', () => {
  expect(readSubject(subjects.kept('blue', quay, 'segment'))).toEqual({ ...quay, kind: 'segment' });
  expect(readSubject(subjects.live('blue', quay, 'frame'))).toEqual({ ...quay, kind: 'frame' });
  expect(readSubject(subjects.ask('blue', quay, 'have'))).toEqual({ ...quay, kind: 'have' });
  const { publish, subscribe } = subjects.ownOf('blue', 'quay');
  expect(subjects.kept('blue', quay, 'told').startsWith(publish.slice(0, -1))).toBe(true);
  expect(subjects.kept('blue', { ...quay, hub: 'basin' }, 'told').startsWith(publish.slice(0, -1))).toBe(
    false,
  );
  expect(subscribe).toEqual(['slackwater.blue.to.quay.>', '_INBOX.quay.>']);
  for (const odd of [
    '',
    'slackwater.blue.from.Quay.kept.told',
    'slackwater.blue.to.quay.welcome',
    'slackwater.blue.from.quay.kept',
    'slackwater.blue.from.quay.kept.told',
    'slackwater.blue.from.quay.kept.told.somebody',
  ])
    expect(readSubject(odd)).toBeUndefined();
});
