// Every export of the program is imported by something else, tests included: what nobody takes is no export, or is nothing.

import { readdirSync, readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { type SourceText, unusedExports } from '../support/unused-exports.ts';

const root = new URL('../../', import.meta.url).pathname;

const allowed: Readonly<Record<string, string>> = {
  'hub/main.ts main': 'started from the built program by hub/slackwater.mjs',
};

const sourcesOf = (folder: string): SourceText[] =>
  readdirSync(root + folder, { recursive: true, encoding: 'utf8' })
    .filter((name) => /\.[mc]?tsx?$/.test(name))
    .map((name) => ({
      file: `${folder}/${name}`,
      text: readFileSync(`${root}${folder}/${name}`, 'utf8'),
    }));

const program = ['shared', 'src', 'hub', 'web'].flatMap(sourcesOf);
const all = [...program, ...['tests', 'fixtures'].flatMap(sourcesOf)];

test('every export is imported, but for those named here with a reason', () => {
  expect(program.length).toBeGreaterThan(500);
  expect(unusedExports(program, all)).toEqual(Object.keys(allowed));
});

test('planted exports are found, and what takes them is understood', () => {
  const made: SourceText = {
    file: 'src/a/made.ts',
    text: [
      'export const taken = 1;',
      'export async function renamed() {}',
      'export class Later {}',
      'export const given = 2;',
      'export interface Options { readonly of: number }',
      'export function unused(options: Options): number { return options.of; }',
      'export type Nothing = string;',
      '// Nothing is said of it.',
    ].join('\n'),
  };
  const takers: SourceText[] = [
    { file: 'src/b.ts', text: "import {\n  taken,\n  type renamed as other,\n} from './a/made.ts';" },
    { file: 'web/c.ts', text: "const view = import('../src/a/made.ts').then((file) => file.Later);" },
    { file: 'hub/d.ts', text: "export { given } from '../src/a/made.ts';" },
    // Of the same name, from elsewhere.
    { file: 'src/e.ts', text: "import { unused, Nothing } from './b/made.ts';" },
  ];
  expect(unusedExports([made], [made, ...takers])).toEqual(['src/a/made.ts unused', 'src/a/made.ts Nothing']);
  const whole: SourceText = { file: 'src/f.ts', text: "import * as made from './a/made.ts';" };
  expect(unusedExports([made], [made, whole])).toEqual([]);
});
