// Sentences that people read are in web/i18n and shared/words, and nowhere else: the page has none in its code. What the
// core and the hub still have is counted here by room, with the reason; a room may lose sentences, not gain any.

import { readdirSync, readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { sentencesOf } from '../support/sentence-search.ts';

const root = new URL('../../', import.meta.url).pathname;

/** What remains, and why. Reviewed by hand; raise a number only for text that is not for the people who use the page. */
const remaining: Readonly<Record<string, { readonly most: number; readonly why: string }>> = {
  'web/app': { most: 1, why: 'the fault of a component used outside the page, for programmers' },
  'web/views': { most: 1, why: 'a CSS selector' },
  'web/shell': { most: 1, why: 'a CSS selector' },
  'src/formats': {
    most: 94,
    why: 'faults of files named by place, in English; text inside the written files (WFDB comments too)',
  },
  'src/gatt': { most: 15, why: 'why bytes were put aside: counted for the page, in words only in logs' },
  'src/profiles': { most: 4, why: 'the same for sensors read by a profile' },
  'src/holds': { most: 27, why: 'evidence of boundaries, kept with a recording and not shown; citations' },
  'src/oxygen': { most: 15, why: 'reasons of no forecast, not shown; sources beside constants' },
  'src/pipeline.ts': { most: 1, why: 'a reason of no forecast, not shown' },
  'src/sessions': { most: 2, why: 'evidence of boundaries, not shown' },
  'hub/base': { most: 29, why: 'options of the command line' },
  'hub/commands': { most: 63, why: 'the command line, in English' },
  'hub/main.ts': { most: 3, why: 'the command line, in English' },
  'hub/devices': { most: 11, why: 'the terminal and the log' },
  'hub/live': { most: 5, why: 'the log' },
  'hub/outputs': { most: 7, why: 'what players, commands and webhooks came to, in English' },
  'hub/plans': { most: 1, why: 'the log' },
  'hub/recorder': {
    most: 76,
    why: 'faults of the data folder and its notices, in English; checks of stored bytes',
  },
  'hub/recordings': { most: 49, why: 'faults of imported files, in English; the log' },
  'hub/sensors': { most: 145, why: 'state of sensors and radios, in English; the log; checks of profiles' },
  'hub/server': { most: 14, why: 'the terminal and the log' },
};

/** `src/holds`, or the file itself where it lies at the top of its room. */
const roomOf = (path: string): string => path.split('/').slice(0, 2).join('/');

function sourceFiles(folder: string): string[] {
  return readdirSync(`${root}${folder}`, { recursive: true, encoding: 'utf8' })
    .filter((name) => /\.tsx?$/.test(name) && !name.endsWith('.d.ts'))
    .map((name) => `${folder}/${name}`);
}

const found = ['web', 'src', 'hub']
  .flatMap(sourceFiles)
  .filter((path) => !path.startsWith('web/i18n/') && path !== 'web/vite.config.ts')
  .flatMap((path) =>
    sentencesOf(readFileSync(`${root}${path}`, 'utf8'), path.endsWith('.tsx')).map(({ line, text }) => ({
      room: roomOf(path),
      where: `${path}:${line} ${text.slice(0, 80)}`,
    })),
  );

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
