// Finds sections of the handbook by words. Pure.

import type { ChapterName, HandbookChapter } from './chapters.ts';

export interface FoundSection {
  readonly chapter: ChapterName;
  readonly chapterTitle: string;
  /** Null for what stands before the first section. */
  readonly id: string | null;
  readonly title: string;
  /** The text about the first word found. */
  readonly excerpt: string;
}

/** What markup says to a reader: its text, and what a picture shows. */
export function textOf(html: string): string {
  return (
    html
      .replaceAll(/<img[^>]*\balt="([^"]*)"[^>]*>/g, ' $1 ')
      .replaceAll(/<\/?(?:a|strong|em|code)\b[^>]*>/g, '')
      .replaceAll(/<[^>]*>/g, ' ')
      .replaceAll('&quot;', '"')
      .replaceAll('&#39;', "'")
      .replaceAll('&lt;', '<')
      .replaceAll('&gt;', '>')
      .replaceAll('&amp;', '&')
      // Not the narrow space before a unit.
      .replaceAll(/[^\S\u202f]+/g, ' ')
      .trim()
  );
}

const folded = (text: string): string => text.normalize('NFKD').replaceAll(/\p{M}/gu, '').toLowerCase();

const excerptLength = 140;

/** Sections that have every word of `query`, those with all of them in the title first, else in the handbook's order. */
export function searchHandbook(chapters: readonly HandbookChapter[], query: string): readonly FoundSection[] {
  const words = folded(query).split(/\s+/).filter(Boolean);
  if (words.length === 0) return [];
  const found: { readonly section: FoundSection; readonly isInTitle: boolean }[] = [];
  for (const { name, title: chapterTitle, summary, html, sections } of chapters) {
    const all = [
      { id: null, title: chapterTitle, text: `${summary} ${textOf(html)}` },
      ...sections.map((section) => ({ ...section, text: textOf(section.html) })),
    ];
    for (const { id, title, text } of all) {
      const inTitle = folded(title);
      const inText = folded(text);
      if (!words.every((word) => inTitle.includes(word) || inText.includes(word))) continue;
      found.push({
        section: { chapter: name, chapterTitle, id, title, excerpt: excerptAbout(text, inText, words) },
        isInTitle: words.every((word) => inTitle.includes(word)),
      });
    }
  }
  return [...found.filter(({ isInTitle }) => isInTitle), ...found.filter(({ isInTitle }) => !isInTitle)].map(
    ({ section }) => section,
  );
}

/** Folding may shorten a text a little; an excerpt that begins a few letters off is still one. */
function excerptAbout(text: string, inText: string, words: readonly string[]): string {
  const at = Math.max(
    0,
    Math.min(...words.map((word) => inText.indexOf(word)).filter((index) => index >= 0)),
  );
  const from = Number.isFinite(at) ? Math.max(0, at - 40) : 0;
  const start = from === 0 ? 0 : text.indexOf(' ', from) + 1;
  const end = Math.min(text.length, start + excerptLength);
  const stop = end === text.length ? end : Math.max(start, text.lastIndexOf(' ', end));
  return `${start > 0 ? '\u2026 ' : ''}${text.slice(start, stop)}${stop < text.length ? ' \u2026' : ''}`;
}
