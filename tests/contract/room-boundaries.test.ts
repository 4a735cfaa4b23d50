// The rules between rooms are enforced by the compiler and the linter; each is shown here to reject a planted violation.

import { spawnSync } from 'node:child_process';
import {
  cpSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  symlinkSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';

const root = new URL('../..', import.meta.url).pathname;
const bin = (name: string) => join(root, 'node_modules', '.bin', name);
let copy = '';

/** A tree with the real tsconfig files, into which violations are planted. */
beforeAll(() => {
  copy = mkdtempSync(join(tmpdir(), 'slackwater-rooms-'));
  symlinkSync(join(root, 'node_modules'), join(copy, 'node_modules'), 'dir');
  cpSync(join(root, 'tsconfig.base.json'), join(copy, 'tsconfig.base.json'));
  for (const room of ['shared', 'src', 'hub', 'web']) {
    mkdirSync(join(copy, room), { recursive: true });
    cpSync(join(root, room, 'tsconfig.json'), join(copy, room, 'tsconfig.json'));
    plant(`${room}/present.ts`, `export const ${room}Present = 1;\n`);
  }
});
afterAll(() => rmSync(copy, { recursive: true, force: true, maxRetries: 5 }));

function plant(path: string, text: string): void {
  mkdirSync(dirname(join(copy, path)), { recursive: true });
  writeFileSync(join(copy, path), text);
}

function compile(room: string): { ok: boolean; output: string } {
  const done = spawnSync(bin('tsc'), ['-b', room], { cwd: copy, encoding: 'utf8' });
  return { ok: done.status === 0, output: done.stdout + done.stderr };
}

const violations: readonly [string, string, string, string][] = [
  [
    'a timer in the core',
    'src',
    'export const stop = setTimeout(() => 0, 1);\n',
    "Cannot find name 'setTimeout'",
  ],
  ['a clock in the core', 'src', 'export const now = performance.now();\n', "Cannot find name 'performance'"],
  ['a log in the core', 'src', "console.log('x');\nexport {};\n", "Cannot find name 'console'"],
  ['a Node module in the core', 'src', "export { readFileSync } from 'node:fs';\n", "'node:fs'"],
  [
    'a page element in the core',
    'src',
    'export const page = document.body;\n',
    "Cannot find name 'document'",
  ],
  ['the hub imported by the core', 'src', "export { hubPresent } from '../hub/present.ts';\n", 'TS6307'],
  [
    'the core imported by the contract',
    'shared',
    "export { srcPresent } from '../src/present.ts';\n",
    'TS6307',
  ],
  ['the hub imported by the page', 'web', "export { hubPresent } from '../hub/present.ts';\n", 'TS6307'],
  ['the page imported by the hub', 'hub', "export { webPresent } from '../web/present.ts';\n", 'TS6307'],
];

describe('the compiler keeps the rooms apart', () => {
  test('an innocent tree compiles', () => {
    for (const room of ['shared', 'src', 'hub', 'web'])
      expect(compile(room)).toEqual({ ok: true, output: '' });
  });

  test.each(violations)('%s is rejected', (_name, room, text, complaint) => {
    const path = `${room}/planted.ts`;
    plant(path, text);
    const result = compile(room);
    rmSync(join(copy, path));
    expect(result.ok).toBe(false);
    expect(result.output).toContain(complaint);
  });
});

describe('what the compiler cannot see', () => {
  test('Date in the core is rejected by the linter', () => {
    const config = JSON.parse(readFileSync(join(root, 'biome.json'), 'utf8')) as Record<string, unknown>;
    // The copy is no git checkout, so the rule file is used without its look at .gitignore.
    plant('biome.json', JSON.stringify({ ...config, vcs: undefined }));
    plant('src/planted.ts', 'export const now = Date.now();\n');
    const done = spawnSync(bin('biome'), ['lint', 'src/planted.ts'], { cwd: copy, encoding: 'utf8' });
    rmSync(join(copy, 'src/planted.ts'));
    expect(done.stdout + done.stderr).toContain('the core has no clock');
    expect(done.status).not.toBe(0);
  });

  /** Chance is a member of Math, so neither tool can name it. */
  const usesChance = (text: string) => /Math\s*\.\s*random|crypto\s*\.\s*getRandomValues/.test(text);

  test('the search for chance finds a planted use', () => {
    expect(usesChance('const x = Math.random();')).toBe(true);
  });

  test('nothing in the core or the contract uses chance', () => {
    let fileCount = 0;
    for (const room of ['src', 'shared']) {
      for (const entry of readdirSync(join(root, room), { recursive: true, withFileTypes: true })) {
        if (!entry.isFile() || !entry.name.endsWith('.ts')) continue;
        fileCount += 1;
        const path = join(entry.parentPath, entry.name);
        expect(usesChance(readFileSync(path, 'utf8')), path).toBe(false);
      }
    }
    expect(fileCount).toBeGreaterThan(20);
  });
});
