// The handbook against the program: every alarm has its entry, every picture is there and used, both languages have the same
// places, every link leads somewhere, and what is filled in exists.

import { readdirSync, readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { isPagePath } from '../../shared/page-paths.ts';
import { alarmKindSchema, supervisionKindSchema } from '../../shared/schema-parts.ts';
import { alarmLimits } from '../../src/alarms/alarm-limits.ts';
import {
  chapterNames,
  type HandbookChapter,
  type HandbookLanguage,
  handbookLanguages,
} from '../../web/handbook/chapters.ts';
import { compileChapter } from '../../web/handbook/compile-chapter.ts';
import { handbookFacts } from '../../web/handbook/handbook-facts.ts';
import { pictureNames, picturePath, pictureSizes } from '../../web/handbook/pictures.ts';
import { searchHandbook, textOf } from '../../web/handbook/search-handbook.ts';
import { de } from '../../web/i18n/de.ts';
import { en, type Messages } from '../../web/i18n/en.ts';

const root = new URL('../../', import.meta.url).pathname;
const words: Readonly<Record<HandbookLanguage, Messages>> = { en, de };
const sourceOf = (language: HandbookLanguage, name: string): string =>
  readFileSync(`${root}web/handbook/${language}/${name}.md`, 'utf8');
const handbookIn = (language: HandbookLanguage): readonly HandbookChapter[] =>
  chapterNames.map((name) =>
    compileChapter(name, language, sourceOf(language, name), handbookFacts(language, words[language])),
  );
const handbooks: Readonly<Record<HandbookLanguage, readonly HandbookChapter[]>> = {
  en: handbookIn('en'),
  de: handbookIn('de'),
};
const htmlOf = ({ html, sections }: HandbookChapter): string =>
  [html, ...sections.map((section) => section.html)].join('\n');
const whole = (language: HandbookLanguage): string => handbooks[language].map(htmlOf).join('\n');
const alarmsOf = (language: HandbookLanguage): HandbookChapter =>
  handbooks[language].find(({ name }) => name === 'alarms')!;

describe('what each alarm means', () => {
  /** Kinds as the core raises them, read off its sources: what is raised there and told nowhere would be found too. */
  const raised = new Set(
    readdirSync(`${root}src/alarms`).flatMap((file) =>
      [...readFileSync(`${root}src/alarms/${file}`, 'utf8').matchAll(/\bkind: '(\w+)'/g)].map(
        ([, kind]) => kind!,
      ),
    ),
  );
  const titles: Readonly<Record<string, (messages: Messages) => string>> = {
    ...Object.fromEntries(
      alarmKindSchema.options.map((kind) => [kind, (text: Messages) => text.alarm.kind[kind]]),
    ),
    ...Object.fromEntries(
      supervisionKindSchema.options.map((kind) => [
        kind,
        (text: Messages) => text.frame.title[kind]('\u2026', '\u2026'),
      ]),
    ),
    hubSilent: (text) => text.pageAlarm.title,
  };

  test('what the core raises is known', () => {
    expect(raised.size).toBeGreaterThan(10);
    for (const kind of raised) expect(Object.keys(titles)).toContain(kind);
  });

  test.each(handbookLanguages)(
    'every one has its entry, by its own name, with what to do (%s)',
    (language) => {
      const { sections } = alarmsOf(language);
      expect(sections.map(({ id }) => id).toSorted()).toEqual(Object.keys(titles).toSorted());
      const toDo = { en: 'What to do:', de: 'Was zu tun ist:' }[language];
      for (const { id, title, html } of sections) {
        expect(title).toBe(titles[id]!(words[language]));
        expect(html, id).toContain(`<strong>${toDo}</strong>`);
        const [meaning = '', instruction = ''] = textOf(html).split(toDo);
        expect(meaning.length, id).toBeGreaterThan(60);
        expect(instruction.length, id).toBeGreaterThan(15);
      }
    },
  );

  test('its times are those of the alarm engine', () => {
    const text = textOf(htmlOf(alarmsOf('en')));
    expect(text).toContain(`${alarmLimits.noBreathingMs / 1_000}\u202fs after an alarm to stop`);
    // Written as a German reads them.
    expect(textOf(htmlOf(alarmsOf('de')))).toContain('2,75\u202fs');
    // A limit that is written out by hand would go out of date unseen.
    const source = sourceOf('en', 'alarms').split('\n## ').slice(1).join('\n');
    expect(source.match(/\b\d+ s\b/g)).toEqual(['30 s', '60 s', '2 s']);
  });

  test('one that is left out, or has another name, is found', () => {
    const broken = sourceOf('en', 'alarms').replace(/\n## [^\n]*\{#batteryLow\}[\s\S]*?(?=\n## )/, '');
    const chapter = compileChapter('alarms', 'en', broken, handbookFacts('en', en));
    expect(chapter.sections.map(({ id }) => id)).not.toContain('batteryLow');
    expect(chapter.sections.length).toBe(Object.keys(titles).length - 1);
  });
});

describe('pictures', () => {
  test.each(handbookLanguages)(
    'each is there, used once or more, and nothing else lies beside them (%s)',
    (language) => {
      const expected = pictureNames.flatMap((name) =>
        (Object.keys(pictureSizes) as (keyof typeof pictureSizes)[]).map((size) =>
          picturePath(language, name, size),
        ),
      );
      const lying = readdirSync(`${root}web/public/handbook/${language}`).map(
        (file) => `/handbook/${language}/${file}`,
      );
      expect(lying.toSorted()).toEqual(expected.toSorted());
      const html = whole(language);
      for (const path of expected) expect(html).toContain(`"${path}"`);
    },
  );

  test('three of them are in the README, and are there', () => {
    const shown = [
      ...readFileSync(`${root}README.md`, 'utf8').matchAll(
        /<img src="web\/public([^"]+)"[^>]* alt="([^"]+)"/g,
      ),
    ];
    expect(shown.length).toBe(3);
    const known = pictureNames.map((name) => picturePath('en', name, 'wide'));
    for (const [, path, alt] of shown) {
      expect(known).toContain(path);
      expect(alt).toMatch(/simulated/);
    }
  });

  test('they are WebP, and light enough to be carried with the program', () => {
    const files = readdirSync(`${root}web/public/handbook`, { recursive: true, encoding: 'utf8' }).filter(
      (name) => name.endsWith('.webp'),
    );
    const all = files.map((name) => readFileSync(`${root}web/public/handbook/${name}`));
    for (const bytes of all) expect(bytes.subarray(8, 12).toString('latin1')).toBe('WEBP');
    expect(all.reduce((sum, { length }) => sum + length, 0)).toBeLessThan(1_600_000);
  });

  test.each(handbookLanguages)('each says what it shows, and that it is simulated (%s)', (language) => {
    const figures = whole(language).match(/<figure>[\s\S]*?<\/figure>/g) ?? [];
    expect(figures.length).toBeGreaterThanOrEqual(pictureNames.length);
    const simulated = { en: /simulated\./i, de: /simuliert\./i }[language];
    for (const figure of figures) {
      expect(/alt="([^"]*)"/.exec(figure)?.[1]?.length).toBeGreaterThan(40);
      expect(/<figcaption>(.*)<\/figcaption>/.exec(figure)?.[1]).toMatch(simulated);
    }
  });
});

describe('both languages', () => {
  test('have the same chapters, places, pictures and links', () => {
    const shapeOf = (language: HandbookLanguage) =>
      handbooks[language].map((chapter) => ({
        name: chapter.name,
        ids: chapter.sections.map(({ id }) => id),
        images: [...htmlOf(chapter).matchAll(/handbook\/\w\w\/([\w-]+)\.webp/g)].map(([, name]) => name),
        links: [...htmlOf(chapter).matchAll(/href="([^"]*)"/g)].map(([, href]) => href).toSorted(),
        rows: htmlOf(chapter).split('<tr>').length,
      }));
    expect(shapeOf('de')).toEqual(shapeOf('en'));
  });

  test('name the same numbers', () => {
    // Lists are numbered by the browser. Decimal signs are each language's own.
    const numbersOf = (language: HandbookLanguage) =>
      handbooks[language].map(
        (chapter) =>
          `${chapter.name}: ${(
            textOf(chapter.sections.map(({ html }) => html).join(' ')).match(/\d+(?:[.,]\d+)?/g) ?? []
          )
            .map((number) => number.replace(',', '.'))
            .toSorted()
            .join(' ')}`,
      );
    expect(numbersOf('de')).toEqual(numbersOf('en'));
  });
});

describe('links', () => {
  test.each(handbookLanguages)('lead to views and places that there are (%s)', (language) => {
    const hrefs = [...whole(language).matchAll(/href="([^"]*)"/g)].map(([, href]) => href!);
    expect(hrefs.length).toBeGreaterThan(5);
    expect(whole(language).split('<p class="help-more"><a ').length - 1).toBe(hrefs.length);
    for (const href of hrefs) {
      const [path = '', place] = href.split('#');
      expect(isPagePath(path), href).toBe(true);
      const chapter = /^\/help\/([\w-]+)$/.exec(path)?.[1];
      if (chapter === undefined) continue;
      expect(chapterNames, href).toContain(chapter);
      if (place !== undefined)
        expect(
          handbooks[language].find(({ name }) => name === chapter)!.sections.map(({ id }) => id),
        ).toContain(place);
    }
  });

  test('from other views lead to places that there are', () => {
    const places = new Map(
      handbooks.en.map(({ name, sections }) => [name as string, sections.map(({ id }) => id)]),
    );
    const links = readdirSync(`${root}web`, { recursive: true, encoding: 'utf8' })
      .filter((file) => file.endsWith('.tsx'))
      .flatMap((file) => {
        const code = readFileSync(`${root}web/${file}`, 'utf8');
        return [
          ...code.matchAll(/<HelpLink\s+chapter="([\w-]+)"(?:\s+section="(\w[\w-]*)")?/g),
          ...code.matchAll(/"\/help\/([\w-]+)(?:#([\w-]+))?"/g),
        ];
      });
    expect(links.length).toBeGreaterThan(5);
    for (const [, chapter = '', place] of links) {
      expect([...places.keys()]).toContain(chapter);
      if (place !== undefined) expect(places.get(chapter)).toContain(place);
    }
  });
});

test('the figures of its limits are those of the README', () => {
  const readme = readFileSync(`${root}README.md`, 'utf8').replaceAll(/\s+/g, ' ');
  const { sections } = handbooks.en.find(({ name }) => name === 'limits')!;
  const outcomes = sections.flatMap(({ html }) =>
    [...html.matchAll(/<tr><td>.*?<\/td><td>(.*?)<\/td><\/tr>/g)].map(([, outcome]) => outcome!),
  );
  expect(outcomes.length).toBeGreaterThan(10);
  const numbers = outcomes.flatMap((outcome) => outcome.match(/\d+(?:\.\d+)?/g) ?? []);
  expect(numbers.length).toBeGreaterThan(15);
  for (const number of numbers) expect(readme, number).toMatch(new RegExp(`(?<![\\d.])${number}(?!\\.?\\d)`));
});

describe('commands', () => {
  test('every one that it names is one of the program', () => {
    const known = new Set(
      [...readFileSync(`${root}hub/main.ts`, 'utf8').matchAll(/^ {2}(\w+): async/gm)].map(([, name]) => name),
    );
    const named = [...sourcesWhole().matchAll(/\bslackwater ([a-z-]+)\b/g)].map(([, name]) => name);
    expect(named.length).toBeGreaterThan(10);
    for (const name of named) expect(known, name).toContain(name);
  });
  const sourcesWhole = () =>
    handbookLanguages
      .flatMap((language) => chapterNames.map((name) => sourceOf(language, name)))
      .join('\n')
      .replaceAll(/"\.\.\." /g, '');
});

describe('the compiler', () => {
  const facts = handbookFacts('en', en);
  const compile = (markdown: string) => compileChapter('limits', 'en', markdown, facts);

  test('fills in words and numbers, and throws on what is not there', () => {
    const made = compile(
      '# T\n\n> S\n\n## A {#a}\n\nPress *{{t:setup.start}}*, from {{s:staleMs}} to {{floor:most}}.\n',
    );
    expect(made.sections[0]?.html).toBe('<p>Press <em>Start session</em>, from 5\u202fs to 95\u202f%.</p>');
    for (const place of ['{{t:setup.gone}}', '{{s:gone}}', '{{x:y}}', '{{t:setup}}', '{{open'])
      expect(() => compile(`# T\n\n> S\n\n${place}\n`)).toThrow('limits.md');
  });

  test('takes no HTML, no unknown picture, no section without a place', () => {
    for (const wrong of [
      '<script>1</script>',
      '![a text that is long enough](nothing "x")',
      '![short](live)',
      '## No place',
      '## A {#a}\n\n## B {#a}',
    ])
      expect(() => compile(`# T\n\n> S\n\n${wrong}\n`), wrong).toThrow('limits.md');
    expect(() => compile('No title')).toThrow('begins with');
  });
});

describe('the search', () => {
  test('finds by every word, whatever its case and marks, titles first', () => {
    const found = searchHandbook(handbooks.en, 'BATTERY');
    expect(found[0]).toMatchObject({ chapter: 'alarms', id: 'batteryLow' });
    expect(found.length).toBeGreaterThan(1);
    expect(searchHandbook(handbooks.de, 'gerausch').length).toBe(0);
    expect(searchHandbook(handbooks.de, 'saettigung').length).toBe(0);
    expect(searchHandbook(handbooks.de, 'sattigung').length).toBeGreaterThan(3);
    expect(searchHandbook(handbooks.en, 'cold hands').map(({ id }) => id)).toContain('errors');
    expect(searchHandbook(handbooks.en, 'cold nowhereatall')).toEqual([]);
    expect(searchHandbook(handbooks.en, '   ')).toEqual([]);
  });

  test('shows the text about what was found, without markup', () => {
    for (const { excerpt, title } of searchHandbook(handbooks.en, 'floor')) {
      expect(excerpt).not.toMatch(/[<>]/);
      expect(excerpt.length).toBeLessThan(160);
      expect(`${excerpt} ${title}`.toLowerCase()).toContain('floor');
    }
  });

  test('finds every section by its title', () => {
    for (const { name, sections } of handbooks.en)
      for (const { id, title } of sections)
        expect(
          searchHandbook(handbooks.en, title).some((hit) => hit.chapter === name && hit.id === id),
          title,
        ).toBe(true);
  });
});
