// Profile files, captures and the command that checks one against the other.

import { readFileSync } from 'node:fs';
import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { runProfileCheck } from '../../../hub/commands/profile-check.ts';
import { profileLinkOf } from '../../../hub/sensors/bluetooth/profile-link.ts';
import { said } from '../../../shared/said.ts';
import { captureHeader, captureLine, parseCapture } from '../../../src/profiles/capture-file.ts';
import { parseProfile } from '../../../src/profiles/profile-file.ts';
import { inWords } from '../../support/in-words.ts';

const fixture = (name: string): string =>
  fileURLToPath(new URL(`../../../fixtures/profiles/${name}`, import.meta.url));
const example = readFileSync(fixture('lantern-clip.json'), 'utf8');

let folder: string;
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'profiles-'));
});
afterAll(() => rm(folder, { recursive: true }));

async function check(...argv: string[]) {
  const out: string[] = [];
  const err: string[] = [];
  const status = await runProfileCheck(argv, {
    stdout: { write: (text) => out.push(text) },
    stderr: { write: (text) => err.push(text) },
  });
  return { status, out: out.join(''), err: err.join('') };
}

describe('the example that ships', () => {
  test('is in order, and becomes a link that is recognised, subscribed and started', () => {
    const parsed = parseProfile(example);
    if (!parsed.ok) throw new Error(JSON.stringify(parsed.reason));
    expect(profileLinkOf(parsed.value)).toEqual({
      name: 'Lantern clip (invented)',
      measures: ['oximeter'],
      matchServices: ['7a5e0001c0de4d0a9b1f2f6e54696465'],
      matchNamePrefix: 'Lantern',
      service: '7a5e0001c0de4d0a9b1f2f6e54696465',
      notify: '7a5e0002c0de4d0a9b1f2f6e54696465',
      start: [
        {
          characteristic: '7a5e0003c0de4d0a9b1f2f6e54696465',
          bytes: Uint8Array.of(0xb0, 1),
          withResponse: true,
        },
      ],
    });
  });

  test('decodes its capture: every frame accounted for', async () => {
    const { status, out, err } = await check(
      'check',
      fixture('lantern-clip.json'),
      fixture('lantern-clip.capture.txt'),
    );
    expect(err).toBe('');
    expect(status).toBe(0);
    // The capture was made of 240 frames: one damaged and one left out.
    expect(out).toContain('238 frames read, 1 damaged, 0 repeated, 2 missing by the counter');
    expect(out).toMatch(/spo2Percent: \d+ values from 93 to 98, last 93/);
    expect(out).toMatch(/pleth: 238 values from 35 to 100/);
    expect(out).toContain('1 of other characteristics');
  });
});

describe('problems name line and column', () => {
  const changed = (from: string | RegExp, to: string) => parseProfile(example.replace(from, to));
  const lineOf = (text: string): number => example.slice(0, example.indexOf(text)).split('\n').length;

  test.each([
    [
      'a wrong value',
      '"sum8"',
      '"sum9"',
      '"kind"',
      'frame.checksum.kind',
      'one of "sum8", "sum7", "xor8", "negatedSum8", "crc8"',
    ],
    ['an unknown name', '"scale"', '"skale"', '"scale"', 'fields[5]', 'does not know "skale"'],
    [
      'a place outside the frame',
      '"at": 3,',
      '"at": 8,',
      '"at": 3,',
      'fields[3].at',
      'lies outside the frame of 8 bytes',
    ],
    ['a waveform without rate', ', "rateHz": 50', '', '"pleth"', 'fields[6]', 'a waveform needs its rateHz'],
    [
      'bytes that are none',
      '"b0 01"',
      '"b0 0"',
      '"b0 01"',
      'link.start[0].bytes',
      'needs 1 to 64 bytes in hexadecimal',
    ],
    ['bits outside the number', '[0, 6]', '[0, 9]', '[0, 6]', 'fields[3].bits', 'within 0 to 7'],
    ['another version', '"profile": 1', '"profile": 2', '"profile": 1', 'profile', 'needs to be 1'],
    ['a UUID that is none', '"7a5e0002-', '"7a5e000-', '"notify"', 'link.notify', 'is not a UUID'],
  ])('%s', (_what, from, to, on, place, reason) => {
    const parsed = changed(from, to);
    expect(parsed.ok).toBe(false);
    if (parsed.ok) return;
    expect(parsed.reason[0]).toMatchObject({ line: lineOf(on), place });
    expect(inWords(parsed.reason[0]!.reason)).toContain(reason);
  });

  test('a missing name points at what lacks it', () => {
    const parsed = changed(/ {2}"measures": \["oximeter"\],\n/, '');
    expect(parsed).toMatchObject({
      ok: false,
      reason: [{ place: 'measures', reason: said('json.missing') }],
    });
  });

  test('text that is not JSON: the first place that is not', () => {
    const parsed = parseProfile('{\n  "profile": 1,\n  "name" "x"\n}');
    expect(parsed).toMatchObject({ ok: false, reason: [{ line: 3, column: 10 }] });
    expect(parseProfile('')).toMatchObject({ ok: false });
    expect(parseProfile('null')).toMatchObject({ ok: false, reason: [{ line: 1, column: 1 }] });
  });
});

