// The wire cannot change unseen: the schemas' hash is pinned beside the protocol version.
// When this fails on purpose: bump shared/protocol-version.ts, add a line to its history, and pin the new pair here.

import { createHash } from 'node:crypto';
import { readdirSync } from 'node:fs';
import { expect, test } from 'vitest';
import { toJSONSchema } from 'zod/v4/core';
import { downMessageSchema } from '../../shared/messages/down.ts';
import { upMessageSchema } from '../../shared/messages/up.ts';
import { protocolVersion } from '../../shared/protocol-version.ts';

const pinned = { version: 9, hash: '2ecaf193c9934d5f' };

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

test('the schema text says enough for a change to show in it', () => {
  const text = JSON.stringify(wireSchemas());
  for (const word of ['welcome', 'passedOverCount', 'acknowledgeAlarms', 'floorSpo2Percent', '"maximum":95'])
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
