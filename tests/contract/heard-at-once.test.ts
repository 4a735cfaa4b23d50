// A key or a press that comes as soon as a page is seen is heard: what listens does so before the paint. An effect after
// the paint has lost a press on a machine at work, three times in three places.

import { readdirSync, readFileSync } from 'node:fs';
import { expect, test } from 'vitest';

const root = new URL('../../web/', import.meta.url).pathname;

/** What a person does; what the page itself finds out (sizes, what is in sight) may come a paint later. */
const forPeople =
  /addEventListener\(\s*'(?:key|pointer|click|mouse|touch|wheel|input|change|submit|hash|fullscreen)/;

/** What stands between the parentheses of each call of `useEffect`, with the line of the call. */
function lateEffects(source: string): { readonly line: number; readonly body: string }[] {
  return [...source.matchAll(/\buseEffect\(/g)].map(({ index }) => {
    let end = index + 'useEffect('.length;
    for (let open = 1; open > 0 && end < source.length; end += 1)
      if (source[end] === '(') open += 1;
      else if (source[end] === ')') open -= 1;
    return { line: source.slice(0, index).split('\n').length, body: source.slice(index, end) };
  });
}

/** Lines of the effects after the paint in which something listens for a person. */
const lateListeners = (source: string): number[] =>
  lateEffects(source).flatMap(({ line, body }) => (forPeople.test(body) ? [line] : []));

test('the search finds a listener after the paint, and none before it', () => {
  const listener = (hook: string) =>
    `function A() {\n  ${hook}(() => {\n    addEventListener('keydown', (event) => hear(event));\n  }, []);\n}`;
  expect(lateListeners(listener('useEffect'))).toEqual([2]);
  expect(lateListeners(listener('useLayoutEffect'))).toEqual([]);
  expect(lateListeners(`useEffect(() => go(), []);\nelement.addEventListener('click', press);`)).toEqual([]);
});

test('no view listens for a person only after the paint', () => {
  const files = readdirSync(root, { recursive: true, encoding: 'utf8' }).filter(
    (name) => /\.tsx?$/.test(name) && !name.endsWith('.d.ts'),
  );
  const sources = files.map((name) => ({ name, source: readFileSync(`${root}${name}`, 'utf8') }));
  // It looks where the effects are.
  expect(sources.flatMap(({ source }) => lateEffects(source)).length).toBeGreaterThan(20);
  expect(
    sources.flatMap(({ name, source }) => lateListeners(source).map((line) => `web/${name}:${line}`)),
  ).toEqual([]);
});
