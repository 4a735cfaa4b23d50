// Sentences that people read are in web/i18n and shared/words, and nowhere else: the page, the core and the hub have none
// in their code. What is left is counted here by room, with the reason; a room may lose some, not gain any.

import { readdirSync, readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { sentencesOf } from '../support/sentence-search.ts';

const root = new URL('../../', import.meta.url).pathname;

/** What remains, and why. Reviewed by hand; raise a number only for text that is not for the people who use the page. */
const remaining: Readonly<Record<string, { readonly most: number; readonly why: string }>> = {
  'web/app': { most: 1, why: 'the fault of a component used outside the page, for programmers' },
  'web/views': { most: 1, why: 'a CSS selector' },
  'web/shell': { most: 1, why: 'a CSS selector' },
  'src/formats': { most: 1, why: 'the name of a format, which its readers look for' },
  'src/holds': { most: 10, why: 'citations, the same in every language' },
  'hub/base': { most: 1, why: 'a program run beside' },
  'hub/machine': { most: 2, why: 'files for other programs: a unit and a property list' },
  'hub/commands': { most: 1, why: 'code that the search takes for a sentence' },
  'hub/devices': { most: 4, why: 'the log; a property list for other programs' },
  'hub/live': { most: 9, why: 'the log' },
  'hub/plans': { most: 1, why: 'the log' },
  'hub/recorder': { most: 3, why: 'columns of tables' },
  'hub/recordings': { most: 6, why: 'the log' },
  'hub/sensors': { most: 2, why: 'the log; a name in the demo' },
  'src/profiles': { most: 2, why: 'what a capture file says of itself' },
  'hub/school': { most: 13, why: 'the log; SQL; why a socket was closed, for programmers' },
  'hub/server': { most: 16, why: 'the log; a status line; why a socket was closed, for programmers' },
};

/** Words inside files for other programs, a file a format; each says in its first lines why it has one language. */
const wordsOfFiles = [
  'src/formats/edf/edf-words.ts',
  'src/formats/fhir/fhir-words.ts',
  'src/formats/session-file/session-file-words.ts',
  'src/formats/wfdb/wfdb-words.ts',
  'hub/recordings/export/table-words.ts',
  'hub/server/routes/metrics.ts',
  'hub/school/school-metrics.ts',
];

/** What runs when the page is built, and speaks to whoever builds it. */
const ofTheBuild = ['web/vite.config.ts', 'web/handbook/compile-chapter.ts'];

/** `src/holds`, or the file itself where it lies at the top of its room. */
const roomOf = (path: string): string => path.split('/').slice(0, 2).join('/');

function sourceFiles(folder: string): string[] {
  return readdirSync(`${root}${folder}`, { recursive: true, encoding: 'utf8' })
    .filter((name) => /\.tsx?$/.test(name) && !name.endsWith('.d.ts'))
    .map((name) => `${folder}/${name}`);
}

/** Where a number comes from stands beside it in the code (DEVELOPERS.md, rule 8), for whoever checks it. */
function isSourceOfNumber(source: string, line: number): boolean {
  const lines = source.split('\n');
  return [lines[line - 2] ?? '', lines[line - 1] ?? ''].some((text) => /\bsource:/.test(text));
}

const found = ['web', 'src', 'hub']
  .flatMap(sourceFiles)
  .filter((path) => !path.startsWith('web/i18n/') && !ofTheBuild.includes(path))
  .filter((path) => !wordsOfFiles.includes(path))
  .flatMap((path) => {
    const source = readFileSync(`${root}${path}`, 'utf8');
    return sentencesOf(source, path.endsWith('.tsx'))
      .filter(({ line }) => !isSourceOfNumber(source, line))
      .map(({ line, text }) => ({ room: roomOf(path), where: `${path}:${line} ${text.slice(0, 80)}` }));
  });

describe('sentences outside the catalogues', () => {
  test.each([...new Set([...Object.keys(remaining), ...found.map(({ room }) => room)])])(
    '%s has no new one',
    (room) => {
      const here = found.filter((each) => each.room === room).map(({ where }) => where);
      const most = remaining[room]?.most ?? 0;
      expect(here.length, `at most ${most}:\n${here.join('\n')}`).toBeLessThanOrEqual(most);
    },
  );
});

test('words of files exist, and say why they are in one language', () => {
  for (const path of wordsOfFiles) {
    const head = readFileSync(`${root}${path}`, 'utf8').split('\n\n')[0]!;
    expect(head, path).toContain('Not translated:');
  }
});

test('what is left is little', () => {
  expect(found.length).toBeLessThan(65);
});

describe('the search', () => {
  const kinds: readonly (readonly [string, string])[] = [
    ['a literal', `const a = 'Take the finger out now';`],
    ['a template', 'const a = `Saturation reads ${value} and still falls`;'],
    ['text between tags', '<p>Breathe</p>'],
    ['an attribute that is read out', '<button aria-label="Stop" />'],
  ];
  test.each(kinds)('finds %s', (_, source) => {
    expect(sentencesOf(source, true)).toHaveLength(1);
  });

  test('leaves comments, class names and code alone', () => {
    const source = `// Take the finger out now\n<p class="tile tile--holding is-first">{text.live.title}</p>; const a = b < c && c > d;`;
    expect(sentencesOf(source, true)).toEqual([]);
  });
});
