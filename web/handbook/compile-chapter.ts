// Makes a chapter of the handbook from its Markdown, at build time: the page ships the outcome and no renderer. Numbers and
// names of buttons are filled in from where the program has them, so that neither can go out of date. Throws on any fault,
// which ends the build and a test.

import { Marked, type Tokens } from 'marked';
import type { ChapterName, HandbookChapter, HandbookLanguage, HandbookSection } from './chapters.ts';
import { pictureOf } from './pictures.ts';

export interface ChapterFacts {
  /** What `{{KIND:NAME}}` in the text stands for, by kind; undefined where there is no such thing. */
  readonly fill: (kind: string, name: string) => string | undefined;
}

const placePattern = /\{\{([a-z]+):([^}]+)\}\}/g;
const idPattern = /\s*\{#([\w-]+)\}\s*$/;

/** `where` names the file in what is thrown. */
export function compileChapter(
  name: ChapterName,
  language: HandbookLanguage,
  source: string,
  facts: ChapterFacts,
): HandbookChapter {
  const where = `${language}/${name}.md`;
  const filled = source.replaceAll(placePattern, (whole, kind: string, what: string) => {
    const value = facts.fill(kind, what);
    if (value === undefined) throw new Error(`${where}: nothing is known as ${whole}`);
    return value;
  });
  if (filled.includes('{{')) throw new Error(`${where}: a place to fill in is not closed`);
  const [head = '', ...parts] = filled.split(/^## /m);
  const [, title = '', summary = '', rest = ''] =
    /^# (.+)\n\n> (.+)\n([\s\S]*)$/.exec(head) ?? fail(`${where}: begins with "# title", then "> summary"`);
  const renderer = rendererOf(language, where);
  const sections = parts.map((part): HandbookSection => {
    const [line = '', ...body] = part.split('\n');
    const id = idPattern.exec(line)?.[1] ?? fail(`${where}: "${line}" has no {#id}`);
    const titled = line.replace(idPattern, '');
    return { id, title: titled, html: renderer(body.join('\n'), titled) };
  });
  const ids = sections.map(({ id }) => id);
  if (new Set(ids).size < ids.length) throw new Error(`${where}: an id stands twice`);
  return { name, title, summary, html: renderer(rest, title), sections };
}

function rendererOf(
  language: HandbookLanguage,
  where: string,
): (markdown: string, sectionTitle: string) => string {
  let sectionTitle = '';
  const marked = new Marked({ gfm: true });
  marked.use({
    renderer: {
      html: ({ raw }) => fail(`${where}: HTML is not for the handbook: ${raw.slice(0, 40)}`),
      image: ({ href, text, title }) => figure(language, href, text, title, where),
      // A figure is no part of a paragraph.
      paragraph(token: Tokens.Paragraph) {
        const inner = this.parser.parseInline(token.tokens);
        // Large enough for a thumb, which a link within lines is not.
        if (token.tokens.some(({ type }) => type === 'link'))
          return token.tokens.length === 1
            ? `<p class="help-more">${inner}</p>\n`
            : fail(`${where}: a link stands in a paragraph of its own: ${token.raw.slice(0, 40)}`);
        return token.tokens.every(({ type }) => type === 'image') ? inner : `<p>${inner}</p>\n`;
      },
      link({ href, tokens }: Tokens.Link) {
        const inner = this.parser.parseInline(tokens);
        return /^https?:/.test(href)
          ? `<a href="${escaped(href)}" target="_blank" rel="noreferrer">${inner}</a>`
          : `<a href="${escaped(href)}">${inner}</a>`;
      },
      table(token: Tokens.Table) {
        const row = (cells: readonly Tokens.TableCell[], tag: 'td' | 'th') =>
          `<tr>${cells.map((cell) => `<${tag}>${this.parser.parseInline(cell.tokens)}</${tag}>`).join('')}</tr>`;
        return (
          `<section class="table-scroll" tabindex="0" aria-label="${escaped(sectionTitle)}"><table class="help-table">` +
          `<thead>${row(token.header, 'th')}</thead><tbody>${token.rows.map((cells) => row(cells, 'td')).join('')}</tbody></table></section>\n`
        );
      },
    },
  });
  return (markdown, title) => {
    sectionTitle = title;
    return marked.parse(markdown, { async: false }).trim();
  };
}

/** On a narrow page the phone's picture, else the wide one. */
function figure(
  language: HandbookLanguage,
  name: string,
  alt: string,
  caption: string | null | undefined,
  where: string,
): string {
  if (alt.length < 20) throw new Error(`${where}: the picture ${name} wants a text in its place`);
  const wide = pictureOf(language, name, 'wide');
  const phone = pictureOf(language, name, 'phone');
  if (wide === undefined || phone === undefined) return fail(`${where}: there is no picture ${name}`);
  return (
    `<figure><picture><source media="(max-width: 620px)" srcset="${phone.path}" width="${phone.width}" height="${phone.height}">` +
    `<img src="${wide.path}" width="${wide.width}" height="${wide.height}" alt="${escaped(alt)}" loading="lazy"></picture>` +
    `${caption == null ? '' : `<figcaption>${escaped(caption)}</figcaption>`}</figure>\n`
  );
}

function fail(why: string): never {
  throw new Error(why);
}

const escaped = (text: string): string =>
  text
    .replaceAll('&', '&amp;')
    .replaceAll('<', '&lt;')
    .replaceAll('"', '&quot;')
    // The parser has escaped what it hands over already.
    .replaceAll(/&amp;(#?\w+;)/g, '&$1');