test('any text is answered with a profile or with problems that have a place', () => {
  const pieces = fc.constantFrom(
    '{',
    '}',
    '[',
    ']',
    ',',
    ':',
    '"profile"',
    '1',
    '"fields"',
    '"gives"',
    '"pleth"',
    'null',
    '// x\n',
    '"__proto__"',
    '"constructor"',
    '-1e999',
    '"',
    '\\u0000',
    '\n',
  );
  fc.assert(
    fc.property(
      fc.oneof(
        fc.string({ unit: 'binary' }),
        fc.array(pieces).map((parts) => parts.join(' ')),
      ),
      (text) => {
        const parsed = parseProfile(text);
        if (parsed.ok) return;
        expect(parsed.reason.length).toBeGreaterThan(0);
        for (const problem of parsed.reason) {
          expect(problem.line).toBeGreaterThan(0);
          expect(problem.column).toBeGreaterThan(0);
          expect(problem.reason).not.toBe('');
        }
      },
    ),
    { numRuns: 50 },
  );
});

test('the example with any one value changed to anything never throws', () => {
  const tree = JSON.parse(example.replaceAll(/^\s*\/\/.*$/gm, ''));
  const paths: (string | number)[][] = [];
  const walk = (node: unknown, path: (string | number)[]): void => {
    paths.push(path);
    if (node !== null && typeof node === 'object') {
      for (const [key, value] of Object.entries(node))
        walk(value, [...path, Array.isArray(node) ? Number(key) : key]);
    }
  };
  walk(tree, []);
  fc.assert(
    fc.property(fc.constantFrom(...paths), fc.jsonValue(), (path, value) => {
      const copy = structuredClone({ root: tree });
      let at: Record<string | number, unknown> = copy;
      for (const part of ['root', ...path.slice(0, -1)].slice(0, path.length)) at = at[part] as typeof at;
      if (path.length === 0) copy.root = value;
      else at[path.at(-1)!] = value;
      parseProfile(JSON.stringify(copy.root, null, 2));
    }),
    { numRuns: 150 },
  );
});

describe('captures', () => {
  test('come back as they were written', () => {
    const packet = fc.record({
      atMs: fc.nat(10_000_000).map((tenths) => tenths / 10),
      characteristic: fc.constantFrom('2a37', '7a5e0002c0de4d0a9b1f2f6e54696465'),
      bytes: fc.uint8Array({ maxLength: 40 }),
    });
    fc.assert(
      fc.property(fc.array(packet), fc.string(), (packets, name) => {
        const text = captureHeader(name) + packets.map(captureLine).join('');
        expect(parseCapture(text)).toEqual({ ok: true, value: packets });
      }),
    );
  });

  test.each([
    ['x 2a37 00', 'line 2: "x" is not a number of milliseconds'],
    ['1 zz 00', `line 2: "zz" is not a UUID`],
    ['1 2a37 0', 'line 2: the bytes are not pairs of hexadecimal digits'],
  ])('%s is told with its line', (line, reason) => {
    const parsed = parseCapture(`# comment\n${line}`);
    expect(parsed.ok ? 'accepted' : inWords(parsed.reason)).toBe(reason);
  });

  test('any text is answered', () => {
    fc.assert(fc.property(fc.string({ unit: 'binary' }), (text) => void parseCapture(text)));
  });
});

test('profile check: bad files are told and end with status 2', async () => {
  const bad = join(folder, 'bad.json');
  await writeFile(bad, '{\n "profile": 2\n}');
  expect(await check('check', bad)).toMatchObject({ status: 2, out: '' });
  expect((await check('check', bad)).err).toContain(`${bad}:2:`);
  expect((await check('check', join(folder, 'none.json'))).err).toContain('cannot be read');
  expect((await check()).err).toContain('Usage');
  const empty = join(folder, 'empty.txt');
  await writeFile(empty, '# nothing\n');
  expect(await check('check', fixture('lantern-clip.json'), empty)).toMatchObject({ status: 2 });
});
