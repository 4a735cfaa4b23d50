// The wire cannot change unseen: the schemas' hash is pinned beside the protocol version.
// When this fails on purpose: bump shared/protocol-version.ts, add a line to its history, and pin the new pair here.

import { createHash } from 'node:crypto';
import { readdirSync } from 'node:fs';
import { expect, test } from 'vitest';
import { toJSONSchema } from 'zod/v4/core';
import * as audit from '../../shared/audit.ts';
import * as backups from '../../shared/backups.ts';
import * as bin from '../../shared/bin.ts';
import * as computerChecks from '../../shared/computer-checks.ts';
import * as course from '../../shared/course.ts';
import * as history from '../../shared/history.ts';
import * as http from '../../shared/http.ts';
import { downMessageSchema } from '../../shared/messages/down.ts';
import { upMessageSchema } from '../../shared/messages/up.ts';
import * as planRun from '../../shared/plan-run.ts';
import { protocolVersion } from '../../shared/protocol-version.ts';
import * as sensorProfiles from '../../shared/sensor-profiles.ts';
import * as sessionDetails from '../../shared/session-details.ts';
import * as trainingLog from '../../shared/training-log.ts';

const pinned = { version: 20, hash: 'c981a82d3c578ea4' };

function wireSchemas(): unknown {
  return [downMessageSchema, upMessageSchema].map((schema) =>
    toJSONSchema(schema, { io: 'input', unrepresentable: 'any' }),
  );
}

test('the wire contract is the pinned one', () => {
  const text = JSON.stringify(wireSchemas());
  const hash = createHash('sha256').update(text).digest('hex').slice(0, 16);
  expect({ version: protocolVersion, hash }).toEqual(pinned);
});

/** The bodies of HTTP, by name, pinned like the messages: a page and a hub of one version must agree on them too. */
const pinnedHttp = 'fbd90c45cf3269f7';

test('the bodies of HTTP are the pinned ones', () => {
  const schemas = Object.entries({
    ...http,
    ...audit,
    ...backups,
    ...bin,
    ...computerChecks,
    ...course,
    ...history,
    ...planRun,
    ...sensorProfiles,
    ...sessionDetails,
    ...trainingLog,
  })
    .filter(([name]) => name.endsWith('Schema'))
    .toSorted(([one], [other]) => (one < other ? -1 : 1));
  expect(schemas.length).toBeGreaterThan(20);
  const text = JSON.stringify(
    schemas.map(([name, schema]) => [
      name,
      toJSONSchema(schema as never, { io: 'input', unrepresentable: 'any' }),
    ]),
  );
  expect(createHash('sha256').update(text).digest('hex').slice(0, 16)).toBe(pinnedHttp);
});

test('the schema text says enough for a change to show in it', () => {
  const text = JSON.stringify(wireSchemas());
  for (const word of ['welcome', 'droppedCount', 'acknowledgeAlarms', 'floorSpo2Percent', '"maximum":95'])
    expect(text).toContain(word);
});

test('every message has a file of its own', () => {
  const files = readdirSync(new URL('../../shared/messages', import.meta.url)).filter(
    (name) => !['up.ts', 'down.ts', 'request-id.ts'].includes(name),
  );
  const types = [...downMessageSchema.def.options, ...upMessageSchema.def.options].map((option) => {
    const [value] = option.shape.type.def.values;
    return String(value);
  });
  expect(files.length).toBe(types.length);
  for (const type of types) {
    const fileName = `${type.replaceAll(/[A-Z]/g, (letter) => `-${letter.toLowerCase()}`)}.ts`;
    expect(files).toContain(fileName);
  }
});
