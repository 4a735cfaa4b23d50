// What a comment or a test cites as "reference N.NN" stands in src/REFERENCES.md with its source.

import { execFileSync } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';

const root = new URL('../..', import.meta.url).pathname;
const table = readFileSync(`${root}src/REFERENCES.md`, 'utf8');
const known = new Set([...table.matchAll(/^\| (\d+\.\d\d) \|/gm)].map(([, id]) => id));

/** Both ends of a range count. */
function citedIn(text: string): string[] {
  const plain = text.replaceAll(/\n\s*(?:\*|\/\/) ?/g, ' ');
  return [...plain.matchAll(/\breferences? (\d+\.\d\d)(?:-(\d+\.\d\d))?/gi)].flatMap(([, from, to]) =>
    to === undefined ? [from!] : [from!, to],
  );
}

test('every cited reference has a row with its source', () => {
  const files = execFileSync('git', ['ls-files', 'src', 'hub', 'shared', 'web', 'tests'], {
    cwd: root,
    encoding: 'utf8',
  })
    .split('\n')
    .filter((path) => /\.tsx?$/.test(path));
  const cited = files.flatMap((path) =>
    citedIn(readFileSync(`${root}${path}`, 'utf8')).map((id) => ({ path, id })),
  );
  expect(cited.length).toBeGreaterThan(40);
  expect(cited.filter(({ id }) => !known.has(id))).toEqual([]);
  expect(citedIn(`// after reference ${'99.01'}`).every((id) => known.has(id))).toBe(false);
});
